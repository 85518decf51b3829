//! What bends: a winding that warms, an arm that swings, friction that falls with speed. Between two events the drive
//! stays linear; these move its figures in steps, each so small that its error is bounded.

use crate::engine::Engine;
use crate::mode::{CURRENT, LOAD_SPEED, SPEED};
use crate::record::Energy;
use crate::set_up::{ABOVE_ZERO, SetUp, Unusable, ZERO_OR_MORE, is_figure};
use drive::heat::Heat;
use drive::heat::body::TwoBody;

/// What bends in a drive.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Curved {
    /// The winding warms, and its resistance and the constant with it.
    pub warmth: Option<Warmth>,
    /// The load is an arm.
    pub swing: Option<Swing>,
    /// Friction at the motor shaft that is largest at rest.
    pub stribeck: Option<Stribeck>,
    /// The bridge switches off where its junction gets too hot.
    pub shutdown: Option<Shutdown>,
}

impl Curved {
    /// Nothing.
    pub const NONE: Self = Self { warmth: None, swing: None, stribeck: None, shutdown: None };
}

/// A winding and its case as two bodies.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Warmth {
    /// How the winding warms. The set-up has its resistance at the temperature of the start.
    pub heat: Heat<f64>,
    /// Temperature of the air, K.
    pub ambient: f64,
    /// Temperatures at the start, K.
    pub start: TwoBody,
    /// Change of the constant for a kelvin of the winding, in parts of what it is at the start, 1/K: that of the magnets by
    /// the part that they follow.
    pub constant_coefficient: f64,
}

/// An arm about a level pivot: the torque of the load is `M·cos φ`, in place of that of the set-up.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Swing {
    /// Torque against forward motion while it is level, N·m.
    pub torque: f64,
    /// Angle from the level at the start, rad.
    pub angle: f64,
}

/// Friction besides that of the set-up: `M_s·e^(−|ω|/ω_s)`.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Stribeck {
    /// M_s, what it is more at rest, N·m.
    pub extra: f64,
    /// ω_s, speed of the motor shaft at which it has fallen to 1/e, rad/s.
    pub speed: f64,
}

/// Protection of a bridge by temperature. The junction is taken to follow the mean of its loss over 512 PWM periods, which
/// is early rather than late: no sheet says how much heat it holds.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Shutdown {
    /// From junction to air, K/W.
    pub thermal_resistance: f64,
    /// Part of the heat of bridge and leads that warms it.
    pub share: f64,
    /// Temperature of the air, K.
    pub ambient: f64,
    /// Temperature at which it acts, K.
    pub trip: f64,
    /// It stays off; otherwise it tries again as soon as it is cooler.
    pub latches: bool,
}

/// Speeds, as parts of ω_s, between which the falling friction is taken as straight; constant beyond the last.
const KNOTS: [f64; 9] = [0.0, 0.25, 0.5, 0.8, 1.2, 1.7, 2.4, 3.5, 6.0];
/// Bands of speed that follow.
pub(crate) const BANDS: usize = KNOTS.len();
/// PWM periods between two looks at an arm.
const SWING_PERIODS: u64 = 8;
/// Fewest and most between two looks at temperatures: so many as a winding takes that goes on warming as it did for the
/// step below, and no more than twice as many as before.
const WARM_PERIODS: (f64, f64) = (4.0, 512.0);
/// Most until the first look of a stage.
const FIRST_PERIODS: f64 = 16.0;
/// PWM periods over which the heat of a bridge counts as its mean.
pub(crate) const JUNCTION_PERIODS: f64 = 512.0;
/// Part of its largest torque by which that of an arm may be off before it is set anew.
const SWING_STEP: f64 = 1e-4;
/// Temperature by which a winding may be off, K: 0.02 % of its resistance.
pub(crate) const WARM_STEP: f64 = 0.05;
/// Part of it from which on it is set anew.
const WARM_NEAR: f64 = 0.8;

impl Curved {
    pub(crate) fn figures(&self) -> Vec<(&'static str, f64, &'static str)> {
        let (over, at_least) = (ABOVE_ZERO, ZERO_OR_MORE);
        let mut figures = Vec::new();
        if let Some(Warmth { heat, ambient, start, constant_coefficient }) = self.warmth {
            let thermal = heat.thermal;
            figures.extend([
                ("resistance of the winding", heat.resistance, over),
                ("thermal resistance of the winding", thermal.winding_to_case, over),
                ("thermal resistance of the case", thermal.case_to_air, over),
                ("thermal time constant of the winding", thermal.winding_time, over),
                ("thermal time constant of the case", thermal.case_time, over),
                ("temperature of the air", ambient, over),
                ("temperature of the winding", start.winding, over),
                ("temperature of the case", start.case, over),
                ("coefficient of the constant, by amount,", constant_coefficient.abs(), at_least),
            ]);
        }
        if let Some(swing) = self.swing {
            figures.push(("torque of the level arm, by amount,", swing.torque.abs(), at_least));
            figures.push(("angle of the arm, by amount,", swing.angle.abs(), at_least));
        }
        if let Some(stribeck) = self.stribeck {
            figures.push(("friction that falls with speed", stribeck.extra, at_least));
            figures.push(("speed with which it falls", stribeck.speed, over));
        }
        if let Some(shutdown) = self.shutdown {
            figures.extend([
                ("thermal resistance of the bridge", shutdown.thermal_resistance, at_least),
                ("share of the heat that warms the bridge", shutdown.share, at_least),
                ("temperature of the air", shutdown.ambient, over),
                ("temperature at which the bridge switches off", shutdown.trip, over),
            ]);
        }
        figures
    }
}

impl Swing {
    /// Torque against forward motion with the shaft of the load turned by an angle since the start, N·m.
    pub(crate) fn torque_at(&self, turned: f64) -> f64 {
        self.torque * libm::cos(self.angle + turned)
    }

    /// By how much a torque is off from another one, in parts of the largest.
    pub(crate) fn off(&self, torque: f64, due: f64) -> f64 {
        if self.torque == 0.0 { 0.0 } else { ((torque - due) / self.torque).abs() }
    }
}

impl Shutdown {
    /// Temperature of the junction with so much heat in bridge and leads, K.
    pub(crate) fn junction(&self, heat: f64) -> f64 {
        self.ambient + self.thermal_resistance * self.share * heat
    }
}

impl Stribeck {
    /// By how much its straight pieces are off at most at speeds up to this one, rad/s, in parts of what it is more at
    /// rest. A chord lies above the exponential, farthest where both have one slope.
    pub fn off_up_to(&self, speed: f64) -> f64 {
        let top = speed.abs() / self.speed;
        let falls = |knot: f64| libm::exp(-knot);
        let piece = |pair: &[f64]| {
            let &[from, to] = pair else { return 0.0 };
            let slope = (falls(to) - falls(from)) / (to - from);
            let farthest = (-libm::log(-slope)).min(top);
            if farthest <= from { 0.0 } else { falls(from) + slope * (farthest - from) - falls(farthest) }
        };
        let beyond = KNOTS.last().map_or(0.0, |last| (falls(*last) - falls(top)).max(0.0));
        KNOTS.windows(2).map(piece).fold(beyond, f64::max)
    }

    fn at(&self, knot: f64) -> f64 {
        self.extra * libm::exp(-knot)
    }

    /// Speeds of a band.
    pub(crate) fn band(&self, band: u8) -> (f64, f64) {
        let at = |knot: usize| KNOTS.get(knot).map_or(f64::INFINITY, |knot| knot * self.speed);
        (at(usize::from(band)), at(usize::from(band) + 1))
    }
}

impl SetUp {
    /// The drive with the friction of a band of speed.
    pub(crate) fn in_band(&self, band: u8) -> Self {
        let Some(stribeck) = self.curved.stribeck else { return *self };
        let knot = KNOTS[usize::from(band)];
        let here = stribeck.at(knot);
        let Some(next) = KNOTS.get(usize::from(band) + 1) else {
            return Self { friction: self.friction + here, ..*self };
        };
        let slope = (stribeck.at(*next) - here) / ((next - knot) * stribeck.speed);
        Self {
            friction: self.friction + here - slope * knot * stribeck.speed,
            viscous_friction: self.viscous_friction + slope,
            ..*self
        }
    }

    /// The drive with the torque that its arm has at the start.
    pub(crate) fn at_start(&self) -> Self {
        let torque = self.curved.swing.map_or(self.load_torque, |swing| swing.torque_at(0.0));
        Self { load_torque: torque, ..*self }
    }

    /// Whether what bends has figures that a drive can have.
    pub(crate) fn check_curved(&self) -> Result<(), Unusable> {
        let fits = |(what, value, must)| is_figure(what, value, must);
        self.curved.figures().into_iter().try_for_each(fits)
    }
}

/// A winding that warms: how warm it is, and the temperature that its figures are taken at.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Warmed {
    pub(crate) body: TwoBody,
    /// Temperature of the winding that the set-up is at.
    pub(crate) taken: f64,
}

impl Warmed {
    pub(crate) fn at_start(drive: &SetUp) -> Self {
        let body = drive.curved.warmth.map_or(TwoBody::at_rest(0.0), |warmth| warmth.start);
        Self { body, taken: body.winding }
    }

    /// After a time in which the square of the current had this mean.
    pub(crate) fn after(self, warmth: &Warmth, squared: f64, time: f64) -> Self {
        Self { body: self.body.after(&warmth.heat, squared.max(0.0).sqrt(), warmth.ambient, time), ..self }
    }

    /// By how much it is warmer than the set-up has it, K.
    pub(crate) fn off(&self) -> f64 {
        self.body.winding - self.taken
    }

    /// Part of the resistance by which that of the set-up is off.
    pub(crate) fn part_off(&self, warmth: &Warmth) -> f64 {
        let resistance = warmth.heat.resistance_at(self.body.winding);
        ((resistance - warmth.heat.resistance_at(self.taken)) / resistance).abs()
    }

    /// The set-up with the figures of its temperature.
    pub(crate) fn set_anew(&mut self, warmth: &Warmth, drive: &SetUp) -> SetUp {
        let resistance = warmth.heat.resistance_at(self.body.winding);
        // In proportion to what it is at the start, kelvin by kelvin.
        let part = |winding: f64| 1.0 + warmth.constant_coefficient * (winding - warmth.start.winding);
        let constant = drive.constant * part(self.body.winding) / part(self.taken);
        self.taken = self.body.winding;
        SetUp {
            resistance: drive.resistance + resistance - drive.winding_resistance,
            winding_resistance: resistance,
            constant,
            ..*drive
        }
    }
}

/// How far the temperatures have come, and when to look at them.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Bodies {
    warmed: Warmed,
    /// When the winding was looked at, and ∫i² at that time.
    time: f64,
    current_squared: f64,
    /// When the bridge was looked at, and its heat at that time.
    bridge: (f64, f64),
    /// PWM periods until the next look at the winding.
    patience: f64,
    /// PWM periods until the first look of a stage, whose current is another one: so many as the locked rotor takes.
    first: f64,
    /// ∫i² that warms the winding by the step above, none of it leaving, A²·s.
    warms: f64,
}

impl Bodies {
    pub(crate) fn new(drive: &SetUp) -> Self {
        let warms = drive.curved.warmth.map_or(f64::INFINITY, |warmth| {
            WARM_STEP * warmth.heat.thermal.winding_capacity() / drive.winding_resistance
        });
        let locked = drive.supply_voltage / drive.resistance;
        let first = warms / (locked * locked) * drive.frequency;
        Self {
            first: first.clamp(WARM_PERIODS.0, FIRST_PERIODS),
            warmed: Warmed::at_start(drive),
            time: 0.0,
            current_squared: 0.0,
            bridge: (0.0, 0.0),
            patience: WARM_PERIODS.0,
            warms,
        }
    }

    /// Sums begin anew after these.
    pub(crate) fn begin(&mut self, ended: &Energy) {
        self.current_squared -= ended.current_squared;
        self.bridge.1 -= ended.bridge;
        self.patience = self.patience.min(self.first);
    }
}

impl<const N: usize> Engine<N> {
    /// Follows what bends, at the end of a PWM period.
    pub(crate) fn bend(&mut self, time: f64) {
        let curved = self.drive.curved;
        if let Some(swing) = curved.swing {
            self.swing(&swing);
        }
        // A period that is due by a rounding error is due.
        let frequency = self.drive.frequency;
        let periods = |since: f64| (time - since) * frequency + 1e-6;
        if curved.warmth.is_some() {
            let (span, current) = (time - self.bodies.time, self.now.z[CURRENT]);
            let is_due = periods(self.bodies.time) >= self.bodies.patience;
            if is_due || current * current * span >= self.bodies.warms {
                self.warm(time);
            }
        }
        if let Some(shutdown) = curved.shutdown.filter(|_| periods(self.bodies.bridge.0) >= JUNCTION_PERIODS)
        {
            self.heat_junction(&shutdown, time);
        }
    }

    /// PWM periods that may pass without a look.
    pub(crate) fn patience(&self) -> u64 {
        let curved = &self.drive.curved;
        let warm = if curved.warmth.is_some() { self.bodies.patience as u64 } else { u64::MAX };
        let junction = if curved.shutdown.is_some() { JUNCTION_PERIODS as u64 } else { u64::MAX };
        let swing = if curved.swing.is_some() { SWING_PERIODS } else { u64::MAX };
        warm.min(junction).min(swing)
    }

    fn swing(&mut self, swing: &Swing) {
        let now = &self.now;
        let speed = if N > LOAD_SPEED { now.z[LOAD_SPEED] } else { now.z[SPEED] / self.drive.ratio };
        let ahead = 0.5 * SWING_PERIODS as f64 / self.drive.frequency * speed;
        let sign = if now.swapped { -1.0 } else { 1.0 };
        // Of a motor with swapped leads everything is counted the other way.
        let at = |angle: f64| sign * swing.torque_at(sign * angle);
        let (here, torque, taken) = (at(now.load_angle), at(now.load_angle + ahead), self.drive.load_torque);
        let bent = &mut self.now.kept.bent.arm;
        bent.see(swing.off(taken, here));
        if swing.off(taken, torque) > SWING_STEP {
            bent.times += 1;
            bent.see(swing.off(torque, here));
            self.change_drive(SetUp { load_torque: torque, ..self.drive });
        }
    }

    /// The junction of the bridge since the last look at it.
    fn heat_junction(&mut self, shutdown: &Shutdown, time: f64) {
        self.settle();
        let (since, before) = self.bodies.bridge;
        let (span, heat) = (time - since, self.now.kept.energy.bridge);
        self.bodies.bridge = (time, heat);
        if shutdown.junction((heat - before) / span) > shutdown.trip {
            let until = if shutdown.latches { f64::INFINITY } else { time + span };
            self.now.guard.stopped_until = self.now.guard.stopped_until.max(until);
            self.now.kept.shut_down = self.now.kept.shut_down.or(Some(time));
        }
    }

    /// The winding since the last look at it.
    pub(crate) fn warm(&mut self, time: f64) {
        let span = time - self.bodies.time;
        let Some(warmth) = self.drive.curved.warmth.filter(|_| span > 0.0) else { return };
        self.settle();
        let sum = self.now.kept.energy.current_squared;
        let squared = (sum - self.bodies.current_squared) / span;
        (self.bodies.time, self.bodies.current_squared) = (time, sum);
        let before = self.bodies.warmed.body.winding;
        self.bodies.warmed = self.bodies.warmed.after(&warmth, squared, span);
        let winding = self.bodies.warmed.body.winding;
        let kept = &mut self.now.kept;
        kept.hottest_winding = Some(kept.hottest_winding.map_or(winding, |hottest| hottest.max(winding)));
        kept.bent.winding.see(self.bodies.warmed.part_off(&warmth));
        let off = self.bodies.warmed.off().abs();
        let (fewest, most) = WARM_PERIODS;
        let each = (winding - before).abs() / (span * self.drive.frequency);
        // What is left of the step must be worth a further look.
        let is_off = off > WARM_NEAR * WARM_STEP || off + fewest * each > WARM_STEP;
        let left = if is_off { WARM_STEP } else { WARM_STEP - off };
        let most = most.min(2.0 * span * self.drive.frequency).max(fewest);
        self.bodies.patience = libm::floor(left / each).clamp(fewest, most);
        if is_off {
            kept.bent.winding.times += 1;
            let drive = self.bodies.warmed.set_anew(&warmth, &self.drive);
            self.change_drive(drive);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The straight pieces against the exponential, at a thousand speeds.
    #[test]
    fn straight_pieces_stay_close_to_the_falling_friction() {
        let stribeck = Stribeck { extra: 2.0, speed: 30.0 };
        let mut worst: f64 = 0.0;
        for k in 0..1000 {
            let speed = f64::from(k) * 0.3;
            let band = (0..BANDS as u8).rev().find(|band| stribeck.band(*band).0 <= speed).expect("a band");
            let knot = KNOTS[usize::from(band)];
            let here = stribeck.at(knot);
            let value = match KNOTS.get(usize::from(band) + 1) {
                Some(next) => here + (stribeck.at(*next) - here) * (speed / 30.0 - knot) / (next - knot),
                None => here,
            };
            worst = worst.max((value - 2.0 * libm::exp(-speed / 30.0)).abs() / 2.0);
        }
        // h²/8·e^(−x) of the worst piece, from 2.4 to 3.5 of its speed on: about 1 %.
        assert!(worst < 0.012, "{worst}");
        assert!((stribeck.off_up_to(300.0) - worst).abs() < 1e-5, "{worst}");
    }

    /// The largest distance by a search over all speeds up to a top.
    #[test]
    fn what_the_pieces_are_off_by_is_the_most_of_the_speeds_that_were_met() {
        let stribeck = Stribeck { extra: 2.0, speed: 30.0 };
        let off = |speed: f64| {
            let x = speed / 30.0;
            let Some(above) = KNOTS.iter().position(|knot| *knot > x) else {
                return libm::exp(-6.0) - libm::exp(-x);
            };
            let (from, to) = (KNOTS[above - 1], KNOTS[above]);
            let (high, low) = (libm::exp(-from), libm::exp(-to));
            high + (low - high) * (x - from) / (to - from) - libm::exp(-x)
        };
        for top in [0.0, 1.0, 5.0, 8.0, 20.0, 70.0, 110.0, 179.0, 181.0, 400.0] {
            let due = (0..=20_000).map(|k| off(top * f64::from(k) / 20_000.0)).fold(0.0, f64::max);
            let found = stribeck.off_up_to(-top);
            assert!((found - due).abs() < 1e-6, "{top}: {found} for {due}");
        }
    }
}

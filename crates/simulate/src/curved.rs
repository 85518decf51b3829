//! What bends: a winding that warms, an arm that swings, friction that falls with speed. Between two events the drive
//! stays linear; these move its figures in steps, each so small that its error is bounded.

use crate::engine::Engine;
use crate::mode::{LOAD_SPEED, SPEED};
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
    /// Change of the constant for a kelvin of the winding, 1/K: that of the magnets by the part that they follow.
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

/// Protection of a bridge by temperature. The junction is taken to follow its loss at once, which is early rather than
/// late: no sheet says how much heat it holds.
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
/// step below.
const WARM_PERIODS: (f64, f64) = (4.0, 512.0);
/// Part of its largest torque by which that of an arm may be off before it is set anew.
const SWING_STEP: f64 = 1e-4;
/// Temperature by which a winding may be off, K: 0.02 % of its resistance.
const WARM_STEP: f64 = 0.05;

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

    fn has_temperatures(&self) -> bool {
        self.warmth.is_some() || self.shutdown.is_some()
    }
}

impl Stribeck {
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

    /// Whether what bends has figures that a drive can have.
    pub(crate) fn check_curved(&self) -> Result<(), Unusable> {
        let fits = |(what, value, must)| is_figure(what, value, must);
        self.curved.figures().into_iter().try_for_each(fits)
    }
}

/// How far the temperatures have come.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Bodies {
    body: TwoBody,
    /// Temperature of the winding that the set-up is at.
    taken: f64,
    /// When they were looked at, and the sums of that time.
    time: f64,
    current_squared: f64,
    bridge: f64,
    /// PWM periods until the next look.
    patience: f64,
}

impl Bodies {
    pub(crate) fn new(drive: &SetUp) -> Self {
        let body = drive.curved.warmth.map_or(TwoBody::at_rest(0.0), |warmth| warmth.start);
        Self {
            body,
            taken: body.winding,
            time: 0.0,
            current_squared: 0.0,
            bridge: 0.0,
            patience: WARM_PERIODS.0,
        }
    }

    /// The sums begin anew.
    pub(crate) fn begin(&mut self) {
        (self.current_squared, self.bridge) = (0.0, 0.0);
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
        let passed = (time - self.bodies.time) * self.drive.frequency + 1e-6;
        if curved.has_temperatures() && passed >= self.bodies.patience {
            self.warm(time);
        }
    }

    /// PWM periods that may pass without a look.
    pub(crate) fn patience(&self) -> u64 {
        let curved = &self.drive.curved;
        let warm = if curved.has_temperatures() { self.bodies.patience as u64 } else { u64::MAX };
        if curved.swing.is_some() { warm.min(SWING_PERIODS) } else { warm }
    }

    fn swing(&mut self, swing: &Swing) {
        let now = &self.now;
        let speed = if N > LOAD_SPEED { now.z[LOAD_SPEED] } else { now.z[SPEED] / self.drive.ratio };
        let ahead = 0.5 * SWING_PERIODS as f64 / self.drive.frequency * speed;
        let sign = if now.swapped { -1.0 } else { 1.0 };
        // Of a motor with swapped leads everything is counted the other way.
        let torque = sign * swing.torque * libm::cos(swing.angle + sign * (now.load_angle + ahead));
        if (torque - self.drive.load_torque).abs() > SWING_STEP * swing.torque.abs() {
            self.change_drive(SetUp { load_torque: torque, ..self.drive });
        }
    }

    /// Temperatures since the last look.
    pub(crate) fn warm(&mut self, time: f64) {
        let span = time - self.bodies.time;
        if span <= 0.0 || !self.drive.curved.has_temperatures() {
            return;
        }
        self.settle();
        let energy = self.now.kept.energy;
        let squared = (energy.current_squared - self.bodies.current_squared).max(0.0) / span;
        let loss = (energy.bridge - self.bodies.bridge) / span;
        (self.bodies.time, self.bodies.current_squared, self.bodies.bridge) =
            (time, energy.current_squared, energy.bridge);
        if let Some(shutdown) = self.drive.curved.shutdown {
            let junction = shutdown.ambient + shutdown.thermal_resistance * shutdown.share * loss;
            if junction > shutdown.trip {
                let until = if shutdown.latches { f64::INFINITY } else { time + span };
                self.now.guard.stopped_until = self.now.guard.stopped_until.max(until);
                self.now.kept.shut_down = self.now.kept.shut_down.or(Some(time));
            }
        }
        let Some(warmth) = self.drive.curved.warmth else { return };
        let before = self.bodies.body.winding;
        self.bodies.body = self.bodies.body.after(&warmth.heat, squared.sqrt(), warmth.ambient, span);
        let winding = self.bodies.body.winding;
        let rate = (winding - before).abs() / span;
        let (fewest, most) = WARM_PERIODS;
        self.bodies.patience = libm::floor(WARM_STEP / rate * self.drive.frequency).clamp(fewest, most);
        let kept = &mut self.now.kept;
        kept.hottest_winding = Some(kept.hottest_winding.map_or(winding, |hottest| hottest.max(winding)));
        let risen = winding - self.bodies.taken;
        if risen.abs() > WARM_STEP {
            self.bodies.taken = winding;
            let resistance = warmth.heat.resistance_at(winding);
            let drive = SetUp {
                resistance: self.drive.resistance + resistance - self.drive.winding_resistance,
                winding_resistance: resistance,
                constant: self.drive.constant * (1.0 + warmth.constant_coefficient * risen),
                ..self.drive
            };
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
    }
}

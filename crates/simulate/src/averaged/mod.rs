//! The course of time by the means over the PWM period, the ripple as an envelope about them.
//!
//! ```text
//! L·di/dt = D·V − (R + |D|·R_s)·i − U_b·s(i) − K·ω        s(i) = max(−1, min(1, 2·i/Δ))        I_peak = |i| + Δ/2
//! ```
//!
//! Dead time takes `(V + 2·U_d)·t_d·f` from the mean, against the current (twice that where both legs switch). Behind
//! capacitors the supply gives the mean: `D²·R_s` in place of `|D|·R_s`. Whether a limit would have acted, or energy come
//! back, is told ([`Averaged::left`]), not followed.
//!
//! What the shaft does, and what stands still, is as in the switched simulation. Between two events (the ripple reaching
//! zero, rest, breaking away, the power through the gear turning) the course is exact, in one step of any length.

mod flow;
mod mean;
mod mode;

use crate::curved::Curved;
use crate::record::{Kept, Row, Sink};
use crate::set_up::{Sees, SetUp, Unusable};
use crate::shaft::turning;
use crate::simulation::{Ended, Stage};
use drive::bridge::OffState;
use flow::State;
use mean::Mean;
use mode::{Event, Mode, Way};
use thiserror::Error;

/// Events without any time between them, beyond which the set-up is given up.
const MOST_AT_ONCE: u32 = 100;

/// A drive as time goes by, averaged over its PWM periods. It starts at rest, without current, at the angle zero.
#[derive(Clone, Debug)]
pub struct Averaged {
    drive: SetUp,
    z: State,
    way: Way,
    angle: f64,
    /// PWM periods since the start.
    period: u64,
    kept: Kept,
    /// ∫ of the motor voltage, but for that of the inductance, since the row before.
    voltage: f64,
    /// Charge out of the bus since the row before.
    charge: f64,
    reached: Reached,
    /// Time and current at the row before.
    row_before: (f64, f64),
}

/// Why a drive is not averaged.
#[derive(Clone, PartialEq, Debug, Error)]
pub enum CannotAverage {
    /// A figure that no drive can have.
    #[error(transparent)]
    Unusable(#[from] Unusable),
    /// Something that no mean over a PWM period follows.
    #[error("{what} cannot be averaged; the switched simulation follows it")]
    Switched {
        /// What.
        what: &'static str,
    },
}

/// Whether the means of a drive follow from its duty.
pub(crate) fn check(drive: &SetUp) -> Result<(), CannotAverage> {
    drive.check()?;
    let beyond = [
        (
            matches!(drive.off_state, OffState::Diode | OffState::Coast),
            "an off-time through diodes, where the current may end before the period does,",
        ),
        (drive.twist.is_some(), "a gear with twist and play"),
        (drive.curved != Curved::NONE, "what bends, such as a winding that warms,"),
    ];
    match beyond.iter().find(|(is, _)| *is) {
        Some((_, what)) => Err(CannotAverage::Switched { what }),
        None => Ok(()),
    }
}

/// What currents have come to, by which anything may act that no mean follows.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
struct Reached {
    /// Largest current of the motor by amount, ripple counted, A.
    motor: f64,
    /// Lowest and highest mean current that the bridge takes out of the bus, A.
    supply: (f64, f64),
}

impl Averaged {
    /// The drive at rest.
    ///
    /// # Errors
    /// Where a figure is none that a drive can have, or where no mean over a PWM period follows it: diodes in the off-time,
    /// twist.
    pub fn new(drive: SetUp) -> Result<Self, CannotAverage> {
        check(&drive)?;
        let way = Way { current: 0, shaft: 0, load_drives: false };
        Ok(Self {
            drive,
            z: [0.0; 2],
            way,
            angle: 0.0,
            period: 0,
            kept: Kept::default(),
            voltage: 0.0,
            charge: 0.0,
            reached: Reached::default(),
            row_before: (0.0, 0.0),
        })
    }

    /// Time since the start, s.
    pub fn time(&self) -> f64 {
        self.period as f64 / self.drive.frequency
    }

    /// What has acted so far, or may have, that no mean follows: then only the switched simulation tells what comes of
    /// it. Timers and blanking are not waited for.
    pub fn left(&self) -> Option<&'static str> {
        let (drive, reached) = (&self.drive, &self.reached);
        let (low, high) = reached.supply;
        let seen = |sees: Sees| if sees == Sees::Supply { high } else { reached.motor };
        if drive.board.limits.iter().flatten().any(|limit| seen(limit.sees) >= limit.threshold) {
            return Some("a limit of the board");
        }
        let bus = drive.bus?;
        let idle = bus.quiescent + bus.bleed * drive.supply_voltage;
        let lowest = drive.supply_voltage - drive.supply_resistance * (idle + high);
        if !bus.sinks && low + idle < 0.0 {
            return Some("energy into a bus that cannot give it away");
        }
        if bus.limit.is_some_and(|limit| idle + high >= limit.current.min(limit.short_current)) {
            return Some("the limit of the supply");
        }
        drive.board.lockout.is_some_and(|lockout| lowest <= lockout.off).then_some("the lockout of the board")
    }

    /// Plays a stage, with rows and sums as [`crate::Simulation::play`] has them. The peak current is that of the mean
    /// with half of the ripple; a current that ends counts as a gap for as long as it stays away.
    ///
    /// # Errors
    /// Where the command is no duty, or the sink takes no more.
    pub fn play<S: Sink>(
        &mut self,
        stage: &Stage,
        every: u64,
        sink: &mut S,
    ) -> Result<Kept, Ended<S::Failure>> {
        let mean = Mean::of(&self.drive, stage.command).map_err(Ended::Unusable)?;
        let duty = stage.command.duty();
        self.way.current = mean.side(self.z[0], self.drive.constant * self.z[1]);
        let stored = self.stored();
        self.kept = Kept { angles: (self.angle, self.angle), ..Kept::default() };
        for (k, value) in self.z.into_iter().enumerate() {
            self.see(value, k, &mean, self.time());
        }
        if self.way.shaft == 0 {
            self.kept.at_rest_since = Some(self.time());
        }
        if self.period == 0 {
            let supply_voltage = self.drive.supply_voltage;
            sink.take(&Row { duty, supply_voltage, ..Row::default() }).map_err(Ended::Sink)?;
        }
        let (every, last) = (every.max(1), self.period + stage.periods);
        while self.period < last {
            let next = (self.period - self.period % every).saturating_add(every).min(last);
            let time = (next - self.period) as f64 / self.drive.frequency;
            self.pass(&mean, time).map_err(Ended::Unusable)?;
            self.period = next;
            let row = self.row(duty);
            sink.take(&row).map_err(Ended::Sink)?;
        }
        let kept = Kept {
            end: self.time(),
            ripple: 2.0 * mean.half_ripple_at(self.z[0]),
            stored: self.stored() - stored,
            current: self.z[0],
            speed: self.z[1],
            angle: self.angle,
            ..self.kept
        };
        Ok(kept)
    }

    /// Goes on for a time.
    fn pass(&mut self, mean: &Mean, time: f64) -> Result<(), Unusable> {
        let (start, mut left, mut at_once) = (self.time(), time, 0);
        let mut mode = Mode::new(&self.drive, mean, self.way);
        while left > 0.0 {
            let reach = left.min(mode.flow.longest());
            let event = mode.event(&self.drive, mean, self.z, reach);
            let passed = event.map_or(reach, |(at, _)| at);
            if passed > 0.0 {
                self.go(&mode, mean, passed, start + (time - left));
                left -= passed;
                at_once = 0;
            }
            if let Some((_, event)) = event {
                at_once += 1;
                if at_once > MOST_AT_ONCE {
                    return Err(Unusable::Restless { events: at_once });
                }
                self.change(&mode, mean, event, start + (time - left));
                mode = Mode::new(&self.drive, mean, self.way);
            }
        }
        Ok(())
    }

    fn go(&mut self, mode: &Mode, mean: &Mean, time: f64, start: f64) {
        let (from, to) = (self.z, mode.flow.after(self.z, time));
        let over = mode.flow.integrals(from, to, time);
        let (voltage, charge) = mode.account(&self.drive, mean, &over, time, &mut self.kept.energy);
        self.voltage += voltage;
        self.charge += charge;
        self.angle += over.speed;
        for (k, form) in [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]].iter().enumerate() {
            if let Some(at) = mode.extremum(form, from, to, time) {
                self.see(mode.flow.after(from, at)[k], k, mean, start + at);
            }
            self.see(to[k], k, mean, start + time);
        }
        self.z = to;
        let kept = &mut self.kept;
        kept.returned += mean.returned(&self.drive, self.way.current, &over);
        kept.angles = (kept.angles.0.min(self.angle), kept.angles.1.max(self.angle));
        if self.way.current == 0 && mean.half_ripple == 0.0 {
            kept.gaps += (time * self.drive.frequency).ceil() as u64;
        }
    }

    /// A current (0) or a speed (1) that is met.
    fn see(&mut self, value: f64, what: usize, mean: &Mean, time: f64) {
        let kept = &mut self.kept;
        if what == 1 {
            if value.abs() > kept.peak_speed.abs() {
                kept.peak_speed = value;
            }
            return;
        }
        let peak = value + mean.half_ripple_at(value).copysign(value);
        let reached = &mut self.reached;
        reached.motor = reached.motor.max(peak.abs());
        if let Some(supply) = mean.supply_current(value) {
            reached.supply = (reached.supply.0.min(supply), reached.supply.1.max(supply));
        }
        if peak.abs() > kept.peak_current.abs() {
            (kept.peak_current, kept.peak_time) = (peak, time);
        }
    }

    fn change(&mut self, mode: &Mode, mean: &Mean, event: Event, time: f64) {
        let half = mean.half_ripple;
        let torque = self.drive.constant * self.z[0];
        match event {
            Event::ReachesZero => {
                self.z[0] = f64::from(self.way.current) * half;
                let back_emf = self.drive.constant * self.z[1];
                // What just came to an end does not go on in its old sense.
                self.way.current = match self.way.current {
                    _ if half > 0.0 => 0,
                    1 if back_emf > mean.back => -1,
                    -1 if back_emf < mean.forward => 1,
                    _ => 0,
                };
            }
            Event::Conducts(sign) => {
                self.z[0] = f64::from(sign) * half;
                self.way.current = sign;
            }
            Event::Passes => self.z[0] = 0.0,
            Event::SpeedZero => {
                self.z[1] = 0.0;
                let way = match self.way.shaft {
                    1 if torque < mode.holding.0 => -1,
                    -1 if torque > mode.holding.1 => 1,
                    _ => 0,
                };
                self.turn(way, time);
            }
            Event::BreaksAway(sense) => self.turn(sense, time),
            Event::GearTurns => self.way.load_drives = !self.way.load_drives,
        }
    }

    fn turn(&mut self, sense: i8, time: f64) {
        self.way.shaft = sense;
        self.kept.at_rest_since = (sense == 0).then_some(time);
        let [a, b, c] = turning(&self.drive, sense, false).motor_drives;
        self.way.load_drives = sense != 0 && a * self.z[0] + b * self.z[1] + c < 0.0;
    }

    /// Energy in inductance and inertia.
    fn stored(&self) -> f64 {
        let (drive, [i, w]) = (&self.drive, self.z);
        let inertia = drive.inertia + drive.load_inertia / (drive.ratio * drive.ratio);
        0.5 * (drive.inductance * i * i + inertia * w * w)
    }

    fn row(&mut self, duty: f64) -> Row {
        let (drive, time, [current, speed]) = (&self.drive, self.time(), self.z);
        let (start, before) = self.row_before;
        let span = time - start;
        let supply_current = self.charge / span;
        let voltage = self.voltage + drive.inductance * (current - before);
        (self.row_before, self.voltage, self.charge) = ((time, current), 0.0, 0.0);
        let idle = drive.bus.map_or(0.0, |bus| bus.quiescent + bus.bleed * drive.supply_voltage);
        Row {
            time,
            duty,
            supply_voltage: drive.supply_voltage - drive.supply_resistance * (supply_current + idle),
            motor_voltage: voltage / span,
            current,
            speed,
            angle: self.angle,
            load_speed: speed / drive.ratio,
            load_angle: self.angle / drive.ratio,
            supply_current,
            ..Row::default()
        }
    }
}

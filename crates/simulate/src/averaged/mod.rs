//! The course of time by the means over the PWM period, the ripple as an envelope about them.
//!
//! ```text
//! L·di/dt = D·V − (R + |D|·R_s)·i − U_b·s(i) − K·ω        s(i) = max(−1, min(1, 2·i/Δ))        I_peak = |i| + Δ/2
//! ```
//!
//! Dead time takes `(V + 2·U_d)·t_d·f` from the mean, against the current (twice that where both legs switch). Behind
//! capacitors the supply gives the mean: `D²·R_s` in place of `|D|·R_s`; what comes back lifts them where it takes nothing.
//! Whether a limit would have acted is told ([`Averaged::left`]), not followed.
//!
//! What the shaft does, and what stands still, is as in the switched simulation. Between two events (the ripple reaching
//! zero, rest, breaking away, the power through the gear turning) the course is exact, in one step of any length. What
//! bends (a winding that warms, an arm, a bus that rises) is held for a step and set anew, so that it is off by no more
//! than a bound.

mod bends;
mod flow;
mod mean;
mod mode;
mod now;
mod readings;

use crate::controlled::{self, Clock, Driven, Turn};
use crate::record::{Flags, Kept, Row, Sink};
use crate::sensing::Readings;
use crate::set_up::{Sees, SetUp, Unusable};
use crate::simulation::{Command, Ended, Stage};
use bends::{Behind, Bends};
use controller::Controller;
use drive::bridge::OffState;
use mean::Mean;
use now::Now;
use readings::Lines;
use thiserror::Error;

/// Steps after which a sink is asked whether to go on: a millisecond of work or so.
const LOOK: u64 = 1024;

/// A drive as time goes by, averaged over its PWM periods. It starts at rest, without current, at the angle zero.
#[derive(Clone, Debug)]
pub struct Averaged {
    /// As it is taken now: what bends is in it.
    drive: SetUp,
    behind: Behind,
    command: Command,
    mean: Mean,
    now: Now,
    bends: Bends,
    /// PWM periods since the start.
    period: u64,
    /// Time and current at the row before.
    row_before: (f64, f64),
    lines: Option<Lines>,
    turn: Option<Turn>,
    steps: u64,
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
    ];
    match beyond.iter().find(|(is, _)| *is) {
        Some((_, what)) => Err(CannotAverage::Switched { what }),
        None => Ok(()),
    }
}

impl Averaged {
    /// The drive at rest.
    ///
    /// # Errors
    /// Where a figure is none that a drive can have, or where no mean over a PWM period follows it: diodes in the off-time,
    /// twist.
    pub fn new(drive: SetUp) -> Result<Self, CannotAverage> {
        check(&drive)?;
        let drive = drive.at_start();
        let command = Command::Duty(0.0);
        Ok(Self {
            behind: Behind::of(&drive),
            command,
            mean: Mean::of(&drive, command)?,
            now: Now::at_rest(),
            bends: Bends::new(&drive),
            drive,
            period: 0,
            row_before: (0.0, 0.0),
            lines: None,
            turn: None,
            steps: 0,
        })
    }

    /// Time since the start, s.
    pub fn time(&self) -> f64 {
        self.period as f64 / self.drive.frequency
    }

    /// What has acted so far, or may have, that no mean follows: then only the switched simulation tells what comes of
    /// it. Timers and blanking are not waited for.
    pub fn left(&self) -> Option<&'static str> {
        let (drive, reached, behind) = (&self.drive, &self.now.reached, &self.behind);
        let high = reached.supply;
        let seen = |sees: Sees| if sees == Sees::Supply { high } else { reached.motor };
        if drive.board.limits.iter().flatten().any(|limit| seen(limit.sees) >= limit.threshold) {
            return Some("a limit of the board");
        }
        if self.bends.shut_down {
            return Some("the bridge, which switches off by its temperature");
        }
        let bus = behind.bus?;
        if bus.limit.is_some_and(|limit| behind.idle() + high >= limit.current.min(limit.short_current)) {
            return Some("the limit of the supply");
        }
        let highest = reached.bus.max(behind.voltage) + behind.lifted_by(reached.put_back, reached.motor);
        if bus.clamps.iter().flatten().any(|clamp| highest >= clamp.threshold) {
            return Some("a clamp of the bus");
        }
        let lockout = drive.board.lockout?;
        let is_out = behind.voltage_at(high) <= lockout.off || highest >= lockout.over;
        is_out.then_some("the lockout of the board")
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
        self.begin();
        self.go_on(stage.command, self.period + stage.periods, (every, true), sink)?;
        Ok(self.end())
    }

    /// Lets a loop run for so many samples, as [`crate::Simulation::play_loop`] does.
    ///
    /// # Errors
    /// Where the clock is none that a loop can have, the loop says what is no number, or the sink takes no more.
    pub fn play_loop<S: Sink>(
        &mut self,
        controller: &mut dyn Controller,
        clock: &Clock,
        samples: u64,
        every: u64,
        sink: &mut S,
    ) -> Result<Kept, Ended<S::Failure>> {
        let mut turn = self.turn.unwrap_or(Turn::from(self.period));
        let kept = controlled::play(self, &mut turn, (controller, clock), samples, (every, sink));
        self.turn = Some(turn);
        kept
    }

    /// Begins to keep anew.
    fn begin(&mut self) {
        let time = self.time();
        self.bends.begin(&self.now.kept);
        let now = &mut self.now;
        now.kept = Kept {
            angles: (now.angle, now.angle),
            at_rest_since: (now.way.shaft == 0).then_some(time),
            stored: 0.0,
            ..Kept::default()
        };
        let bus = self.behind.bus.map_or(self.behind.voltage, |_| self.bus_voltage());
        self.now.kept.bus = (bus, bus);
        (self.now.drawn, self.now.put_back) = ((0.0, 0.0), 0.0);
        self.now.kept.stored = -self.stored();
    }

    /// What was kept since.
    fn end(&mut self) -> Kept {
        self.look_at_last();
        let (now, (low, high)) = (&self.now, self.now.kept.bus);
        let drawn = now.drawn;
        let bus = match self.behind.bus {
            Some(_) => {
                let high = high.max(self.behind.highest_at(drawn.0));
                let pulse = self.behind.lifted_by(now.put_back, now.kept.peak_current.abs());
                (low.min(self.behind.voltage_at(drawn.1)), high + pulse)
            }
            None => (low, high),
        };
        Kept {
            end: self.time(),
            bus,
            ripple: 2.0 * self.mean.half_ripple_at(now.z[0]),
            stored: now.kept.stored + self.stored(),
            current: now.z[0],
            speed: now.z[1],
            angle: now.angle,
            ..now.kept
        }
    }

    /// Goes on to a PWM period under a command, with a row after each `every` periods, and one at the end where that is
    /// asked for.
    fn go_on<S: Sink>(
        &mut self,
        command: Command,
        end: u64,
        (every, at_end): (u64, bool),
        sink: &mut S,
    ) -> Result<(), Ended<S::Failure>> {
        self.mean = Mean::of(&self.drive, command).map_err(Ended::Unusable)?;
        self.command = command;
        self.now.under(&self.drive, &self.mean);
        for (k, value) in self.now.z.into_iter().enumerate() {
            self.now.see(value, k, &self.mean, self.time());
        }
        if self.period == 0 {
            let row = self.row();
            sink.take(&row).map_err(Ended::Sink)?;
        }
        let every = every.max(1);
        while self.period < end {
            let row = (self.period / every).saturating_add(1).saturating_mul(every);
            let until = row.min(end);
            let (frequency, periods) = (self.drive.frequency, until - self.period);
            let at = until as f64 / frequency;
            // A clock of its own samples before the row; only its last sample is read.
            if let Some(sample) = self.sample_before(at) {
                self.pass(sample - self.time(), sample, sink)?;
                self.take_sample(sample);
                self.pass(at - sample, at, sink)?;
            } else {
                self.pass(periods as f64 / frequency, at, sink)?;
            }
            self.period = until;
            if until == row || (at_end && until == end) {
                let row = self.row();
                sink.take(&row).map_err(Ended::Sink)?;
            }
        }
        Ok(())
    }

    /// Goes on for a time up to another one.
    fn pass<S: Sink>(&mut self, time: f64, end: f64, sink: &mut S) -> Result<(), Ended<S::Failure>> {
        let mut left = time;
        while left > 0.0 {
            left -= self.step(left, end - left).map_err(Ended::Unusable)?;
            self.steps += 1;
            if self.steps.is_multiple_of(LOOK) {
                sink.go_on(end - left).map_err(Ended::Sink)?;
            }
        }
        Ok(())
    }

    /// Voltage of the bus now, V.
    fn bus_voltage(&self) -> f64 {
        let current = self.mean.supply_current(self.now.z[0]).unwrap_or(0.0);
        self.bends.lifted.unwrap_or_else(|| self.behind.voltage_at(current))
    }

    fn row(&mut self) -> Row {
        let readings = self.read_lines();
        let (drive, time, [current, speed]) = (&self.drive, self.time(), self.now.z);
        let (start, before) = self.row_before;
        let span = time - start;
        let mean = |sum: f64| if span > 0.0 { sum / span } else { 0.0 };
        let supply_current = mean(self.now.charge);
        let motor_voltage = mean(self.now.voltage + drive.inductance * (current - before));
        let supply_voltage = match self.behind.bus {
            Some(_) => self.bus_voltage(),
            None => self.behind.voltage_at(supply_current),
        };
        (self.row_before, self.now.voltage, self.now.charge) = ((time, current), 0.0, 0.0);
        let (duty, angle) = (self.command.duty(), self.now.angle);
        Row {
            time,
            duty,
            supply_voltage,
            motor_voltage,
            current,
            speed,
            angle,
            load_speed: speed / drive.ratio,
            load_angle: angle / drive.ratio,
            supply_current,
            readings,
            flags: Flags { open: self.command == Command::Open, ..Flags::default() },
        }
    }
}

impl Driven for Averaged {
    fn frequency(&self) -> f64 {
        self.drive.frequency
    }

    fn begin(&mut self) {
        self.begin();
    }

    fn read(&mut self) -> Readings {
        self.read_lines()
    }

    fn go_on<S: Sink>(
        &mut self,
        command: Command,
        until: u64,
        every: u64,
        sink: &mut S,
    ) -> Result<(), Ended<S::Failure>> {
        self.go_on(command, until, (every, false), sink)
    }

    fn end(&mut self) -> Kept {
        self.end()
    }
}

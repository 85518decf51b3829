//! A drive under the code of its controller: sampled, late, in counts.

use crate::engine::Engine;
use crate::record::{Kept, Sink};
use crate::sensing::{Readings, Taken};
use crate::set_up::Unusable;
use crate::simulation::{Command, Ended, Pending, go_on, segments};
use controller::{Controller, Reading};

/// How often a loop runs, and what becomes of what it says.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Clock {
    /// Samples in a second, Hz. A sample is taken at the first start of a PWM period that is due, in the middle of an
    /// off-time, so that it is late by one PWM period at most.
    pub rate: f64,
    /// Samples after which what a loop says takes effect: 1 as a timer takes it over with the next sample, 0 where it
    /// is there at once.
    pub delay: Delay,
    /// Counts of the PWM timer in a period: the duty is rounded to them. None where it is not rounded.
    pub duty_counts: Option<f64>,
}

/// When what a loop says takes effect.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Delay {
    /// With the sample that it was worked out from.
    None,
    /// With the next sample.
    OneSample,
}

impl Clock {
    fn check(&self, frequency: f64) -> Result<(), Unusable> {
        let fault = |what, value, must| Err(Unusable::Figure { what, value, must });
        if !(self.rate > 0.0 && self.rate <= frequency) {
            return fault("rate of the loop", self.rate, "above zero and no more than the PWM frequency");
        }
        match self.duty_counts {
            Some(counts) if !(counts >= 1.0 && counts.is_finite()) => {
                fault("counts of the PWM timer", counts, "one at least")
            }
            _ => Ok(()),
        }
    }

    fn rounded(&self, duty: f64) -> f64 {
        self.duty_counts.map_or(duty, |counts| libm::round(duty * counts) / counts)
    }
}

/// Where a loop is in time.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Turn {
    /// Samples taken.
    pub(crate) sample: u64,
    /// PWM period at which the loop began.
    pub(crate) start: u64,
    /// What takes effect with the next sample.
    pub(crate) next: Command,
}

impl Turn {
    /// A loop that begins at a PWM period.
    pub(crate) fn from(start: u64) -> Self {
        Self { sample: 0, start, next: Command::Duty(0.0) }
    }
}

/// A drive that the code of a controller runs.
pub(crate) trait Driven {
    /// PWM frequency, Hz.
    fn frequency(&self) -> f64;
    /// Begins to keep anew.
    fn begin(&mut self);
    /// What the controller reads now.
    fn read(&mut self) -> Readings;
    /// Goes on to a PWM period under a command, with a row after each `every` periods.
    fn go_on<S: Sink>(
        &mut self,
        command: Command,
        until: u64,
        every: u64,
        sink: &mut S,
    ) -> Result<(), Ended<S::Failure>>;
    /// What was kept since.
    fn end(&mut self) -> Kept;
}

/// An engine at a PWM period.
pub(crate) struct Switched<'e, const N: usize> {
    pub(crate) engine: &'e mut Engine<N>,
    pub(crate) period: &'e mut u64,
    pub(crate) pending: &'e mut Pending,
}

impl<const N: usize> Switched<'_, N> {
    fn time(&self) -> f64 {
        *self.period as f64 / self.engine.drive.frequency
    }
}

impl<const N: usize> Driven for Switched<'_, N> {
    fn frequency(&self) -> f64 {
        self.engine.drive.frequency
    }

    fn begin(&mut self) {
        self.engine.begin(self.time());
    }

    fn read(&mut self) -> Readings {
        self.engine.read(self.time())
    }

    fn go_on<S: Sink>(
        &mut self,
        command: Command,
        until: u64,
        every: u64,
        sink: &mut S,
    ) -> Result<(), Ended<S::Failure>> {
        let segments = segments(&self.engine.drive, command).map_err(Ended::Unusable)?;
        let place = (&mut *self.period, &mut *self.pending);
        go_on(self.engine, place, until, (command, &segments), (every, false), sink)
    }

    fn end(&mut self) -> Kept {
        self.pending.whole(self.engine.end(self.time()))
    }
}

/// Runs a loop for so many samples.
pub(crate) fn play<D: Driven, S: Sink>(
    driven: &mut D,
    turn: &mut Turn,
    (controller, clock): (&mut dyn Controller, &Clock),
    samples: u64,
    (every, sink): (u64, &mut S),
) -> Result<Kept, Ended<S::Failure>> {
    let frequency = driven.frequency();
    clock.check(frequency).map_err(Ended::Unusable)?;
    driven.begin();
    let due = |sample: u64, start: u64| {
        // A rounding error makes no sample late.
        let periods = libm::ceil(sample as f64 * frequency / clock.rate * (1.0 - 1e-12));
        start + periods as u64
    };
    let end = turn.sample + samples;
    while turn.sample < end {
        let Readings { current, voltage, count, .. } = driven.read();
        let code = |taken: Option<Taken>| taken.map_or(0, |taken| taken.code);
        let reading = Reading {
            sample: turn.sample,
            count: count.unwrap_or(0),
            current_code: code(current),
            voltage_code: code(voltage),
        };
        let said = match controller.tick(&reading) {
            Some(duty) if duty.is_finite() => Command::Duty(clock.rounded(duty.clamp(-1.0, 1.0))),
            Some(duty) => {
                let must = "a number";
                return Err(Ended::Unusable(Unusable::Figure {
                    what: "duty of the loop",
                    value: duty,
                    must,
                }));
            }
            None => Command::Open,
        };
        let now = match clock.delay {
            Delay::None => said,
            Delay::OneSample => std::mem::replace(&mut turn.next, said),
        };
        turn.sample += 1;
        driven.go_on(now, due(turn.sample, turn.start), every, sink)?;
    }
    Ok(driven.end())
}

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

/// Runs a loop for so many samples.
pub(crate) fn play<const N: usize, S: Sink>(
    engine: &mut Engine<N>,
    (period, pending): (&mut u64, &mut Pending),
    turn: &mut Turn,
    (controller, clock): (&mut dyn Controller, &Clock),
    samples: u64,
    (every, sink): (u64, &mut S),
) -> Result<Kept, Ended<S::Failure>> {
    let frequency = engine.drive.frequency;
    clock.check(frequency).map_err(Ended::Unusable)?;
    let time = |period: u64| period as f64 / frequency;
    engine.begin(time(*period));
    let due = |sample: u64, start: u64| {
        // A rounding error makes no sample late.
        let periods = libm::ceil(sample as f64 * frequency / clock.rate * (1.0 - 1e-12));
        start + periods as u64
    };
    let end = turn.sample + samples;
    while turn.sample < end {
        let Readings { current, voltage, count, .. } = engine.read(time(*period));
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
        let until = due(turn.sample, turn.start);
        let segments = segments(&engine.drive, now).map_err(Ended::Unusable)?;
        go_on(engine, (period, pending), until, (now, &segments), (every, false), sink)?;
    }
    Ok(pending.whole(engine.end(time(*period))))
}

//! A drive on its way, PWM period by PWM period or by its means.

use crate::averaged::Averaged;
use crate::controlled::Clock;
use crate::record::{Kept, Row, Sink};
use crate::sensing::Sensing;
use crate::set_up::{SetUp, Unusable};
use crate::simulation::{Ended, Simulation, Stage};
use controller::Controller;
use thiserror::Error;

/// How a course is followed in time.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Course {
    /// PWM period by PWM period.
    Switched,
    /// By its means over the PWM period, the ripple as an envelope about them.
    Averaged,
}

/// Steps of a switched course above which its means are played in its place, where they hold: some seconds of work.
pub(crate) const MOST_SWITCHED: f64 = 2e7;

/// A drive on its way.
pub(crate) enum Run {
    Switched(Simulation),
    Averaged(Box<Averaged>),
}

impl Course {
    /// Its name for programs.
    pub fn name(self) -> &'static str {
        match self {
            Self::Switched => "switched",
            Self::Averaged => "averaged",
        }
    }
}

impl Run {
    /// With lines to its controller.
    pub(crate) fn sensed_by(self, sensing: Sensing) -> Result<Self, Unusable> {
        Ok(match self {
            Self::Switched(simulation) => Self::Switched(simulation.sensed_by(sensing)?),
            Self::Averaged(simulation) => Self::Averaged(Box::new(simulation.sensed_by(sensing)?)),
        })
    }

    /// Plays a stage.
    pub(crate) fn play<S: Sink>(
        &mut self,
        stage: &Stage,
        every: u64,
        sink: &mut S,
    ) -> Result<Kept, Ended<S::Failure>> {
        match self {
            Self::Switched(simulation) => simulation.play(stage, every, sink),
            Self::Averaged(simulation) => simulation.play(stage, every, sink),
        }
    }

    /// Lets a loop run for so many samples.
    pub(crate) fn play_loop<S: Sink>(
        &mut self,
        (controller, clock): (&mut dyn Controller, &Clock),
        samples: u64,
        every: u64,
        sink: &mut S,
    ) -> Result<Kept, Ended<S::Failure>> {
        match self {
            Self::Switched(simulation) => simulation.play_loop(controller, clock, samples, every, sink),
            Self::Averaged(simulation) => simulation.play_loop(controller, clock, samples, every, sink),
        }
    }
}

/// Questions whether to go on that a course by its means may come to: each is a millisecond of work or so.
const MOST_QUESTIONS: u32 = 20_000;

/// Takes no rows, and ends what takes too long.
pub(crate) struct Patience {
    left: u32,
}

/// That it took too long.
#[derive(Clone, Copy, PartialEq, Debug, Error)]
#[error("its means take too many steps as well")]
pub(crate) struct TooMany;

impl Sink for Patience {
    type Failure = TooMany;

    fn take(&mut self, _row: &Row) -> Result<(), TooMany> {
        Ok(())
    }

    fn go_on(&mut self, _time: f64) -> Result<(), TooMany> {
        self.left = self.left.checked_sub(1).ok_or(TooMany)?;
        Ok(())
    }
}

/// A drive at rest whose means hold over a course; why not in words where they do not. Twist and play are left out.
pub(crate) fn by_means(
    drive: &SetUp,
    course: impl FnOnce(&mut Averaged, &mut Patience) -> Result<(), Ended<TooMany>>,
) -> Result<Box<Averaged>, String> {
    let at_rest = Averaged::new(SetUp { twist: None, ..*drive }).map_err(|why| why.to_string())?;
    let mut played = at_rest.clone();
    course(&mut played, &mut Patience { left: MOST_QUESTIONS }).map_err(|why| why.to_string())?;
    match played.left() {
        Some(what) => Err(format!("{what} acts, or may act, which no mean over a PWM period follows")),
        None => Ok(Box::new(at_rest)),
    }
}

/// That a course is played by its means, and what that leaves out.
pub(crate) fn told_of_means(drive: &SetUp, steps: f64) -> String {
    let millions = (steps / 1e6).round().max(1.0);
    let twist = match drive.twist {
        Some(_) => " Motor and load turn as one: twist and play are left out.",
        None => "",
    };
    format!(
        "Played by its means over the PWM period, as the switched course would take {millions:.0} million steps: the ripple is \
         an envelope about them. No limit, lockout or shutdown acts.{twist} Lines to the controller read the mean with the ripple of their instant, filters \
         settled on it. A dump of signals is played switched all the same."
    )
}

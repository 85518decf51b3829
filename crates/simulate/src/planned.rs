//! A trial that is planned, by what it moves: the one place that knows which kind a trial of the bench file is.

use crate::builds::{NoSpread, Samples, Spread};
use crate::moves::{self, Move};
use crate::on_demand::{AskedFault, NoFault};
use crate::run::Course;
use crate::servo::Sweep;
use crate::simulation::Ended;
use crate::stepper::{self, StepRate};
use crate::trial::{CannotPlan, Shaft, Trial, Wish};
use bench::Bench;
use bench::file::{self, InputKind, ShaftState};
use bench::model::Axis;
use finding::{Sheet, Stopped, Watch};

/// A planned trial, by what it moves.
pub enum Planned {
    /// An axis with a DC motor.
    Turns(Box<Trial>),
    /// The same, which does its motion.
    Moves(Box<Move>),
    /// An axis with a stepper.
    Steps(Box<StepRate>),
    /// A servo.
    Sweep(Box<Sweep>),
}

impl Planned {
    /// A trial of the bench file, on its axis or on another one; a stepper at a rate in place of its own, full steps a
    /// second, where one is wished.
    ///
    /// # Errors
    /// Where the axis cannot be simulated, or what the file asks for cannot be done.
    pub fn of_file(
        bench: &Bench,
        axis: &Axis,
        name: &str,
        trial: &file::Trial,
        wish: Wish,
        rate: Option<f64>,
    ) -> Result<Self, CannotPlan> {
        let input = trial.input();
        Ok(match axis.stepper() {
            None if input.kind().is(InputKind::Profile) => {
                Self::Moves(Box::new(moves::of_file(bench, axis, name, trial, wish.free)?))
            }
            Some(_) if input.kind().is(InputKind::StepRate) => {
                let stated = input.has("rate").then(|| input.rate().value());
                let wish = stepper::Wish {
                    rate: rate.or(stated),
                    time: trial.has("duration").then(|| trial.duration().value()),
                    free: wish.free || trial.shaft().is(ShaftState::Free),
                };
                let faults = AskedFault::of_file(name, trial)?;
                let steps = stepper::trial(bench, axis, wish)?;
                Self::Steps(Box::new(steps.with_faults(&faults).map_err(|no| no.in_file(name))?))
            }
            _ => Self::Turns(Box::new(Trial::of_file(bench, axis, name, trial, wish)?)),
        })
    }

    /// Whether it may be done: every check holds.
    pub fn is_offered(&self) -> bool {
        match self {
            Self::Turns(trial) => trial.is_offered(),
            Self::Moves(trial) => trial.is_offered(),
            Self::Steps(trial) => trial.is_offered(),
            Self::Sweep(trial) => trial.is_offered(),
        }
    }

    /// How it is played, where that may be one way or another.
    pub fn course(&self) -> Option<Course> {
        match self {
            Self::Turns(trial) => Some(trial.course()),
            Self::Moves(trial) => Some(trial.course()),
            Self::Steps(_) | Self::Sweep(_) => None,
        }
    }

    /// Plays it with corners and seeded builds of what it moves.
    ///
    /// # Errors
    /// Where that would take too long, cannot be done, or was stopped.
    pub fn spread(&self, samples: &Samples, watch: Watch<'_>) -> Result<Spread, NoSpread> {
        match self {
            Self::Turns(trial) => trial.spread(samples, watch),
            Self::Moves(trial) => trial.spread(samples, watch),
            Self::Steps(trial) => trial.spread(samples, watch),
            Self::Sweep(trial) => trial.spread(samples, watch),
        }
    }

    /// Its sheet, played where it is offered; with its builds where some were played.
    ///
    /// # Errors
    /// Where the set-up proves to be unusable, or the work was stopped.
    pub fn sheet(
        &self,
        builds: Option<&Result<Spread, NoSpread>>,
        watch: Watch<'_>,
    ) -> Result<Sheet, Ended<Stopped>> {
        if !self.is_offered() {
            return Ok(match self {
                Self::Turns(trial) => trial.sheet(None, None, None),
                Self::Moves(trial) => trial.sheet(None, None, None),
                Self::Steps(trial) => trial.sheet(None, None, None),
                Self::Sweep(trial) => trial.sheet(None, None, None),
            });
        }
        Ok(match self {
            Self::Turns(trial) => {
                trial.sheet(Some(&trial.outcome(watch)?), builds, trial.faulted(watch)?.as_ref())
            }
            Self::Moves(trial) => {
                let outcome = trial.outcome(watch)?;
                trial.sheet(Some(&outcome), builds, trial.faulted(&outcome, watch)?.as_ref())
            }
            Self::Steps(trial) => {
                trial.sheet(Some(&trial.outcome(watch)?), builds, trial.faulted(watch)?.as_ref())
            }
            Self::Sweep(trial) => {
                trial.sheet(Some(&trial.outcome(watch)?), builds, trial.faulted(watch)?.as_ref())
            }
        })
    }

    /// The trial with faults: they show in its log, its picture and beside its key figures.
    ///
    /// # Errors
    /// The first that what it moves cannot have, or that comes after its end.
    pub fn with_faults(self, asked: &[AskedFault]) -> Result<Self, NoFault> {
        Ok(match self {
            Self::Turns(trial) => Self::Turns(Box::new(trial.with_faults(asked)?)),
            Self::Moves(trial) => Self::Moves(Box::new(trial.with_faults(asked)?)),
            Self::Steps(trial) => Self::Steps(Box::new(trial.with_faults(asked)?)),
            Self::Sweep(trial) => Self::Sweep(Box::new(trial.with_faults(asked)?)),
        })
    }

    /// Its faults, in the order in which they come.
    pub fn faults(&self) -> Vec<&AskedFault> {
        match self {
            Self::Turns(trial) => trial.faults().collect(),
            Self::Moves(trial) => trial.faults().collect(),
            Self::Steps(trial) => trial.faults().collect(),
            Self::Sweep(trial) => trial.faults().collect(),
        }
    }

    /// The verdict in a sentence.
    pub fn verdict(&self) -> String {
        match self {
            Self::Turns(trial) => trial.verdict(),
            Self::Moves(trial) => trial.verdict(),
            Self::Steps(trial) => trial.verdict(),
            Self::Sweep(trial) => trial.verdict(),
        }
    }

    /// What the shaft of an axis with a DC motor is free to do, as the bench file says it.
    pub fn shaft(&self) -> Option<ShaftState> {
        let shaft = match self {
            Self::Turns(trial) => &trial.shaft,
            Self::Moves(trial) => &trial.shaft,
            Self::Steps(_) | Self::Sweep(_) => return None,
        };
        Some(match shaft {
            Shaft::Held => ShaftState::Locked,
            Shaft::Free => ShaftState::Free,
            Shaft::Disc(_) => ShaftState::KnownDisc,
            Shaft::Coupled => ShaftState::Coupled,
            Shaft::OutputHeld => ShaftState::OutputHeld,
        })
    }

    /// Temperature of the winding of a DC motor at the start, before any fault, K. Of a stepper or a servo there is none.
    pub fn winding(&self) -> Option<f64> {
        let dc = match self {
            Self::Turns(trial) => &trial.figures.dc,
            Self::Moves(trial) => &trial.figures.dc,
            Self::Steps(_) | Self::Sweep(_) => return None,
        };
        Some(dc.winding.value()).filter(|kelvin| kelvin.is_finite())
    }

    /// Name of the axis or servo.
    pub fn mover(&self) -> &str {
        match self {
            Self::Turns(trial) => &trial.axis,
            Self::Moves(trial) => &trial.axis,
            Self::Steps(trial) => &trial.axis,
            Self::Sweep(trial) => &trial.servo,
        }
    }
}

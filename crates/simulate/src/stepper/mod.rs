//! A two-phase stepper in time: both currents, the rotor on its magnetic spring, the steps that it follows or loses.
//!
//! The equations stand in `set_up.rs`; they are integrated within a tolerance ([`TOLERANCE`]), step by step of the command.
//! Model, limits and sources: `docs/models/stepper-and-servo.md`.

mod course;
mod plan;
mod scan;
mod set_up;
mod sheet;

pub use course::{Energy, Ramp, Row, Run, TOLERANCE, columns};
pub use plan::{Outcome, StepRate, Wish, trial};
pub use scan::{StartStop, resonance, start_stop};
pub use set_up::{Feed, SetUp, Stepping};

use crate::set_up::Unusable;
use course::Course;

/// Steps along a ramp from rest to rest. `row` sees the state at the start, at every micro-step and at the end.
///
/// # Errors
/// Where the set-up is no use.
pub fn run(set_up: &SetUp, ramp: &Ramp, row: &mut impl FnMut(&Row)) -> Result<Run, Unusable> {
    Course::at_rest(*set_up)?.run(ramp, row)
}

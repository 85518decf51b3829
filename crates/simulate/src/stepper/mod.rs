//! A two-phase stepper in time: both currents, the rotor on its magnetic spring, the steps that it follows or loses.
//!
//! The equations stand in `set_up.rs`; they are integrated within a tolerance ([`TOLERANCE`]), step by step of the command.
//! Model, limits and sources: `docs/models/stepper-and-servo.md`.

mod builds;
mod course;
mod fault;
mod plan;
mod points;
mod scan;
mod set_up;
mod sheet;

pub use course::{Energy, Ramp, Row, Run, TOLERANCE, columns};
pub use plan::{Outcome, StepRate, Wish, trial};
pub use scan::{StartStop, resonance, start_stop};
pub use set_up::{Feed, SetUp, Stepping};
pub use sheet::{CAPTION, NAME};

use crate::simulation::Ended;
use course::{At, Course};

/// Steps along a ramp from rest to rest. `row` sees the state at the start, at every micro-step and at the end, and may end
/// the run.
///
/// # Errors
/// Where the set-up is no use, or `row` ends it.
pub fn run<E>(
    set_up: &SetUp,
    ramp: &Ramp,
    row: &mut impl FnMut(&Row) -> Result<(), E>,
) -> Result<Run, Ended<E>> {
    let mut steps = |at, now: &Row| if at == At::Step { row(now) } else { Ok(()) };
    Course::at_rest(*set_up).map_err(Ended::Unusable)?.run(ramp, &mut steps)
}

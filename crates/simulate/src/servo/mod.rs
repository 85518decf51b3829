//! A hobby servo in time: pulses in, the motor that its sheet describes, a loop as makers usually build it.
//!
//! What is inside a servo no sheet tells. The model takes torque, speed and currents from the sheet; the loop around them is
//! assumed, and says so. Model, limits and sources: `docs/models/stepper-and-servo.md`.

mod builds;
mod course;
mod fault;
mod plan;
mod points;
mod set_up;
mod sheet;

pub use course::{Done, Leg, Row, TOLERANCE, columns, run};
pub use plan::{Sweep, trial};
pub use set_up::SetUp;
pub use sheet::{CAPTION, NAME};

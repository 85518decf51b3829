//! Signals onto pins: which line of the bench goes to which pin of the controller, proven best; or why not all can.

mod aim;
mod choice;
mod plan;
mod problem;
mod reason;
mod solve;
mod task;
mod verify;
mod wires;
mod words;

pub use aim::Aim;
pub use choice::Bar;
pub use plan::{Conflict, Outcome, Plan, Seated, Solved};
pub use problem::{Ability, Encoder, Group, Input, Line, Need, Pin, Plug, Problem, Rate, Seat, Unit, Way};
pub use reason::Reason;
pub use solve::solve;
pub use task::Task;
pub use verify::{price, verify};

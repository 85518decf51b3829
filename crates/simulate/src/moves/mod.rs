//! `move`: an axis does its motion under its position loop, as the code of its controller would run it.
//!
//! The loops are those of the crate `controller`, with gains that it works out from the nominal figures of the axis; they
//! read the encoder of the simulation at its width and its edges, and what they say comes a sample late and in counts of
//! the PWM timer. What is bounded by the clamp of the current, and what is not: `docs/simulate.md`.

mod builds;
mod crossing;
mod follow;
mod judge;
mod looped;
mod path;
mod plan;
mod sheet;

pub use follow::{Followed, Outcome, Runaway};
pub use looped::{Loop, bus, encoder, rated_current, voltage_factor};
pub use path::Path;
pub use plan::{CAPTION, Gains, Move, NAME, of_file, trial, with_gains};

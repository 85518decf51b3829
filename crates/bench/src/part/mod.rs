//! Part kinds: what a datasheet says, one table of fields a kind.

mod cable;
mod common;
mod controller;
mod driver;
mod encoder;
mod gearbox;
mod level;
mod motor;
mod numbering;
mod servo;
mod stepper;
mod supply;

pub use cable::*;
pub use common::*;
pub use controller::*;
pub use driver::*;
pub use encoder::*;
pub use gearbox::*;
pub use motor::*;
pub use servo::*;
pub use stepper::*;
pub use supply::*;

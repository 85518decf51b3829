//! Bringing a bench up: what is done in which order, what each test point has to read, with boxes to fill in.

mod beside;
mod first_power;

pub use beside::beside;
pub use first_power::FirstPower;

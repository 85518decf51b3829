//! Bringing a bench up: what is done in which order, what each test point has to read, with boxes to fill in.

mod first_power;

pub use first_power::sheet as first_power;

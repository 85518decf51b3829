//! The builds of a drive within its tolerances: seeded draws, corners, and what they span.

mod tolerances;

pub use tolerances::Tolerances;

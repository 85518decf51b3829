//! The loops in whole numbers, for a controller without a floating-point unit.
//!
//! | kind of number | one step is |
//! |---|---|
//! | speed | 2^−S counts in a window |
//! | voltage | 2^−V volts; while terms are added up, 2^−N volts, N the larger |
//! | place | 2^−F counts |
//! | duty | a count of the PWM timer |
//!
//! Where bits are taken off, the result is rounded down, towards minus infinity. The integrator keeps all N bits, so that
//! nothing of it is ever lost. The text of the law ([`law`]) is written for any [`Arithmetic`]: the code that runs is the code
//! of which somebody else proves that no number in it leaves its type. Equations: `docs/models/fixed-point.md`.

pub mod arithmetic;
mod encoder;
pub mod guard;
pub mod law;
pub mod position;
pub mod profile;
pub mod speed;

pub use arithmetic::{Arithmetic, Plain};
pub use guard::{Guard, GuardConstants, Trip};
pub use law::{BusCodes, PositionConstants, SpeedConstants};
pub use position::FixedPositionLoop;
pub use profile::Travel;
pub use speed::FixedSpeedLoop;

/// Bits of the factor by which the largest duty is told.
pub const DUTY_BITS: u32 = 30;

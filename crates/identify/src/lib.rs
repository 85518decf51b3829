//! Parameters of an axis from its records, with honest uncertainty.
//!
//! | module | answers |
//! |---|---|
//! | [`linear`] | what the balances of voltages and torques tell directly |
//!
//! Values in, values out: columns are slices in SI, nothing is read from files, and no bench is known here. A
//! conclusion that the data do not carry is refused, with the trial that would carry it ([`Refusal`],
//! [`Parameter::carried_by`]).

mod bell;
pub mod linear;
mod parameter;
mod prepared;
mod record;
mod refusal;

pub use parameter::Parameter;
pub use record::{Acts, Angle, Axis, Drive, Record, Sensor, Sensors, Shaft, Time, Trial, Unusable, Warmth};
pub use refusal::{Carries, Refusal};

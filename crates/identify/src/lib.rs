//! Parameters of an axis from its records, with honest uncertainty.
//!
//! | module | answers |
//! |---|---|
//! | [`linear`] | what the balances of voltages and torques tell directly |
//! | [`output_error`] | the whole model fitted to all records at once |
//! | [`switched`] | the same through the switched simulation, for what the fast model is none of |
//! | [`coast`] | friction by letting the shaft run out |
//! | [`supply`] | resistance before the bridge by how far the bus sags |
//! | [`thermal`] | thermal resistances and times by the resistance of the winding |
//! | [`two_mass`] | inertias, stiffness and play of a shaft that twists |
//! | [`calibration`] | zero and gain of a sensor beside reference readings |
//! | [`gate`] | signs that a record cannot be taken as it stands, its usable rows, and what records do not tell |
//! | [`pulse`] | which signs and scale factors are wrong, by one short pulse |
//!
//! Values in, values out: columns are slices in SI, nothing is read from files, and no bench is known here. A
//! conclusion that the data do not carry is refused, with the trial that would carry it ([`Refusal`],
//! [`Parameter::carried_by`]).

mod ask;
mod bell;
pub mod calibration;
pub mod coast;
mod curve;
mod estimate;
pub mod gate;
mod gauge;
pub mod linear;
pub mod measured;
mod model;
mod outlook;
pub mod output_error;
mod parameter;
mod prepared;
pub mod pulse;
mod record;
mod refusal;
mod replay;
mod search;
mod start;
pub mod supply;
pub mod switched;
pub mod thermal;
mod told;
pub mod two_mass;
mod verdict;

pub use ask::Ask;
pub use estimate::{Cause, Estimate, Identified, Residual, Standing};
pub use outlook::{Expected, Information, outlook};
pub use parameter::Parameter;
pub use record::{Acts, Angle, Axis, Drive, Record, Sensor, Sensors, Shaft, Time, Trial, Unusable, Warmth};
pub use refusal::{Carries, Refusal};
pub use replay::{Replay, replay};
pub use told::Told;
pub use verdict::{Figure, Use, Verdict};

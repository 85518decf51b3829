//! Which numbers to type into the controller so that an axis moves well at every corner of its tolerances.
//!
//! The model, its limits and its sources: `docs/models/loops.md`.

pub mod axis;
pub mod cascade;
pub mod ceilings;
pub mod design;
pub mod enclosed;
pub mod law;
pub mod margins;
pub mod plant;
pub mod remedy;
pub mod rules;
pub mod sheet;
pub mod step;
pub mod tuned;
pub mod wanted;

//! The controller of an axis, handed over: whole constants with the proof that nothing overflows, and the C that runs them.
//!
//! Begin reading at `handover.rs` (what goes in, which files come out) and `scaling/mod.rs` (figures to whole constants).
//! What is written and how it is used: `docs/export.md`; the whole-number loops: `docs/models/fixed-point.md`.

mod constants;
mod handover;
mod header;
mod names;
mod of_bench;
pub mod scaling;
mod tables;
mod vectors;

pub use constants::guard_constants;
pub use handover::{CodeLine, Export, GuardFigures, Handover};
pub use of_bench::of_bench;

//! The physics of a small drive axis: every equation once, generic in the number.
//!
//! With [`worked::Worked`] an equation explains itself and gives its worst case; with `f64` (SI) the same code runs
//! in hot loops. The equations know no files, no findings and no bench (but for two of its words,
//! [`bridge::OffState`] and [`sense::SensePoint`]): their arguments are the figures themselves. Only [`assembly`] reads
//! a bench: it gathers the figures of an axis.
//! What each model assumes and leaves out stands at the head of its module and, with derivation and sources, in
//! `docs/models/`.
//!
//! ```
//! use drive::motor::Armature;
//!
//! let motor = Armature { // SI: Ω, H, V·s/rad, V, N·m, N·m·s/rad, kg·m²
//!     resistance: 2.0, inductance: 1e-3, constant: 0.03, brush_drop: 0.0,
//!     coulomb_friction: 3e-3, viscous_friction: 0.0, inertia: 5e-6,
//! };
//! assert_eq!(motor.stall_current(12.0), 6.0);
//! assert!((motor.no_load_current(12.0) - 0.1).abs() < 1e-12);
//! ```
//!
//! Signs: motoring forward is positive; a torque that opposes forward motion is positive as a load.
//! Units: SI. An angle is a dimension of its own, so a wheel's radius is in m/rad, an inertia in kg·m²/rad², and
//! marks of an encoder in 1/rad (see [`constants::per_turn`]).

pub mod assembly;
pub mod bridge;
pub mod bus;
pub mod constants;
pub mod control;
pub mod encoder;
pub mod gear;
pub mod heat;
pub mod limit;
pub mod load;
pub mod logic;
pub mod motion;
pub mod motor;
pub mod reconcile;
pub mod sense;
pub mod servo;
pub mod stepper;

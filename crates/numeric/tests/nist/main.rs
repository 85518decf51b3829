//! Fits against the certified values of the Statistical Reference Datasets of the US National Institute of
//! Standards and Technology (StRD, linear and non-linear regression), works of the US government in the
//! public domain.
//!
//! Norris, Misra1a and Thurber are kept here and always run; the other sets are read from a copy of NIST's
//! files where there is one beside the project.

// A skipped check has to say so.
#![allow(clippy::print_stdout)]

mod linear;
mod models;
mod nonlinear;
mod set;
mod summed;

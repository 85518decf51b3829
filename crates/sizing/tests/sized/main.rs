//! A sizing against sources from outside, against laws that hold whatever the figures, against an independent computation,
//! and with input that is of no use.

mod bad_input;
mod benches;
mod catalogue;
mod laws;
mod recomputed;
mod references;

//! The `firstspin` program.
fn main() {}

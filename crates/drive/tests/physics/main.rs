//! The physics against sources, against independent computations, and against itself.

mod axis;
mod dimensions;
mod every;
mod integrate;
mod laws;
mod reference_axis;
mod sources;
mod transients;

/// Fails with the row's name and source where a number is off by more than a relative tolerance (of one where the
/// expected number is smaller than the absolute floor).
#[track_caller]
fn close(name: &str, got: f64, want: f64, relative: f64, source: &str) {
    let tolerance = relative * want.abs();
    assert!((got - want).abs() <= tolerance, "{name}: {got}, want {want} ± {tolerance} ({source})");
}

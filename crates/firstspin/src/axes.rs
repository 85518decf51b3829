//! The axis that an option names, or the first that a verb can do something with.

use crate::failure::Failure;
use bench::Bench;
use bench::model::Axis;

/// The axis of a name.
pub(crate) fn named<'b>(bench: &'b Bench, name: &str) -> Result<&'b Axis, Failure> {
    bench.axis(name).ok_or_else(|| {
        Failure::Said(format!("the bench has no axis `{name}`; its axes are: {}", listed(bench)))
    })
}

/// All that fit; an error that says `with` what they would have to be where there are none.
pub(crate) fn fitting<'b>(
    bench: &'b Bench,
    fits: impl Fn(&&'b Axis) -> bool,
    with: &str,
) -> Result<Vec<&'b Axis>, Failure> {
    let axes: Vec<&Axis> = bench.axes().iter().filter(fits).collect();
    match axes.is_empty() {
        true => {
            Err(Failure::Said(format!("the bench has no axis with {with}; its axes are: {}", listed(bench))))
        }
        false => Ok(axes),
    }
}

/// The axis of a name; the first that fits where none is named.
pub(crate) fn named_or_first<'b>(
    bench: &'b Bench,
    name: Option<&str>,
    fits: impl Fn(&&'b Axis) -> bool,
    with: &str,
) -> Result<&'b Axis, Failure> {
    match name {
        Some(name) => named(bench, name),
        None => fitting(bench, fits, with).map(|axes| axes[0]),
    }
}

fn listed(bench: &Bench) -> String {
    let names: Vec<&str> = bench.axes().iter().map(|axis| &*axis.name).collect();
    if names.is_empty() { "none".to_owned() } else { names.join(", ") }
}

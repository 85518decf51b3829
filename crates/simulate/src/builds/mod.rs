//! The builds of a drive within its tolerances: corners, seeded draws, and what they span.
//!
//! Everything here is *sampled*: the lowest and the highest that were met, not a bound. Beyond may exist.

mod band;
mod key;
mod sample;
mod spread;
mod tolerances;
mod trial;
mod ways;

pub(crate) use band::Traces;
pub use band::{Band, Follower};
pub use key::{KeyFigure, Leg};
pub use sample::{Samples, Span};
pub(crate) use spread::spread;
pub use spread::{Depth, NoSpread, Spread};
pub use tolerances::Tolerances;
pub(crate) use ways::{BAND_STEPS, Rows, Wanted, Ways, play};

use crate::axis::Figures;
use crate::set_up::SetUp;
use crate::trial::CannotPlan;
use bench::Bench;
use bench::model::Axis;
use rayon::prelude::*;
use std::ops::Range;
use worked::{Joint, Worked};

/// Reads a figure.
pub(crate) type Reader<'r> = &'r mut dyn FnMut(&Worked) -> f64;

/// All builds of something: the equations of its set-up at any point of the inputs that its bench gives.
pub(crate) struct Builds<'a, S> {
    joint: Joint,
    set_up: Box<dyn Fn(Reader<'_>) -> S + Sync + 'a>,
    /// Whether nobody states the figure: then no build has it.
    unstated: Vec<bool>,
    /// How many of the joint figures make the set-up; the others are what key figures need besides.
    of_set_up: usize,
}

impl<'a, S> Builds<'a, S> {
    /// Of set-ups that a function makes of a reader of their figures, which it asks in the same order at each call.
    pub(crate) fn new(set_up: impl Fn(Reader<'_>) -> S + Sync + 'a, besides: &[Worked]) -> Self {
        let mut all = Vec::new();
        set_up(&mut |figure| {
            all.push(figure.clone());
            f64::NAN
        });
        let of_set_up = all.len();
        all.extend_from_slice(besides);
        let unstated = all.iter().map(|figure| figure.value().is_nan()).collect();
        Self { joint: Joint::new(&all), set_up: Box::new(set_up), unstated, of_set_up }
    }

    /// Inputs of the bench that the builds depend on.
    pub(crate) fn inputs(&self) -> usize {
        self.joint.inputs().len()
    }

    /// What comes besides the set-up, at nominal values.
    fn besides(&self) -> Vec<f64> {
        self.values(&self.joint.nominal()).split_off(self.of_set_up)
    }

    /// All figures at a point.
    fn values(&self, point: &[f64]) -> Vec<f64> {
        let mut values = self.joint.values(point);
        values
            .iter_mut()
            .zip(&self.unstated)
            .filter(|(_, not)| **not)
            .for_each(|(value, _)| *value = f64::NAN);
        values
    }

    /// The set-up at a point, with what comes besides.
    fn at(&self, point: &[f64]) -> (S, Vec<f64>) {
        let mut values = self.values(point);
        let besides = values.split_off(self.of_set_up);
        let mut next = values.into_iter();
        ((self.set_up)(&mut |_| next.next().unwrap_or(f64::NAN)), besides)
    }
}

/// Seeded builds of an axis, by their numbers: each depends on the seed, the paths of the inputs and its number alone.
/// The supply is stiff behind its resistance, the board does nothing by itself.
///
/// # Errors
/// Where the axis cannot be simulated, or a build is none that a drive can have.
pub fn draw(
    bench: &Bench,
    axis: &Axis,
    free: bool,
    seed: u64,
    runs: Range<u64>,
) -> Result<Vec<SetUp>, CannotPlan> {
    let figures = Figures::of(bench, axis, free)?;
    // A datum that is missing is said by its path.
    figures.set_up(false)?;
    let builds = Builds::new(|value| figures.set_up_by(false, value), &[]);
    let drawn: Vec<SetUp> =
        runs.into_par_iter().map(|run| builds.at(&builds.joint.drawn(seed, run)).0).collect();
    drawn.iter().try_for_each(SetUp::check)?;
    Ok(drawn)
}

#[cfg(test)]
mod tests;

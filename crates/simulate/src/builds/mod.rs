//! The builds of a drive within its tolerances: corners, seeded draws, and what they span.
//!
//! Everything here is *sampled*: the lowest and the highest that were met, not a bound. Beyond may exist.

mod band;
mod sample;
mod tolerances;
mod trial;

pub use band::{Band, Follower};
pub use sample::{Samples, Span};
pub use tolerances::Tolerances;
pub use trial::{KeyFigure, NoSpread, Spread};

use crate::axis::Figures;
use crate::set_up::SetUp;
use crate::trial::CannotPlan;
use bench::Bench;
use bench::model::Axis;
use rayon::prelude::*;
use std::ops::Range;
use worked::{Joint, Worked};

/// All builds of an axis: the equations of its set-up at any point of the inputs that its bench gives.
pub(crate) struct Builds<'a> {
    joint: Joint,
    figures: &'a Figures,
    /// The nominal build, with what stands around it.
    nominal: SetUp,
    /// How many of the joint figures make the set-up; the others are what key figures need besides.
    of_set_up: usize,
}

impl<'a> Builds<'a> {
    pub(crate) fn new(figures: &'a Figures, nominal: SetUp, besides: &[Worked]) -> Self {
        let mut all = Vec::new();
        figures.set_up_by(nominal.locked, |figure| {
            all.push(figure.clone());
            f64::NAN
        });
        let of_set_up = all.len();
        all.extend_from_slice(besides);
        Self { joint: Joint::new(&all), figures, nominal, of_set_up }
    }

    /// Inputs of the bench that the builds depend on.
    fn inputs(&self) -> usize {
        self.joint.inputs().len()
    }

    /// The set-up at a point, motor and load turning as one, with what comes besides.
    fn at(&self, point: &[f64]) -> (SetUp, Vec<f64>) {
        let mut values = self.joint.values(point);
        let besides = values.split_off(self.of_set_up);
        let mut next = values.into_iter();
        let set_up = self.figures.set_up_by(self.nominal.locked, |_| next.next().unwrap_or(f64::NAN));
        let SetUp { bus, board, .. } = self.nominal;
        (SetUp { bus, board, ..set_up }, besides)
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
    let nominal = figures.set_up(false)?;
    let builds = Builds::new(&figures, nominal, &[]);
    let drawn: Vec<SetUp> =
        runs.into_par_iter().map(|run| builds.at(&builds.joint.drawn(seed, run)).0).collect();
    drawn.iter().try_for_each(SetUp::check)?;
    Ok(drawn)
}

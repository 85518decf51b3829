//! Builds of an axis that does its motion: the code of its controller knows none of them and keeps its nominal gains.

use super::follow::Follow;
use super::plan::Move;
use super::sheet::rms_of;
use crate::builds::{self, Builds, KeyFigure, NoSpread, Reader, Rows, Samples, Spread, Wanted, Ways};
use crate::keys::{peak_current, returned, shaft_torque};
use crate::prepared::set_up_by;
use crate::record::{Kept, Part, Sink, Watched};
use crate::sensing::Sensing;
use crate::set_up::SetUp;
use crate::simulation::total;
use drive::load::Load;
use drive::sense::{Converter, Sensor};
use finding::Watch;
use worked::{Number, Worked};

/// One build: the drive, and what the controller reads of it.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Build {
    pub(super) set_up: SetUp,
    pub(super) sensing: Sensing,
}

impl Move {
    /// Plays it with corners and seeded builds of its axis under the loops as they are. The line that measures the bus has
    /// tolerances of its own where the loops go by it.
    ///
    /// # Errors
    /// Where that would take too long, cannot be done, or was stopped.
    pub fn spread(&self, samples: &Samples, watch: Watch<'_>) -> Result<Spread, NoSpread> {
        let travel = self.figures.load.as_ref().and_then(Load::travel);
        let way = if travel.is_some() { "m" } else { "rad" };
        let besides = [travel.unwrap_or_else(|| Worked::pure(1.0))];
        let builds = Builds::new(|value: Reader<'_>| self.build_by(value), &besides);
        let wanted = Wanted {
            keys: &KeyFigure::OF_MOVES,
            way,
            length: self.length(),
            steps: self.steps(),
            by_means: self.loops.samples(self.length()) as f64,
        };
        builds::play(&OfMove(self), &builds, &wanted, samples, watch)
    }

    /// A build by the values that its figures are given, always in the same order.
    fn build_by(&self, value: Reader<'_>) -> Build {
        let set_up = set_up_by(&self.figures, &self.bench_axis, self.bus.as_ref(), &self.shaft, &mut *value);
        let mut sensing = self.sensing;
        if let (Some(line), Some(taken)) = (&self.bus_line, &mut sensing.voltage) {
            let wired = line.as_wired();
            taken.sensor = Sensor { zero: value(&wired.zero), scale: value(&wired.scale) };
            taken.converter = Converter {
                reference: value(&line.converter.reference),
                lowest: value(&line.converter.lowest),
                codes: value(&line.converter.codes),
            };
        }
        Build { set_up, sensing }
    }
}

/// A motion as builds of its axis play it.
struct OfMove<'m>(&'m Move);

impl OfMove<'_> {
    /// From what a build keeps of each leg, and its rows, one for each sample of the loop.
    fn figures(&self, build: &Build, legs: &[Kept], rows: &Rows, besides: &[f64]) -> Option<Vec<f64>> {
        let &[travel] = besides else { return None };
        let mut follow = Follow::of(self.0, &build.set_up);
        for row in &rows.0 {
            let Ok(()) = follow.take(row);
        }
        let followed = follow.told();
        let most = |of: fn(&Kept) -> f64| legs.iter().map(of).fold(0.0, f64::max);
        let has_bus = build.set_up.bus.is_some();
        let figure = |key: KeyFigure| match key {
            KeyFigure::FollowingError => followed.peak.abs() * travel,
            KeyFigure::FollowingRms => followed.rms * travel,
            KeyFigure::Overshoot => followed.overshoot * travel,
            KeyFigure::WithinTolerance => followed.settled.unwrap_or(f64::NAN),
            KeyFigure::EndError => followed.end_error.abs() * travel,
            KeyFigure::EndCounts => (followed.end_error_of_motor * self.0.loops.speed.counts).abs(),
            KeyFigure::PeakCurrent => peak_current(legs),
            KeyFigure::RmsCurrent => rms_of(legs),
            KeyFigure::TopSpeed => most(|kept| kept.peak_speed.abs()),
            KeyFigure::ShaftTorque if build.set_up.twist.is_some() => shaft_torque(legs),
            KeyFigure::Taken if has_bus => total(legs).supply,
            KeyFigure::Taken => total(legs).supply + returned(legs),
            KeyFigure::Returned => returned(legs),
            KeyFigure::HighestBus if has_bus => most(|kept| kept.bus.1),
            KeyFigure::TripTime => {
                legs.iter().find_map(|kept| kept.tripped).map_or(f64::NAN, |(time, _)| time)
            }
            _ => f64::NAN,
        };
        Some(KeyFigure::OF_MOVES.map(figure).to_vec())
    }
}

impl Ways for OfMove<'_> {
    type Build = Build;

    fn nominal(&self) -> Build {
        Build { set_up: self.0.set_up, sensing: self.0.sensing }
    }

    fn plain(build: &Build) -> Build {
        Build { set_up: SetUp { twist: None, ..build.set_up }, ..*build }
    }

    fn can_be(build: &Build) -> bool {
        build.set_up.check().is_ok()
    }

    fn by_means(&self, build: &Build, besides: &[f64]) -> Option<(Vec<f64>, Rows)> {
        let mut rows = Rows::default();
        let legs = self.0.play_by_means(build, self.0.periods_of_sample(), &mut rows)?;
        Some((self.figures(build, &legs, &rows, besides)?, rows))
    }

    fn switched(&self, build: &Build, besides: &[f64], part: Part<'_>) -> Option<(Vec<f64>, Rows)> {
        let mut rows = Rows::default();
        let mut watched = Watched::new(&mut rows, part, self.0.length());
        let legs = self.0.play_build(build, self.0.periods_of_sample(), &mut watched).ok()?;
        Some((self.figures(build, &legs, &rows, besides)?, rows))
    }
}

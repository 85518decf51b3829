//! Builds of an axis with a DC motor under duties.

use super::key::KeyFigure;
use super::sample::Samples;
use super::spread::{NoSpread, Spread};
use super::ways::{self, Rows, Wanted, Ways};
use super::{Builds, Reader};
use crate::averaged::Averaged;
use crate::course::{Leg, joined};
use crate::prepared::set_up_by;
use crate::record::{Kept, Part, Row, Sink, Watched};
use crate::rise::Rise;
use crate::set_up::SetUp;
use crate::simulation::{Simulation, Stage};
use crate::trial::{Outcome, Trial};
use drive::load::Load;
use finding::Watch;
use worked::{Number, Worked};

/// Steps that a stage by its means counts as, whatever its length.
const STAGE: f64 = 3.0;
/// Rows that a leg of one run gives about.
const ROWS: u64 = 500;

impl Trial {
    /// Plays it with corners and seeded builds of its axis, each over the same time, by means where these follow
    /// everything. Where the switched simulation would take too long for that, builds are played without twist, and those that
    /// go farthest with it ([`Depth`](super::Depth)).
    ///
    /// # Errors
    /// Where that would take too long, cannot be done, or was stopped.
    pub fn spread(&self, samples: &Samples, watch: Watch<'_>) -> Result<Spread, NoSpread> {
        let motor = &self.figures.dc.motor;
        let way = self.travel().unwrap_or_else(|| Worked::pure(1.0)) / self.figures.gear.ratio.clone();
        let besides = [motor.heat().thermal.winding_capacity(), way];
        let set_up = |value: Reader<'_>| {
            set_up_by(&self.figures, &self.bench_axis, self.bus.as_ref(), &self.shaft, value)
        };
        let builds = Builds::new(set_up, &besides);
        let periods: u64 = self.legs.iter().map(Leg::periods).sum();
        let wanted = Wanted {
            keys: &KeyFigure::OF_DUTIES,
            way: if self.travel().is_some() { "m" } else { "rad" },
            length: periods as f64 / self.set_up.frequency,
            steps: self.steps(),
            by_means: STAGE * self.legs.iter().map(Leg::count).sum::<u64>() as f64,
        };
        ways::play(&OfDuties(self), &builds, &wanted, samples, watch)
    }

    /// Way of the load for an angle of the shaft that drives it, where it goes along one.
    fn travel(&self) -> Option<Worked> {
        self.figures.load.as_ref().and_then(Load::travel)
    }

    /// What a build keeps of each leg. Its legs last as long as those of the nominal one, whatever its PWM frequency.
    fn played(&self, build: &SetUp, mut play: impl FnMut(&Stage, u64) -> Option<Kept>) -> Option<Vec<Kept>> {
        let part = build.frequency / self.set_up.frequency;
        let mut legs = Vec::with_capacity(self.legs.len());
        for leg in &self.legs {
            let every = (leg.periods() / ROWS).max(1);
            let mut whole: Option<Kept> = None;
            for stage in leg.stages(self.amount) {
                let periods = (stage.periods as f64 * part).round().max(1.0) as u64;
                let kept = play(&Stage { periods, ..stage }, every)?;
                whole = Some(whole.map_or(kept, |before| joined(&before, &kept)));
            }
            legs.extend(whole);
        }
        Some(legs)
    }

    /// What came of a build.
    fn outcome_of(&self, stages: Vec<Kept>, rows: &[Row]) -> Outcome {
        let drive = self.first_drive(&stages);
        let rise = drive.filter(|(start, _)| self.rests_until(&stages, *start)).map(|(start, drive)| {
            let mut rise = match self.set_up.locked {
                true => Rise::of_current(start, drive.end, drive.current),
                false => Rise::of_speed(start, drive.end, drive.speed),
            };
            for row in rows {
                let Ok(()) = rise.take(row);
            }
            rise
        });
        let rise_time = rise.as_ref().and_then(Rise::time);
        Outcome { stages, rise_time, settled: rise.as_ref().and_then(Rise::settled) }
    }
}

/// A trial as builds of its axis play it.
struct OfDuties<'t>(&'t Trial);

impl OfDuties<'_> {
    /// From what a build keeps of each leg.
    fn figures(&self, build: &SetUp, kept: Vec<Kept>, rows: &Rows, besides: &[f64]) -> Option<Vec<f64>> {
        let &[capacity, way] = besides else { return None };
        let outcome = self.0.outcome_of(kept, &rows.0);
        let figure = |key: KeyFigure| {
            let read = self.0.reading(key, &outcome).unwrap_or(f64::NAN);
            match key {
                KeyFigure::Way | KeyFigure::StoppingWay => read * way,
                KeyFigure::WindingRise => read / capacity,
                // Without twist no torque of one is known.
                KeyFigure::ShaftTorque if build.twist.is_none() => f64::NAN,
                _ => read,
            }
        };
        Some(KeyFigure::OF_DUTIES.map(figure).to_vec())
    }
}

impl Ways for OfDuties<'_> {
    type Build = SetUp;

    fn nominal(&self) -> SetUp {
        self.0.set_up
    }

    fn plain(build: &SetUp) -> SetUp {
        SetUp { twist: None, ..*build }
    }

    fn can_be(build: &SetUp) -> bool {
        build.check().is_ok()
    }

    fn by_means(&self, build: &SetUp, besides: &[f64]) -> Option<(Vec<f64>, Rows)> {
        let (mut simulation, mut rows) = (Averaged::new(*build).ok()?, Rows::default());
        let kept = self.0.played(build, |stage, every| simulation.play(stage, every, &mut rows).ok())?;
        if simulation.left().is_some() {
            return None;
        }
        Some((self.figures(build, kept, &rows, besides)?, rows))
    }

    fn switched(&self, build: &SetUp, besides: &[f64], part: Part<'_>) -> Option<(Vec<f64>, Rows)> {
        let (mut simulation, mut rows) = (Simulation::new(*build).ok()?, Rows::default());
        let mut watched = Watched::new(&mut rows, part, self.0.length());
        let kept = self.0.played(build, |stage, every| simulation.play(stage, every, &mut watched).ok())?;
        Some((self.figures(build, kept, &rows, besides)?, rows))
    }
}

//! Builds of an axis with a DC motor under duties.

use super::band::{Band, Follower};
use super::key::KeyFigure;
use super::sample::{Asked, Found, Play, Samples};
use super::spread::{Depth, NoSpread, Spread, runs};
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
use std::convert::Infallible;
use std::sync::atomic::{AtomicU64, Ordering};
use worked::{Number, Worked};

/// Rows of the band but one.
const BAND_STEPS: usize = 200;
/// Steps that a stage by its means counts as, whatever its length.
const STAGE: f64 = 3.0;
/// Rows that a leg of one run gives about.
const ROWS: u64 = 500;

impl Trial {
    /// Plays it with corners and seeded builds of its axis, each over the same time, by means where these follow
    /// everything. Where the switched simulation would take too long for that, builds are played without twist, and those that go
    /// farthest with it ([`Depth`]).
    ///
    /// # Errors
    /// Where that would take too long, cannot be done, or was stopped.
    pub fn spread(&self, samples: &Samples, watch: Watch<'_>) -> Result<Spread, NoSpread> {
        let motor = &self.figures.dc.motor;
        let way = match self.travel() {
            Some(travel) => travel / self.figures.gear.ratio.clone(),
            None => Worked::pure(1.0) / self.figures.gear.ratio.clone(),
        };
        let besides = [motor.heat().thermal.winding_capacity(), way];
        let set_up = |value: Reader<'_>| {
            set_up_by(&self.figures, &self.bench_axis, self.bus.as_ref(), &self.shaft, value)
        };
        let builds = Builds::new(set_up, &besides);
        let keys = KeyFigure::OF_DUTIES;
        let runs = runs(builds.inputs(), keys.len(), samples);
        let steps = runs * self.steps();
        let stages = self.legs.iter().map(Leg::count).sum::<u64>() as f64;
        if STAGE * stages * runs > samples.most_steps as f64 {
            return Err(NoSpread::TooLong { steps: STAGE * stages * runs });
        }
        let averaged = self.averaged(&self.set_up).is_some();
        let periods: u64 = self.legs.iter().map(Leg::periods).sum();
        let band = Band::over(periods as f64 / self.set_up.frequency, BAND_STEPS);
        let asked = Asked { samples, band, keys: keys.len() };
        let player = |averaged: bool, plain: bool, runs: f64| Player {
            trial: self,
            averaged,
            plain,
            begun: AtomicU64::new(0),
            runs,
            watch,
        };
        let is_plain = plain(&self.set_up) == self.set_up;
        if is_plain && !averaged && steps > samples.most_steps as f64 {
            return Err(NoSpread::TooLong { steps });
        }
        let found = if averaged || is_plain || steps <= samples.whole_steps as f64 {
            let sampled = builds.sample(&asked, &player(averaged, false, runs));
            sampled.map(|sampled| (sampled, averaged, Depth::Whole))
        } else {
            let averaged = self.averaged(&plain(&self.set_up)).is_some();
            if !averaged && steps > samples.most_steps as f64 {
                return Err(NoSpread::TooLong { steps });
            }
            let most_runs = samples.whole_steps as f64 / self.steps();
            let players = (&player(averaged, true, f64::INFINITY), &player(false, false, most_runs));
            match builds.farthest(&asked, most_runs, plain, players) {
                Some(Found::Plain(sampled)) => Some((sampled, averaged, Depth::Plain)),
                Some(Found::Farthest { sampled, plain }) => Some((sampled, false, Depth::Farthest { plain })),
                None => None,
            }
        };
        // A build that was stopped is none that cannot be.
        watch.go_on(1.0).map_err(|_| NoSpread::Stopped)?;
        let (sampled, averaged, depth) = found.ok_or(NoSpread::Unplayable)?;
        let unit = if self.travel().is_some() { "m" } else { "rad" };
        let keys = keys.into_iter().map(|key| (key, key.unit(unit))).collect();
        Ok(Spread::new(sampled, keys, *samples, averaged, depth))
    }

    /// Way of the load for an angle of the shaft that drives it, where it goes along one.
    fn travel(&self) -> Option<Worked> {
        self.figures.load.as_ref().and_then(Load::travel)
    }

    /// A build by its means; `None` where something acts that no mean follows.
    fn averaged(&self, build: &SetUp) -> Option<(Vec<Kept>, Rows)> {
        let (mut simulation, mut rows) = (Averaged::new(*build).ok()?, Rows::default());
        let kept = self.played(build, |stage, every| simulation.play(stage, every, &mut rows).ok())?;
        simulation.left().is_none().then_some((kept, rows))
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

/// Motor and load turning as one.
fn plain(build: &SetUp) -> SetUp {
    SetUp { twist: None, ..*build }
}

/// Plays builds of a trial.
struct Player<'t> {
    trial: &'t Trial,
    /// By means, where nothing acts that no mean follows.
    averaged: bool,
    /// Motor and load turning as one.
    plain: bool,
    begun: AtomicU64,
    /// Runs there will be about; infinite where others count.
    runs: f64,
    watch: Watch<'t>,
}

impl Play<SetUp> for Player<'_> {
    fn play(&self, build: &SetUp, besides: &[f64], follower: &mut Follower<'_>) -> Option<Vec<f64>> {
        let (trial, watch) = (self.trial, self.watch);
        let build = if self.plain { plain(build) } else { *build };
        let done = self.begun.fetch_add(1, Ordering::Relaxed) as f64 / self.runs;
        watch.go_on(done.min(1.0)).ok()?;
        let of_means = if self.averaged { trial.averaged(&build) } else { None };
        let (kept, rows) = match of_means {
            Some(played) => played,
            None => {
                let (mut simulation, mut rows) = (Simulation::new(build).ok()?, Rows::default());
                let part = Part { watch, from: done.min(1.0), share: 0.0 };
                let mut watched = Watched::new(&mut rows, part, trial.length());
                let kept =
                    trial.played(&build, |stage, every| simulation.play(stage, every, &mut watched).ok());
                (kept?, rows)
            }
        };
        for row in &rows.0 {
            let Ok(()) = follower.take(row);
        }
        let &[capacity, way] = besides else { return None };
        let outcome = trial.outcome_of(kept, &rows.0);
        let figure = |key: KeyFigure| {
            let read = trial.reading(key, &outcome).unwrap_or(f64::NAN);
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

/// The rows of one run, until its key figures are known.
#[derive(Default)]
struct Rows(Vec<Row>);

impl Sink for Rows {
    type Failure = Infallible;

    fn take(&mut self, row: &Row) -> Result<(), Infallible> {
        self.0.push(*row);
        Ok(())
    }
}

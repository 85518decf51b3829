//! What the key figures and the traces of a trial span over the builds of its axis.

use super::Builds;
use super::band::{Band, Follower};
use super::sample::{Sampled, Samples, Span};
use crate::averaged::Averaged;
use crate::course::{Leg, joined};
use crate::curved::Curved;
use crate::record::{Kept, NoLog, Row, Sink};
use crate::rise::Rise;
use crate::set_up::SetUp;
use crate::simulation::{Simulation, Stage, total};
use crate::trial::Trial;
use drive::load::Load;
use std::convert::Infallible;
use thiserror::Error;
use worked::{Number, Worked};

/// A key figure of a trial.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum KeyFigure {
    /// Largest current of the motor by amount, half of the ripple counted, A.
    PeakCurrent,
    /// Peak to peak of the current at the end of the drive, the first leg at one duty, A.
    Ripple,
    /// Speed of the motor at the end of the drive by amount, rad/s.
    Speed,
    /// Time until 1 − 1/e of the last value of the drive, s: of the speed, or of the current of a held shaft.
    RiseTime,
    /// Time from which it stays within 2 % of that value, s.
    Settled,
    /// From end to end, at the load: m, or rad where it turns.
    Way,
    /// Energy out of the supply, J.
    Taken,
    /// Energy back into it, J.
    Returned,
    /// What the heat of winding and brushes warms the winding by, none leaving it, K.
    WindingRise,
}

/// What a trial spans over the builds of its axis. Sampled, not proven: other builds may lie beyond.
#[derive(Clone, PartialEq, Debug)]
pub struct Spread {
    sampled: Sampled<KEYS>,
    /// By the averaged simulation, but for builds in which something acts that no mean follows; otherwise all by the
    /// switched one.
    pub averaged: bool,
}

/// Why builds were not played.
#[derive(Clone, Copy, PartialEq, Debug, Error)]
pub enum NoSpread {
    /// It would take too long.
    #[error(
        "the spread over builds would take {steps:.0e} steps of the switched simulation; ask for fewer builds, or for none"
    )]
    TooLong {
        /// So many.
        steps: f64,
    },
    /// Its torque changes with its angle, which builds do not follow.
    #[error("the load is an arm, and builds with arms are not spanned yet")]
    Arm,
    /// Not even the nominal build plays.
    #[error("the nominal build cannot be played")]
    Unplayable,
}

const KEYS: usize = KeyFigure::ALL.len();
/// Rows of the band but one.
const BAND_STEPS: usize = 200;
/// Rows that a leg of one run gives about.
const ROWS: u64 = 500;
/// Steps of the switched simulation that are waited for: ten seconds or so on one core.
const MOST_STEPS: f64 = 1e8;

impl KeyFigure {
    /// All of them.
    pub const ALL: [Self; 9] = [
        Self::PeakCurrent,
        Self::Ripple,
        Self::Speed,
        Self::RiseTime,
        Self::Settled,
        Self::Way,
        Self::Taken,
        Self::Returned,
        Self::WindingRise,
    ];
}

impl Spread {
    /// What a key figure spans; `None` where no build has it.
    pub fn of(&self, key: KeyFigure) -> Option<Span> {
        let span = self.sampled.spans[key as usize];
        (span.low <= span.high).then_some(span)
    }

    /// What the traces stay between. The current is the mean over a PWM period, without its ripple.
    pub fn band(&self) -> &Band {
        &self.sampled.band
    }

    /// Builds that were played, and builds that no drive can be.
    pub fn builds(&self) -> (u64, u64) {
        (self.sampled.played, self.sampled.refused)
    }
}

impl Trial {
    /// Plays it with corners and seeded builds of its axis, each over the same time. What stands around the drive
    /// (capacitors, limits, dead time) stays nominal; twist and play, and what bends, are left out.
    ///
    /// # Errors
    /// Where that would take too long, or cannot be done.
    pub fn spread(&self, samples: &Samples) -> Result<Spread, NoSpread> {
        if self.set_up.curved.swing.is_some() {
            return Err(NoSpread::Arm);
        }
        let motor = &self.figures.dc.motor;
        let travel = self.figures.load.as_ref().and_then(Load::travel).unwrap_or_else(|| Worked::pure(1.0));
        let besides = [motor.heat().thermal.winding_capacity(), travel / self.figures.gear.ratio.clone()];
        let plain = SetUp { twist: None, curved: Curved::NONE, ..self.set_up };
        let builds = Builds::new(&self.figures, plain, &besides);
        let averaged = self.stays_averaged(&plain);
        if !averaged {
            let runs = 2 * builds.inputs() as u64 + samples.builds + samples.random_corners;
            let steps = runs as f64 * self.steps();
            if steps > MOST_STEPS {
                return Err(NoSpread::TooLong { steps });
            }
        }
        let play = |build: &SetUp, besides: &[f64], follower: &mut Follower<'_>| {
            let mut rows = Rows { follower, all: Vec::new() };
            let kept = if averaged && self.stays_averaged(build) {
                let mut simulation = Averaged::new(*build).ok()?;
                self.played(build, |stage, every| simulation.play(stage, every, &mut rows).ok())?
            } else {
                let mut simulation = Simulation::new(*build).ok()?;
                self.played(build, |stage, every| simulation.play(stage, every, &mut rows).ok())?
            };
            let &[capacity, way] = besides else { return None };
            Some(self.figures_of(&kept, &rows.all, capacity, way))
        };
        let periods: u64 = self.legs.iter().map(Leg::periods).sum();
        let time = periods as f64 / self.set_up.frequency;
        let sampled = builds.sample(samples, &Band::over(time, BAND_STEPS), play);
        sampled.map(|sampled| Spread { sampled, averaged }).ok_or(NoSpread::Unplayable)
    }

    /// Whether nothing acts in it that no mean follows.
    fn stays_averaged(&self, build: &SetUp) -> bool {
        let Ok(mut simulation) = Averaged::new(*build) else { return false };
        let kept = self.played(build, |stage, _| simulation.play(stage, u64::MAX, &mut NoLog).ok());
        kept.is_some() && simulation.left().is_none()
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

    fn figures_of(&self, kept: &[Kept], rows: &[Row], capacity: f64, way: f64) -> [f64; KEYS] {
        let drive = self.first_drive(kept);
        let rise = drive.filter(|(start, _)| self.rests_until(kept, *start)).map(|(start, drive)| {
            let mut rise = match self.set_up.locked {
                true => Rise::of_current(start, drive.end, drive.current),
                false => Rise::of_speed(start, drive.end, drive.speed),
            };
            for row in rows {
                let Ok(()) = rise.take(row);
            }
            rise
        });
        let sum = total(kept);
        let returned: f64 = kept.iter().map(|kept| kept.returned).sum();
        let (low, high) = kept
            .iter()
            .fold((0.0f64, 0.0f64), |(low, high), kept| (low.min(kept.angles.0), high.max(kept.angles.1)));
        let of = |key: KeyFigure| match key {
            KeyFigure::PeakCurrent => {
                Some(kept.iter().map(|kept| kept.peak_current.abs()).fold(0.0, f64::max))
            }
            KeyFigure::Ripple => drive.map(|(_, drive)| drive.ripple),
            KeyFigure::Speed => drive.map(|(_, drive)| drive.speed.abs()),
            KeyFigure::RiseTime => rise.as_ref().and_then(Rise::time),
            KeyFigure::Settled => rise.as_ref().and_then(Rise::settled),
            KeyFigure::Way => Some((high - low) * way),
            KeyFigure::Taken => Some(sum.supply + returned),
            KeyFigure::Returned => Some(returned),
            KeyFigure::WindingRise => Some((sum.winding + sum.brushes) / capacity),
        };
        KeyFigure::ALL.map(|key| of(key).unwrap_or(f64::NAN))
    }
}

/// The rows of one run: into the band, and kept until its key figures are known.
struct Rows<'a, 'b> {
    follower: &'a mut Follower<'b>,
    all: Vec<Row>,
}

impl Sink for Rows<'_, '_> {
    type Failure = Infallible;

    fn take(&mut self, row: &Row) -> Result<(), Infallible> {
        self.all.push(*row);
        self.follower.take(row)
    }
}

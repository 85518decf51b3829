//! What the key figures and the traces of a trial span over the builds of its axis.

use super::Builds;
use super::band::{Band, Follower};
use super::sample::{Sampled, Samples, Span};
use crate::averaged::Averaged;
use crate::course::{Leg, joined};
use crate::curved::Curved;
use crate::record::{Kept, Part, Row, Sink, Watched};
use crate::rise::Rise;
use crate::set_up::SetUp;
use crate::simulation::{Simulation, Stage, total};
use crate::trial::Trial;
use drive::load::Load;
use finding::Watch;
use std::convert::Infallible;
use std::sync::atomic::{AtomicU64, Ordering};
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
    /// Which builds were asked for.
    pub samples: Samples,
    /// By the averaged simulation, but for builds in which something acts that no mean follows; otherwise all by the
    /// switched one.
    pub averaged: bool,
}

/// Why builds were not played.
#[derive(Clone, Copy, PartialEq, Debug, Error)]
pub enum NoSpread {
    /// It would take too long.
    #[error("the spread over builds would take {steps:.0e} steps; ask for fewer builds, or for none")]
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
    /// Somebody stopped the work.
    #[error("stopped on request")]
    Stopped,
}

const KEYS: usize = KeyFigure::ALL.len();
/// Rows of the band but one.
const BAND_STEPS: usize = 200;
/// Steps that a stage by its means counts as, whatever its length.
const STAGE: f64 = 3.0;
/// Rows that a leg of one run gives about.
const ROWS: u64 = 500;

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

    /// Its name for programs.
    pub fn name(self) -> &'static str {
        match self {
            Self::PeakCurrent => "peak_current",
            Self::Ripple => "ripple",
            Self::Speed => "speed",
            Self::RiseTime => "rise_time",
            Self::Settled => "settled",
            Self::Way => "way",
            Self::Taken => "taken",
            Self::Returned => "returned",
            Self::WindingRise => "winding_rise",
        }
    }
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
    /// Where that would take too long, cannot be done, or was stopped.
    pub fn spread(&self, samples: &Samples, watch: Watch<'_>) -> Result<Spread, NoSpread> {
        if self.set_up.curved.swing.is_some() {
            return Err(NoSpread::Arm);
        }
        let motor = &self.figures.dc.motor;
        let travel = self.figures.load.as_ref().and_then(Load::travel).unwrap_or_else(|| Worked::pure(1.0));
        let besides = [motor.heat().thermal.winding_capacity(), travel / self.figures.gear.ratio.clone()];
        let plain = SetUp { twist: None, curved: Curved::NONE, ..self.set_up };
        let builds = Builds::new(&self.figures, plain, &besides);
        // Corners that follow from the ends of all inputs come on top: two for each key figure at most.
        let runs = 2 * (builds.inputs() + KEYS) as u64 + samples.builds + samples.random_corners;
        let within = |steps: f64| {
            let steps = runs as f64 * steps;
            if steps > samples.most_steps as f64 { Err(NoSpread::TooLong { steps }) } else { Ok(()) }
        };
        within(STAGE * self.legs.iter().map(Leg::count).sum::<u64>() as f64)?;
        let averaged = self.averaged(&plain).is_some();
        if !averaged {
            within(self.steps())?;
        }
        let begun = AtomicU64::new(0);
        let play = |build: &SetUp, besides: &[f64], follower: &mut Follower<'_>| {
            let done = begun.fetch_add(1, Ordering::Relaxed) as f64 / runs as f64;
            watch.go_on(done).ok()?;
            let of_means = if averaged { self.averaged(build) } else { None };
            let (kept, rows) = match of_means {
                Some(played) => played,
                None => {
                    let (mut simulation, mut rows) = (Simulation::new(*build).ok()?, Rows::default());
                    let part = Part { watch, from: done, share: 0.0 };
                    let mut watched = Watched::new(&mut rows, part, self.length());
                    let kept =
                        self.played(build, |stage, every| simulation.play(stage, every, &mut watched).ok());
                    (kept?, rows)
                }
            };
            for row in &rows.0 {
                let Ok(()) = follower.take(row);
            }
            let &[capacity, way] = besides else { return None };
            Some(self.figures_of(&kept, &rows.0, capacity, way))
        };
        let periods: u64 = self.legs.iter().map(Leg::periods).sum();
        let time = periods as f64 / self.set_up.frequency;
        let sampled = builds.sample(samples, &Band::over(time, BAND_STEPS), play);
        // A build that was stopped is none that cannot be.
        watch.go_on(1.0).map_err(|_| NoSpread::Stopped)?;
        sampled.map(|sampled| Spread { sampled, samples: *samples, averaged }).ok_or(NoSpread::Unplayable)
    }

    /// Unit of a key figure, SI: a way is one of length or of angle.
    pub fn unit_of(&self, key: KeyFigure) -> &'static str {
        match key {
            KeyFigure::PeakCurrent | KeyFigure::Ripple => "A",
            KeyFigure::Speed => "rad/s",
            KeyFigure::RiseTime | KeyFigure::Settled => "s",
            KeyFigure::Way if self.figures.load.as_ref().and_then(Load::travel).is_some() => "m",
            KeyFigure::Way => "rad",
            KeyFigure::Taken | KeyFigure::Returned => "J",
            KeyFigure::WindingRise => "K",
        }
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
            // Behind capacitors what comes back stays there, or counts against what the supply gave.
            KeyFigure::Taken if self.set_up.bus.is_some() => Some(sum.supply),
            KeyFigure::Taken => Some(sum.supply + returned),
            KeyFigure::Returned => Some(returned),
            KeyFigure::WindingRise => Some((sum.winding + sum.brushes) / capacity),
        };
        KeyFigure::ALL.map(|key| of(key).unwrap_or(f64::NAN))
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

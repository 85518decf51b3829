//! `move`, played: how near to its path the axis stays, and what would become of it with the wrong sign.

use super::builds::Build;
use super::path::Phase;
use super::plan::Move;
use crate::builds::Spread;
use crate::fault::Fault;
use crate::points::{CAPTION, Points, Shown, WithEdges, shaded};
use crate::record::{Kept, NoLog, Part, Row, Sink, Watched};
use crate::sensing::Sensing;
use crate::simulation::{Ended, Simulation};
use controller::profile::Course;
use finding::{Chart, Stopped, Watch};
use logs::Refused;
use std::convert::Infallible;

/// What came of a motion.
#[derive(Clone, PartialEq, Debug)]
pub struct Outcome {
    /// What is kept of each leg: a move, its rest, the move back and its rest where it goes back.
    pub legs: Vec<Kept>,
    /// How the axis followed.
    pub followed: Followed,
    /// The same with the channels of the encoder swapped.
    pub runaway: Runaway,
}

/// How near an axis stayed to its path, sample by sample. Angles are those of the shaft that drives the load.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Followed {
    /// Largest distance from the path by amount; positive where the axis is behind, rad.
    pub peak: f64,
    /// When that was, s.
    pub peak_time: f64,
    /// Effective distance while it moves, rad.
    pub rms: f64,
    /// How far it passed the end of a move, rad.
    pub overshoot: f64,
    /// Longest time after the end of a move until it stays within the tolerance, s. None where it does not.
    pub settled: Option<f64>,
    /// Distance from the path at the end, rad.
    pub end_error: f64,
    /// The same of the motor shaft, rad of that shaft: what the encoder could see.
    pub end_error_of_motor: f64,
}

/// What the axis does while the encoder counts the wrong way.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Runaway {
    /// From its lowest to its highest angle until the trial is over, rad of the motor shaft.
    pub way: f64,
    /// Its highest speed, rad/s of the motor shaft, without sign.
    pub speed: f64,
}

impl Move {
    /// Its legs, in words, with their times, s.
    pub(super) fn legs(&self) -> Vec<(&'static str, f64)> {
        let path = &self.path;
        let mut legs = vec![("there", path.time), ("rest", path.rest)];
        if path.returns {
            legs.extend([("back", path.time), ("rest", path.rest)]);
        }
        legs
    }

    /// Plays it with a log; what is kept of each leg.
    ///
    /// # Errors
    /// Where the sink takes no more, or the set-up proves to be unusable.
    pub fn play<S: Sink>(&self, every: u64, sink: &mut S) -> Result<Vec<Kept>, Ended<S::Failure>> {
        self.play_with(None, every, sink)
    }

    /// The same with a fault from the start.
    ///
    /// # Errors
    /// As of [`Move::play`].
    pub fn play_with<S: Sink>(
        &self,
        fault: Option<Fault>,
        every: u64,
        sink: &mut S,
    ) -> Result<Vec<Kept>, Ended<S::Failure>> {
        self.play_build(&Build { set_up: self.set_up, sensing: self.sensing }, fault, every, sink)
    }

    /// The same with a build of its axis.
    pub(super) fn play_build<S: Sink>(
        &self,
        build: &Build,
        fault: Option<Fault>,
        every: u64,
        sink: &mut S,
    ) -> Result<Vec<Kept>, Ended<S::Failure>> {
        let sampling = self.sampled.before(self.periods_of_sample(), build.set_up.frequency);
        let begin = || {
            let mut simulation =
                Simulation::new(build.set_up)?.sensed_by(Sensing { sampling, ..build.sensing })?;
            if let Some(fault) = fault {
                simulation.suffer(fault)?;
            }
            Ok((simulation, self.loops.following(&self.path)?))
        };
        let (mut simulation, mut code) = begin().map_err(Ended::Unusable)?;
        let (mut time, mut done) = (0.0, 0);
        let mut legs = Vec::new();
        for (_, length) in self.legs() {
            time += length;
            // From the start, so that no rounding adds up.
            let samples = self.loops.samples(time).saturating_sub(done).max(1);
            legs.push(simulation.play_loop(&mut code, &self.loops.clock, samples, every, sink)?);
            done += samples;
        }
        Ok(legs)
    }

    /// What each test point shows while it plays, with what builds of the axis stay between where they were played.
    ///
    /// # Errors
    /// Where the set-up proves to be unusable, or the work was stopped.
    pub fn picture(&self, spread: Option<&Spread>, watch: Watch<'_>) -> Result<Chart, Ended<Refused>> {
        let points = Points::of(&self.set_up, &self.figures.dc, &self.sensing, &[], &self.beside);
        let mut time = 0.0;
        let begins = |(words, length): (&'static str, f64)| {
            let begin = time;
            time += length;
            (begin, words.to_owned())
        };
        // What begins with the trial needs no mark.
        let moments = self.legs().into_iter().map(begins).skip(1).collect();
        let mover = format!("axis {}", self.axis);
        let bands = spread.map_or_else(Vec::new, |spread| points.bands_of(spread));
        let caption = format!("Predicted at nominal values, {CAPTION}{}", shaded(spread));
        let shown = Shown { name: &self.name, mover: &mover, bands, moments, caption };
        points.picture(self.length(), watch, shown, |points| {
            self.play(1, &mut WithEdges::new(points, &self.set_up, &self.sensing, &[]))
        })
    }

    /// PWM periods in a sample of the loop.
    pub(super) fn periods_of_sample(&self) -> u64 {
        (self.set_up.frequency / self.loops.clock.rate).round().max(1.0) as u64
    }

    /// What comes of it.
    ///
    /// # Errors
    /// Where the set-up proves to be unusable, or the work was stopped.
    pub fn outcome(&self, watch: Watch<'_>) -> Result<Outcome, Ended<Stopped>> {
        let part = |from: f64| Part { watch, from, share: 0.5 };
        let every = self.periods_of_sample();
        let mut follow = Follow::of(self);
        let legs = self.play(every, &mut Watched::new(&mut follow, part(0.0), self.length()))?;
        let followed = follow.told();
        let mut no_log = Watched::new(NoLog, part(0.5), self.length());
        let swapped = self.play_with(Some(Fault::ChannelsSwapped), u64::MAX, &mut no_log)?;
        Ok(Outcome { legs, followed, runaway: runaway(&swapped) })
    }
}

/// From the legs with the wrong sign.
fn runaway(legs: &[Kept]) -> Runaway {
    let angles = legs.iter().map(|kept| kept.angles);
    let (low, high) = angles.fold((0.0f64, 0.0f64), |(low, high), (a, b)| (low.min(a), high.max(b)));
    let speed = legs.iter().map(|kept| kept.peak_speed.abs()).fold(0.0, f64::max);
    Runaway { way: high - low, speed }
}

/// Follows the distance from the path through the rows of a run.
pub(super) struct Follow<'m> {
    played: &'m Move,
    tolerance: f64,
    told: Followed,
    squares: (f64, u64),
    /// Of the rest that is on: how long after its begin the axis was outside of the tolerance last, and whether it is
    /// inside now.
    rest: Option<(f64, bool)>,
    longest: f64,
    is_settled: bool,
}

impl<'m> Follow<'m> {
    pub(super) fn of(played: &'m Move) -> Self {
        Self {
            played,
            tolerance: played.tolerance.value(),
            told: Followed::default(),
            squares: (0.0, 0),
            rest: None,
            longest: 0.0,
            is_settled: true,
        }
    }

    /// Ends the rest that was on.
    fn close(&mut self) {
        if let Some((outside, is_inside)) = self.rest.take() {
            self.longest = self.longest.max(outside);
            self.is_settled &= is_inside;
        }
    }

    pub(super) fn told(mut self) -> Followed {
        self.close();
        let (sum, count) = self.squares;
        self.told.rms = if count > 0 { (sum / count as f64).sqrt() } else { 0.0 };
        self.told.settled = self.is_settled.then_some(self.longest);
        self.told
    }
}

impl Sink for Follow<'_> {
    type Failure = Infallible;

    fn take(&mut self, row: &Row) -> Result<(), Infallible> {
        let path = &self.played.path;
        let (ratio, wanted) = (self.played.set_up.ratio, path.at(row.time).position);
        let error = wanted / ratio - row.load_angle;
        if error.abs() > self.told.peak.abs() {
            (self.told.peak, self.told.peak_time) = (error, row.time);
        }
        (self.told.end_error, self.told.end_error_of_motor) = (error, wanted - row.angle);
        match path.phase(row.time) {
            Phase::Moves => {
                self.close();
                self.squares.0 += error * error;
                self.squares.1 += 1;
            }
            Phase::Rests { since, returning } => {
                self.told.overshoot = self.told.overshoot.max(-error * path.arrives(returning));
                let is_inside = error.abs() <= self.tolerance;
                let before = self.rest.map_or(0.0, |(outside, _)| outside);
                let outside = if is_inside { before } else { since };
                self.rest = Some((outside, is_inside));
            }
        }
        Ok(())
    }
}

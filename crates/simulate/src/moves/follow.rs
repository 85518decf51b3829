//! `move`, played: how near to its path the axis stays, and what would become of it with the wrong sign.

use super::builds::Build;
use super::path::Phase;
use super::plan::Move;
use crate::averaged::Averaged;
use crate::builds::Spread;
use crate::fault::Fault;
use crate::on_demand::{Ends, Faulted};
use crate::points::{CAPTION, Points, Shown, WithEdges, shaded};
use crate::record::{Kept, NoLog, Part, Row, Sink, Watched};
use crate::run::{Patience, Run, by_means};
use crate::sensing::Sensing;
use crate::set_up::{SetUp, Unusable};
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
    /// Where it was at the first of the faults of the trial, and at the end; none where it has no fault.
    ends: Option<Ends<Row>>,
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

    /// Plays it with its faults and a log; what is kept of each leg.
    ///
    /// # Errors
    /// Where the sink takes no more, or the set-up proves to be unusable.
    pub fn play<S: Sink>(&self, every: u64, sink: &mut S) -> Result<Vec<Kept>, Ended<S::Failure>> {
        self.play_with(&self.drive_faults(), every, sink)
    }

    /// The same with these faults, at their times, s. No mean follows any but channels that are swapped from the start.
    ///
    /// # Errors
    /// As of [`Move::play`].
    pub fn play_with<S: Sink>(
        &self,
        faults: &[(f64, Fault)],
        every: u64,
        sink: &mut S,
    ) -> Result<Vec<Kept>, Ended<S::Failure>> {
        let run = match (&self.means, faults) {
            (Some(means), []) => self.averaged((**means).clone(), false),
            (Some(means), [(0.0, Fault::ChannelsSwapped)]) => self.averaged((**means).clone(), true),
            _ => self.switched(faults),
        };
        self.play_legs(&mut run.map_err(Ended::Unusable)?, every, sink)
    }

    /// The same PWM period by PWM period, however long that takes.
    ///
    /// # Errors
    /// As of [`Move::play`].
    pub fn play_switched<S: Sink>(&self, every: u64, sink: &mut S) -> Result<Vec<Kept>, Ended<S::Failure>> {
        self.play_legs(&mut self.switched(&self.drive_faults()).map_err(Ended::Unusable)?, every, sink)
    }

    /// What is kept of each leg, and how the axis follows, where the same loops run over another build of its drive, by its
    /// means: twist and play are left out. `None` where something acts that no mean follows, or that is no drive.
    pub fn over_build(&self, build: &SetUp) -> Option<(Vec<Kept>, Followed)> {
        let build = Build { set_up: SetUp { twist: None, ..*build }, sensing: self.sensing };
        let mut follow = Follow::of(self, &build.set_up);
        let legs = self.play_by_means(&build, self.periods_of_sample(), &mut follow)?;
        Some((legs, follow.told()))
    }

    /// A build of its axis by its means, with a log; `None` where no mean follows what is in it or acts.
    pub(super) fn play_by_means<S: Sink>(
        &self,
        build: &Build,
        every: u64,
        sink: &mut S,
    ) -> Option<Vec<Kept>> {
        let at_rest = Box::new(Averaged::new(build.set_up).ok()?);
        let mut run = Run::Averaged(at_rest).sensed_by(self.sensed_in(build)).ok()?;
        let legs = self.play_legs(&mut run, every, sink).ok()?;
        let Run::Averaged(played) = run else { return None };
        played.left().is_none().then_some(legs)
    }

    /// A build of its axis PWM period by PWM period, with a log.
    ///
    /// # Errors
    /// As of [`Move::play`].
    pub(super) fn play_build<S: Sink>(
        &self,
        build: &Build,
        every: u64,
        sink: &mut S,
    ) -> Result<Vec<Kept>, Ended<S::Failure>> {
        let run = Simulation::new(build.set_up).and_then(|run| run.sensed_by(self.sensed_in(build)));
        self.play_legs(&mut Run::Switched(run.map_err(Ended::Unusable)?), every, sink)
    }

    /// Its means where it would take more steps than so many, is played, and they hold, with the wrong sign too; why they
    /// do not, else.
    pub(crate) fn means_above(&self, most: f64) -> Result<Option<Box<Averaged>>, String> {
        if self.steps() <= most || !self.is_offered() {
            return Ok(None);
        }
        if self.set_up.twist.is_some() {
            return Err(
                "its gear has twist and play, on which a loop may swing, and no mean follows them".into()
            );
        }
        let course = |swapped: bool| {
            move |at_rest: &mut Averaged, patience: &mut Patience| {
                let mut run = self.averaged(at_rest.clone(), swapped).map_err(Ended::Unusable)?;
                self.play_legs(&mut run, u64::MAX, patience)?;
                if let Run::Averaged(played) = run {
                    *at_rest = *played;
                }
                Ok(())
            }
        };
        by_means(&self.set_up, course(true))?;
        by_means(&self.set_up, course(false)).map(Some)
    }

    fn switched(&self, faults: &[(f64, Fault)]) -> Result<Run, Unusable> {
        Ok(Run::Switched(Simulation::new(self.set_up)?.sensed_by(self.sensed())?.with_faults(faults)))
    }

    fn averaged(&self, at_rest: Averaged, swapped: bool) -> Result<Run, Unusable> {
        let mut sensing = self.sensed();
        if let Some(encoder) = &mut sensing.encoder {
            encoder.swapped ^= swapped;
        }
        Run::Averaged(Box::new(at_rest)).sensed_by(sensing)
    }

    /// Its lines, sampled before each sample of the loop.
    fn sensed(&self) -> Sensing {
        self.sensed_in(&Build { set_up: self.set_up, sensing: self.sensing })
    }

    fn sensed_in(&self, build: &Build) -> Sensing {
        let sampling = self.sampled.before(self.periods_of_sample(), build.set_up.frequency);
        Sensing { sampling, ..build.sensing }
    }

    fn play_legs<S: Sink>(
        &self,
        run: &mut Run,
        every: u64,
        sink: &mut S,
    ) -> Result<Vec<Kept>, Ended<S::Failure>> {
        let mut code = self.loops.following(&self.path).map_err(Ended::Unusable)?;
        let (mut time, mut done) = (0.0, 0);
        let mut legs = Vec::new();
        for (_, length) in self.legs() {
            time += length;
            // From the start, so that no rounding adds up.
            let samples = self.loops.samples(time).saturating_sub(done).max(1);
            legs.push(run.play_loop((&mut code, &self.loops.clock), samples, every, sink)?);
            done += samples;
        }
        Ok(legs)
    }

    /// What each test point shows while it plays, with what builds of the axis stay between where they were played.
    ///
    /// # Errors
    /// Where the set-up proves to be unusable, or the work was stopped.
    pub fn picture(&self, spread: Option<&Spread>, watch: Watch<'_>) -> Result<Chart, Ended<Refused>> {
        let faults = self.drive_faults();
        let points = self.points(&faults);
        let mut time = 0.0;
        let begins = |(words, length): (&'static str, f64)| {
            let begin = time;
            time += length;
            (begin, words.to_owned())
        };
        // What begins with the trial needs no mark.
        let moments = self.legs().into_iter().map(begins).skip(1).chain(self.faults.moments()).collect();
        let mover = format!("axis {}", self.axis);
        let bands = spread.map_or_else(Vec::new, |spread| points.bands_of(spread, |row| *row));
        let with = self.faults.beside_nominal();
        let caption = format!("Predicted at nominal values{with}, {CAPTION}{}", shaded(spread));
        let shown = Shown { name: &self.name, mover: &mover, bands, moments, caption };
        // A sample of the loop is close enough where the ripple is no part of the course.
        let every = if self.means.is_some() { self.periods_of_sample() } else { 1 };
        points.picture(self.length(), watch, shown, |points| {
            self.play(every, &mut WithEdges::new(points, &self.set_up, &self.sensing, &faults))
        })
    }

    /// Its test points, with faults at their times, s.
    fn points(&self, faults: &[(f64, Fault)]) -> Points<Row> {
        Points::of(&self.set_up, &self.figures.dc, &self.sensing, faults, &self.beside)
    }

    /// PWM periods in a sample of the loop.
    pub(super) fn periods_of_sample(&self) -> u64 {
        (self.set_up.frequency / self.loops.clock.rate).round().max(1.0) as u64
    }

    /// What comes of it, without faults.
    ///
    /// # Errors
    /// Where the set-up proves to be unusable, or the work was stopped.
    pub fn outcome(&self, watch: Watch<'_>) -> Result<Outcome, Ended<Stopped>> {
        let part = |from: f64| Part { watch, from, share: 0.5 };
        let every = self.periods_of_sample();
        let mut follow = Follow::of(self, &self.set_up);
        // What is never met costs a comparison for each row.
        let mut without = Ends::new(self.faults.first().unwrap_or(f64::INFINITY));
        let mut both = Both(&mut without, &mut follow);
        let legs = self.play_with(&[], every, &mut Watched::new(&mut both, part(0.0), self.length()))?;
        let followed = follow.told();
        let mut no_log = Watched::new(NoLog, part(0.5), self.length());
        let swapped = self.play_with(&[(0.0, Fault::ChannelsSwapped)], u64::MAX, &mut no_log)?;
        let ends = (!self.faults.is_empty()).then_some(without);
        Ok(Outcome { legs, followed, runaway: runaway(&swapped), ends })
    }

    /// What comes of it with its faults, beside what came of it without them; `None` where it has none.
    ///
    /// # Errors
    /// Where the set-up proves to be unusable, or the work was stopped.
    pub fn faulted(
        &self,
        outcome: &Outcome,
        watch: Watch<'_>,
    ) -> Result<Option<Faulted<WithFaults>>, Ended<Stopped>> {
        let Some((time, without)) = self.faults.first().zip(outcome.ends) else { return Ok(None) };
        let (faults, every) = (self.drive_faults(), self.periods_of_sample());
        let part = Part { watch, from: 0.0, share: 1.0 };
        let mut with = Ends::new(time);
        let mut follow = Follow::of(self, &self.set_up);
        let mut both = Both(&mut with, &mut follow);
        let legs = self.play_with(&faults, every, &mut Watched::new(&mut both, part, self.length()))?;
        let shown = with.shown(&self.points(&faults), (&without, &self.points(&[])));
        Ok(Some(Faulted { kept: (legs, follow.told()), shown }))
    }
}

/// What is kept of a motion with faults: of each leg, and how it followed.
pub(super) type WithFaults = (Vec<Kept>, Followed);

/// Hands each row to two.
struct Both<'a, A, B>(&'a mut A, &'a mut B);

impl<A: Sink<Failure = Infallible>, B: Sink<Failure = Infallible>> Sink for Both<'_, A, B> {
    type Failure = Infallible;

    fn take(&mut self, row: &Row) -> Result<(), Infallible> {
        let Ok(()) = self.0.take(row);
        self.1.take(row)
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
    /// Turns of the motor for one of the load.
    ratio: f64,
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
    /// Of a build of its axis.
    pub(super) fn of(played: &'m Move, build: &SetUp) -> Self {
        Self {
            played,
            ratio: build.ratio,
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
        let wanted = path.at(row.time).position;
        let error = wanted / self.ratio - row.load_angle;
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

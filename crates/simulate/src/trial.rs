//! Trials: what is asked of an axis, planned from the figures of its bench and judged before it is offered.

use crate::asked;
use crate::averaged::Averaged;
use crate::axis::Figures;
use crate::course::{Leg, Told, joined};
use crate::fault::Fault;
use crate::judge::{Check, Stand};
use crate::lines::{self, When};
use crate::on_demand::{AskedFault, Ends, Faulted, Faults, NoFault, OnDrive, Stops};
use crate::plan::{Ground, Plan};
use crate::planner::{Draft, Found, Planner};
use crate::points::Beside;
use crate::prepared::{self, MOST_STEPS};
use crate::record::{Kept, NoLog, Part, Sink, Watched};
use crate::rise::Rise;
use crate::run::{Course, MOST_SWITCHED, Patience, Run, by_means};
use crate::sensing::Sensing;
use crate::set_up::{SetUp, Unusable};
use crate::simulation::{Ended, Simulation, Stage};
use crate::surroundings::{left_out, simulated};
use bench::Bench;
use bench::model::{Axis, LimitInForce};
use drive::assembly::Bus;
use finding::{Stopped, Watch};
use thiserror::Error;
use worked::Worked;

/// What may be asked otherwise than planned.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Wish {
    /// Duty in place of the planned one; negative to go backwards.
    pub duty: Option<f64>,
    /// The load is taken off; the gear stays on.
    pub free: bool,
}

/// A trial of an axis, with its verdict.
pub struct Trial {
    /// Its name.
    pub name: String,
    /// What happens in it.
    pub caption: String,
    /// The bench file has it; otherwise it is one of those that the program knows.
    pub of_file: bool,
    /// Name of the axis.
    pub axis: String,
    /// The drive at nominal values.
    pub set_up: SetUp,
    /// The lines to its controller.
    pub sensing: Sensing,
    /// When the converter samples.
    sampled: When,
    pub(crate) beside: Beside,
    pub(crate) legs: Vec<Leg>,
    pub(crate) figures: Figures,
    /// The axis as the bench has it.
    pub(crate) bench_axis: Axis,
    /// Duty by amount, with its sign.
    pub(crate) amount: f64,
    /// Duty of the bridge.
    pub(crate) duty: Worked,
    pub(crate) shaft: Shaft,
    pub(crate) bus: Option<Bus>,
    /// The limit that is to trip.
    pub(crate) trips: Option<LimitInForce>,
    /// Limits of the axis whose acting is simulated, by their numbers.
    pub(crate) limits: Vec<LimitInForce>,
    /// What the bench has and the simulation does not.
    pub(crate) left_out: Vec<String>,
    /// Largest current by closed form.
    pub(crate) peak_current: Worked,
    pub(crate) checks: Vec<Check>,
    pub(crate) way_out: WayOut,
    /// Put in on purpose.
    pub(crate) faults: Faults<Fault>,
    pub(crate) stops: Stops,
    /// At rest, where it is played by its means.
    pub(crate) means: Option<Box<Averaged>>,
    every: u64,
    steps: f64,
}

/// What would make a refused trial hold.
#[derive(Clone, PartialEq, Debug)]
pub(crate) enum WayOut {
    /// It holds.
    None,
    /// The largest duty, in twentieths, at which every check holds.
    Duty(f64),
    /// No duty does; what fails at the lowest one, with what to change.
    Bench(Vec<String>),
}

/// What the shaft is free to do.
#[derive(Clone, Debug)]
pub(crate) enum Shaft {
    /// The shaft of the motor is held.
    Held,
    /// The load is off, the gear is on.
    Free,
    /// A disc of this inertia is there in place of the load.
    Disc(Worked),
    /// The load is coupled.
    Coupled,
    /// The shaft that drives the load is held, and the motor winds up what is before it.
    OutputHeld,
}

/// The legs of a course, from what it is made from.
pub(crate) type Legs = Box<dyn Fn(&Ground) -> Vec<Leg>>;

/// What is asked for before anything of it is judged.
pub(crate) struct Request {
    pub(crate) name: String,
    pub(crate) caption: String,
    pub(crate) shaft: Shaft,
    /// Amount of the stated duty and its sign; none where it is looked for.
    pub(crate) stated: Option<(Worked, f64)>,
    pub(crate) legs: Legs,
    /// Time constants over which changes are followed, best first.
    pub(crate) tries: &'static [f64],
    pub(crate) winding: Option<Worked>,
    pub(crate) supply: Option<Worked>,
    pub(crate) repeats: f64,
    pub(crate) sample_rate: Option<f64>,
    pub(crate) of_file: bool,
    /// A limit of the board is to trip.
    pub(crate) trips: bool,
}

/// What came of a trial.
#[derive(Clone, PartialEq, Debug)]
pub struct Outcome {
    /// What is kept of each leg: of a ramp, over all of its stages.
    pub stages: Vec<Kept>,
    /// Time until 1 − 1/e of the last value of the first leg at one duty, s: of the speed, or of the current where the
    /// shaft is held. Only where that leg begins at rest.
    pub rise_time: Option<f64>,
    /// Time from which it stays within 2 % of that value, s.
    pub settled: Option<f64>,
}

/// Why there is no trial.
#[derive(Clone, PartialEq, Debug, Error)]
pub enum CannotPlan {
    /// The axis is none that can be simulated.
    #[error("axis `{axis}` {why}")]
    NotThisAxis {
        /// Its name.
        axis: String,
        /// Why not.
        why: String,
    },
    /// Data that the bench does not give.
    #[error("the bench does not give what a simulation needs: {what}")]
    Missing {
        /// Their paths, with what they are.
        what: String,
    },
    /// What the bench file asks for cannot be done.
    #[error("trial `{trial}`: {why}")]
    Input {
        /// Its name.
        trial: String,
        /// Why not.
        why: String,
    },
    /// It would take too many steps, and its means cannot be played in their place.
    #[error(
        "this trial would take {steps:.1e} steps, which nobody waits for: it lasts {time:.3} s, and the current settles \
         within {settles:.1e} s; make it shorter, or check inductance, resistance and PWM frequency. By its means it \
         cannot be played either: {why}"
    )]
    TooLong {
        /// So many.
        steps: f64,
        /// How long it lasts, s.
        time: f64,
        /// Electrical time constant, s.
        settles: f64,
        /// Why its means cannot be played.
        why: String,
    },
    /// A figure that no drive can have.
    #[error("this cannot be simulated: {0}")]
    Unusable(#[from] Unusable),
}

/// Samples of a line that a picture shows about.
const SHOWN_SAMPLES: f64 = 2000.0;
/// Rows in which a rise is followed: its times are straight between them.
const RISE_ROWS: f64 = 4000.0;
/// Rows that lie before a time of it at least.
const ROWS_OF_TIME: f64 = 50.0;

impl Trial {
    /// Plans a trial that the program knows. Without a wish for it the duty is the largest, in twentieths, with which
    /// every check holds; where none does, it is one twentieth and the trial is refused.
    ///
    /// # Errors
    /// Where the axis cannot be simulated.
    pub fn plan(bench: &Bench, axis: &Axis, plan: Plan, wish: Wish) -> Result<Self, CannotPlan> {
        let request = Request {
            name: plan.name().to_owned(),
            caption: plan.caption().to_owned(),
            // Behind a held shaft there may be any load.
            shaft: if plan.holds() { Shaft::Held } else { Shaft::Coupled },
            stated: None,
            legs: Box::new(move |ground| plan.legs(ground)),
            tries: &[5.0, 3.0, 2.0],
            winding: None,
            supply: None,
            repeats: 1.0,
            sample_rate: None,
            of_file: false,
            trips: plan == Plan::StallUntilTrip,
        };
        Self::judged(bench, axis, request, wish)
    }

    /// Plans a trial of the bench file as it stands there, with its faults, on its axis or on another one.
    ///
    /// # Errors
    /// Where the axis cannot be simulated, or what the file asks for cannot be done.
    pub fn of_file(
        bench: &Bench,
        axis: &Axis,
        name: &str,
        trial: &bench::file::Trial,
        wish: Wish,
    ) -> Result<Self, CannotPlan> {
        let figures = Figures::of(bench, axis, true)?;
        let frequency = figures.set_up(false)?.frequency;
        let request = asked::request(name, trial, frequency, &figures.dc.power.open_voltage)?;
        let faults = AskedFault::of_file(name, trial)?;
        Self::judged(bench, axis, request, wish)?.with_faults(&faults).map_err(|no| no.in_file(name))
    }

    fn judged(bench: &Bench, axis: &Axis, request: Request, wish: Wish) -> Result<Self, CannotPlan> {
        if let Some(duty) = wish.duty
            && !(duty.abs() <= 1.0 && duty != 0.0)
        {
            let must = "from -1 to 1 and not 0";
            return Err(Unusable::Figure { what: "duty", value: duty, must }.into());
        }
        let planner = Planner::new(bench, axis, &request, wish)?;
        let found = planner.found(wish.duty)?;
        let Found { amount, draft, way_out } = found;
        let set_up = planner.set_up;
        let periods: f64 = draft.legs.iter().map(|leg| leg.periods() as f64).sum();
        let steps = prepared::steps(&set_up, periods);
        let every = prepared::every(&request.name, request.sample_rate, set_up.frequency, periods)?;
        let Draft { legs, duty, peak_current, checks } = draft;
        let (limits, left_out) = (simulated(axis), left_out(axis, planner.bus.as_ref()));
        let Planner { figures, bus, shaft, trips, .. } = planner;
        let (name, caption, of_file) = (request.name, request.caption, request.of_file);
        let (sensing, sampled) = (lines::sensing(bench, axis, &figures.dc), lines::sampled(bench));
        let (beside, stops) = (Beside::of_axis(bench, axis, bus.as_ref()), Stops::of(bench, axis));
        let trial = Self {
            name,
            caption,
            of_file,
            axis: axis.name.to_string(),
            set_up,
            sensing,
            sampled,
            beside,
            legs,
            figures,
            bench_axis: axis.clone(),
            amount,
            duty,
            shaft,
            bus,
            trips,
            limits,
            left_out,
            peak_current,
            checks,
            way_out,
            faults: Faults::none(),
            stops,
            means: None,
            every,
            steps,
        };
        // Means leave out twist and play, so that these are played switched as long as that can be waited for.
        let most = if trial.set_up.twist.is_some() { MOST_STEPS } else { MOST_SWITCHED };
        match trial.means_above(most) {
            Ok(means) => Ok(Self { means, ..trial }),
            Err(why) if steps > MOST_STEPS => {
                Err(prepared::too_long(&trial.set_up, steps, trial.length(), why))
            }
            Err(_) => Ok(trial),
        }
    }

    /// Its means where it would take more steps than so many, is played, and they hold; why they do not, else.
    pub(crate) fn means_above(&self, most: f64) -> Result<Option<Box<Averaged>>, String> {
        if self.steps <= most || !self.is_offered() || !self.faults.is_empty() {
            return Ok(None);
        }
        let course = |averaged: &mut Averaged, patience: &mut Patience| {
            let mut stages = self.stages();
            stages.try_for_each(|(_, stage)| averaged.play(&stage, u64::MAX, patience).map(|_| ()))
        };
        by_means(&self.set_up, course).map(Some)
    }

    /// Whether it may be played PWM period by PWM period: it takes no more steps than somebody waits for.
    pub fn can_be_switched(&self) -> bool {
        self.steps <= MOST_STEPS
    }

    /// How it is played.
    pub fn course(&self) -> Course {
        if self.means.is_some() { Course::Averaged } else { Course::Switched }
    }

    /// Steps that playing it takes, about.
    pub fn steps(&self) -> f64 {
        self.steps
    }

    /// Whether it may be done: every check holds.
    pub fn is_offered(&self) -> bool {
        self.checks.iter().all(|check| check.stand == Stand::Holds)
    }

    /// PWM periods between the rows of its log.
    pub fn every(&self) -> u64 {
        self.every
    }

    /// The trial with faults: they show in its log and in [`Trial::faulted`]. Verdict, key figures and builds stay those
    /// without them.
    ///
    /// # Errors
    /// The first that its drive cannot have, or that comes after its end.
    pub fn with_faults(mut self, asked: &[AskedFault]) -> Result<Self, NoFault> {
        let on = OnDrive {
            axis: &self.axis,
            set_up: &self.set_up,
            figures: &self.figures,
            sensing: &self.sensing,
            shaft: &self.shaft,
            stops: &self.stops,
        };
        let faults = on.add(asked, self.length(), &self.faults)?;
        self.means = faults.switched_for(self.means.take(), self.can_be_switched())?;
        self.faults = faults;
        Ok(self)
    }

    /// Its faults, in the order in which they come.
    pub fn faults(&self) -> impl Iterator<Item = &AskedFault> {
        self.faults.asked()
    }

    /// What they do to the drive, with their times, s.
    pub fn drive_faults(&self) -> Vec<(f64, Fault)> {
        self.faults.timed()
    }

    /// What comes of it with its faults; `None` where it has none.
    ///
    /// # Errors
    /// Where the set-up proves to be unusable, or the work was stopped.
    pub fn faulted(&self, watch: Watch<'_>) -> Result<Option<Faulted<Vec<Kept>>>, Ended<Stopped>> {
        let Some(time) = self.faults.first() else { return Ok(None) };
        let (mut with, mut without) = (Ends::new(time), Ends::new(time));
        let part = |from: f64| Part { watch, from, share: 0.5 };
        let kept = self.play(self.every(), &mut Watched::new(&mut with, part(0.0), self.length()))?;
        self.play_with(&[], self.every(), &mut Watched::new(&mut without, part(0.5), self.length()))?;
        let shown = with.shown(&self.points(&self.drive_faults()), (&without, &self.points(&[])));
        Ok(Some(Faulted { kept, shown }))
    }

    /// Plays it with its faults and a log; what is kept of each leg.
    ///
    /// # Errors
    /// Where the sink takes no more, or the set-up proves to be unusable.
    pub fn play<S: Sink>(&self, every: u64, sink: &mut S) -> Result<Vec<Kept>, Ended<S::Failure>> {
        self.play_with(&self.drive_faults(), every, sink)
    }

    /// The same PWM period by PWM period, however long that takes.
    ///
    /// # Errors
    /// As of [`Trial::play`].
    pub fn play_switched<S: Sink>(&self, every: u64, sink: &mut S) -> Result<Vec<Kept>, Ended<S::Failure>> {
        let run = self.switched(&self.drive_faults()).and_then(|run| self.sensed(run, every));
        self.play_legs(run.map_err(Ended::Unusable)?, u64::MAX, every, sink)
    }

    /// As it is played, with these faults.
    fn play_with<S: Sink>(
        &self,
        faults: &[(f64, Fault)],
        every: u64,
        sink: &mut S,
    ) -> Result<Vec<Kept>, Ended<S::Failure>> {
        let run = self.run(faults).and_then(|run| self.sensed(run, every)).map_err(Ended::Unusable)?;
        self.play_legs(run, u64::MAX, every, sink)
    }

    /// Plays it with a row for each PWM period, or as many as a picture shows where it goes by its means; what the
    /// controller reads is taken as often as that.
    pub(crate) fn play_shown<S: Sink>(&self, sink: &mut S) -> Result<Vec<Kept>, Ended<S::Failure>> {
        let shown = (self.length() * self.set_up.frequency / SHOWN_SAMPLES).max(1.0) as u64;
        let run = self.run(&self.drive_faults()).and_then(|run| self.sensed(run, shown));
        let every = if self.means.is_some() { shown } else { 1 };
        self.play_legs(run.map_err(Ended::Unusable)?, u64::MAX, every, sink)
    }

    /// The drive at rest, with these faults; by its means it has none.
    fn run(&self, faults: &[(f64, Fault)]) -> Result<Run, Unusable> {
        match &self.means {
            Some(means) => Ok(Run::Averaged(means.clone())),
            None => self.switched(faults),
        }
    }

    fn switched(&self, faults: &[(f64, Fault)]) -> Result<Run, Unusable> {
        Ok(Run::Switched(Simulation::new(self.set_up)?.with_faults(faults)))
    }

    /// Its lines, sampled as the converter of the bench does before each row, so many PWM periods apart.
    pub fn lines(&self, every: u64) -> Sensing {
        Sensing { sampling: self.sampled.before(every, self.set_up.frequency), ..self.sensing }
    }

    /// With its lines, sampled each so many PWM periods.
    fn sensed(&self, run: Run, every: u64) -> Result<Run, Unusable> {
        run.sensed_by(self.lines(every))
    }

    /// Plays so many PWM periods of it.
    fn play_legs<S: Sink>(
        &self,
        mut run: Run,
        most: u64,
        every: u64,
        sink: &mut S,
    ) -> Result<Vec<Kept>, Ended<S::Failure>> {
        let (mut kept_of_legs, mut left) = (Vec::with_capacity(self.legs.len()), most);
        for leg in &self.legs {
            let mut whole: Option<Kept> = None;
            for stage in leg.stages(self.amount) {
                let stage = Stage { periods: stage.periods.min(left), ..stage };
                if stage.periods > 0 {
                    let kept = run.play(&stage, every, sink)?;
                    whole = Some(whole.map_or(kept, |before| joined(&before, &kept)));
                }
                left -= stage.periods;
            }
            kept_of_legs.extend(whole);
        }
        Ok(kept_of_legs)
    }

    /// What comes of it, without faults.
    ///
    /// # Errors
    /// Where the set-up proves to be unusable, or the work was stopped.
    pub fn outcome(&self, watch: Watch<'_>) -> Result<Outcome, Ended<Stopped>> {
        let run = self.run(&[]).map_err(Ended::Unusable)?;
        let mut no_log = Watched::new(NoLog, Part { watch, from: 0.0, share: 0.5 }, self.length());
        let stages = self.play_legs(run, u64::MAX, u64::MAX, &mut no_log)?;
        let Some((start, first)) =
            self.first_drive(&stages).filter(|(start, _)| self.rests_until(&stages, *start))
        else {
            return Ok(Outcome { stages, rise_time: None, settled: None });
        };
        let (first, part) = (*first, Part { watch, from: 0.5, share: 0.5 });
        let whole = self.rise((start, &first), first.end - start, part)?;
        let finer = |of: fn(&Rise) -> Option<f64>| self.finer_rise((start, &first), of(&whole), of, watch);
        let (rise_time, settled) = (finer(Rise::time)?, finer(Rise::settled)?);
        Ok(Outcome { stages, rise_time, settled })
    }

    /// How the first drive comes to its last value, so far into it.
    fn rise(&self, (start, drive): (f64, &Kept), span: f64, part: Part<'_>) -> Result<Rise, Ended<Stopped>> {
        let mut rise = match self.set_up.locked {
            true => Rise::of_current(start, drive.end, drive.current),
            false => Rise::of_speed(start, drive.end, drive.speed),
        };
        let every = (span * self.set_up.frequency / RISE_ROWS).max(1.0) as u64;
        let most = ((start + span) * self.set_up.frequency).round() as u64;
        let run = self.run(&[]).map_err(Ended::Unusable)?;
        self.play_legs(run, most, every, &mut Watched::new(&mut rise, part, start + span))?;
        Ok(rise)
    }

    /// A time of the rise, found anew between closer rows where those of the whole drive lie too far apart for it.
    fn finer_rise(
        &self,
        drive: (f64, &Kept),
        found: Option<f64>,
        of: fn(&Rise) -> Option<f64>,
        watch: Watch<'_>,
    ) -> Result<Option<f64>, Ended<Stopped>> {
        let (start, kept) = drive;
        let (mut found, mut span) = (found, kept.end - start);
        while let Some(time) = found {
            let row = (span / RISE_ROWS).max(1.0 / self.set_up.frequency);
            if time >= ROWS_OF_TIME * row || row * self.set_up.frequency <= 1.0 {
                break;
            }
            span = time + 2.0 * row;
            found = of(&self.rise(drive, span, Part { watch, from: 1.0, share: 0.0 })?);
        }
        Ok(found)
    }

    /// What the bridge is told, in order, with words for it. A ramp is many stages.
    pub fn stages(&self) -> impl Iterator<Item = (&'static str, Stage)> + '_ {
        self.legs.iter().flat_map(|leg| leg.stages(self.amount).map(|stage| (leg.words, stage)))
    }

    /// PWM periods of all of it.
    pub(crate) fn periods(&self) -> u64 {
        self.legs.iter().map(Leg::periods).sum()
    }

    /// How long it takes, s.
    pub fn length(&self) -> f64 {
        self.periods() as f64 / self.set_up.frequency
    }

    /// The first leg at one duty that is not zero: when it begins, and what is kept of it.
    pub(crate) fn first_drive<'k>(&self, kept: &'k [Kept]) -> Option<(f64, &'k Kept)> {
        let steady = |leg: &Leg| matches!(leg.told(), Told::One(share) if share != 0.0);
        let at = self.legs.iter().position(steady)?;
        let start = at.checked_sub(1).and_then(|before| kept.get(before)).map_or(0.0, |before| before.end);
        kept.get(at).map(|kept| (start, kept))
    }

    /// Whether nothing flows and turns up to a time.
    pub(crate) fn rests_until(&self, kept: &[Kept], time: f64) -> bool {
        kept.iter().filter(|kept| kept.end <= time).all(|kept| kept.current == 0.0 && kept.speed == 0.0)
    }
}

#[cfg(test)]
mod tests;

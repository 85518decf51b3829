//! Trials: what is asked of an axis, planned from the figures of its bench and judged before it is offered.

use crate::asked;
use crate::axis::Figures;
use crate::course::{Drive, Leg, Told, joined, reach};
use crate::judge::{Check, Judged, Limits, Stand};
use crate::lines::{self, When};
use crate::plan::{Ground, Plan};
use crate::record::{Kept, NoLog, Sink};
use crate::rise::Rise;
use crate::sensing::Sensing;
use crate::set_up::{SetUp, Unusable};
use crate::simulation::{Ended, Simulation, Stage};
use crate::surroundings::{put_around, simulated};
use bench::Bench;
use bench::model::{Axis, LimitInForce};
use drive::assembly::Bus;
use drive::assembly::limits::{delay, trips};
use drive::bridge::OffState;
use drive::constants::zero;
use drive::load::{Load, Turning};
use thiserror::Error;
use worked::{Dimension, Input, Origin, Worked};

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
    /// What the bridge is told, in order, with words for it. A ramp is many stages.
    pub stages: Vec<(&'static str, Stage)>,
    pub(crate) legs: Vec<Leg>,
    pub(crate) figures: Figures,
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
    /// Largest current by closed form.
    pub(crate) peak_current: Worked,
    pub(crate) checks: Vec<Check>,
    pub(crate) way_out: WayOut,
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
    /// It would take too many steps.
    #[error(
        "this trial would take {steps:.1e} steps, which nobody waits for: it lasts {time:.3} s, and the current settles \
         within {settles:.1e} s; make it shorter, or check inductance, resistance and PWM frequency"
    )]
    TooLong {
        /// So many.
        steps: f64,
        /// How long it lasts, s.
        time: f64,
        /// Electrical time constant, s.
        settles: f64,
    },
    /// A figure that no drive can have.
    #[error("this cannot be simulated: {0}")]
    Unusable(#[from] Unusable),
}

/// Steps in which a duty is looked for.
const DUTY_STEPS: u32 = 20;
/// Most steps that a trial may take: a minute or so of waiting.
const MOST_STEPS: f64 = 1e8;
/// Rows in which a rise is followed: its times are straight between them.
const RISE_ROWS: f64 = 4000.0;
/// Rows that a log has about.
const ROWS: u64 = 2000;
/// Rows that a log may have.
const MOST_ROWS: f64 = 2e7;

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

    /// Plans a trial of the bench file as it stands there, on its axis or on another one.
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
        Self::judged(bench, axis, request, wish)
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
        let settles = set_up.inductance / set_up.resistance;
        let time = periods / set_up.frequency;
        let steps = 3.0 * periods + 2.0 * time / settles;
        if steps > MOST_STEPS {
            return Err(CannotPlan::TooLong { steps, time, settles });
        }
        let every = planner.every(periods)?;
        let stages =
            draft.legs.iter().flat_map(|leg| leg.stages(amount).map(|stage| (leg.words, stage))).collect();
        let Draft { legs, duty, peak_current, checks } = draft;
        let limits = simulated(axis);
        let Planner { figures, bus, shaft, trips, .. } = planner;
        let (name, caption, of_file) = (request.name, request.caption, request.of_file);
        let (sensing, sampled) = (lines::sensing(bench, axis, &figures.dc), lines::sampled(bench));
        let axis = axis.name.to_string();
        Ok(Self {
            name,
            caption,
            of_file,
            axis,
            set_up,
            sensing,
            sampled,
            stages,
            legs,
            figures,
            amount,
            duty,
            shaft,
            bus,
            trips,
            limits,
            peak_current,
            checks,
            way_out,
            every,
            steps,
        })
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

    /// Plays it with a log; what is kept of each leg.
    ///
    /// # Errors
    /// Where the sink takes no more, or the set-up proves to be unusable.
    pub fn play<S: Sink>(&self, every: u64, sink: &mut S) -> Result<Vec<Kept>, Ended<S::Failure>> {
        let simulation = Simulation::new(self.set_up).map_err(Ended::Unusable)?;
        let sensing = Sensing { sampling: self.sampled.before(every, self.set_up.frequency), ..self.sensing };
        let simulation = simulation.sensed_by(sensing).map_err(Ended::Unusable)?;
        self.play_legs(simulation, self.legs.len(), every, sink)
    }

    /// Plays so many of its legs.
    fn play_legs<S: Sink>(
        &self,
        mut simulation: Simulation,
        legs: usize,
        every: u64,
        sink: &mut S,
    ) -> Result<Vec<Kept>, Ended<S::Failure>> {
        let mut kept_of_legs = Vec::with_capacity(legs);
        for leg in self.legs.iter().take(legs) {
            let mut whole: Option<Kept> = None;
            for stage in leg.stages(self.amount) {
                let kept = simulation.play(&stage, every, sink)?;
                whole = Some(whole.map_or(kept, |before| joined(&before, &kept)));
            }
            kept_of_legs.extend(whole);
        }
        Ok(kept_of_legs)
    }

    /// What comes of it.
    ///
    /// # Errors
    /// Where the set-up proves to be unusable.
    pub fn outcome(&self) -> Result<Outcome, Unusable> {
        let unusable = |ended| match ended {
            Ended::Unusable(unusable) => unusable,
            Ended::Sink(never) => match never {},
        };
        let simulation = || Simulation::new(self.set_up);
        let all = self.legs.len();
        let stages = self.play_legs(simulation()?, all, u64::MAX, &mut NoLog).map_err(unusable)?;
        let Some((start, first)) =
            self.first_drive(&stages).filter(|(start, _)| self.rests_until(&stages, *start))
        else {
            return Ok(Outcome { stages, rise_time: None, settled: None });
        };
        let mut rise = match self.set_up.locked {
            true => Rise::of_current(start, first.end, first.current),
            false => Rise::of_speed(start, first.end, first.speed),
        };
        let legs = stages.iter().take_while(|kept| kept.end <= first.end).count();
        let periods = (first.end - start) * self.set_up.frequency;
        let every = (periods / RISE_ROWS).max(1.0) as u64;
        self.play_legs(simulation()?, legs, every, &mut rise).map_err(unusable)?;
        Ok(Outcome { stages, rise_time: rise.time(), settled: rise.settled() })
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

/// A plan at one duty.
struct Draft {
    legs: Vec<Leg>,
    duty: Worked,
    peak_current: Worked,
    checks: Vec<Check>,
}

impl Draft {
    fn stands(&self) -> bool {
        self.failing() == 0
    }

    /// Checks that do not hold.
    fn failing(&self) -> usize {
        self.checks.iter().filter(|check| check.stand != Stand::Holds).count()
    }
}

/// What was settled on.
struct Found {
    amount: f64,
    draft: Draft,
    way_out: WayOut,
}

/// What stays the same whatever the duty is.
struct Planner<'a> {
    axis: &'a Axis,
    request: &'a Request,
    shaft: Shaft,
    figures: Figures,
    bus: Option<Bus>,
    set_up: SetUp,
    /// Time constants of winding and shaft at nominal values, s.
    electrical: f64,
    mechanical: f64,
    stop_time: Option<f64>,
    drive: Drive,
    /// Somebody asked for the duty.
    asked_for: bool,
    /// The limit that is to trip.
    trips: Option<LimitInForce>,
}

impl<'a> Planner<'a> {
    fn new(bench: &Bench, axis: &'a Axis, request: &'a Request, wish: Wish) -> Result<Self, CannotPlan> {
        let held = matches!(request.shaft, Shaft::Held);
        let shaft = if wish.free && !held { Shaft::Free } else { request.shaft.clone() };
        let mut figures = Figures::of(bench, axis, !matches!(shaft, Shaft::Coupled))?;
        if let Shaft::Disc(inertia) = &shaft {
            figures.load = Some(Load::Disc(Turning {
                inertia: inertia.clone(),
                torque: zero("N·m"),
                friction_torque: zero("N·m"),
                viscous_friction: zero("N·m·s/rad"),
            }));
        }
        if let Some(winding) = &request.winding {
            figures.dc.winding = winding.clone();
        }
        let mut bus = Bus::all(bench, &[(axis, Some(figures.dc.clone()))]).into_iter().next();
        if let Some(supply) = &request.supply {
            figures.dc.power.open_voltage = supply.clone();
            bus.iter_mut().for_each(|bus| bus.open_voltage = supply.clone());
        }
        let mut set_up = figures.set_up(held)?;
        put_around(&mut set_up, &figures, axis, bus.as_ref());
        if !matches!(shaft, Shaft::Coupled) {
            // Twist and play are those of the load that was taken off.
            set_up.twist = None;
        }
        set_up.check()?;
        let motor = figures.dc.free_armature().turning(figures.inertia());
        let behind = figures.dc.power.source_resistance.clone() + figures.dc.power.line_resistance.clone();
        let slowest = motor.clone().behind(behind).mechanical_time();
        let firmware = axis.firmware();
        let drive = Drive {
            frequency: set_up.frequency,
            held,
            through_diodes: matches!(set_up.off_state, OffState::Coast | OffState::Diode),
            anti_phase: set_up.off_state == OffState::Reverse,
            mechanical_time: slowest.worst_case().map_or(f64::INFINITY, |(_, high)| high),
        };
        Ok(Self {
            axis,
            request,
            shaft,
            bus,
            set_up,
            electrical: motor.electrical_time().value(),
            mechanical: motor.mechanical_time().value(),
            stop_time: firmware.has("ramp_time").then(|| firmware.ramp_time().value()),
            drive,
            asked_for: wish.duty.is_some() || request.stated.is_some(),
            trips: if request.trips { Some(limit_to_trip(axis)?) } else { None },
            figures,
        })
    }

    /// The duty that is wished for or stated, or the largest that is allowed.
    fn found(&self, wished: Option<f64>) -> Result<Found, CannotPlan> {
        let chosen = match (wished, &self.request.stated) {
            (Some(duty), _) => Some((self.amount(duty.abs(), "as asked"), duty)),
            (None, Some((duty, sign))) => Some((duty.clone(), sign * duty.value())),
            (None, None) => None,
        };
        if let Some((worked, duty)) = chosen {
            let draft = self.draft(worked, duty);
            let way_out = if draft.stands() { WayOut::None } else { self.way_out(duty) };
            return Ok(Found { amount: duty, draft, way_out });
        }
        let highest = self.figures.dc.duty_limit.worst_case().map_or(1.0, |(low, _)| low);
        let mut allowed: Vec<f64> = twentieths().filter(|duty| *duty <= highest).collect();
        // A limit is to trip at as little current as does it.
        let ground = if self.trips.is_some() {
            allowed.reverse();
            "the lowest twentieth that does it"
        } else {
            "the largest twentieth that is allowed"
        };
        let mut nearest: Option<(f64, Draft)> = None;
        for duty in allowed {
            let draft = self.draft(self.amount(duty, ground), duty);
            if draft.stands() {
                return Ok(Found { amount: duty, draft, way_out: WayOut::None });
            }
            if nearest.as_ref().is_none_or(|(_, nearest)| draft.failing() <= nearest.failing()) {
                nearest = Some((duty, draft));
            }
        }
        let Some((amount, draft)) = nearest else {
            let must = "a twentieth at least";
            return Err(Unusable::Figure { what: "duty limit", value: highest, must }.into());
        };
        let way_out = WayOut::Bench(advice(&draft));
        Ok(Found { amount, draft, way_out })
    }

    /// What would let a refused trial hold: a lower duty of the same sense, or something else on the bench.
    fn way_out(&self, duty: f64) -> WayOut {
        let mut least = None;
        for lower in twentieths().filter(|lower| *lower < duty.abs()) {
            let draft = self.draft(self.amount(lower, "tried"), lower * duty.signum());
            if draft.stands() {
                return WayOut::Duty(lower * duty.signum());
            }
            least = Some(draft);
        }
        // Below a twentieth there is nothing to try: the trial itself then tells what to change.
        let tells = least.unwrap_or_else(|| self.draft(self.amount(duty.abs(), "as asked"), duty));
        WayOut::Bench(advice(&tells))
    }

    fn amount(&self, duty: f64, ground: &str) -> Worked {
        let path = format!("trials.{}.duty", self.request.name);
        Input::new(&path, "duty of the trial", "D_t", Dimension::NONE)
            .value(duty)
            .origin(Origin::assumed(ground))
            .worked()
    }

    fn draft(&self, amount: Worked, duty: f64) -> Draft {
        let limits = match &self.trips {
            Some(limit) => Limits::Trips(limit.limit.path()),
            None if self.asked_for => Limits::MayChop,
            None => Limits::Silent,
        };
        // Of a locked anti-phase bridge a duty is the mean voltage over that of the bus.
        let of_bridge = match self.set_up.off_state {
            OffState::Reverse => (amount + 1.0) / 2.0,
            _ => amount,
        };
        let draft = |constants: f64| {
            let ground = Ground {
                set_up: self.set_up,
                duty,
                constants,
                electrical: self.electrical,
                mechanical: self.mechanical,
                stop_time: self.stop_time,
                timer: self.trips.as_ref().map_or(0.0, longest_delay),
            };
            let legs = (self.request.legs)(&ground);
            let judged = Judged {
                figures: &self.figures,
                axis: self.axis,
                shaft: &self.shaft,
                bus: self.bus.as_ref(),
                duty: &of_bridge,
                reach: reach(&legs, &self.drive),
                repeats: self.request.repeats,
                limits,
                choppers: Vec::new(),
                trial: &self.request.name,
            }
            .held_by_choppers();
            let (peak_current, checks) = (judged.peak_current(), judged.checks());
            Draft { legs, duty: of_bridge.clone(), peak_current, checks }
        };
        // A shorter trial where the full one goes too far or lasts too long.
        let (last, fuller) = self.request.tries.split_last().unwrap_or((&1.0, &[]));
        let full = fuller.iter().map(|constants| draft(*constants)).find(Draft::stands);
        full.unwrap_or_else(|| draft(*last))
    }

    /// PWM periods between rows, as the sample rate has it.
    fn every(&self, periods: f64) -> Result<u64, CannotPlan> {
        let fault = |why: String| CannotPlan::Input { trial: self.request.name.clone(), why };
        let frequency = self.set_up.frequency;
        let Some(rate) = self.request.sample_rate else {
            return Ok((periods as u64).div_ceil(ROWS).max(1));
        };
        if rate > frequency * (1.0 + 1e-9) {
            return Err(fault(format!(
                "its `sample_rate` is {rate} Hz, and a log has one row in a PWM period at most: {frequency} Hz"
            )));
        }
        let every = (frequency / rate).round().max(1.0);
        let rows = periods / every;
        if rows > MOST_ROWS {
            return Err(fault(format!(
                "its log would have {rows:.1e} rows, and {MOST_ROWS:.0e} are the most; lower its `sample_rate`, or make it \
                 shorter"
            )));
        }
        Ok(every as u64)
    }
}

/// The limit that trips first in a locked rotor: the lowest of those that switch off and are simulated.
fn limit_to_trip(axis: &Axis) -> Result<LimitInForce, CannotPlan> {
    let lowest = simulated(axis).into_iter().filter(trips);
    let lowest = lowest.min_by(|a, b| a.threshold.value().total_cmp(&b.threshold.value()));
    lowest.ok_or_else(|| CannotPlan::NotThisAxis {
        axis: axis.name.to_string(),
        why: "has no limit that trips: nothing of its board would end a stall but a chopper, if it has one"
            .to_owned(),
    })
}

/// Longest time that a limit waits, s.
fn longest_delay(limit: &LimitInForce) -> f64 {
    delay(limit).worst_case().map_or(0.0, |(_, high)| high)
}

/// Duties that are tried, the largest first.
fn twentieths() -> impl Iterator<Item = f64> {
    (1..=DUTY_STEPS).rev().map(|step| f64::from(step) / f64::from(DUTY_STEPS))
}

/// What to change where the lowest duty fails.
fn advice(least: &Draft) -> Vec<String> {
    least.checks.iter().filter(|check| check.stand != Stand::Holds).map(Check::advice).collect()
}

/// A number that the plan takes as it stands.
pub(crate) fn stated(si: f64, path: &str, name: &str) -> Worked {
    Input::new(path, name, "U_s", Dimension::VOLTAGE).value(si).origin(Origin::assumed(name)).worked()
}

#[cfg(test)]
mod tests;

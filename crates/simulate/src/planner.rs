//! The duty of a trial: the one that somebody asks for, or the best that every check allows.

use crate::axis::Figures;
use crate::course::{Drive, Leg, reach};
use crate::judge::{Check, Judged, Limits, Stand};
use crate::plan::Ground;
use crate::prepared::Prepared;
use crate::set_up::{SetUp, Unusable};
use crate::surroundings::simulated;
use crate::trial::{CannotPlan, Request, Shaft, WayOut, Wish};
use bench::Bench;
use bench::model::{Axis, LimitInForce};
use drive::assembly::Bus;
use drive::assembly::limits::{delay, trips};
use drive::bridge::OffState;
use worked::{Dimension, Input, Origin, Worked};

/// Steps in which a duty is looked for.
const DUTY_STEPS: u32 = 20;
/// A plan at one duty.
pub(crate) struct Draft {
    pub(crate) legs: Vec<Leg>,
    pub(crate) duty: Worked,
    pub(crate) peak_current: Worked,
    pub(crate) checks: Vec<Check>,
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
pub(crate) struct Found {
    pub(crate) amount: f64,
    pub(crate) draft: Draft,
    pub(crate) way_out: WayOut,
}

/// What stays the same whatever the duty is.
pub(crate) struct Planner<'a> {
    pub(crate) axis: &'a Axis,
    pub(crate) request: &'a Request,
    pub(crate) shaft: Shaft,
    pub(crate) figures: Figures,
    pub(crate) bus: Option<Bus>,
    pub(crate) set_up: SetUp,
    /// Time constants of winding and shaft at nominal values, s.
    pub(crate) electrical: f64,
    pub(crate) mechanical: f64,
    pub(crate) stop_time: Option<f64>,
    pub(crate) drive: Drive,
    /// Somebody asked for the duty.
    pub(crate) asked_for: bool,
    /// The limit that is to trip.
    pub(crate) trips: Option<LimitInForce>,
}

impl<'a> Planner<'a> {
    pub(crate) fn new(
        bench: &Bench,
        axis: &'a Axis,
        request: &'a Request,
        wish: Wish,
    ) -> Result<Self, CannotPlan> {
        let held = matches!(request.shaft, Shaft::Held);
        let shaft = if wish.free && !held { Shaft::Free } else { request.shaft.clone() };
        let Prepared { figures, bus, set_up } =
            Prepared::of(bench, axis, &shaft, request.winding.as_ref(), request.supply.as_ref())?;
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
    pub(crate) fn found(&self, wished: Option<f64>) -> Result<Found, CannotPlan> {
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

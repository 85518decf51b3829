//! How warm a winding gets over its cycles: two bodies, each stretch exact, the cycle's steady state as the solution of
//! two linear equations. The current rises with the magnets' warmth, so that is found by repetition.

use crate::cycle::Cycle;
use crate::demand::{Demand, demands};
use crate::plant::Plant;
use drive::heat::Heat;
use drive::heat::body::TwoBody;
use drive::heat::cycle::Passage;

/// Most rounds until winding and current agree.
const ROUNDS: usize = 60;
/// Agreement, K.
const AGREED: f64 = 1e-5;
/// Part of its limit at which a winding counts as running away whatever comes after.
const HOPELESS: f64 = 4.0;
/// Times that a passage is doubled: 2^60 cycles are for ever.
const DOUBLINGS: usize = 60;

/// A winding over cycles that repeat for ever.
#[derive(Clone, PartialEq, Debug)]
pub struct Warmth {
    /// Highest temperature of the winding in a cycle, K.
    pub hottest: f64,
    /// Lowest temperature of the winding in a cycle, K.
    pub coolest: f64,
    /// Mean temperature of the winding, K.
    pub mean: f64,
    /// Highest temperature of the case, K.
    pub case: f64,
    /// Temperatures at the ends of its stretches, K, each with its time from the start of the cycle, s.
    pub course: Vec<(f64, TwoBody)>,
    /// Effective current with its ripple, A.
    pub current: f64,
    /// What each moment takes, that warm.
    pub demands: Vec<Demand>,
}

/// A winding that no number of cycles brings to rest: each leaves it warmer.
#[derive(Clone, PartialEq, Debug)]
pub(crate) struct Runaway {
    /// What each moment takes with the winding at its limit.
    pub(crate) demands: Vec<Demand>,
}

/// Effective current over a cycle.
pub(crate) fn effective(demands: &[Demand], time: f64) -> f64 {
    let squares: f64 = demands.iter().map(|d| d.heating_current * d.heating_current * d.moment.lasts).sum();
    (squares / time).sqrt()
}

/// The steady state of a cycle; `Err` where there is none. Not a number where a datum is missing.
/// `guess` is where to begin: a winding near by.
pub(crate) fn steady(plant: &Plant, cycle: &Cycle, guess: f64) -> Result<Warmth, Box<Runaway>> {
    let heat = plant.heat();
    let mut winding = guess;
    for _ in 0..ROUNDS {
        let demands = demands(plant, cycle, winding);
        let each = passages(&heat, plant.ambient, &demands);
        let whole = each.iter().fold(Passage::none(plant.ambient), |before, (_, next)| before.then(next));
        let Some(start) = whole.steady() else { break };
        let warmth = courses(plant.ambient, start, &each, demands, cycle.time);
        let moved = (warmth.mean - winding).abs();
        winding = warmth.mean;
        // Also where a datum is missing, and it is not a number.
        if moved <= AGREED || moved.is_nan() {
            return Ok(warmth);
        }
        // Weaker magnets take more current, which warms them more: beyond this there is no winding any more.
        if winding > HOPELESS * heat.thermal.limit {
            break;
        }
    }
    Err(Box::new(Runaway { demands: demands(plant, cycle, heat.thermal.limit) }))
}

/// A winding on its way from cold.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Warming {
    /// Time at the end of a cycle, s.
    pub(crate) time: f64,
    /// Highest winding temperature of that cycle, K.
    pub(crate) hottest: f64,
    /// Case at its end, K.
    pub(crate) case: f64,
}

/// Cycles from cold until nothing changes any more, so many of them, spread evenly on a logarithmic scale.
pub(crate) fn warming(heat: &Heat<f64>, ambient: f64, demands: &[Demand], points: u32) -> Vec<Warming> {
    let time: f64 = demands.iter().map(|d| d.moment.lasts).sum();
    let each = passages(heat, ambient, demands);
    let cycle = each.iter().fold(Passage::none(ambient), |before, (_, next)| before.then(next));
    let last = (6.0 * (heat.thermal.case_time + heat.thermal.winding_time) / time).max(2.0);
    let (mut state, mut done) = (TwoBody::at_rest(ambient), 0.0);
    let mut found = Vec::new();
    for k in 0..points {
        let wanted = libm::floor(libm::exp(libm::log(last) * f64::from(k) / f64::from(points - 1)));
        while done + 1.0 < wanted {
            // The largest power of two of cycles that does not go beyond.
            let mut power = (cycle, 1.0);
            while done + 2.0 * power.1 < wanted {
                power = (power.0.then(&power.0), 2.0 * power.1);
            }
            state = power.0.after(state);
            done += power.1;
        }
        if done < wanted {
            let hottest = hottest(&each, state);
            state = cycle.after(state);
            done += 1.0;
            found.push(Warming { time: done * time, hottest, case: state.case });
        }
    }
    found
}

/// Time until the winding first reaches its limit, s, at the currents of these demands: zero where it begins there,
/// infinite where it never does.
pub(crate) fn time_to_limit(heat: &Heat<f64>, ambient: f64, demands: &[Demand], start: TwoBody) -> f64 {
    let limit = heat.thermal.limit;
    let time: f64 = demands.iter().map(|d| d.moment.lasts).sum();
    if start.winding >= limit {
        return 0.0;
    }
    let each = passages(heat, ambient, demands);
    let passes = |start: TwoBody| hottest(&each, start) >= limit;
    // Powers of two of the cycle, the largest first: as many whole cycles as stay below.
    let mut doubled = vec![passage(heat, ambient, demands)];
    for k in 0..DOUBLINGS {
        let next = doubled[k].then(&doubled[k]);
        doubled.push(next);
    }
    let (mut state, mut cycles) = (start, 0.0);
    for (k, power) in doubled.iter().enumerate().rev() {
        let after = power.after(state);
        // The winding gets warmer from cycle to cycle, or cooler: either way whoever stays below at both ends does between.
        if !passes(after) && !passes(state) {
            (state, cycles) = (after, cycles + libm::exp2(k as f64));
        }
    }
    if cycles >= libm::exp2(DOUBLINGS as f64) {
        return f64::INFINITY;
    }
    if !passes(state) {
        state = doubled[0].after(state);
        cycles += 1.0;
    }
    cycles * time + time_within(heat, ambient, demands, state)
}

fn time_within(heat: &Heat<f64>, ambient: f64, demands: &[Demand], mut state: TwoBody) -> f64 {
    let mut passed = 0.0;
    for d in demands.iter().filter(|d| d.moment.lasts > 0.0) {
        let left = state.time_to_limit(heat, d.heating_current, ambient);
        if left <= d.moment.lasts {
            return passed + left;
        }
        state = state.after(heat, d.heating_current, ambient, d.moment.lasts);
        passed += d.moment.lasts;
    }
    passed
}

/// Highest winding temperature of one cycle from a start.
fn hottest(each: &[(f64, Passage)], start: TwoBody) -> f64 {
    let (_, hottest) = each.iter().fold((start, start.winding), |(state, hottest), (_, passage)| {
        let next = passage.after(state);
        (next, hottest.max(next.winding))
    });
    hottest
}

/// Effective currents one after another, and how long each lasts; equal ones are one.
fn runs(demands: &[Demand]) -> Vec<(f64, f64)> {
    let mut runs: Vec<(f64, f64)> = Vec::with_capacity(demands.len());
    for d in demands.iter().filter(|d| d.moment.lasts > 0.0) {
        match runs.last_mut() {
            Some((current, lasts)) if *current == d.heating_current => *lasts += d.moment.lasts,
            _ => runs.push((d.heating_current, d.moment.lasts)),
        }
    }
    runs
}

fn passages(heat: &Heat<f64>, ambient: f64, demands: &[Demand]) -> Vec<(f64, Passage)> {
    let passage = |(current, lasts): (f64, f64)| (lasts, Passage::at(heat, current, ambient, lasts));
    runs(demands).into_iter().map(passage).collect()
}

fn passage(heat: &Heat<f64>, ambient: f64, demands: &[Demand]) -> Passage {
    let each = passages(heat, ambient, demands);
    each.iter().fold(Passage::none(ambient), |before, (_, next)| before.then(next))
}

fn courses(ambient: f64, start: TwoBody, each: &[(f64, Passage)], demands: Vec<Demand>, time: f64) -> Warmth {
    let mut course = Vec::with_capacity(each.len());
    let (mut state, mut sum, mut at) = (start, 0.0, 0.0);
    let (mut hottest, mut coolest, mut case) = (start.winding, start.winding, start.case);
    for (lasts, passage) in each {
        let next = passage.after(state);
        // Within a stretch it is all but straight, or the whole is steady.
        sum += 0.5 * (state.winding + next.winding) * lasts;
        at += lasts;
        (hottest, coolest) = (hottest.max(next.winding), coolest.min(next.winding));
        case = case.max(next.case);
        course.push((at, next));
        state = next;
    }
    // Where a datum is missing nothing of it is known.
    let known = if state.winding.is_nan() { f64::NAN } else { 0.0 };
    Warmth {
        hottest: hottest + known,
        coolest: coolest + known,
        mean: if time > 0.0 { sum / time } else { ambient },
        case: case + known,
        course,
        current: effective(&demands, time),
        demands,
    }
}

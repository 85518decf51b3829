//! The exact solver: clauses for a solver from the registry, a matching beside it, one aim after the other.

mod beside;
mod clauses;
mod conflict;
mod costs;
mod counters;
mod encode;
mod matching;
mod optimum;
mod shortage;
mod totalizer;

use crate::aim::Aim;
use crate::plan::{Conflict, Outcome, Plan, Seated, Solved};
use crate::problem::Problem;
use crate::reason::Reason;
use batsat::Lit;
use clauses::End;
use encode::Model;
use optimum::{Ended, Found};
use shortage::shortage;
use std::time::{Duration, Instant};

/// When a search is given up; the best plan so far is then taken.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Limit {
    /// Never: the answer is proven.
    Never,
    /// After a time. Then the answer depends on the machine.
    Time(Duration),
    /// After so many steps of the search, which is the same on every machine.
    Steps(u64),
}

impl Limit {
    fn end(self) -> End {
        match self {
            Self::Never => End::Never,
            Self::Time(time) => Instant::now().checked_add(time).map_or(End::Never, End::At),
            Self::Steps(steps) => End::AfterSteps(steps),
        }
    }
}

/// Lines up to which a shortage of pins is left to the search, which also tells the ways out.
const MOST_SEARCHED: usize = 120;

/// Finds the best plan, or why there is none. Except under a limit of time the answer is the same on every run.
pub(crate) fn solve(problem: &Problem, limit: Limit) -> Outcome {
    let end = limit.end();
    if problem.lines.len() > MOST_SEARCHED
        && let Some(lines) = shortage(problem)
    {
        let reasons = lines.into_iter().map(Reason::Connected).collect();
        return Outcome::Conflict(Conflict { reasons, minimal: false, ways_out: Vec::new() });
    }
    let mut model = Model::new(problem, false, end);
    let firm = firm(problem, &model);
    match model.best(problem, &firm) {
        Ended::Best(found) => Outcome::Plan(Box::new(solved(problem, &model, found, true))),
        Ended::OutOfTime(Some(found)) => Outcome::Plan(Box::new(solved(problem, &model, found, false))),
        Ended::OutOfTime(None) => Outcome::OutOfTime,
        Ended::Conflict => conflict::explain(problem, end),
    }
}

/// What the best plan costs, aim by aim, or that there is none; `Err` where it was given up.
pub(crate) fn best_price(problem: &Problem, limit: Limit) -> Result<Option<Vec<(Aim, usize)>>, GivenUp> {
    let mut model = Model::new(problem, false, limit.end());
    let firm = firm(problem, &model);
    match model.cheapest(problem, &firm) {
        Ended::Best(found) => Ok(Some(least(problem, &found))),
        Ended::Conflict => Ok(None),
        Ended::OutOfTime(_) => Err(GivenUp),
    }
}

/// A search came to its limit before its answer.
pub(crate) struct GivenUp;

/// What holds where nobody gives anything up: all reasons stand, and required lines have a pin.
fn firm(problem: &Problem, model: &Model) -> Vec<Lit> {
    let required = (0..problem.lines.len()).filter(|line| problem.lines[*line].required);
    let reasons = model.reasons.iter().map(|(literal, _)| *literal);
    reasons.chain(required.map(|line| !model.left_out[line])).collect()
}

/// What was proven, in wires that are laid. The search counts every seat that a line leaves; of several seats that plugs
/// give one line it leaves all but one without a wire.
fn least(problem: &Problem, found: &Found) -> Vec<(Aim, usize)> {
    let idle = |line: usize| problem.seats_of(line).count().saturating_sub(1);
    let placed = (0..problem.lines.len()).filter(|line| found.taken[*line].is_some());
    let idle: usize = placed.map(idle).sum();
    let in_wires = |(aim, count): &(Aim, usize)| match aim {
        Aim::Wires => (*aim, count.saturating_sub(idle)),
        _ => (*aim, *count),
    };
    found.least.iter().map(in_wires).collect()
}

fn solved(problem: &Problem, model: &Model, found: Found, proven: bool) -> Solved {
    let seated = |(line, taken): (usize, &Option<usize>)| {
        let choice = &model.choices[line][(*taken)?];
        Some(Seated { pin: choice.pin, ability: choice.ability, way: choice.way, swapped: choice.swapped })
    };
    let lines = found.taken.iter().enumerate().map(seated).collect();
    let ports = found.ports.iter().zip(&problem.plugs).map(|(at, plug)| plug.ports[*at]).collect();
    let least = least(problem, &found);
    Solved { plan: Plan { lines, ports }, least, proven: proven && found.settled, free: found.free }
}

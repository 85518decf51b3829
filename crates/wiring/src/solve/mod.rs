//! The exact solver: clauses for a solver from the registry, a matching beside it, one aim after the other.

mod beside;
mod clauses;
mod conflict;
mod costs;
mod counters;
mod encode;
mod matching;
mod optimum;
mod totalizer;

use crate::aim::Aim;
use crate::plan::{Outcome, Plan, Seated, Solved};
use crate::problem::Problem;
use batsat::Lit;
use encode::Model;
use optimum::{Ended, Found};
use std::time::{Duration, Instant};

/// Finds the best plan, or why there is none. Without a time limit the answer is always proven, and the same on
/// every run.
pub fn solve(problem: &Problem, limit: Option<Duration>) -> Outcome {
    let until = limit.map(|limit| Instant::now() + limit);
    let mut model = Model::new(problem, false, until);
    let firm = firm(problem, &model);
    match model.best(problem, &firm) {
        Ended::Best(found) => Outcome::Plan(Box::new(solved(problem, &model, found, true))),
        Ended::OutOfTime(Some(found)) => Outcome::Plan(Box::new(solved(problem, &model, found, false))),
        Ended::OutOfTime(None) => Outcome::OutOfTime,
        Ended::Conflict => conflict::explain(problem, until),
    }
}

/// What the best plan costs, aim by aim; `None` where there is no plan.
pub(crate) fn best_price(problem: &Problem) -> Option<Vec<(Aim, usize)>> {
    let mut model = Model::new(problem, false, None);
    let firm = firm(problem, &model);
    match model.best(problem, &firm) {
        Ended::Best(found) => Some(found.least),
        _ => None,
    }
}

/// What holds where nobody gives anything up: all reasons stand, and required lines have a pin.
fn firm(problem: &Problem, model: &Model) -> Vec<Lit> {
    let required = (0..problem.lines.len()).filter(|line| problem.lines[*line].required);
    let reasons = model.reasons.iter().map(|(literal, _)| *literal);
    reasons.chain(required.map(|line| !model.left_out[line])).collect()
}

fn solved(problem: &Problem, model: &Model, found: Found, proven: bool) -> Solved {
    let seated = |(line, taken): (usize, &Option<usize>)| {
        let choice = &model.choices[line][(*taken)?];
        Some(Seated { pin: choice.pin, ability: choice.ability, way: choice.way, swapped: choice.swapped })
    };
    let lines = found.taken.iter().enumerate().map(seated).collect();
    let ports = found.ports.iter().zip(&problem.plugs).map(|(at, plug)| plug.ports[*at]).collect();
    Solved {
        plan: Plan { lines, ports },
        least: found.least,
        proven: proven && found.settled,
        free: found.free,
    }
}

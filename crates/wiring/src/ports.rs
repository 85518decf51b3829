//! Plugs that may sit on several ports where the port decides which lines are at risk: every way to plug them in is
//! solved by itself, and the best of all is the answer.

use crate::aim::Aim;
use crate::plan::{Outcome, Solved};
use crate::problem::Problem;
use crate::solve::{self, GivenUp, Limit};
use crate::verify::price;

/// Finds the best plan, or why there is none. Except under a limit of time the answer is the same on every run.
pub fn solve(problem: &Problem, limit: Limit) -> Outcome {
    if problem.risks.is_empty() {
        return solve::solve(problem, limit);
    }
    let mut best: Option<Solved> = None;
    let mut given_up = false;
    for way in ways(problem) {
        match solve::solve(&way, limit) {
            Outcome::Plan(found) => {
                given_up |= !found.proven;
                best = Some(match best {
                    Some(best) => better(problem, best, *found),
                    None => *found,
                });
            }
            Outcome::Conflict(_) => {}
            Outcome::OutOfTime => given_up = true,
        }
    }
    match best {
        Some(mut best) => {
            if given_up {
                best.proven = false;
                best.least.clear();
            }
            Outcome::Plan(Box::new(best))
        }
        None if given_up => Outcome::OutOfTime,
        // What is at risk takes no part in a conflict, so all ways are explained at once.
        None => solve::solve(problem, limit),
    }
}

/// The cheaper of two plans, the earlier where they cost the same; a line that lies elsewhere in the other is then free.
fn better(problem: &Problem, one: Solved, other: Solved) -> Solved {
    match price(problem, &one.plan).cmp(&price(problem, &other.plan)) {
        std::cmp::Ordering::Less => one,
        std::cmp::Ordering::Greater => other,
        std::cmp::Ordering::Equal => {
            let pin = |of: &Solved, line: usize| of.plan.lines[line].map(|seat| seat.pin);
            let free =
                |line: usize| one.free[line] || other.free[line] || pin(&one, line) != pin(&other, line);
            let free = (0..one.free.len()).map(free).collect();
            Solved { free, ..one }
        }
    }
}

/// What the best plan costs, aim by aim, or that there is none; `Err` where it was given up.
pub(crate) fn best_price(problem: &Problem, limit: Limit) -> Result<Option<Vec<(Aim, usize)>>, GivenUp> {
    if problem.risks.is_empty() {
        return solve::best_price(problem, limit);
    }
    let mut best: Option<Vec<(Aim, usize)>> = None;
    for way in ways(problem) {
        best = match (best, solve::best_price(&way, limit)?) {
            (Some(one), Some(other)) => Some(one.min(other)),
            (one, other) => one.or(other),
        };
    }
    Ok(best)
}

/// The problem with every plug on one of its ports, in the order of the file; risks have then become unsafe pins.
pub(crate) fn ways(problem: &Problem) -> Vec<Problem> {
    let mut all = vec![problem.clone()];
    for plug in 0..problem.plugs.len() {
        let on = |way: &Problem, port: usize| {
            let mut way = way.clone();
            way.plugs[plug].ports = vec![port];
            way
        };
        let ports = &problem.plugs[plug].ports;
        all = all.iter().flat_map(|way| ports.iter().map(|port| on(way, *port))).collect();
        // Two plugs on one port are no way; where nothing else is left, that is the conflict.
        all.retain(|way| way.plugs[..plug].iter().all(|other| other.ports != way.plugs[plug].ports));
    }
    for way in &mut all {
        for risk in std::mem::take(&mut way.risks) {
            if way.plugs[risk.plug].ports == [risk.port] {
                way.lines[risk.line].unsafe_at.push(risk.pin);
            }
        }
    }
    all
}

//! How firm each pin of a plan is: whether the line could lie elsewhere, and what that would cost.

use crate::aim::Aim;
use crate::plan::Solved;
use crate::problem::Problem;
use crate::solve::best_price;

/// Lines up to which each is tried elsewhere; every one of them is a search of its own.
const MOST_LINES: usize = 40;

/// How firm the pin of a line is.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Firm {
    /// No plan puts it elsewhere.
    Only,
    /// Another pin would be as good.
    Equal,
    /// Elsewhere the best plan has so many more of this, and as few of all weightier ones.
    Costs(Aim, usize),
}

/// How firm the pin of each line is, `None` for lines that are left out; nothing for benches of more than forty lines
/// or plans that are not proven.
pub(crate) fn firm(problem: &Problem, solved: &Solved) -> Option<Vec<Option<Firm>>> {
    if !solved.proven || problem.lines.len() > MOST_LINES {
        return None;
    }
    let each = solved.plan.lines.iter().enumerate().map(|(line, seat)| {
        seat.map(
            |seat| if solved.free[line] { Firm::Equal } else { elsewhere(problem, solved, line, seat.pin) },
        )
    });
    Some(each.collect())
}

fn elsewhere(problem: &Problem, solved: &Solved, line: usize, pin: usize) -> Firm {
    let mut other = problem.clone();
    other.lines[line].unfit.push(pin);
    let Some(price) = best_price(&other) else { return Firm::Only };
    let dearer = solved.least.iter().zip(&price).find(|((_, now), (_, then))| now != then);
    dearer.map_or(Firm::Equal, |((aim, now), (_, then))| Firm::Costs(*aim, then.saturating_sub(*now)))
}

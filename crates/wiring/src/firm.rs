//! How firm each pin of a plan is: whether the line could lie elsewhere, and what that would cost.

use crate::aim::Aim;
use crate::plan::Solved;
use crate::ports::best_price;
use crate::problem::Problem;
use crate::solve::Limit;

/// Lines up to which each is tried elsewhere; every one of them is a search of its own.
const MOST_LINES: usize = 40;

/// Steps after which the search for another place of a line is given up.
const STEPS: u64 = 20_000;

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

/// How firm the pin of each line is, `None` for lines that are left out and where the search was given up; nothing for
/// benches of more than forty lines or plans that are not proven.
pub(crate) fn firm(problem: &Problem, solved: &Solved) -> Option<Vec<Option<Firm>>> {
    if !solved.proven || problem.lines.len() > MOST_LINES {
        return None;
    }
    let each = solved.plan.lines.iter().enumerate().map(|(line, seat)| match seat {
        Some(_) if solved.free[line] => Some(Firm::Equal),
        Some(seat) => elsewhere(problem, solved, line, seat.pin),
        None => None,
    });
    Some(each.collect())
}

fn elsewhere(problem: &Problem, solved: &Solved, line: usize, pin: usize) -> Option<Firm> {
    let mut other = problem.clone();
    other.lines[line].unfit.push(pin);
    let price = match best_price(&other, Limit::Steps(STEPS)) {
        Ok(Some(price)) => price,
        Ok(None) => return Some(Firm::Only),
        Err(_) => return None,
    };
    let dearer = solved.least.iter().zip(&price).find(|((_, now), (_, then))| now != then);
    Some(dearer.map_or(Firm::Equal, |((aim, now), (_, then))| Firm::Costs(*aim, then.saturating_sub(*now))))
}

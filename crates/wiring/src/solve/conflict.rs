//! Why there is no plan: a smallest set of reasons, and which single one would be enough to give up.

use super::clauses::{Answer, End};
use super::encode::Model;
use crate::plan::{Conflict, Outcome};
use crate::problem::{Need, Problem};
use crate::reason::Reason;
use batsat::Lit;

/// Explains a problem without a plan. Every reason is tried: one that can be dropped while the rest still leaves no
/// plan is dropped, so that at the end each is needed.
pub(super) fn explain(problem: &Problem, end: End) -> Outcome {
    let mut model = Model::new(problem, true, end);
    for line in (0..problem.lines.len()).filter(|line| problem.lines[*line].required) {
        let literal = !model.left_out[line];
        model.reasons.push((literal, Reason::Connected(line)));
    }
    let all: Vec<Lit> = model.reasons.iter().map(|(literal, _)| *literal).collect();
    let core = match model.clauses.ask(&all) {
        Answer::No(core) => core,
        _ => return Outcome::OutOfTime,
    };
    let (core, minimal) = smallest(&mut model, core);
    let reasons = core.iter().filter_map(|literal| named(&model, *literal)).collect();
    let ways_out = ways_out(problem, &mut model, &all, &core);
    Outcome::Conflict(Conflict { reasons, minimal, ways_out })
}

fn named(model: &Model, literal: Lit) -> Option<Reason> {
    model.reasons.iter().find(|(known, _)| *known == literal).map(|(_, reason)| *reason)
}

/// Leaves out what is not needed; `false` beside it where the time ran out before all were tried.
fn smallest(model: &mut Model, mut core: Vec<Lit>) -> (Vec<Lit>, bool) {
    // Lines are tried first: what is left then speaks of few lines and of what stands in their way.
    let order = |model: &Model, literal: &Lit| {
        (!matches!(named(model, *literal), Some(Reason::Connected(_))), *literal)
    };
    core.sort_by_key(|literal| order(model, literal));
    let mut needed: Vec<Lit> = Vec::new();
    while let Some(tried) = core.pop() {
        let rest: Vec<Lit> = needed.iter().chain(&core).copied().collect();
        match model.clauses.ask(&rest) {
            Answer::Yes => needed.push(tried),
            Answer::No(smaller) => core.retain(|literal| smaller.contains(literal)),
            Answer::Open => {
                needed.extend(core);
                needed.push(tried);
                return (needed, false);
            }
        }
    }
    needed.sort_by_key(|literal| order(model, literal));
    (needed, true)
}

/// For each reason of the conflict the cheapest that has to be given up with it, as far as a greedy search finds it:
/// as long as the rest leaves no plan, the cheapest reason of that conflict goes as well. What turns out not to be
/// needed is taken back.
fn ways_out(problem: &Problem, model: &mut Model, all: &[Lit], core: &[Lit]) -> Vec<Vec<Reason>> {
    let mut found: Vec<Vec<Reason>> = Vec::new();
    for first in core {
        if let Some(given_up) = way_out(problem, model, all, *first) {
            let reasons: Vec<Reason> = given_up.iter().filter_map(|literal| named(model, *literal)).collect();
            let same = |known: &Vec<Reason>| {
                known.len() == reasons.len() && reasons.iter().all(|r| known.contains(r))
            };
            if !found.iter().any(same) {
                found.push(reasons);
            }
        }
    }
    found.sort_by_key(|reasons| reasons.iter().map(|reason| reason.price()).sum::<u32>());
    found
}

/// More than so many reasons at once are no way out that anybody would take.
const MOST_GIVEN_UP: usize = 6;

fn way_out(problem: &Problem, model: &mut Model, all: &[Lit], first: Lit) -> Option<Vec<Lit>> {
    let mut given_up = vec![first];
    // A line of an encoder alone is seldom enough: the others would still need the counter.
    if let Some(Reason::Connected(line)) = named(model, first)
        && let Need::Count { encoder, .. } = problem.lines[line].need
    {
        let others = problem.encoders[encoder].lines.iter().filter(|other| **other != line);
        given_up.extend(others.map(|other| !model.left_out[*other]).filter(|literal| all.contains(literal)));
    }
    let rest = |given_up: &[Lit]| {
        all.iter().copied().filter(|literal| !given_up.contains(literal)).collect::<Vec<_>>()
    };
    loop {
        match model.clauses.ask_patiently(&rest(&given_up)) {
            Answer::Yes => break,
            Answer::Open => return None,
            Answer::No(_) if given_up.len() >= MOST_GIVEN_UP => return None,
            Answer::No(core) => {
                let price = |literal: &Lit| named(model, *literal).map(Reason::price);
                let cheapest = core.iter().copied().min_by_key(|literal| (price(literal), *literal))?;
                given_up.push(cheapest);
            }
        }
    }
    for literal in given_up.clone().into_iter().skip(1) {
        let fewer: Vec<Lit> = given_up.iter().copied().filter(|other| *other != literal).collect();
        match model.clauses.ask_patiently(&rest(&fewer)) {
            Answer::Yes => given_up = fewer,
            Answer::No(_) => {}
            Answer::Open => return None,
        }
    }
    // The first may have been overtaken by the others; then it is another way, found from one of them.
    let others: Vec<Lit> = given_up.iter().copied().skip(1).collect();
    (model.clauses.ask_patiently(&rest(&others)) != Answer::Yes).then_some(given_up)
}

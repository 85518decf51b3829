//! What is kept beside the clauses while the search runs: groups of which one at most holds, loads, and matchings.

use super::matching::{Matching, is_open};
use batsat::theory::{Theory, TheoryArg};
use batsat::{Lit, lbool};
use std::cell::Cell;
use std::rc::Rc;

/// Groups and matchings, as the solver asks for them.
#[derive(Default)]
pub(super) struct Beside {
    /// Of each of these one at most holds.
    groups: Vec<Vec<Lit>>,
    /// Groups of each variable.
    groups_of: Vec<Vec<u32>>,
    loads: Vec<Load>,
    matchings: Vec<Matching>,
    /// Whether places that a group needs for itself are left open to others: looking ahead takes time.
    pub(super) hasty: bool,
    /// Matchings in which a variable takes part.
    matchings_of: Vec<Vec<u32>>,
    /// Whether something changed since a matching was mended.
    stale: Vec<bool>,
    /// What of the trail has been looked at, now and when each level began.
    seen: usize,
    levels: Vec<usize>,
    /// Why a variable was ruled out.
    because: Vec<Because>,
    /// Choices ruled out for good when matchings last forgot them.
    forgotten: usize,
    clause: Vec<Lit>,
    /// Steps of the search so far.
    steps: Rc<Cell<u64>>,
}

/// Steps of the search from one look ahead to the next. To see that a place is needed by a group costs ten times what it
/// costs to see that a group has too few, and most that it closes would be found out later in few steps.
const LOOKS_AHEAD_EVERY: u64 = 10;

/// Literals that weigh, of which so much holds at most as long as a reason stands.
struct Load {
    weights: Vec<(Lit, f64)>,
    room: f64,
    reason: Lit,
}

/// Literals that together rule out a choice.
#[derive(Clone)]
enum Because {
    One(Lit),
    All(Rc<[Lit]>),
}

impl Beside {
    /// A counter of the steps of the search.
    pub(super) fn done(&self) -> Rc<Cell<u64>> {
        self.steps.clone()
    }

    /// Of these literals one at most holds.
    pub(super) fn at_most_one(&mut self, literals: &[Lit]) {
        for literal in literals {
            list(&mut self.groups_of, *literal).push(self.groups.len() as u32);
        }
        self.groups.push(literals.to_vec());
    }

    /// What holds of these weighs no more than there is room for, unless the reason is dropped.
    pub(super) fn at_most(&mut self, weights: Vec<(Lit, f64)>, room: f64, reason: Lit) {
        self.loads.push(Load { weights, room, reason });
    }

    /// Every answer keeps to this matching.
    pub(super) fn keep(&mut self, matching: Matching) {
        for literal in matching.literals() {
            let of = list(&mut self.matchings_of, literal);
            if of.last() != Some(&(self.matchings.len() as u32)) {
                of.push(self.matchings.len() as u32);
            }
        }
        self.matchings.push(matching);
        self.stale.push(true);
    }

    /// Forgets choices that are ruled out for good, where there are more of them than last time.
    pub(super) fn forget(&mut self, known: usize, is_open: &impl Fn(Lit) -> bool) {
        if known > self.forgotten {
            self.forgotten = known;
            for matching in &mut self.matchings {
                matching.forget(is_open);
            }
        }
    }

    /// Rules out the rest of each group of which one was taken; `false` where two were.
    fn single_out(&mut self, acts: &mut TheoryArg<'_>) -> bool {
        while self.seen < acts.model().len() {
            let taken = acts.model()[self.seen];
            self.seen += 1;
            let var = taken.var().idx() as usize;
            for matching in self.matchings_of.get(var).into_iter().flatten() {
                self.stale[*matching as usize] = true;
            }
            if !taken.sign() {
                continue;
            }
            for group in self.groups_of.get(var).into_iter().flatten() {
                for other in &self.groups[*group as usize] {
                    if *other != taken && is_open(acts.value(other.var()), *other) {
                        put(&mut self.because, *other, Because::One(taken));
                        if !acts.propagate(!*other) {
                            return false;
                        }
                    }
                }
            }
        }
        true
    }

    /// Rules out what would weigh too much; `false` where what holds does already.
    fn weigh(&mut self, acts: &mut TheoryArg<'_>) -> bool {
        for Load { weights, room, reason } in &self.loads {
            let holds = |acts: &TheoryArg<'_>, literal: Lit| !is_open(acts.value(literal.var()), !literal);
            if !holds(acts, *reason) {
                continue;
            }
            let on = weights.iter().filter(|(literal, _)| holds(acts, *literal));
            let weight: f64 = on.clone().map(|(_, more)| more).sum();
            let open = |acts: &TheoryArg<'_>, literal: Lit| acts.value(literal.var()) == lbool::UNDEF;
            let too_much = |(literal, more): &&(Lit, f64)| open(acts, *literal) && weight + more > *room;
            // Most steps change nothing here: only what closes something is written down.
            if weight <= *room && !weights.iter().any(|each| too_much(&each)) {
                continue;
            }
            let on: Vec<Lit> = on.map(|(literal, _)| *literal).chain([*reason]).collect();
            if weight > *room {
                self.clause.clear();
                self.clause.extend(on.iter().map(|literal| !*literal));
                acts.raise_conflict(&self.clause, true);
                return false;
            }
            let because: Rc<[Lit]> = on.into();
            for (literal, more) in weights {
                if open(acts, *literal) && weight + more > *room {
                    put(&mut self.because, *literal, Because::All(because.clone()));
                    if !acts.propagate(!*literal) {
                        return false;
                    }
                }
            }
        }
        true
    }

    /// Mends all matchings; raises a conflict at the first that cannot be.
    fn mend(&mut self, acts: &mut TheoryArg<'_>) {
        for (number, matching) in self.matchings.iter_mut().enumerate() {
            if !self.stale[number] {
                continue;
            }
            let open = |literal: Lit| is_open(acts.value(literal.var()), literal);
            let Some(budget) = matching.budget(&open) else { continue };
            let without = matching.mend(&open, budget.0);
            if without > budget.0 {
                matching.explain(&mut self.clause, budget.1);
                acts.raise_conflict(&self.clause, true);
                return;
            }
            self.stale[number] = false;
            if self.hasty || !self.steps.get().is_multiple_of(LOOKS_AHEAD_EVERY) {
                continue;
            }
            let mut closed: Vec<(Vec<Lit>, Rc<[Lit]>)> = Vec::new();
            matching.prune(&open, budget, without, &mut |barred, clause| {
                closed.push((barred.to_vec(), clause.iter().map(|literal| !*literal).collect()));
            });
            for (barred, because) in closed {
                for takes in barred {
                    let value = acts.value(takes.var());
                    if value == lbool::UNDEF {
                        put(&mut self.because, takes, Because::All(because.clone()));
                        acts.propagate(!takes);
                    } else if is_open(value, takes) {
                        // Seen late: all of it may have been so for levels, which only a clause can say.
                        self.clause.clear();
                        self.clause.extend(because.iter().chain([&takes]).map(|literal| !*literal));
                        acts.raise_conflict(&self.clause, true);
                        return;
                    }
                }
            }
        }
    }
}

fn list(lists: &mut Vec<Vec<u32>>, literal: Lit) -> &mut Vec<u32> {
    let var = literal.var().idx() as usize;
    if lists.len() <= var {
        lists.resize(var + 1, Vec::new());
    }
    &mut lists[var]
}

fn put(because: &mut Vec<Because>, literal: Lit, why: Because) {
    let var = literal.var().idx() as usize;
    if because.len() <= var {
        because.resize(var + 1, Because::All(Rc::new([])));
    }
    because[var] = why;
}

impl Theory for Beside {
    fn partial_check(&mut self, acts: &mut TheoryArg<'_>) {
        self.steps.set(self.steps.get() + 1);
        let before = acts.model().len();
        if self.single_out(acts) && self.weigh(acts) && acts.model().len() == before {
            self.mend(acts);
        }
    }

    fn final_check(&mut self, acts: &mut TheoryArg<'_>) {
        self.partial_check(acts);
    }

    fn create_level(&mut self) {
        self.levels.push(self.seen);
    }

    fn pop_levels(&mut self, n: usize) {
        let left = self.levels.len() - n;
        if n > 0 {
            self.seen = self.levels[left];
            self.levels.truncate(left);
        }
    }

    fn n_levels(&self) -> usize {
        self.levels.len()
    }

    fn explain_propagation(&mut self, ruled_out: Lit) -> &[Lit] {
        match &self.because[ruled_out.var().idx() as usize] {
            Because::One(taken) => std::slice::from_ref(taken),
            Because::All(all) => all,
        }
    }
}

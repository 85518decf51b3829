//! Each to a place of its own: matchings, kept beside the search.
//!
//! Clauses say that two lines never share a pin, but they cannot count: that ten lines do not fit onto nine pins
//! takes a search longer than anybody waits. So the search asks, whenever choices have been ruled out, whether the
//! lines can still be matched to pins, and the encoders to counters. Where they cannot, those that stand in each
//! other's way (Hall's theorem) are handed back as a clause, from which the search learns as from any other conflict.
//!
//! A matching may have a budget: so many may go without a place. Kept on places that cost nothing, it bounds from
//! below how many lines have to pay, which is how an aim is proven without going through all groups of lines.

use batsat::theory::{Theory, TheoryArg};
use batsat::{Lit, lbool};

/// Seekers, the places that are open to each, and a matching that is mended as choices fall away.
#[derive(Default)]
pub(super) struct Matching {
    seekers: Vec<Seeker>,
    /// For each place the literal that makes it serve one seeker at a time; `None` where that always holds.
    single: Vec<Option<Lit>>,
    /// How many may go without a place while a literal holds; without any, none may.
    budgets: Vec<(usize, Lit)>,
    /// Whether it is kept only while a budget holds.
    on_demand: bool,
    /// Seeker that holds a place.
    holder: Vec<Option<usize>>,
    /// Number of the last search that met a place.
    met: Vec<u32>,
    /// Number of the last mending in which a search that found nothing met a place.
    closed: Vec<u32>,
    search: u32,
    mending: u32,
    /// What the search has met.
    seekers_met: Vec<usize>,
    places_met: Vec<usize>,
    /// Seekers of all searches that found nothing.
    stuck: Vec<usize>,
}

/// Somebody who needs a place.
#[derive(Clone, Default)]
pub(super) struct Seeker {
    /// Places with the literals that take them.
    pub(super) edges: Vec<(usize, Lit)>,
    /// Literals any of which frees it from needing one.
    pub(super) excuses: Vec<Lit>,
    /// The edge that serves it.
    edge: Option<usize>,
}

impl Seeker {
    pub(super) fn new(edges: Vec<(usize, Lit)>, excuses: Vec<Lit>) -> Self {
        Self { edges, excuses, edge: None }
    }
}

impl Matching {
    /// A matching in which all have a place.
    pub(super) fn whole(seekers: Vec<Seeker>, single: Vec<Option<Lit>>) -> Self {
        let places = single.len();
        Self {
            seekers,
            single,
            holder: vec![None; places],
            met: vec![0; places],
            closed: vec![0; places],
            ..Self::default()
        }
    }

    /// A matching that is kept only while one of these literals holds, which lets so many go without a place.
    pub(super) fn within(seekers: Vec<Seeker>, single: Vec<Option<Lit>>, budgets: Vec<(usize, Lit)>) -> Self {
        Self { budgets, on_demand: true, ..Self::whole(seekers, single) }
    }

    /// How many go without a place at the least, for what is open now.
    pub(super) fn fewest_without(&mut self, is_open: &impl Fn(Lit) -> bool) -> usize {
        self.mend(is_open, usize::MAX)
    }

    /// Mends the matching as far as it goes; how many are left without a place, at most one more than allowed.
    fn mend(&mut self, is_open: &impl Fn(Lit) -> bool, allowed: usize) -> usize {
        self.mending += 1;
        self.stuck.clear();
        for seeker in 0..self.seekers.len() {
            self.check(is_open, seeker);
        }
        let mut without = 0;
        for seeker in 0..self.seekers.len() {
            if self.seekers[seeker].edge.is_some() {
                continue;
            }
            if self.is_excused(is_open, seeker) {
                continue;
            }
            self.search += 1;
            self.seekers_met.clear();
            self.places_met.clear();
            if !self.serve(is_open, seeker) {
                without += 1;
                for place in &self.places_met {
                    self.closed[*place] = self.mending;
                }
                self.stuck.extend(&self.seekers_met);
                if without > allowed {
                    return without;
                }
            }
        }
        without
    }

    fn is_excused(&self, is_open: &impl Fn(Lit) -> bool, seeker: usize) -> bool {
        self.seekers[seeker].excuses.iter().any(|excuse| is_open(*excuse))
    }

    /// Lets go of a place that is no longer open, or that another one holds now.
    fn check(&mut self, is_open: &impl Fn(Lit) -> bool, seeker: usize) {
        let Some(edge) = self.seekers[seeker].edge else { return };
        let (place, takes) = self.seekers[seeker].edges[edge];
        let holds = self.holder[place] == Some(seeker);
        if !is_open(takes) || !(holds || self.is_shared(is_open, place)) {
            self.seekers[seeker].edge = None;
            if holds {
                self.holder[place] = None;
            }
        }
    }

    fn is_shared(&self, is_open: &impl Fn(Lit) -> bool, place: usize) -> bool {
        self.single[place].is_some_and(|single| is_open(!single))
    }

    /// Finds a place for a seeker; others move on where they can.
    fn serve(&mut self, is_open: &impl Fn(Lit) -> bool, seeker: usize) -> bool {
        self.seekers_met.push(seeker);
        for free_only in [true, false] {
            for edge in 0..self.seekers[seeker].edges.len() {
                let (place, takes) = self.seekers[seeker].edges[edge];
                let seen = self.met[place] == self.search || self.closed[place] == self.mending;
                if seen || !is_open(takes) {
                    continue;
                }
                let shared = self.is_shared(is_open, place);
                match self.holder[place].filter(|_| !shared) {
                    None => {}
                    Some(_) if free_only => continue,
                    Some(other) => {
                        self.met[place] = self.search;
                        self.places_met.push(place);
                        if self.is_excused(is_open, other) {
                            self.seekers[other].edge = None;
                        } else if !self.serve(is_open, other) {
                            continue;
                        }
                    }
                }
                self.holder[place] = Some(seeker);
                self.seekers[seeker].edge = Some(edge);
                return true;
            }
        }
        false
    }

    /// The seekers that are stuck reach only places that they hold themselves, too few of them: one needs a choice
    /// that was ruled out, or an excuse, or a place that serves several, or a larger budget.
    fn explain(&self, clause: &mut Vec<Lit>, budget: Option<Lit>) {
        clause.clear();
        clause.extend(budget.map(|budget| !budget));
        for seeker in &self.stuck {
            let seeker = &self.seekers[*seeker];
            clause.extend(&seeker.excuses);
            for (place, takes) in &seeker.edges {
                if self.closed[*place] == self.mending {
                    clause.extend(self.single[*place].map(|single| !single));
                } else {
                    clause.push(*takes);
                }
            }
        }
        clause.sort_unstable();
        clause.dedup();
    }
}

/// All matchings of a problem, as the solver asks for them.
#[derive(Default)]
pub(super) struct Matchings {
    pub(super) all: Vec<Matching>,
    clause: Vec<Lit>,
    levels: usize,
}

impl Matchings {
    /// Mends all matchings; raises a conflict at the first that cannot be.
    fn mend(&mut self, acts: &mut TheoryArg<'_>) {
        for matching in &mut self.all {
            let is_open = |literal: Lit| is_open(acts.value(literal.var()), literal);
            let budget = matching.budgets.iter().find(|(_, literal)| !is_open(!*literal)).copied();
            if matching.on_demand && budget.is_none() {
                continue;
            }
            let allowed = budget.map_or(0, |(allowed, _)| allowed);
            if matching.mend(&is_open, allowed) > allowed {
                matching.explain(&mut self.clause, budget.map(|(_, literal)| literal));
                acts.raise_conflict(&self.clause, true);
                return;
            }
        }
    }
}

/// Whether a literal is not known to be false.
pub(super) fn is_open(value: lbool, literal: Lit) -> bool {
    value == lbool::UNDEF || (value == lbool::TRUE) == literal.sign()
}

impl Theory for Matchings {
    fn partial_check(&mut self, acts: &mut TheoryArg<'_>) {
        self.mend(acts);
    }

    fn final_check(&mut self, acts: &mut TheoryArg<'_>) {
        self.mend(acts);
    }

    fn create_level(&mut self) {
        self.levels += 1;
    }

    fn pop_levels(&mut self, n: usize) {
        self.levels -= n;
    }

    fn n_levels(&self) -> usize {
        self.levels
    }

    fn explain_propagation(&mut self, _: Lit) -> &[Lit] {
        unreachable!("matchings raise conflicts only")
    }
}

//! Each to a place of its own: matchings, kept beside the search.
//!
//! Clauses say that two lines never share a pin, but they cannot count: that ten lines do not fit onto nine pins
//! takes a search longer than anybody waits. So the search asks, whenever choices have been ruled out, whether the
//! lines can still be matched to pins, and the encoders to counters. Where they cannot, those that stand in each
//! other's way (Hall's theorem) are handed back as a clause, from which the search learns as from any other conflict.
//! Where they just can, the places that such a group needs for itself are closed to all others (Régin, "A filtering
//! algorithm for constraints of difference in CSPs", AAAI 1994).
//!
//! A matching may have a budget: so many may go without a place. Kept on places that cost nothing, it bounds from
//! below how many lines have to pay, which is how an aim is proven without going through all groups of lines.

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
    /// For each place the seekers that it is open to.
    visitors: Vec<Vec<(usize, Lit)>>,
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
    groups: Groups,
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
    /// An edge that led to a free place when last looked at.
    spare: usize,
}

impl Seeker {
    pub(super) fn new(edges: Vec<(usize, Lit)>, excuses: Vec<Lit>) -> Self {
        Self { edges, excuses, edge: None, spare: 0 }
    }
}

/// Groups of seekers that need all places they can reach (strongly connected components, Tarjan 1972).
#[derive(Default)]
struct Groups {
    /// Seekers that could move to a free place.
    easy: Vec<bool>,
    number: Vec<u32>,
    low: Vec<u32>,
    open: Vec<usize>,
    group: Vec<u32>,
    next: u32,
    found: Vec<Vec<usize>>,
}

/// Group of seekers that have no place within the budget, and of those that they could change places with.
const STUCK: u32 = 1;

impl Matching {
    /// A matching in which all have a place.
    pub(super) fn whole(seekers: Vec<Seeker>, single: Vec<Option<Lit>>) -> Self {
        let places = single.len();
        let mut matching = Self {
            seekers,
            single,
            holder: vec![None; places],
            met: vec![0; places],
            closed: vec![0; places],
            ..Self::default()
        };
        matching.list_visitors();
        matching
    }

    /// A matching that is kept only while one of these literals holds, which lets so many go without a place.
    pub(super) fn within(seekers: Vec<Seeker>, single: Vec<Option<Lit>>, budgets: Vec<(usize, Lit)>) -> Self {
        Self { budgets, on_demand: true, ..Self::whole(seekers, single) }
    }

    fn list_visitors(&mut self) {
        self.visitors = vec![Vec::new(); self.single.len()];
        for (number, seeker) in self.seekers.iter().enumerate() {
            for (place, takes) in &seeker.edges {
                self.visitors[*place].push((number, *takes));
            }
        }
    }

    /// Forgets choices that are ruled out for good.
    pub(super) fn forget(&mut self, is_open: &impl Fn(Lit) -> bool) {
        for seeker in &mut self.seekers {
            if seeker.edges.iter().all(|(_, takes)| is_open(*takes)) {
                continue;
            }
            let held = seeker.edge.map(|edge| seeker.edges[edge]);
            seeker.edges.retain(|(_, takes)| is_open(*takes));
            seeker.edge = held.and_then(|held| seeker.edges.iter().position(|edge| *edge == held));
            seeker.spare = 0;
            if let Some((place, _)) = held.filter(|_| seeker.edge.is_none()) {
                self.holder[place] = None;
            }
        }
        for place in 0..self.holder.len() {
            // The holder may have been one of several.
            let holds = |seeker: usize| {
                let seeker = &self.seekers[seeker];
                seeker.edge.is_some_and(|edge| seeker.edges[edge].0 == place)
            };
            self.holder[place] = self.holder[place].filter(|seeker| holds(*seeker));
        }
        self.list_visitors();
    }

    /// Every literal on which it depends.
    pub(super) fn literals(&self) -> impl Iterator<Item = Lit> {
        let of_seekers = self
            .seekers
            .iter()
            .flat_map(|s| s.edges.iter().map(|(_, takes)| *takes).chain(s.excuses.clone()));
        of_seekers.chain(self.single.iter().flatten().copied()).chain(self.budgets.iter().map(|(_, l)| *l))
    }

    /// The budget that holds; `None` where the matching is not kept now.
    pub(super) fn budget(&self, is_open: &impl Fn(Lit) -> bool) -> Option<(usize, Option<Lit>)> {
        match self.budgets.iter().find(|(_, literal)| !is_open(!*literal)) {
            Some((allowed, literal)) => Some((*allowed, Some(*literal))),
            None => (!self.on_demand).then_some((0, None)),
        }
    }

    /// How many go without a place at the least, for what is open now.
    pub(super) fn fewest_without(&mut self, is_open: &impl Fn(Lit) -> bool) -> usize {
        self.mend(is_open, usize::MAX)
    }

    /// Mends the matching as far as it goes; how many are left without a place, at most one more than allowed.
    pub(super) fn mend(&mut self, is_open: &impl Fn(Lit) -> bool, allowed: usize) -> usize {
        self.mending += 1;
        self.stuck.clear();
        for seeker in 0..self.seekers.len() {
            self.check(is_open, seeker);
        }
        let mut without = 0;
        for seeker in 0..self.seekers.len() {
            if self.seekers[seeker].edge.is_some() || self.is_excused(is_open, seeker) {
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

    /// Why those that are stuck cannot all have a place, as a clause of literals that are false now.
    pub(super) fn explain(&mut self, clause: &mut Vec<Lit>, budget: Option<Lit>) {
        let stuck = std::mem::take(&mut self.stuck);
        self.tight(&stuck, clause, budget);
        self.stuck = stuck;
    }

    /// Seekers that reach only places that they hold themselves: to give one of these away, or to have more, one of
    /// them needs a choice that was ruled out, or an excuse, or a place that serves several, or a larger budget.
    fn tight(&mut self, seekers: &[usize], clause: &mut Vec<Lit>, budget: Option<Lit>) {
        clause.clear();
        clause.extend(budget.map(|budget| !budget));
        self.search += 1;
        for seeker in seekers {
            if let Some(edge) = self.seekers[*seeker].edge {
                let (place, _) = self.seekers[*seeker].edges[edge];
                self.met[place] = self.search;
                clause.extend(self.single[place].map(|single| !single));
            }
        }
        for seeker in seekers {
            let seeker = &self.seekers[*seeker];
            clause.extend(&seeker.excuses);
            let outside = seeker.edges.iter().filter(|(place, _)| self.met[*place] != self.search);
            clause.extend(outside.map(|(_, takes)| *takes));
        }
        clause.sort_unstable();
        clause.dedup();
    }

    /// After mending: closes places that a group of seekers needs for itself to all others. `close` gets the choices
    /// to rule out and a clause of literals that are false now, one of which would have to hold for any of them.
    pub(super) fn prune(
        &mut self,
        is_open: &impl Fn(Lit) -> bool,
        (allowed, budget): (usize, Option<Lit>),
        without: usize,
        close: &mut impl FnMut(&[Lit], &[Lit]),
    ) {
        if without < allowed {
            return;
        }
        self.find_groups(is_open);
        let (mut barred, mut clause) = (Vec::new(), Vec::new());
        let stuck = std::mem::take(&mut self.stuck);
        let groups = std::mem::take(&mut self.groups.found);
        for group in [&stuck].into_iter().chain(&groups) {
            barred.clear();
            for seeker in group {
                let Some(edge) = self.seekers[*seeker].edge else { continue };
                let (place, _) = self.seekers[*seeker].edges[edge];
                let of_group = self.groups.group[*seeker];
                let others = self.visitors[place]
                    .iter()
                    .filter(|(visitor, takes)| self.groups.group[*visitor] != of_group && is_open(*takes));
                barred.extend(others.map(|(_, takes)| *takes));
            }
            if barred.is_empty() {
                continue;
            }
            let reached = self.reached(is_open, group, &stuck);
            self.tight(&reached, &mut clause, budget);
            close(&barred, &clause);
        }
        self.stuck = stuck;
        self.groups.found = groups;
        self.groups.found.clear();
    }

    /// Finds those who cannot move to a free place, in groups of which each can move within.
    fn find_groups(&mut self, is_open: &impl Fn(Lit) -> bool) {
        let count = self.seekers.len();
        let mut easy = std::mem::take(&mut self.groups.easy);
        easy.clear();
        let mut hard: Vec<usize> = Vec::new();
        for seeker in 0..count {
            easy.push(self.has_spare(is_open, seeker));
            if !easy[seeker] {
                hard.push(seeker);
            }
        }
        loop {
            let before = hard.len();
            hard.retain(|seeker| {
                let to_easy = |(place, takes): &(usize, Lit)| {
                    self.holder[*place].is_some_and(|holder| easy[holder]) && is_open(*takes)
                };
                let found = self.seekers[*seeker].edges.iter().any(to_easy);
                easy[*seeker] |= found;
                !found
            });
            if hard.len() == before {
                break;
            }
        }
        self.groups.easy = easy;
        self.groups.number.clear();
        self.groups.number.resize(count, 0);
        self.groups.low.clear();
        self.groups.low.resize(count, 0);
        self.groups.group.clear();
        self.groups.group.resize(count, 0);
        self.groups.next = STUCK;
        self.groups.open.clear();
        self.groups.found.clear();
        for seeker in &self.stuck {
            self.groups.group[*seeker] = STUCK;
        }
        for seeker in hard {
            if self.groups.number[seeker] == 0 && self.groups.group[seeker] == 0 {
                self.connect(is_open, seeker);
            }
        }
    }

    /// Whether a seeker could do without its place by itself.
    fn has_spare(&mut self, is_open: &impl Fn(Lit) -> bool, seeker: usize) -> bool {
        let Seeker { edges, edge, spare, .. } = &self.seekers[seeker];
        if edge.is_none() {
            return self.is_excused(is_open, seeker);
        }
        let free = |at: usize| {
            let (place, takes) = edges[at];
            is_open(takes) && (self.holder[place].is_none() || self.is_shared(is_open, place))
        };
        let found = (*spare..edges.len()).chain(0..*spare).find(|at| free(*at));
        if let Some(found) = found {
            self.seekers[seeker].spare = found;
        }
        found.is_some() || self.is_excused(is_open, seeker)
    }

    fn connect(&mut self, is_open: &impl Fn(Lit) -> bool, seeker: usize) {
        self.groups.next += 1;
        self.groups.number[seeker] = self.groups.next;
        self.groups.low[seeker] = self.groups.next;
        self.groups.open.push(seeker);
        for edge in 0..self.seekers[seeker].edges.len() {
            let (place, takes) = self.seekers[seeker].edges[edge];
            if self.seekers[seeker].edge == Some(edge) || !is_open(takes) {
                continue;
            }
            let Some(other) = self.holder[place] else { continue };
            if self.groups.group[other] != 0 {
                continue;
            }
            if self.groups.number[other] == 0 {
                self.connect(is_open, other);
                self.groups.low[seeker] = self.groups.low[seeker].min(self.groups.low[other]);
            } else {
                self.groups.low[seeker] = self.groups.low[seeker].min(self.groups.number[other]);
            }
        }
        if self.groups.low[seeker] == self.groups.number[seeker] {
            let mut found = Vec::new();
            while let Some(member) = self.groups.open.pop() {
                self.groups.group[member] = self.groups.number[seeker];
                found.push(member);
                if member == seeker {
                    break;
                }
            }
            self.groups.found.push(found);
        }
    }

    /// All seekers that a group could push away, and those that compete for the budget.
    fn reached(&mut self, is_open: &impl Fn(Lit) -> bool, group: &[usize], stuck: &[usize]) -> Vec<usize> {
        self.search += 1;
        let mut reached: Vec<usize> = Vec::new();
        for seeker in group.iter().chain(stuck) {
            let place = self.seekers[*seeker].edge.map(|edge| self.seekers[*seeker].edges[edge].0);
            let new = match place {
                Some(place) => self.met[place] != self.search,
                None => !reached.contains(seeker),
            };
            if new {
                reached.push(*seeker);
            }
            if let Some(place) = place {
                self.met[place] = self.search;
            }
        }
        let mut at = 0;
        while at < reached.len() {
            let seeker = reached[at];
            at += 1;
            for (place, takes) in &self.seekers[seeker].edges {
                if self.met[*place] != self.search && is_open(*takes) {
                    self.met[*place] = self.search;
                    reached.extend(self.holder[*place]);
                }
            }
        }
        reached
    }
}

/// Whether a literal is not known to be false.
pub(super) fn is_open(value: lbool, literal: Lit) -> bool {
    value == lbool::UNDEF || (value == lbool::TRUE) == literal.sign()
}

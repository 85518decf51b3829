//! The best plan: one aim after the other, each proven before the next begins.
//!
//! Each aim begins near the last plan: mostly that costs nothing more, or could with a few lines elsewhere. Otherwise its
//! bound rises until a plan meets it; that plan is then the best, and everything that is no better is closed for good
//! before the next aim. Where lines compete for pins or encoders for counters, a matching counts what costs. For pairs,
//! buses and changes the relaxed task gives a bound that mostly is met at once. Elsewhere all costs are assumed away; the
//! solver names some of which at least one is due, the bound rises by one, and that group is counted from then on, so
//! that the next question is whether one of them is enough. This is the core-guided search known as OLL (Andres,
//! Kaufmann, Matheis, Schaub, "Unsatisfiability-based optimization in clasp", ICLP 2012).
//!
//! Last, ties: each line in the order of the file takes the first pin in the order of the file that is left to it.

use super::clauses::Answer;
use super::costs::{Bound, Costs};
use super::encode::Model;
use super::matching::Matching;
use super::relaxed::Relaxed;
use super::totalizer::counted;
use crate::aim::Aim;
use crate::problem::Problem;
use batsat::Lit;
use std::collections::BTreeMap;

/// How the search ended.
pub(super) enum Ended {
    /// With the best plan; its choices by line (`None`: left out), and the port of each plug.
    Best(Found),
    /// There is no plan.
    Conflict,
    /// The time ran out: with the best plan so far, or none.
    OutOfTime(Option<Found>),
}

/// A plan as the solver gives it.
pub(super) struct Found {
    pub(super) taken: Vec<Option<usize>>,
    pub(super) ports: Vec<usize>,
    /// For each aim the least that any plan can do that is as good in all weightier aims, as far as proven.
    pub(super) least: Vec<(Aim, usize)>,
    /// Whether all ties are settled by the order of the file.
    pub(super) settled: bool,
    /// For each line, whether another pin would be as good.
    pub(super) free: Vec<bool>,
}

/// How often lines are let go to find a plan near another, and steps of the search each time.
const NEAR_ROUNDS: usize = 12;
const NEAR_STEPS: u64 = 400;

impl Model {
    /// Searches for the best plan under these assumptions, ties settled.
    pub(super) fn best(&mut self, problem: &Problem, firm: &[Lit]) -> Ended {
        match self.cheapest(problem, firm) {
            Ended::Best(found) => {
                self.clauses.begin_series();
                let (free, all) = self.equals(&found);
                self.clauses.begin_series();
                let found = self.settle(found);
                Ended::Best(Found { free, settled: found.settled && all, ..found })
            }
            other => other,
        }
    }

    /// The same, with any of the plans that are equally good.
    pub(super) fn cheapest(&mut self, problem: &Problem, firm: &[Lit]) -> Ended {
        match self.clauses.ask(firm) {
            Answer::No(_) => return Ended::Conflict,
            Answer::Open => return Ended::OutOfTime(None),
            Answer::Yes => {}
        }
        for literal in firm {
            self.clauses.add(&[*literal]);
        }
        let mut found = self.found();
        for aim in Aim::ALL {
            let costs = self.costs(problem, aim);
            let mut bound = 0;
            let proven = self.costs_nothing(costs.paying(), &found)
                || match costs {
                    Costs::Matched(paying, matching) => {
                        self.least_matched(aim, &paying, matching, &mut bound)
                    }
                    Costs::Grouped(paying) => self.least(&paying, &mut bound),
                    Costs::Relaxed(paying) => {
                        let relaxed = Relaxed::new(self, problem, aim, &found.least);
                        self.least_relaxed(relaxed, &paying, &found, &mut bound)
                    }
                };
            if aim == Aim::Counters {
                self.otherwise = Some(bound);
            }
            if proven {
                found = Found { least: found.least, ..self.found() };
            }
            found.least.push((aim, bound));
            if !proven {
                return Ended::OutOfTime(Some(found));
            }
        }
        Ended::Best(found)
    }

    /// Whether a plan near the last one costs nothing; if so, nothing may cost from now on.
    fn costs_nothing(&mut self, paying: &[Lit], last: &Found) -> bool {
        let free = self.clauses.literal();
        for paying in paying {
            self.clauses.add(&[!free, !*paying]);
        }
        let found = self.ask_near(&[free], self.takes_of(&last.taken)) == Some(Answer::Yes);
        if found {
            self.clauses.add(&[free]);
        }
        found
    }

    /// Raises the bound of one aim until a plan meets it, and closes all that is worse. `false` where the time ran
    /// out.
    fn least(&mut self, costs: &[Lit], bound: &mut usize) -> bool {
        // Counted groups by the literal that is assumed away: the group, and how many of it are allowed.
        let mut groups: BTreeMap<Lit, (Vec<Lit>, usize)> = BTreeMap::new();
        let mut open: Vec<Lit> = costs.to_vec();
        open.sort_unstable();
        open.dedup();
        loop {
            let assumed: Vec<Lit> = open.iter().map(|cost| !*cost).collect();
            let core = match self.clauses.ask(&assumed) {
                Answer::Yes => break,
                Answer::Open => return false,
                Answer::No(core) => match self.shrunk(core) {
                    Some(core) => core,
                    None => return false,
                },
            };
            let costs: Vec<Lit> = core.iter().map(|literal| !*literal).collect();
            *bound += 1;
            open.retain(|cost| !costs.contains(cost));
            for cost in &costs {
                if let Some((counts, allowed)) = groups.remove(cost)
                    && let Some(next) = counts.get(allowed + 1)
                {
                    open.push(*next);
                    groups.insert(*next, (counts.clone(), allowed + 1));
                }
            }
            self.clauses.add(&costs);
            if costs.len() > 1 {
                let counts = counted(&mut self.clauses, &costs, costs.len());
                open.push(counts[1]);
                groups.insert(counts[1], (counts, 1));
            }
        }
        for cost in open {
            self.clauses.add(&[!cost]);
        }
        true
    }

    /// Raises the number of costs that are allowed until a plan keeps to it. A matching counts, so that each number is one
    /// question. `false` where the time ran out.
    fn least_matched(&mut self, aim: Aim, paying: &[Lit], matching: Bound, bound: &mut usize) -> bool {
        let most = matching.0.len().max(paying.len());
        let budgets: Vec<(usize, Lit)> =
            (0..=most).map(|allowed| (allowed, self.clauses.literal())).collect();
        for paying in paying {
            self.clauses.add(&[!budgets[0].1, !*paying]);
        }
        let (seekers, single) = matching.clone();
        *bound = self.clauses.keep(Matching::within(seekers, single, budgets.clone()));
        loop {
            match self.clauses.ask(&[budgets[*bound].1]) {
                Answer::Yes => break,
                Answer::No(_) => *bound += 1,
                Answer::Open => return false,
            }
        }
        self.clauses.add(&[budgets[*bound].1]);
        if aim == Aim::Counters {
            // A counter without which the bound would be passed counts, whichever encoder.
            for (unit, counts) in self.counting() {
                if self.clauses.needs(&matching, unit, *bound) {
                    self.clauses.add(&[counts]);
                }
            }
        }
        true
    }

    /// Raises the number of costs that are allowed from what the relaxed task says is the least. `false` where the time
    /// ran out.
    fn least_relaxed(
        &mut self,
        mut relaxed: Relaxed,
        paying: &[Lit],
        last: &Found,
        bound: &mut usize,
    ) -> bool {
        // What the last plan costs is enough to prove.
        let plan = self.takes_of(&last.taken);
        if self.clauses.ask(&plan) != Answer::Yes {
            return false;
        }
        let known = paying.iter().filter(|paying| self.clauses.holds(**paying)).count();
        let costs = relaxed.raise(known);
        *bound = costs.least().min(known);
        let counts = counted(&mut self.clauses, paying, known + 1);
        loop {
            let budget = self.clauses.literal();
            for takes in relaxed.too_dear(&costs, *bound) {
                self.clauses.add(&[!budget, !takes]);
            }
            if let Some(more) = counts.get(*bound) {
                self.clauses.add(&[!budget, !*more]);
            }
            let answer = match *bound < known {
                true => self.ask_near(&[budget], plan.clone()).unwrap_or_else(|| self.clauses.ask(&[budget])),
                false => self.clauses.ask(&plan),
            };
            match answer {
                Answer::Yes => {
                    self.clauses.add(&[budget]);
                    return true;
                }
                Answer::No(_) => *bound += 1,
                Answer::Open => return false,
            }
        }
    }

    /// Asks for a plan near one: lines that stand in the way are let go, until one is found or it does not help. `None`
    /// where this came to no answer.
    fn ask_near(&mut self, assumed: &[Lit], mut plan: Vec<Lit>) -> Option<Answer> {
        for _ in 0..NEAR_ROUNDS {
            let all: Vec<Lit> = assumed.iter().chain(&plan).copied().collect();
            match self.clauses.ask_quickly(&all, NEAR_STEPS) {
                Answer::Yes => return Some(Answer::Yes),
                Answer::Open => return None,
                Answer::No(core) => {
                    let before = plan.len();
                    plan.retain(|takes| core.binary_search(takes).is_err());
                    if plan.len() == before {
                        return Some(Answer::No(core));
                    }
                }
            }
        }
        None
    }

    /// What each line takes.
    fn takes_of(&self, taken: &[Option<usize>]) -> Vec<Lit> {
        let takes = |(line, taken): (usize, &Option<usize>)| match taken {
            Some(at) => self.takes[line][*at],
            None => self.left_out[line],
        };
        taken.iter().enumerate().map(takes).collect()
    }

    /// A smaller set of assumptions that rules out just as well: asked again with what is left, as long as it helps.
    fn shrunk(&mut self, mut core: Vec<Lit>) -> Option<Vec<Lit>> {
        for _ in 0..4 {
            match self.clauses.ask(&core) {
                Answer::No(smaller) if smaller.len() < core.len() => core = smaller,
                Answer::No(_) => break,
                Answer::Open => return None,
                Answer::Yes => break,
            }
        }
        Some(core)
    }

    fn found(&self) -> Found {
        let taken = self.takes.iter().map(|takes| takes.iter().position(|takes| self.clauses.holds(*takes)));
        let ports =
            self.sits.iter().map(|sits| sits.iter().position(|sits| self.clauses.holds(*sits)).unwrap_or(0));
        Found {
            taken: taken.collect(),
            ports: ports.collect(),
            least: Vec::new(),
            settled: false,
            free: vec![false; self.takes.len()],
        }
    }

    /// For each line whether another pin would be as good; `false` beside it where that did not come out for all.
    fn equals(&mut self, found: &Found) -> (Vec<bool>, bool) {
        let mut all = true;
        let mut free = vec![false; self.takes.len()];
        let mut seen = found.taken.clone();
        for line in 0..self.takes.len() {
            let Some(at) = seen[line] else { continue };
            if free[line] {
                continue;
            }
            match self.is_possible(!self.takes[line][at], line, &seen) {
                Some(true) => {
                    for (other, taken) in self.found().taken.into_iter().enumerate() {
                        free[other] |= taken != seen[other];
                        seen[other] = taken;
                    }
                }
                Some(false) => {}
                None => all = false,
            }
        }
        (free, all)
    }

    /// Whether a line could, beside what is settled; other lines of the plan move where they have to. `None` where that
    /// did not come out.
    fn is_possible(&mut self, could: Lit, line: usize, taken: &[Option<usize>]) -> Option<bool> {
        if self.clauses.is_series_over() {
            return None;
        }
        let mut plan = self.takes_of(taken);
        plan.remove(line);
        let answer = self.ask_near(&[could], plan).unwrap_or_else(|| self.clauses.ask_in_series(&[could]));
        match answer {
            Answer::Yes => Some(true),
            Answer::No(_) => Some(false),
            Answer::Open => None,
        }
    }

    /// Settles ties by the order of lines and pins, as far as it comes out.
    fn settle(&mut self, mut found: Found) -> Found {
        found.settled = true;
        let next = |found: &Found, this: &Self| Found {
            settled: found.settled,
            least: found.least.clone(),
            ..this.found()
        };
        for plug in 0..self.sits.len() {
            for port in 0..=found.ports[plug] {
                let sits = self.sits[plug][port];
                if port == found.ports[plug] {
                    self.clauses.add(&[sits]);
                    break;
                }
                match self.clauses.ask_in_series(&[sits]) {
                    Answer::Yes => {
                        found = next(&found, self);
                        self.clauses.add(&[sits]);
                        break;
                    }
                    Answer::No(_) => {}
                    Answer::Open => found.settled = false,
                }
            }
        }
        for line in 0..self.takes.len() {
            // A line that is left out comes after all its choices.
            let last = self.takes[line].len();
            let mut at = found.taken[line].unwrap_or(last);
            loop {
                let earlier = self.takes[line][..at].iter().copied();
                let earlier: Vec<Lit> = earlier.filter(|takes| !self.clauses.is_ruled_out(*takes)).collect();
                if earlier.is_empty() {
                    break;
                }
                let any = self.clauses.any_of(&earlier);
                match self.is_possible(any, line, &found.taken) {
                    Some(true) => {
                        found = next(&found, self);
                        at = found.taken[line].unwrap_or(last);
                    }
                    Some(false) => break,
                    None => {
                        found.settled = false;
                        break;
                    }
                }
            }
            let settled = if at < last { self.takes[line][at] } else { self.left_out[line] };
            self.clauses.add(&[settled]);
        }
        found
    }
}

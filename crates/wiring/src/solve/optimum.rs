//! The best plan: one aim after the other, each proven before the next begins.
//!
//! The bound of an aim rises until a plan meets it; that plan is then the best, and everything that is no better is
//! closed for good before the next aim. Where costs come from many competing for few, matchings count them, and each
//! number is one question. Elsewhere all costs are assumed away; the solver names some of which at least one is due,
//! the bound rises by one, and that group is counted from then on, so that the next question is whether one of them is
//! enough. This is the core-guided search known as OLL (Andres, Kaufmann, Matheis, Schaub, "Unsatisfiability-based
//! optimization in clasp", ICLP 2012).
//!
//! Last, ties: each line in the order of the file takes the first pin in the order of the file that is left to it.

use super::clauses::Answer;
use super::costs::{Costs, Counted};
use super::encode::Model;
use super::matching::Matching;
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
    /// Whether ties are settled by the order of the file.
    pub(super) settled: bool,
    /// For each line, whether another pin would be as good.
    pub(super) free: Vec<bool>,
}

impl Model {
    /// Searches for the best plan under these assumptions, ties settled.
    pub(super) fn best(&mut self, problem: &Problem, firm: &[Lit]) -> Ended {
        let found = match self.cheapest(problem, firm) {
            Ended::Best(found) => found,
            other => return other,
        };
        let (free, all) = self.equals();
        match self.settle() {
            Some(best) => Ended::Best(Found { least: found.least, settled: all, free, ..best }),
            None => Ended::OutOfTime(Some(found)),
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
            let mut bound = 0;
            let costs = self.costs(problem, aim);
            let proven = match costs.counted {
                Counted::Groups => self.least(&costs.paying, &mut bound),
                _ => self.least_within(costs, &mut bound),
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

    /// Raises the number of costs that are allowed until a plan keeps to it. Matchings count by themselves, so that
    /// each number is one question. `false` where the time ran out.
    fn least_within(&mut self, costs: Costs, bound: &mut usize) -> bool {
        let free = self.clauses.literal();
        for paying in &costs.paying {
            self.clauses.add(&[!free, !*paying]);
        }
        match self.clauses.ask(&[free]) {
            Answer::Yes => {
                self.clauses.add(&[free]);
                return true;
            }
            Answer::No(_) => {}
            Answer::Open => return false,
        }
        *bound = 1;
        let most =
            costs.bounds.iter().map(|(seekers, _)| seekers.len()).max().unwrap_or(0).max(costs.paying.len());
        let budgets: Vec<(usize, Lit)> =
            (0..=most).map(|allowed| (allowed, self.clauses.literal())).collect();
        let last = costs.bounds.last().cloned();
        for (seekers, single) in costs.bounds {
            *bound = (*bound).max(self.clauses.keep(Matching::within(seekers, single, budgets.clone())));
        }
        let mut counts: Vec<Lit> = Vec::new();
        loop {
            let budget = budgets[*bound].1;
            if costs.counted == Counted::Clauses && *bound < costs.paying.len() {
                if counts.len() <= *bound {
                    counts = counted(&mut self.clauses, &costs.paying, 2 * *bound + 1);
                }
                self.clauses.add(&[!budget, !counts[*bound]]);
            }
            match self.clauses.ask(&[budget]) {
                Answer::Yes => {
                    self.clauses.add(&[budget]);
                    for (unit, keeps) in &costs.counters {
                        if last.as_ref().is_some_and(|last| self.clauses.needs(last, *unit, *bound)) {
                            self.demand(*unit, costs.demand, *keeps);
                        }
                    }
                    return true;
                }
                Answer::No(_) => *bound += 1,
                Answer::Open => return false,
            }
        }
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

    /// For each line whether another pin would be as good; `false` beside it where the time ran out.
    fn equals(&mut self) -> (Vec<bool>, bool) {
        let mut free = vec![false; self.takes.len()];
        let mut seen: Vec<Option<usize>> = self.found().taken;
        for line in 0..self.takes.len() {
            let Some(at) = seen[line] else { continue };
            if free[line] {
                continue;
            }
            match self.clauses.ask(&[!self.takes[line][at]]) {
                Answer::Yes => {
                    for (other, taken) in self.found().taken.into_iter().enumerate() {
                        free[other] |= taken != seen[other];
                        seen[other] = taken;
                    }
                }
                Answer::No(_) => {}
                Answer::Open => return (free, false),
            }
        }
        (free, true)
    }

    /// Settles ties by the order of lines and pins; `None` where the time ran out.
    fn settle(&mut self) -> Option<Found> {
        let mut found = self.again()?;
        for plug in 0..self.sits.len() {
            for port in 0..=found.ports[plug] {
                if port == found.ports[plug] || self.clauses.ask(&[self.sits[plug][port]]) == Answer::Yes {
                    self.clauses.add(&[self.sits[plug][port]]);
                    break;
                }
            }
            found = self.again()?;
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
                match self.clauses.ask(&[any]) {
                    Answer::Yes => {
                        found = self.found();
                        at = found.taken[line]?;
                    }
                    Answer::No(_) => break,
                    Answer::Open => return None,
                }
            }
            let settled = if at < last { self.takes[line][at] } else { self.left_out[line] };
            self.clauses.add(&[settled]);
        }
        self.again()
    }

    /// A plan that keeps to everything said so far.
    fn again(&mut self) -> Option<Found> {
        (self.clauses.ask(&[]) == Answer::Yes).then(|| self.found())
    }
}

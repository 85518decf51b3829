//! What the plan keeps few, as literals that are true where it costs.

use super::encode::Model;
use super::matching::Seeker;
use crate::aim::Aim;
use crate::choice::Choice;
use crate::problem::{Ability, Problem, Risk, Way};
use batsat::Lit;

/// Literals that are true where it costs, by how the least number of them is found. That none holds is no cost.
pub(super) enum Costs {
    /// A matching counts them: so many as find no place that costs nothing have to pay.
    Matched(Vec<Lit>, Bound),
    /// Groups of which one at least is due, as the search finds them.
    Grouped(Vec<Lit>),
    /// The relaxed task bounds them.
    Relaxed(Vec<Lit>),
}

/// Seekers, and for each place the literal that makes it serve one at a time.
pub(super) type Bound = (Vec<Seeker>, Vec<Option<Lit>>);

impl Costs {
    pub(super) fn paying(&self) -> &[Lit] {
        match self {
            Self::Matched(paying, _) | Self::Grouped(paying) | Self::Relaxed(paying) => paying,
        }
    }
}

impl Model {
    /// The costs of an aim.
    pub(super) fn costs(&mut self, problem: &Problem, aim: Aim) -> Costs {
        let pins = vec![None; problem.pins.len()];
        match aim {
            Aim::Safety if !problem.risks.is_empty() => Costs::Grouped(self.at_risk(problem)),
            Aim::Safety => {
                let seekers = self.seekers(|choice| !choice.risky, true);
                Costs::Matched(self.taking(|choice| choice.risky), (seekers, pins))
            }
            Aim::Served => {
                let optional = (0..problem.lines.len()).filter(|line| !problem.lines[*line].required);
                let paying = optional.map(|line| self.left_out[line]).collect();
                Costs::Matched(paying, (self.seekers(|_| true, false), pins))
            }
            Aim::Counters => {
                let paying = self.counted_as(|way| way != Way::Counter);
                Costs::Matched(paying, (self.encoders(|_| false), self.counting_places()))
            }
            Aim::Programs => {
                let paying = self.counted_as(|way| way == Way::Program);
                Costs::Matched(paying, (self.encoders(|way| way == Way::Stamp), self.counting_places()))
            }
            Aim::Wires => {
                let lines = 0..problem.lines.len();
                Costs::Grouped(lines.filter_map(|line| self.wire(problem, line)).collect())
            }
            Aim::Signs => {
                Costs::Grouped(problem.encoders.iter().filter_map(|e| self.swap(&e.lines)).collect())
            }
            Aim::Pairs => {
                Costs::Relaxed(problem.pairs.iter().map(|pair| self.apart(problem, *pair)).collect())
            }
            Aim::Buses => Costs::Relaxed(self.buses(problem)),
            Aim::Quiet => Costs::Grouped(self.loud(problem)),
            Aim::Changes => Costs::Relaxed(self.moved(problem)),
        }
    }

    /// Choices of a kind.
    fn taking(&self, is: impl Fn(&Choice) -> bool) -> Vec<Lit> {
        let all = self.choices.iter().flatten().zip(self.takes.iter().flatten());
        all.filter(|(choice, _)| is(choice)).map(|(_, takes)| *takes).collect()
    }

    /// Encoders counted in some ways.
    fn counted_as(&self, is: impl Fn(Way) -> bool) -> Vec<Lit> {
        self.ways.iter().flatten().filter(|(way, _)| is(*way)).map(|(_, literal)| *literal).collect()
    }

    /// A literal that is true where a line takes a choice of this kind; `None` where it has no such choice.
    fn where_taken(&mut self, line: usize, is: impl Fn(&Choice) -> bool) -> Option<Lit> {
        let kinds: Vec<bool> = self.choices[line].iter().map(is).collect();
        let first = kinds.iter().position(|is| *is)?;
        if kinds.iter().all(|is| *is) {
            return Some(!self.left_out[line]);
        }
        if kinds.iter().filter(|is| **is).count() == 1 {
            return Some(self.takes[line][first]);
        }
        let cost = self.clauses.literal();
        for at in (0..kinds.len()).filter(|at| kinds[*at]) {
            self.clauses.implies(&[self.takes[line][at]], cost);
        }
        Some(cost)
    }

    /// For each line that could be: that it is held on the moving side, by its pin alone or together with the one
    /// opposite in its plug.
    fn at_risk(&mut self, problem: &Problem) -> Vec<Lit> {
        let mut costs = Vec::new();
        for line in 0..problem.lines.len() {
            let risks: Vec<&Risk> = problem.risks.iter().filter(|risk| risk.line == line).collect();
            if risks.is_empty() {
                costs.extend(self.where_taken(line, |choice| choice.risky));
                continue;
            }
            let cost = self.clauses.literal();
            for at in 0..self.choices[line].len() {
                let (pin, takes) = (self.choices[line][at].pin, self.takes[line][at]);
                if self.choices[line][at].risky {
                    self.clauses.implies(&[takes], cost);
                }
                for risk in risks.iter().filter(|risk| risk.pin == pin) {
                    let port = problem.plugs[risk.plug].ports.iter().position(|port| *port == risk.port);
                    if let Some(port) = port {
                        self.clauses.implies(&[takes, self.sits[risk.plug][port]], cost);
                    }
                }
            }
            costs.push(cost);
        }
        costs
    }

    /// That a line that plugs have leaves all its seats by a wire.
    fn wire(&mut self, problem: &Problem, line: usize) -> Option<Lit> {
        let seats: Vec<_> = problem.seats_of(line).collect();
        seats.first()?;
        let cost = self.clauses.literal();
        for at in 0..self.choices[line].len() {
            let pin = &problem.pins[self.choices[line][at].pin];
            let mut clause = vec![!self.takes[line][at], cost];
            for (plug, _) in seats.iter().filter(|(_, position)| **position == pin.position) {
                let port = problem.plugs[*plug].ports.iter().position(|port| *port == pin.port);
                clause.extend(port.map(|port| self.sits[*plug][port]));
            }
            self.clauses.add(&clause);
        }
        Some(cost)
    }

    /// That the channels of an encoder change places.
    fn swap(&mut self, lines: &[usize]) -> Option<Lit> {
        let each: Vec<Lit> = lines.iter().filter_map(|line| self.where_taken(*line, |c| c.swapped)).collect();
        let (first, rest) = each.split_first()?;
        if rest.is_empty() {
            return Some(*first);
        }
        let cost = self.clauses.literal();
        for swapped in each {
            self.clauses.implies(&[swapped], cost);
        }
        Some(cost)
    }

    /// That two lines do not lie side by side.
    fn apart(&mut self, problem: &Problem, (a, b): (usize, usize)) -> Lit {
        let cost = self.clauses.literal();
        for at in 0..self.choices[a].len() {
            let pin = self.choices[a][at].pin;
            let beside = |choice: &Choice| !problem.apart(choice.pin, pin);
            let mut clause = vec![!self.takes[a][at], cost, self.left_out[b]];
            clause.extend(
                self.choices[b]
                    .iter()
                    .zip(&self.takes[b])
                    .filter(|(c, _)| beside(c))
                    .map(|(_, takes)| *takes),
            );
            self.clauses.add(&clause);
        }
        cost
    }

    /// For each pin of a serial bus: that a line takes it.
    fn buses(&mut self, problem: &Problem) -> Vec<Lit> {
        let taken = self.busy_with(problem.pins.len(), |choice| choice.takes_bus);
        taken.into_iter().flatten().collect()
    }

    /// For each pin: that it measures beside one that pulses.
    fn loud(&mut self, problem: &Problem) -> Vec<Lit> {
        let measuring =
            self.busy_with(problem.pins.len(), |choice| matches!(choice.ability, Ability::Measure(_)));
        let pulsing =
            self.busy_with(problem.pins.len(), |choice| matches!(choice.ability, Ability::Pulse(_)));
        let mut costs = Vec::new();
        for (pin, measures) in measuring.iter().enumerate() {
            let Some(measures) = measures else { continue };
            let loud = pulsing.iter().enumerate().filter(|(other, _)| problem.beside(pin, *other));
            let loud: Vec<Lit> = loud.filter_map(|(_, pulses)| *pulses).collect();
            if !loud.is_empty() {
                let cost = self.clauses.literal();
                for pulses in loud {
                    self.clauses.implies(&[*measures, pulses], cost);
                }
                costs.push(cost);
            }
        }
        costs
    }

    /// For each pin: that a line uses it for this; `None` where none can.
    fn busy_with(&mut self, pins: usize, what: impl Fn(&Choice) -> bool) -> Vec<Option<Lit>> {
        let mut busy: Vec<Option<Lit>> = vec![None; pins];
        for line in 0..self.choices.len() {
            for at in 0..self.choices[line].len() {
                let choice = &self.choices[line][at];
                if what(choice) {
                    let clauses = &mut self.clauses;
                    let busy = *busy[choice.pin].get_or_insert_with(|| clauses.literal());
                    clauses.implies(&[self.takes[line][at]], busy);
                }
            }
        }
        busy
    }

    /// For each line of the last plan: that it does not stay on its pin.
    fn moved(&mut self, problem: &Problem) -> Vec<Lit> {
        let planned = (0..self.choices.len()).filter_map(|line| Some((line, problem.lines[line].was?)));
        planned
            .map(|(line, was)| {
                let there = self.choices[line].iter().zip(&self.takes[line]).filter(|(c, _)| c.pin == was);
                let moved = self.clauses.literal();
                let clause: Vec<Lit> = there.map(|(_, takes)| *takes).chain([moved]).collect();
                self.clauses.add(&clause);
                moved
            })
            .collect()
    }
}

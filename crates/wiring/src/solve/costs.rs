//! What the plan keeps few, as literals that are true where it costs.

use super::encode::Model;
use super::matching::Seeker;
use crate::aim::Aim;
use crate::choice::Choice;
use crate::problem::{Ability, Problem, Seat, Way};
use batsat::Lit;

/// How the least number of costs is found.
#[derive(Clone)]
pub(super) enum Costs {
    /// By literals that are true where it costs.
    Literals(Vec<Lit>),
    /// By a matching to what costs nothing: who goes without a place pays.
    Matched(Vec<Seeker>, Vec<Option<Lit>>),
}

impl Model {
    /// Adds the costs of every aim, in the order of weight.
    pub(super) fn aims(&mut self, problem: &Problem) {
        let pins = vec![None; problem.pins.len()];
        self.aims = Aim::ALL
            .iter()
            .map(|aim| {
                let costs = match aim {
                    Aim::Safety => Costs::Matched(self.seekers(|choice| !choice.risky, true), pins.clone()),
                    Aim::Served => Costs::Matched(self.seekers(|_| true, false), pins.clone()),
                    Aim::Counters => Costs::Matched(self.encoders(|_| false), self.counting_places()),
                    Aim::Programs => {
                        Costs::Matched(self.encoders(|way| way == Way::Stamp), self.counting_places())
                    }
                    Aim::Wires => Costs::Literals(
                        (0..problem.plugs.len()).flat_map(|plug| self.wires(problem, plug)).collect(),
                    ),
                    Aim::Signs => {
                        Costs::Literals(problem.encoders.iter().filter_map(|e| self.swap(&e.lines)).collect())
                    }
                    Aim::Pairs => {
                        Costs::Literals(problem.pairs.iter().map(|pair| self.apart(problem, *pair)).collect())
                    }
                    Aim::Buses => {
                        Costs::Matched(self.seekers(|choice| !choice.takes_bus, true), pins.clone())
                    }
                    Aim::Quiet => Costs::Literals(self.loud(problem)),
                    Aim::Changes => Costs::Matched(self.staying(problem), pins.clone()),
                };
                (*aim, costs)
            })
            .collect();
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

    /// For each line of a plug: that it leaves its seat by a wire.
    fn wires(&mut self, problem: &Problem, plug: usize) -> Vec<Lit> {
        let entry = &problem.plugs[plug];
        let mut costs = Vec::new();
        for (position, seat) in &entry.seats {
            let Seat::Line(line) = *seat else { continue };
            let cost = self.clauses.literal();
            for at in 0..self.choices[line].len() {
                let pin = &problem.pins[self.choices[line][at].pin];
                let port = entry.ports.iter().position(|port| *port == pin.port);
                let mut clause = vec![!self.takes[line][at], cost];
                if let Some(port) = port.filter(|_| pin.position == *position) {
                    clause.push(self.sits[plug][port]);
                }
                self.clauses.add(&clause);
            }
            costs.push(cost);
        }
        costs
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
            let beside = |choice: &Choice| problem.beside(choice.pin, pin);
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

    /// For each pin: that it measures beside one that pulses.
    fn loud(&mut self, problem: &Problem) -> Vec<Lit> {
        let measuring = self.busy_with(problem.pins.len(), |ability| matches!(ability, Ability::Measure(_)));
        let pulsing = self.busy_with(problem.pins.len(), |ability| matches!(ability, Ability::Pulse(_)));
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
    fn busy_with(&mut self, pins: usize, what: impl Fn(Ability) -> bool) -> Vec<Option<Lit>> {
        let mut busy: Vec<Option<Lit>> = vec![None; pins];
        for line in 0..self.choices.len() {
            for at in 0..self.choices[line].len() {
                let choice = &self.choices[line][at];
                if what(choice.ability) {
                    let clauses = &mut self.clauses;
                    let busy = *busy[choice.pin].get_or_insert_with(|| clauses.literal());
                    clauses.implies(&[self.takes[line][at]], busy);
                }
            }
        }
        busy
    }

    /// Lines that seek the pin of the last plan.
    fn staying(&self, problem: &Problem) -> Vec<Seeker> {
        let planned = (0..self.choices.len()).filter_map(|line| Some((line, problem.lines[line].was?)));
        let line = |(line, was): (usize, usize)| {
            let stays =
                self.choices[line].iter().zip(&self.takes[line]).filter(|(choice, _)| choice.pin == was);
            Seeker::new(stays.map(|(choice, takes)| (choice.pin, *takes)).collect(), Vec::new())
        };
        planned.map(line).collect()
    }
}

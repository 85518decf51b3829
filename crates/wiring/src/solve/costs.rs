//! What the plan keeps few, as literals that are true where it costs.

use super::counters::Demand;
use super::encode::Model;
use super::matching::Seeker;
use crate::aim::Aim;
use crate::choice::Choice;
use crate::problem::{Ability, Problem, Seat, Way};
use batsat::Lit;

/// What costs, and how the least number of it is found.
pub(super) struct Costs {
    /// Literals that are true where it costs; that none holds is no cost.
    pub(super) paying: Vec<Lit>,
    /// Those who seek places that cost nothing. So many as go without one have to pay, at the least.
    pub(super) bounds: Vec<Bound>,
    pub(super) counted: Counted,
    /// Counters among the places, each with the literal that holds where it keeps to a demand. A counter that all
    /// plans need as a place keeps to it.
    pub(super) counters: Vec<(usize, Lit)>,
    pub(super) demand: Demand,
}

/// Seekers, and for each place the literal that makes it serve one at a time.
pub(super) type Bound = (Vec<Seeker>, Vec<Option<Lit>>);

/// What counts costs exactly.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Counted {
    /// The first of the bounds, once all have chosen.
    Matched,
    /// Clauses on the literals, all of them together.
    Clauses,
    /// Clauses on groups of literals of which some have to hold, as they are found.
    Groups,
}

impl Model {
    /// The costs of an aim.
    pub(super) fn costs(&mut self, problem: &Problem, aim: Aim) -> Costs {
        let pins = vec![None; problem.pins.len()];
        let costs = |paying, bounds, counted| Costs {
            paying,
            bounds,
            counted,
            counters: Vec::new(),
            demand: Demand::Counts,
        };
        let by_groups = |paying| costs(paying, Vec::new(), Counted::Groups);
        match aim {
            Aim::Safety => {
                let seekers = self.seekers(|choice| !choice.risky, true);
                costs(self.taking(|choice| choice.risky), vec![(seekers, pins)], Counted::Matched)
            }
            Aim::Served => {
                let optional = (0..problem.lines.len()).filter(|line| !problem.lines[*line].required);
                let paying = optional.map(|line| self.left_out[line]).collect();
                costs(paying, vec![(self.seekers(|_| true, false), pins)], Counted::Matched)
            }
            Aim::Counters => {
                let bound = (self.encoders(|_| false), self.counting_places());
                let paying = self.counted_as(|way| way != Way::Counter);
                Costs { counters: self.counting(), ..costs(paying, vec![bound], Counted::Matched) }
            }
            Aim::Programs => {
                let bound = (self.encoders(|way| way == Way::Stamp), self.counting_places());
                costs(self.counted_as(|way| way == Way::Program), vec![bound], Counted::Matched)
            }
            Aim::Wires => {
                by_groups((0..problem.plugs.len()).flat_map(|plug| self.wires(problem, plug)).collect())
            }
            Aim::Signs => by_groups(problem.encoders.iter().filter_map(|e| self.swap(&e.lines)).collect()),
            Aim::Pairs => {
                let paying = problem.pairs.iter().map(|pair| self.apart(problem, *pair)).collect();
                let (encoders, counters) = self.encoders_on(problem, Demand::Beside);
                let bound = self.with_pins(problem, encoders, self.other_pairs(problem));
                let costs = costs(paying, vec![bound], Counted::Clauses);
                Costs { counters, demand: Demand::Beside, ..costs }
            }
            Aim::Buses => {
                let lines = self.seekers(|choice| !choice.takes_bus, true);
                let (encoders, counters) = self.encoders_on(problem, Demand::OffBuses);
                let others = lines.iter().cloned().enumerate();
                let others = others.filter(|(line, _)| !self.is_channel_of_two(problem, *line));
                let second = self.with_pins(problem, encoders, others.map(|(_, seeker)| seeker).collect());
                let paying = self.taking(|choice| choice.takes_bus);
                let costs = costs(paying, vec![(lines, pins), second], Counted::Matched);
                Costs { counters, demand: Demand::OffBuses, ..costs }
            }
            Aim::Quiet => by_groups(self.loud(problem)),
            Aim::Changes => by_groups(self.moved(problem)),
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

    /// Encoders that seek counters and others that seek pins, in one matching.
    fn with_pins(&self, problem: &Problem, encoders: Vec<Seeker>, others: Vec<Seeker>) -> Bound {
        let mut places = self.counting_places();
        let first = places.len();
        places.extend(problem.pins.iter().map(|_| None));
        let moved = |mut seeker: Seeker| {
            for (place, _) in &mut seeker.edges {
                *place += first;
            }
            seeker
        };
        (encoders.into_iter().chain(others.into_iter().map(moved)).collect(), places)
    }

    /// Pairs that are not of an encoder: the line of fewer choices seeks a pin beside one for the other.
    fn other_pairs(&self, problem: &Problem) -> Vec<Seeker> {
        let pairs = problem
            .pairs
            .iter()
            .filter(|(a, b)| !self.is_channel_of_two(problem, *a) && !self.is_channel_of_two(problem, *b));
        pairs
            .map(|(a, b)| {
                let (few, many) =
                    if self.choices[*a].len() <= self.choices[*b].len() { (*a, *b) } else { (*b, *a) };
                let open = |line: usize| {
                    let all = self.choices[line].iter().zip(&self.takes[line]);
                    all.filter(|(_, takes)| !self.clauses.is_ruled_out(**takes))
                };
                let near =
                    |choice: &Choice| open(many).any(|(other, _)| !problem.apart(other.pin, choice.pin));
                let edges = open(few).filter(|(choice, _)| near(choice));
                let edges = edges.map(|(choice, takes)| (choice.pin, *takes)).collect();
                Seeker::new(edges, vec![self.left_out[*a], self.left_out[*b]])
            })
            .collect()
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

//! What holds of a counter whichever encoder it counts, so that what the search learns of one holds for all.
//!
//! Encoders are mostly alike. Without this the search would find out for each of them anew that one counter leaves
//! no pin for another, or that its inputs do not lie side by side.

use super::encode::{Model, channels};
use crate::problem::{Ability, Input, Problem};
use crate::reason::Reason;
use batsat::Lit;
use std::collections::BTreeMap;

/// Literals of counters and their inputs.
#[derive(Default)]
pub(super) struct InUse {
    /// That an input of a counter is taken at a pin.
    inputs: BTreeMap<(usize, Input), BTreeMap<usize, Lit>>,
    /// That a unit counts.
    counts: BTreeMap<usize, Lit>,
}

impl Model {
    /// Says of counters what is said of each encoder on them.
    pub(super) fn inputs_in_use(&mut self, problem: &Problem) {
        let mut inputs: BTreeMap<(usize, Input), BTreeMap<usize, Lit>> = BTreeMap::new();
        let mut on_pin: Vec<Vec<Lit>> = vec![Vec::new(); problem.pins.len()];
        for line in 0..self.choices.len() {
            for (choice, takes) in self.choices[line].iter().zip(&self.takes[line]) {
                let Ability::Count(unit, input) = choice.ability else {
                    on_pin[choice.pin].push(*takes);
                    continue;
                };
                let of_input = inputs.entry((unit, input)).or_default();
                let clauses = &mut self.clauses;
                let in_use = *of_input.entry(choice.pin).or_insert_with(|| clauses.literal());
                self.clauses.implies(&[*takes], in_use);
            }
        }
        for (pin, in_use) in inputs.values().flatten() {
            on_pin[*pin].push(*in_use);
        }
        for on in &on_pin {
            self.clauses.at_most_one(on, None);
        }
        self.in_use.inputs = inputs;
        for unit in 0..problem.units.len() {
            let of_unit = |(at, literal): &(usize, Lit)| (*at == unit).then_some(*literal);
            let jobs: Vec<Lit> = self.counters.iter().flatten().filter_map(of_unit).collect();
            let Some(reason) = self.single[unit].filter(|_| !jobs.is_empty()) else { continue };
            let counts = self.clauses.literal();
            for job in jobs {
                self.clauses.implies(&[job], counts);
            }
            for other in &self.other_jobs[unit] {
                self.clauses.add(&[!counts, !*other, !reason]);
            }
            self.in_use.counts.insert(unit, counts);
        }
        // Both inputs of a counter are in use, unless an encoder has a line left out or on another counter.
        if problem.encoders.iter().any(|encoder| channels(problem, encoder).count() != 2) {
            return;
        }
        let lines = problem.encoders.iter().flat_map(|encoder| channels(problem, encoder));
        let left_out = lines.map(|line| self.left_out[line]);
        let one_counter = self.reasons.iter().filter(|(_, reason)| matches!(reason, Reason::OneCounter(_)));
        let apart: Vec<Lit> = left_out.chain(one_counter.map(|(literal, _)| !*literal)).collect();
        let any_apart = self.clauses.any_of(&apart);
        for (unit, counts) in self.in_use.counts.clone() {
            for input in [Input::A, Input::B] {
                let pins: Vec<Lit> =
                    self.pins_of(unit, input).into_iter().map(|(_, literal)| literal).collect();
                let one: Vec<Lit> = pins.into_iter().chain([!counts, any_apart]).collect();
                self.clauses.add(&one);
            }
        }
    }

    /// Pins at which an input could be taken.
    fn pins_of(&self, unit: usize, input: Input) -> Vec<(usize, Lit)> {
        let pins = self.in_use.inputs.get(&(unit, input)).into_iter().flatten();
        pins.map(|(pin, literal)| (*pin, *literal)).filter(|(_, l)| !self.clauses.is_ruled_out(*l)).collect()
    }

    /// Counters, with the literals that they count.
    pub(super) fn counting(&self) -> Vec<(usize, Lit)> {
        self.in_use.counts.iter().map(|(unit, literal)| (*unit, *literal)).collect()
    }
}

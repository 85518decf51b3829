//! The relaxed task from the task.

use super::{Choosable, Noise, Party, Relaxed, Tolls, has, place};
use crate::aim::Aim;
use crate::choice::Choice;
use crate::problem::{Ability, Input, Need, Problem, Way};
use crate::solve::encode::Model;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Kinds of choices of which two lines can only take the same.
type Kind = (Option<Way>, Option<usize>, bool);

pub(super) fn relaxed(model: &Model, problem: &Problem, aim: Aim, least: &[(Aim, usize)]) -> Relaxed {
    let mut build = Build {
        model,
        problem,
        aim,
        closed: least.iter().filter(|(_, least)| *least == 0).map(|(aim, _)| bit(*aim)).sum(),
        partners: partners(problem),
        options: Vec::new(),
        choices: Vec::new(),
        of_line: Vec::new(),
        costs: Vec::new(),
        jobs: vec![BTreeMap::new(); problem.units.len()],
        at_units: 0,
    };
    for line in 0..problem.lines.len() {
        build.line(line);
    }
    let parties = build.parties();
    let neighbours = build.neighbours();
    // What pays no toll of a unit pays the last, which stays at nothing.
    for option in &mut build.options {
        option.at_unit = option.at_unit.min(build.at_units);
    }
    let settled = least.iter().filter(|(_, least)| *least > 0);
    Relaxed {
        options: build.options,
        parties,
        jobs: build.jobs.into_iter().map(|jobs| jobs.into_values().collect()).collect(),
        costs: build.costs,
        aim: aim as usize,
        settled: settled.map(|(aim, least)| (*aim as usize, *least as f64)).collect(),
        tolls: Tolls {
            pins: vec![0.0; problem.pins.len()],
            at_units: vec![0.0; build.at_units as usize + 1],
            neighbours: vec![0.0; neighbours.len()],
            aims: [0.0; Aim::ALL.len()],
        },
        neighbours,
    }
}

/// For each line the one it chooses with: of a pair first, then of an encoder, then of a group.
fn partners(problem: &Problem) -> Vec<Option<usize>> {
    let of_two = |lines: &Vec<usize>| match lines[..] {
        [first, second] => Some((first, second)),
        _ => None,
    };
    let encoders = problem.encoders.iter().filter_map(|encoder| of_two(&encoder.lines));
    let groups = problem.groups.iter().filter_map(|group| of_two(&group.lines));
    let mut partners = vec![None; problem.lines.len()];
    for (first, second) in problem.pairs.iter().copied().chain(encoders).chain(groups) {
        if first != second && partners[first].is_none() && partners[second].is_none() {
            partners[first] = Some(second);
            partners[second] = Some(first);
        }
    }
    partners
}

struct Build<'a> {
    model: &'a Model,
    problem: &'a Problem,
    aim: Aim,
    /// Aims that no plan pays for any more.
    closed: u16,
    partners: Vec<Option<usize>>,
    options: Vec<Choosable>,
    /// The choice of each option; `None` for leaving the line out.
    choices: Vec<Option<&'a Choice>>,
    of_line: Vec<Vec<u32>>,
    costs: Vec<u16>,
    /// For each unit and job the lines that want it, by their tolls.
    jobs: Vec<BTreeMap<Job, Vec<u32>>>,
    at_units: u32,
}

/// What a unit works as.
type Job = (u8, usize);

impl<'a> Build<'a> {
    /// Options of a line that are still open.
    fn line(&mut self, line: usize) {
        let model = self.model;
        let first = self.options.len() as u32;
        let mut tolls: BTreeMap<usize, u32> = BTreeMap::new();
        for (choice, takes) in model.choices[line].iter().zip(&model.takes[line]) {
            let cost = self.cost_of(line, choice);
            if model.clauses.is_ruled_out(*takes) || cost & self.closed != 0 {
                continue;
            }
            let at_unit = self.at_unit(line, choice, &mut tolls);
            let noise = match choice.ability {
                Ability::Measure(_) => Noise::Measures,
                Ability::Pulse(_) => Noise::Pulses,
                _ => Noise::Other,
            };
            let cost = self.cost(cost);
            self.options.push(Choosable { place: place(choice.pin, noise), at_unit, cost, takes: *takes });
            self.choices.push(Some(choice));
        }
        if !model.clauses.is_ruled_out(model.left_out[line]) {
            let entry = &self.problem.lines[line];
            let served = if entry.required { 0 } else { bit(Aim::Served) };
            let cost = self.cost(served | if entry.was.is_some() { bit(Aim::Changes) } else { 0 });
            let nowhere = place(self.problem.pins.len(), Noise::Other);
            let takes = model.left_out[line];
            self.options.push(Choosable { place: nowhere, at_unit: u32::MAX, cost, takes });
            self.choices.push(None);
        }
        self.of_line.push((first..self.options.len() as u32).collect());
    }

    /// The toll that a line pays at a unit, which it shares with nothing else. Of an encoder that chooses as one, the
    /// first line pays.
    fn at_unit(&mut self, line: usize, choice: &Choice, tolls: &mut BTreeMap<usize, u32>) -> u32 {
        let (unit, job): (usize, Job) = match (choice.ability, self.problem.lines[line].need) {
            (Ability::Pulse(unit), Need::Pulse { rate }) => (unit, (0, rate)),
            (Ability::Count(unit, _), Need::Count { encoder, .. }) => {
                if self.partners[line]
                    .is_some_and(|other| other < line && self.encoder_of(other) == Some(encoder))
                {
                    return u32::MAX;
                }
                (unit, (1, encoder))
            }
            (Ability::Stamp(unit), _) => (unit, (2, 0)),
            (Ability::Give(unit), _) => (unit, (3, line)),
            _ => return u32::MAX,
        };
        *tolls.entry(unit).or_insert_with(|| {
            self.jobs[unit].entry(job).or_default().push(self.at_units);
            self.at_units += 1;
            self.at_units - 1
        })
    }

    fn encoder_of(&self, line: usize) -> Option<usize> {
        match self.problem.lines[line].need {
            Need::Count { encoder, .. } => Some(encoder),
            _ => None,
        }
    }

    /// What a choice costs by itself.
    fn cost_of(&self, line: usize, choice: &Choice) -> u16 {
        let problem = self.problem;
        let entry = &problem.lines[line];
        let mut cost = 0;
        let mut costs = |aim: Aim, it_does: bool| cost |= if it_does { bit(aim) } else { 0 };
        costs(Aim::Safety, choice.risky);
        costs(Aim::Buses, choice.takes_bus);
        costs(Aim::Changes, entry.was.is_some_and(|was| was != choice.pin));
        let pin = &problem.pins[choice.pin];
        let sits_at = |(plug, position): (usize, &Arc<str>)| {
            problem.plugs[plug].ports.contains(&pin.port) && pin.position == *position
        };
        let mut seats = problem.seats_of(line).peekable();
        costs(Aim::Wires, seats.peek().is_some() && !seats.any(sits_at));
        // An encoder pays once: its first line.
        if let Need::Count { encoder, input } = entry.need
            && problem.encoders[encoder].lines.first() == Some(&line)
            && input != Input::Index
        {
            costs(Aim::Counters, choice.way.is_some_and(|way| way != Way::Counter));
            costs(Aim::Programs, choice.way == Some(Way::Program));
            costs(Aim::Signs, choice.swapped);
        }
        cost
    }

    /// The place of a set of aims.
    fn cost(&mut self, cost: u16) -> u16 {
        // Only what this aim or a weightier one counts.
        let cost = cost & (2 * bit(self.aim) - 1);
        let known = self.costs.iter().position(|known| *known == cost);
        let at = known.unwrap_or_else(|| {
            self.costs.push(cost);
            self.costs.len() - 1
        });
        at as u16
    }

    fn parties(&mut self) -> Vec<Party> {
        let beside = self.beside();
        let mut parties = Vec::new();
        for line in 0..self.of_line.len() {
            match self.partners[line] {
                None => parties.push(Party::One(self.of_line[line].clone())),
                Some(other) if line < other => parties.push(self.two(line, other, &beside)),
                Some(_) => {}
            }
        }
        parties
    }

    /// For each pin those that are known to lie beside it.
    fn beside(&self) -> Vec<Vec<usize>> {
        let all = 0..self.problem.pins.len();
        all.clone().map(|a| all.clone().filter(|b| self.problem.beside(a, *b)).collect()).collect()
    }

    /// Two lines that choose together. What cannot go together is left out; what does not lie side by side costs, where
    /// they should.
    fn two(&mut self, first: usize, second: usize, beside: &[Vec<usize>]) -> Party {
        let problem = self.problem;
        let paired = problem.pairs.iter().any(|pair| [(first, second), (second, first)].contains(pair));
        let grouped = problem.groups.iter().any(|g| g.lines.contains(&first) && g.lines.contains(&second));
        let one_encoder =
            self.encoder_of(first).is_some() && self.encoder_of(first) == self.encoder_of(second);
        let kind = |choice: &Choice| -> Kind {
            match choice.ability {
                Ability::Count(unit, _) if one_encoder => (choice.way, Some(unit), choice.swapped),
                Ability::Measure(unit) if grouped => (None, Some(unit), false),
                _ => (choice.way.filter(|_| one_encoder), None, false),
            }
        };
        let mut kinds: BTreeMap<Kind, [Vec<u32>; 2]> = BTreeMap::new();
        let mut left_out = [Vec::new(), Vec::new()];
        for (which, line) in [first, second].into_iter().enumerate() {
            for option in &self.of_line[line] {
                match self.choices[*option as usize] {
                    Some(choice) => kinds.entry(kind(choice)).or_default()[which].push(*option),
                    None => left_out[which].push(*option),
                }
            }
        }
        let (nothing, apart) = (self.cost(0), self.cost(if paired { bit(Aim::Pairs) } else { 0 }));
        let apart_is_closed = has(self.closed, Aim::Pairs as usize);
        let mut together = Vec::new();
        let mut freely = Vec::new();
        for [firsts, seconds] in kinds.into_values() {
            if paired {
                self.side_by_side(&firsts, &seconds, beside, nothing, &mut together);
                freely.extend(self.of_unknown_place(&firsts, &seconds).map(|(a, b)| (a, b, nothing)));
            }
            if !(paired && apart_is_closed) {
                freely.push((firsts, seconds, apart));
            }
        }
        // With one of them left out nothing ties the other.
        let all = [first, second].map(|line| self.of_line[line].clone());
        let [no_first, no_second] = left_out;
        let [any_first, any_second] = all;
        freely.extend([(no_first, any_second, nothing), (any_first, no_second, nothing)]);
        freely.retain(|(firsts, seconds, _)| !firsts.is_empty() && !seconds.is_empty());
        Party::Two { together, freely }
    }

    fn pin(&self, option: u32) -> usize {
        self.options[option as usize].place as usize / 3
    }

    /// Options of two lines on pins that lie side by side.
    fn side_by_side(
        &self,
        firsts: &[u32],
        seconds: &[u32],
        beside: &[Vec<usize>],
        cost: u16,
        together: &mut Vec<(u32, u32, u16)>,
    ) {
        // Options come in the order of pins.
        let at = |pin: usize| seconds.partition_point(|option| self.pin(*option) < pin);
        for first in firsts {
            for pin in &beside[self.pin(*first)] {
                let on_pin = seconds[at(*pin)..].iter().take_while(|option| self.pin(**option) == *pin);
                together.extend(on_pin.map(|second| (*first, *second, cost)));
            }
        }
    }

    /// Options of two lines on a port of which nobody tells how its pins lie: they are not known to lie apart.
    fn of_unknown_place(
        &self,
        firsts: &[u32],
        seconds: &[u32],
    ) -> impl Iterator<Item = (Vec<u32>, Vec<u32>)> {
        let unknown =
            |port: usize| self.problem.pins.iter().any(|pin| pin.port == port && pin.cell.is_none());
        let on = |options: &[u32], port: usize| -> Vec<u32> {
            options
                .iter()
                .copied()
                .filter(|option| self.problem.pins[self.pin(*option)].port == port)
                .collect()
        };
        let ports = (0..self.problem.ports.len()).filter(move |port| unknown(*port));
        let both: Vec<(Vec<u32>, Vec<u32>)> =
            ports.map(|port| (on(firsts, port), on(seconds, port))).collect();
        both.into_iter()
    }

    /// Places beside one another of which one may measure and the other pulse, where that is no longer allowed.
    fn neighbours(&self) -> Vec<(u32, u32)> {
        if !has(self.closed, Aim::Quiet as usize) {
            return Vec::new();
        }
        let mut used = vec![false; 3 * self.problem.pins.len() + 1];
        for option in &self.options {
            used[option.place as usize] = true;
        }
        let of = |noise: Noise| {
            let all = (0..self.problem.pins.len()).filter(|pin| used[place(*pin, noise) as usize]);
            all.collect::<Vec<usize>>()
        };
        let (measuring, pulsing) = (of(Noise::Measures), of(Noise::Pulses));
        let pairs = measuring.iter().flat_map(|a| pulsing.iter().map(move |b| (*a, *b)));
        let near = pairs.filter(|(a, b)| self.problem.beside(*a, *b));
        near.map(|(a, b)| (place(a, Noise::Measures), place(b, Noise::Pulses))).collect()
    }
}

fn bit(aim: Aim) -> u16 {
    1 << aim as u16
}

impl Party {
    /// Its options, each once.
    pub(super) fn options(&self) -> Vec<u32> {
        let mut options: Vec<u32> = match self {
            Self::One(options) => options.clone(),
            Self::Two { together, freely } => {
                let both = together.iter().flat_map(|(first, second, _)| [*first, *second]);
                both.chain(freely.iter().flat_map(|(a, b, _)| a.iter().chain(b).copied())).collect()
            }
        };
        options.sort_unstable();
        options.dedup();
        options
    }
}

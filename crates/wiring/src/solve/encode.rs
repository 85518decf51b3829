//! The problem as clauses.
//!
//! For each line `takes[i]` says that it takes its choice number `i`; a line takes one choice or is left out. Everything
//! that a person could give up to get out of a conflict carries a literal of its own, the *reason*.

use super::clauses::{Clauses, End};
use super::counters::InUse;
use super::matching::{Matching, Seeker};
use super::totalizer::counted;
use crate::choice::{Bar, Choice, choices};
use crate::problem::{Ability, Encoder, Input, Need, Problem, Seat, Way};
use crate::reason::Reason;
use batsat::Lit;
use std::collections::BTreeMap;

/// The clauses with the literals that mean something.
pub(super) struct Model {
    pub(super) clauses: Clauses,
    /// Choices of each line.
    pub(super) choices: Vec<Vec<Choice>>,
    /// That a line takes a choice.
    pub(super) takes: Vec<Vec<Lit>>,
    /// That it is left without a pin.
    pub(super) left_out: Vec<Lit>,
    /// That a plug sits on a port, for each of its ports.
    pub(super) sits: Vec<Vec<Lit>>,
    /// How many encoders at most are counted otherwise than by a counter, once that is settled.
    pub(super) otherwise: Option<usize>,
    /// How many encoders programs have time for, where that may be too few, and the reason.
    programs: Option<(usize, Lit)>,
    /// What a person could give up.
    pub(super) reasons: Vec<(Lit, Reason)>,
    /// How each encoder is counted.
    pub(super) ways: Vec<Vec<(Way, Lit)>>,
    /// That a counter serves an encoder, by encoder.
    pub(super) counters: Vec<Vec<(usize, Lit)>>,
    /// For each unit the reason that it does one thing at a time.
    pub(super) single: Vec<Option<Lit>>,
    /// For each encoder that it needs no counter: all its lines are left out.
    pub(super) idle: Vec<Lit>,
    /// What else a unit may do than count: pulse at a rate, stamp.
    pub(super) other_jobs: Vec<Vec<Lit>>,
    /// What holds of counters whichever encoder they count.
    pub(super) in_use: InUse,
}

/// What a unit works as: it can be one thing at a time.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Job {
    Rate(usize),
    Encoder(usize),
    Gives(usize),
    Stamps,
}

impl Model {
    /// Writes the clauses; choices that are barred only where a conflict is to be explained.
    pub(super) fn new(problem: &Problem, explain: bool, end: End) -> Self {
        let mut model = Self {
            clauses: Clauses::new(end),
            choices: (0..problem.lines.len()).map(|line| choices(problem, line, explain)).collect(),
            takes: Vec::new(),
            left_out: Vec::new(),
            sits: Vec::new(),
            otherwise: None,
            programs: None,
            reasons: Vec::new(),
            ways: Vec::new(),
            counters: Vec::new(),
            single: vec![None; problem.units.len()],
            idle: Vec::new(),
            other_jobs: vec![Vec::new(); problem.units.len()],
            in_use: InUse::default(),
        };
        for line in 0..problem.lines.len() {
            model.line(line);
        }
        model.bars();
        model.pins(problem);
        model.plugs(problem);
        model.units(problem);
        model.inputs_in_use(problem);
        model.groups(problem);
        model.programs(problem);
        let lines = model.seekers(|_| true, true);
        model.clauses.keep(Matching::whole(lines, vec![None; problem.pins.len()]));
        let encoders = model.encoders(|_| true);
        model.clauses.keep(Matching::whole(encoders, model.counting_places()));
        model
    }

    /// A line takes one of its choices or is left out.
    fn line(&mut self, line: usize) {
        let takes: Vec<Lit> = self.choices[line].iter().map(|_| self.clauses.decision()).collect();
        let left_out = self.clauses.literal();
        let either: Vec<Lit> = takes.iter().copied().chain([left_out]).collect();
        self.clauses.add(&either);
        self.clauses.at_most_one(&either, None);
        self.takes.push(takes);
        self.left_out.push(left_out);
    }

    fn reason(&mut self, reason: Reason) -> Lit {
        let literal = self.clauses.literal();
        self.reasons.push((literal, reason));
        literal
    }

    /// The reason that something is barred, one literal for all that it bars.
    fn bar(&mut self, bar: Bar) -> Lit {
        let reason = Reason::Barred(bar);
        match self.reasons.iter().find(|(_, known)| *known == reason) {
            Some((literal, _)) => *literal,
            None => self.reason(reason),
        }
    }

    /// Choices that are barred stay closed as long as their reasons stand.
    fn bars(&mut self) {
        for line in 0..self.choices.len() {
            for at in 0..self.choices[line].len() {
                for bar in self.choices[line][at].bars.clone() {
                    let reason = self.bar(bar);
                    self.clauses.add(&[!self.takes[line][at], !reason]);
                }
            }
        }
    }

    /// All literals that put something on a pin, by pin.
    fn on_pins(&self, pins: usize, which: impl Fn(&Choice) -> bool) -> Vec<Vec<(usize, Lit)>> {
        let mut on = vec![Vec::new(); pins];
        for (line, choices) in self.choices.iter().enumerate() {
            for (choice, takes) in choices.iter().zip(&self.takes[line]).filter(|(choice, _)| which(choice)) {
                on[choice.pin].push((line, *takes));
            }
        }
        on
    }

    fn pins(&mut self, problem: &Problem) {
        for on in self.on_pins(problem.pins.len(), |_| true) {
            let literals: Vec<Lit> = on.iter().map(|(_, takes)| *takes).collect();
            self.clauses.at_most_one(&literals, None);
        }
    }

    fn plugs(&mut self, problem: &Problem) {
        let on = self.on_pins(problem.pins.len(), |_| true);
        let mut on_port: BTreeMap<usize, Vec<Lit>> = BTreeMap::new();
        for (number, plug) in problem.plugs.iter().enumerate() {
            let sits: Vec<Lit> = plug.ports.iter().map(|_| self.clauses.decision()).collect();
            self.clauses.add(&sits);
            self.clauses.at_most_one(&sits, None);
            // Without a break-out the plug is all there is; that could be changed.
            let closed = plug.breakout.is_none().then(|| self.bar(Bar::Seated(number)));
            for (port, sits) in plug.ports.iter().zip(&sits) {
                on_port.entry(*port).or_default().push(*sits);
                for (pin, entry) in problem.pins.iter().enumerate().filter(|(_, pin)| pin.port == *port) {
                    let seat = plug.seats.iter().find(|(position, _)| *position == entry.position);
                    let barred = match seat {
                        Some((_, Seat::Line(line))) => {
                            on[pin].iter().filter(|(other, _)| other != line).collect()
                        }
                        Some((_, Seat::Other)) => on[pin].iter().collect(),
                        None if closed.is_some() => on[pin].iter().collect(),
                        None => Vec::new(),
                    };
                    let reason = closed.filter(|_| seat.is_none());
                    for (_, takes) in barred {
                        let clause: Vec<Lit> =
                            [!*sits, !*takes].into_iter().chain(reason.map(|reason| !reason)).collect();
                        self.clauses.add(&clause);
                    }
                }
            }
            if let Some(closed) = closed {
                for (line, position) in seated_lines(problem, number) {
                    for at in 0..self.choices[line].len() {
                        let pin = &problem.pins[self.choices[line][at].pin];
                        let port = plug.ports.iter().position(|port| *port == pin.port);
                        if let Some(port) = port.filter(|_| pin.position == *position) {
                            self.clauses.implies(&[self.takes[line][at], closed], sits[port]);
                        }
                    }
                }
            }
            self.sits.push(sits);
        }
        for (port, sits) in on_port.iter().filter(|(_, sits)| sits.len() > 1) {
            let reason = self.reason(Reason::OnePlug(*port));
            self.clauses.at_most_one(sits, Some(reason));
        }
    }

    /// A timer runs at one frequency, a counter serves one encoder, an output converter one line, and an encoder keeps to
    /// one counter.
    fn units(&mut self, problem: &Problem) {
        let mut jobs: BTreeMap<(usize, Job), Lit> = BTreeMap::new();
        let mut pulses: BTreeMap<usize, Vec<Lit>> = BTreeMap::new();
        for line in 0..self.choices.len() {
            for at in 0..self.choices[line].len() {
                let takes = self.takes[line][at];
                let (unit, job) = match (self.choices[line][at].ability, problem.lines[line].need) {
                    (Ability::Pulse(unit), Need::Pulse { rate }) => {
                        pulses.entry(unit).or_default().push(takes);
                        (unit, Job::Rate(rate))
                    }
                    (Ability::Count(unit, _), Need::Count { encoder, .. }) => (unit, Job::Encoder(encoder)),
                    (Ability::Give(unit), _) => (unit, Job::Gives(line)),
                    (Ability::Stamp(unit), _) => (unit, Job::Stamps),
                    _ => continue,
                };
                let clauses = &mut self.clauses;
                let job = *jobs.entry((unit, job)).or_insert_with(|| clauses.late_decision());
                clauses.implies(&[takes], job);
            }
        }
        for unit in 0..problem.units.len() {
            let of_unit: Vec<Lit> =
                jobs.range((unit, Job::Rate(0))..=(unit, Job::Stamps)).map(|(_, l)| *l).collect();
            if !of_unit.is_empty() {
                let otherwise = jobs.range((unit, Job::Rate(0))..=(unit, Job::Stamps));
                let otherwise = otherwise.filter(|((_, job), _)| !matches!(job, Job::Encoder(_)));
                self.other_jobs[unit] = otherwise.map(|(_, literal)| *literal).collect();
                let reason = self.reason(Reason::OneJob(unit));
                self.single[unit] = Some(reason);
                self.clauses.at_most_one(&of_unit, Some(reason));
            }
            if let (Some(most), Some(pulses)) = (problem.units[unit].outputs, pulses.get(&unit))
                && pulses.len() > most
            {
                let reason = self.reason(Reason::Outputs(unit));
                let counted = counted(&mut self.clauses, pulses, most + 1);
                self.clauses.add(&[!counted[most], !reason]);
            }
        }
        for (number, encoder) in problem.encoders.iter().enumerate() {
            let of_encoder = jobs.iter().filter(|((_, job), _)| *job == Job::Encoder(number));
            let counters: Vec<(usize, Lit)> =
                of_encoder.map(|((unit, _), literal)| (*unit, *literal)).collect();
            let literals: Vec<Lit> = counters.iter().map(|(_, literal)| *literal).collect();
            let reason = self.reason(Reason::OneCounter(number));
            self.clauses.at_most_one(&literals, Some(reason));
            self.counted_by(problem, encoder, &counters, reason);
            self.counters.push(counters);
            self.inputs(encoder, reason);
            self.ways(encoder, reason);
            let idle = self.clauses.literal();
            for line in &encoder.lines {
                self.clauses.implies(&[idle], self.left_out[*line]);
            }
            self.idle.push(idle);
        }
    }

    /// A counter that has no input left for a line does not count its encoder.
    fn counted_by(&mut self, problem: &Problem, encoder: &Encoder, counters: &[(usize, Lit)], reason: Lit) {
        for line in channels(problem, encoder) {
            for (unit, job) in counters {
                let inputs = self.choices[line].iter().zip(&self.takes[line]);
                let inputs =
                    inputs.filter(|(c, _)| matches!(c.ability, Ability::Count(of, _) if of == *unit));
                let clause: Vec<Lit> =
                    inputs.map(|(_, takes)| *takes).chain([!*job, self.left_out[line], !reason]).collect();
                self.clauses.add(&clause);
            }
        }
    }

    /// Two lines of an encoder never share an input of a counter, though it may reach several pins.
    fn inputs(&mut self, encoder: &Encoder, reason: Lit) {
        let mut on: BTreeMap<Ability, Vec<Lit>> = BTreeMap::new();
        for line in &encoder.lines {
            for (choice, takes) in self.choices[*line].iter().zip(&self.takes[*line]) {
                if let Ability::Count(..) = choice.ability {
                    on.entry(choice.ability).or_default().push(*takes);
                }
            }
        }
        for (ability, literals) in &on {
            // Either reason is enough: only two counters for it, each shared with others, would do away with both.
            let Ability::Count(unit, _) = ability else { continue };
            self.clauses.at_most_one(literals, Some(reason));
            self.clauses.at_most_one(literals, self.single[*unit]);
        }
    }

    /// All lines of an encoder are counted in one way.
    fn ways(&mut self, encoder: &Encoder, reason: Lit) {
        // Closed ways have choices where a conflict is to be explained.
        let closed = encoder.closed.iter().filter(|way| {
            let mut choices = encoder.lines.iter().flat_map(|line| &self.choices[*line]);
            choices.any(|choice| choice.way == Some(**way))
        });
        let ways: Vec<Way> = encoder.ways.iter().chain(closed).copied().collect();
        let ways: Vec<(Way, Lit)> = ways.into_iter().map(|way| (way, self.clauses.literal())).collect();
        let literals: Vec<Lit> = ways.iter().map(|(_, literal)| *literal).collect();
        self.clauses.at_most_one(&literals, Some(reason));
        for line in &encoder.lines {
            for at in 0..self.choices[*line].len() {
                let way = self.choices[*line][at].way;
                if let Some((_, literal)) = ways.iter().find(|(known, _)| Some(*known) == way) {
                    self.clauses.implies(&[self.takes[*line][at]], *literal);
                }
            }
        }
        // Only what is counted by a counter takes one.
        if let (Some(counters), Some((_, counter))) =
            (self.counters.last(), ways.iter().find(|(way, _)| *way == Way::Counter))
        {
            for (_, job) in counters.clone() {
                self.clauses.implies(&[job], *counter);
            }
        }
        self.ways.push(ways);
    }

    /// Lines that seek pins; only choices of a kind, and freed from it where they may be left out.
    pub(super) fn seekers(&self, which: impl Fn(&Choice) -> bool, excused: bool) -> Vec<Seeker> {
        let line = |line: usize| {
            let open = self.choices[line].iter().zip(&self.takes[line]).filter(|(choice, _)| which(choice));
            let excuses = if excused { vec![self.left_out[line]] } else { Vec::new() };
            Seeker::new(open.map(|(choice, takes)| (choice.pin, *takes)).collect(), excuses)
        };
        (0..self.choices.len()).map(line).collect()
    }

    /// Encoders that seek counters; what else serves them is a place after all units: one of their own each, or of
    /// those that all share once it is settled how many there are. Programs have so many places as they have time.
    pub(super) fn encoders(&self, others: impl Fn(Way) -> bool) -> Vec<Seeker> {
        let (units, count) = (self.single.len(), self.counters.len());
        let encoder = |number: usize| {
            let serving = self.ways[number].iter().filter(|(way, _)| *way != Way::Counter && others(*way));
            let places = |way: Way| match (self.otherwise, self.programs) {
                (Some(most), _) => units..(units + most.min(count)),
                (None, Some((most, _))) if way == Way::Program => (units + count)..(units + count + most),
                (None, _) => (units + number)..(units + number + 1),
            };
            let others = serving.flat_map(|(way, serves)| places(*way).map(|place| (place, *serves)));
            Seeker::new(
                self.counters[number].iter().copied().chain(others).collect(),
                vec![self.idle[number]],
            )
        };
        (0..count).map(encoder).collect()
    }

    /// Places for encoders: units, one for each that is counted otherwise, and those that programs have time for.
    pub(super) fn counting_places(&self) -> Vec<Option<Lit>> {
        let otherwise = self.counters.iter().map(|_| None);
        let programs =
            self.programs.into_iter().flat_map(|(most, reason)| (0..most).map(move |_| Some(reason)));
        self.single.iter().copied().chain(otherwise).chain(programs).collect()
    }

    /// Lines of one group are read by one converter.
    fn groups(&mut self, problem: &Problem) {
        for (number, group) in problem.groups.iter().enumerate() {
            let mut converters: BTreeMap<usize, Lit> = BTreeMap::new();
            for line in &group.lines {
                for at in 0..self.choices[*line].len() {
                    if let Ability::Measure(unit) = self.choices[*line][at].ability {
                        let clauses = &mut self.clauses;
                        let converter = *converters.entry(unit).or_insert_with(|| clauses.literal());
                        clauses.implies(&[self.takes[*line][at]], converter);
                    }
                }
            }
            let converters: Vec<Lit> = converters.into_values().collect();
            if converters.len() > 1 {
                let reason = self.reason(Reason::OneConverter(number));
                self.clauses.at_most_one(&converters, Some(reason));
            }
        }
    }

    /// Encoders that a program counts cost time; together no more than the processor has to give.
    fn programs(&mut self, problem: &Problem) {
        let by_program =
            |ways: &Vec<(Way, Lit)>| ways.iter().find(|(way, _)| *way == Way::Program).map(|(_, l)| *l);
        let literals: Vec<Option<Lit>> = self.ways.iter().map(by_program).collect();
        let costs: Vec<(Lit, f64)> = literals
            .iter()
            .zip(&problem.encoders)
            .filter_map(|(literal, encoder)| Some(((*literal)?, encoder.interrupt_share)))
            .collect();
        if costs.iter().map(|(_, share)| share).sum::<f64>() > problem.interrupt_share {
            let reason = self.reason(Reason::Interrupts);
            let mut shares: Vec<f64> = costs.iter().map(|(_, share)| *share).collect();
            shares.sort_by(f64::total_cmp);
            let mut room = problem.interrupt_share;
            let fits = shares.iter().take_while(|share| {
                room -= **share;
                room >= 0.0
            });
            // One place at least: without the reason all share it.
            self.programs = Some((fits.count().max(1), reason));
            self.clauses.at_most(costs, problem.interrupt_share, reason);
        }
    }
}

/// Lines of an encoder that are inputs of a counter wherever one counts it.
pub(super) fn channels(problem: &Problem, encoder: &Encoder) -> impl Iterator<Item = usize> {
    let is_index =
        |line: &usize| matches!(problem.lines[*line].need, Need::Count { input: Input::Index, .. });
    encoder.lines.iter().copied().filter(move |line| !is_index(line))
}

/// Lines that a plug fixes, with their positions.
pub(super) fn seated_lines(
    problem: &Problem,
    plug: usize,
) -> impl Iterator<Item = (usize, &std::sync::Arc<str>)> {
    problem.plugs[plug].seats.iter().filter_map(|(position, seat)| match seat {
        Seat::Line(line) => Some((*line, position)),
        Seat::Other => None,
    })
}

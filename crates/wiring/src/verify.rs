//! Whether a plan keeps to the problem, and what it costs: read off the problem line by line, by code that knows
//! nothing of the solver.

use crate::aim::Aim;
use crate::plan::{Plan, Seated};
use crate::problem::{Ability, Input, Line, Need, Problem, Risk, Seat, Way};

/// What a plan does wrong; empty where it can be built.
pub fn verify(problem: &Problem, plan: &Plan) -> Vec<String> {
    let mut wrong = Vec::new();
    if plan.lines.len() != problem.lines.len() || plan.ports.len() != problem.plugs.len() {
        return vec!["the plan is for another bench".to_owned()];
    }
    let seated: Vec<(usize, &Line, Seated)> = problem
        .lines
        .iter()
        .zip(&plan.lines)
        .enumerate()
        .filter_map(|(at, (line, seated))| Some((at, line, (*seated)?)))
        .collect();
    for (line, seated) in problem.lines.iter().zip(&plan.lines) {
        if line.required && seated.is_none() {
            wrong.push(format!("`{}` has no pin", line.name));
        }
    }
    for (at, line, seat) in &seated {
        let pin = &problem.pins[seat.pin];
        let place = problem.place(seat.pin);
        if !pin.abilities.contains(&seat.ability) || !answers(problem, line, *seat) {
            wrong.push(format!("{place} cannot do what `{}` needs", line.name));
        }
        if pin.reserved || pin.taken_by.is_some() {
            wrong.push(format!("{place} is not free for `{}`", line.name));
        }
        if line.unfit.contains(&seat.pin) {
            wrong.push(format!("levels of {place} do not go with `{}`", line.name));
        }
        if line.kept && line.was.is_some_and(|was| was != seat.pin) {
            wrong.push(format!("`{}` was to stay where it was", line.name));
        }
        let breaks_out = problem.seats_of(*at).any(|(plug, _)| problem.plugs[plug].breakout.is_some());
        if leaves_seat(problem, plan, *at, *seat) && !breaks_out {
            wrong.push(format!("`{}` cannot leave its place on the plug", line.name));
        }
        for (other, beside, second) in &seated {
            if other < at && second.pin == seat.pin {
                wrong.push(format!("`{}` and `{}` share {place}", beside.name, line.name));
            }
        }
        for (number, plug) in problem.plugs.iter().enumerate().filter(|(n, _)| plan.ports[*n] == pin.port) {
            let opposite = plug.seats.iter().find(|(position, _)| *position == pin.position);
            let reached = match opposite {
                Some((_, seat)) => *seat == Seat::Line(*at),
                None => plug.breakout.is_some(),
            };
            if !reached {
                wrong.push(format!("{place} lies under plug {number} and is not free for `{}`", line.name));
            }
        }
    }
    for (number, plug) in problem.plugs.iter().enumerate() {
        if !plug.ports.contains(&plan.ports[number]) {
            wrong.push(format!("`{}` does not go onto that port", plug.name));
        }
        if plan.ports[..number].contains(&plan.ports[number]) {
            wrong.push(format!("two plugs on port {}", problem.ports[plan.ports[number]]));
        }
    }
    units(problem, &seated, &mut wrong);
    encoders(problem, plan, &mut wrong);
    for group in &problem.groups {
        let read_by = |line: &usize| plan.lines[*line].map(|seat| seat.ability);
        let mut converters: Vec<Ability> = group.lines.iter().filter_map(read_by).collect();
        converters.dedup();
        if converters.len() > 1 {
            wrong.push(format!("{} are read by different converters", group.name));
        }
    }
    wrong
}

/// Whether what the pin does is what the line needs.
fn answers(problem: &Problem, line: &Line, seat: Seated) -> bool {
    match line.need {
        Need::Read => seat.ability == Ability::Read,
        Need::Drive => seat.ability == Ability::Drive,
        Need::Measure => matches!(seat.ability, Ability::Measure(_)),
        Need::Give => matches!(seat.ability, Ability::Give(_)),
        Need::Pulse { rate } => match seat.ability {
            Ability::Pulse(timer) => {
                problem.units[timer].fastest.is_none_or(|most| problem.rates[rate].hertz <= most)
            }
            _ => false,
        },
        Need::Count { encoder, input } => {
            let encoder = &problem.encoders[encoder];
            let Some(way) = seat.way.filter(|way| encoder.ways.contains(way)) else { return false };
            match seat.ability {
                Ability::Count(unit, at) => {
                    way == Way::Counter
                        && (at == input) != seat.swapped
                        && (at == Input::Index) == (input == Input::Index)
                        && problem.units[unit].edge_rate.is_none_or(|most| encoder.edge_rate <= most)
                }
                Ability::Stamp(_) => way == Way::Stamp && input == Input::A,
                Ability::Read => match way {
                    Way::Counter => input == Input::Index,
                    Way::Stamp => input != Input::A,
                    Way::Program => true,
                },
                _ => false,
            }
        }
    }
}

/// Every unit does one thing, and a timer has outputs enough.
fn units(problem: &Problem, seated: &[(usize, &Line, Seated)], wrong: &mut Vec<String>) {
    for (number, unit) in problem.units.iter().enumerate() {
        let mut jobs: Vec<String> = Vec::new();
        let mut outputs = 0;
        for (_, line, seat) in seated {
            let job = match (seat.ability, line.need) {
                (Ability::Pulse(at), Need::Pulse { rate }) if at == number => {
                    outputs += 1;
                    format!("pulses at {}", problem.rates[rate].name)
                }
                (Ability::Count(at, _), Need::Count { encoder, .. }) if at == number => {
                    format!("counts `{}`", problem.encoders[encoder].axis)
                }
                (Ability::Stamp(at), _) if at == number => "stamps edges".to_owned(),
                (Ability::Give(at), _) if at == number => format!("gives `{}` its voltage", line.name),
                _ => continue,
            };
            if !jobs.contains(&job) {
                jobs.push(job);
            }
        }
        if jobs.len() > 1 {
            wrong.push(format!("`{}` cannot do several things at once: {}", unit.name, jobs.join(", ")));
        }
        if unit.outputs.is_some_and(|most| outputs > most) {
            wrong.push(format!("`{}` has too few outputs", unit.name));
        }
    }
}

/// All lines of an encoder are counted in one way, by one counter, each on an input of its own.
fn encoders(problem: &Problem, plan: &Plan, wrong: &mut Vec<String>) {
    let mut share = 0.0;
    for encoder in &problem.encoders {
        let lines: Vec<Seated> = encoder.lines.iter().filter_map(|line| plan.lines[*line]).collect();
        let name = &encoder.axis;
        if lines.iter().any(|line| line.way != lines[0].way) {
            wrong.push(format!("the lines of `{name}` are counted in different ways"));
        }
        let mut inputs: Vec<(usize, Input)> = Vec::new();
        for line in &lines {
            if let Ability::Count(unit, input) = line.ability {
                if inputs.iter().any(|(other, taken)| *other != unit || *taken == input) {
                    wrong.push(format!("the lines of `{name}` do not fit onto one counter"));
                }
                inputs.push((unit, input));
            }
        }
        if lines.first().is_some_and(|line| line.way == Some(Way::Program)) {
            share += encoder.interrupt_share;
        }
    }
    if share > problem.interrupt_share * (1.0 + 1e-12) {
        wrong.push("counting by program takes too much of the processor's time".to_owned());
    }
}

/// What a plan costs, aim by aim, the weightiest first.
pub fn price(problem: &Problem, plan: &Plan) -> Vec<(Aim, usize)> {
    Aim::ALL.iter().map(|aim| (*aim, count(problem, plan, *aim))).collect()
}

fn count(problem: &Problem, plan: &Plan, aim: Aim) -> usize {
    let seated = || (0..problem.lines.len()).filter_map(|line| Some((line, plan.lines[line]?)));
    let encoders = |cost: &dyn Fn(Seated) -> usize| -> usize {
        let dearest = |lines: &Vec<usize>| lines.iter().filter_map(|line| plan.lines[*line]).map(cost).max();
        problem.encoders.iter().filter_map(|encoder| dearest(&encoder.lines)).sum()
    };
    match aim {
        Aim::Safety => seated().filter(|(line, seat)| is_at_risk(problem, plan, *line, seat.pin)).count(),
        Aim::Served => problem
            .lines
            .iter()
            .zip(&plan.lines)
            .filter(|(line, seat)| !line.required && seat.is_none())
            .count(),
        Aim::Counters => encoders(&|seat| usize::from(!matches!(seat.way, None | Some(Way::Counter)))),
        Aim::Programs => encoders(&|seat| usize::from(seat.way == Some(Way::Program))),
        Aim::Wires => seated().filter(|(line, seat)| leaves_seat(problem, plan, *line, *seat)).count(),
        Aim::Signs => encoders(&|seat| usize::from(seat.swapped)),
        Aim::Pairs => {
            let apart = |(a, b): &&(usize, usize)| match (plan.lines[*a], plan.lines[*b]) {
                (Some(a), Some(b)) => problem.apart(a.pin, b.pin),
                _ => false,
            };
            problem.pairs.iter().filter(apart).count()
        }
        Aim::Buses => seated()
            .filter(|(_, seat)| {
                problem.pins[seat.pin].abilities.iter().any(|ability| matches!(ability, Ability::Serial(..)))
            })
            .count(),
        Aim::Quiet => seated()
            .filter(|(_, seat)| matches!(seat.ability, Ability::Measure(_)))
            .filter(|(_, seat)| {
                seated().any(|(_, other)| {
                    matches!(other.ability, Ability::Pulse(_)) && problem.beside(seat.pin, other.pin)
                })
            })
            .count(),
        Aim::Changes => (0..problem.lines.len())
            .filter(|line| {
                let was = problem.lines[*line].was;
                was.is_some() && plan.lines[*line].map(|seat| seat.pin) != was
            })
            .count(),
    }
}

/// Whether a line on a pin is held where something moves: by that pin, or by those opposite in its plugs.
fn is_at_risk(problem: &Problem, plan: &Plan, line: usize, pin: usize) -> bool {
    let there = |risk: &Risk| risk.line == line && risk.pin == pin && plan.ports[risk.plug] == risk.port;
    problem.lines[line].unsafe_at.contains(&pin) || problem.risks.iter().any(there)
}

/// Whether a line of a plug goes elsewhere than to a pin opposite.
pub(crate) fn leaves_seat(problem: &Problem, plan: &Plan, line: usize, seat: Seated) -> bool {
    let pin = &problem.pins[seat.pin];
    let mut seats = problem.seats_of(line).peekable();
    seats.peek().is_some()
        && !seats.any(|(plug, position)| pin.port == plan.ports[plug] && pin.position == *position)
}

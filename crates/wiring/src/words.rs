//! A conflict in words: what stands in each other's way, and where each of it is in the files.

mod counted;
mod ways_out;

pub(crate) use ways_out::{decoded_by, keeping_free};

use crate::choice::Bar;
use crate::plan::Conflict;
use crate::problem::{Ability, Input, Need, Seat, Way};
use crate::reason::Reason;
use crate::task::{Astray, Task};
use finding::words::{count, listed};
use finding::{Finding, Harm, Remedy, Severity, Span, Trust};

/// Things in the way that one line names.
const MOST_SAID: usize = 4;

/// Members of a conflict that are shown with their places.
const MOST_SHOWN: usize = 12;

/// The finding of a conflict.
pub(crate) fn conflict(task: &Task<'_>, conflict: &Conflict) -> Finding {
    if let Some(counted) = counted::too_many(task) {
        let told = Conflict { reasons: counted.reasons, minimal: true, ways_out: Vec::new() };
        let remedies = ways_out::counted_otherwise(task, conflict).chain(counted.remedies).collect();
        return told_as(task, &told, counted.headline, remedies);
    }
    told_as(task, conflict, headline(task, conflict), ways_out::remedies(task, conflict))
}

/// A wire that is to stay and leads its line to where no line can go.
pub(crate) fn astray(task: &Task<'_>, astray: &Astray) -> Finding {
    let Astray { line, wire, place, carries } = astray;
    let name = &task.problem.lines[*line].name;
    let label = task.bench.wires().iter().find(|(known, ..)| known.span() == *wire);
    let label = label.and_then(|(wire, ..)| wire.id().map(|id| format!(" {id}"))).unwrap_or_default();
    one_line(
        (crate::NO_PLAN, Severity::Blocker),
        format!(
            "wire{label} is to stay and leads `{name}` to {place}, which carries {carries}: no line can go there"
        ),
        Some(wire.clone()),
        "lead the wire to another pin, or leave out --keep: the plan then moves it",
    )
}

/// A line whose wire has no place to begin at.
pub(crate) fn on_no_contact(task: &Task<'_>, line: usize) -> Finding {
    let name = &task.problem.lines[line].name;
    one_line(
        (crate::ON_NO_CONTACT, Severity::Weakness),
        format!(
            "`{name}` needs a wire, and no connector in its part file carries it: nobody knows where the wire begins"
        ),
        place(task, Reason::Connected(line)),
        "add the contact to `pins` of the connector that it is on",
    )
}

/// A finding without figures, with one thing to do.
fn one_line((id, severity): (&str, Severity), message: String, at: Option<Span>, remedy: &str) -> Finding {
    Finding {
        id: id.to_owned(),
        severity,
        harm: Harm::Function,
        subject: "controller".to_owned(),
        message,
        at,
        related: Vec::new(),
        notes: Vec::new(),
        figures: Vec::new(),
        remedies: vec![Remedy { text: remedy.to_owned(), edit: None, trust: Trust::Manual }],
        accepted: None,
        decided: true,
    }
}

fn told_as(task: &Task<'_>, conflict: &Conflict, message: String, remedies: Vec<Remedy>) -> Finding {
    let related: Vec<(Span, String)> = conflict
        .reasons
        .iter()
        .filter_map(|reason| Some((place(task, *reason)?, said(task, *reason))))
        .collect();
    let mut notes: Vec<String> = Vec::new();
    if related.len() < conflict.reasons.len() || related.is_empty() {
        notes.extend(conflict.reasons.iter().take(MOST_SHOWN).map(|reason| said(task, *reason)));
    }
    if conflict.reasons.len() > MOST_SHOWN {
        notes.push(format!("{} more take part", conflict.reasons.len() - MOST_SHOWN));
    }
    if !conflict.minimal {
        notes.push("it was not tried whether all of this is needed for the conflict".to_owned());
    }
    Finding {
        id: crate::NO_PLAN.to_owned(),
        severity: Severity::Blocker,
        harm: Harm::Function,
        subject: "controller".to_owned(),
        message,
        at: related.first().map(|(span, _)| span.clone()),
        related: related.into_iter().take(MOST_SHOWN).skip(1).collect(),
        notes,
        figures: Vec::new(),
        remedies,
        accepted: None,
        decided: true,
    }
}

/// Lines that a conflict says have to be connected.
fn lines_of(conflict: &Conflict) -> Vec<usize> {
    let connected = |reason: &Reason| match reason {
        Reason::Connected(line) => Some(*line),
        _ => None,
    };
    conflict.reasons.iter().filter_map(connected).collect()
}

/// Encoders that lines belong to.
fn encoders_of(task: &Task<'_>, lines: &[usize]) -> Vec<usize> {
    let mut encoders: Vec<usize> = Vec::new();
    for line in lines {
        if let Need::Count { encoder, .. } = task.problem.lines[*line].need
            && !encoders.contains(&encoder)
        {
            encoders.push(encoder);
        }
    }
    encoders
}

/// One line: a count where counting is enough, otherwise what cannot be together.
fn headline(task: &Task<'_>, conflict: &Conflict) -> String {
    let problem = &task.problem;
    let lines = lines_of(conflict);
    let encoders = encoders_of(task, &lines);
    let counts_only = |encoder: &usize| counted::only_by_counter(task, *encoder);
    let all_counted = lines.iter().all(|line| matches!(problem.lines[*line].need, Need::Count { .. }));
    if all_counted && !encoders.is_empty() && encoders.iter().all(counts_only) {
        let names: Vec<String> =
            encoders.iter().map(|e| format!("`{}`", problem.encoders[*e].axis)).collect();
        let (counters, covered) = reached_counters(task, &encoders);
        let reached = match counters.len() {
            0 => "no counter is open to both of its lines".to_owned(),
            1 => format!("only the counter `{}` is open to their lines", counters[0]),
            n => format!("{n} counters are open to their lines: {}", listed(&quoted(&counters))),
        };
        let reached = match covered.as_slice() {
            [] => reached,
            covered => format!("{reached}; pins of {} carry other lines of a plug", listed(&quoted(covered))),
        };
        let need = if names.len() == 1 { "needs a counter" } else { "need counters" };
        return format!(
            "{} ({}) {need}, and {reached}",
            count(names.len(), "encoder", "encoders"),
            listed(&names)
        );
    }
    let names: Vec<String> = lines.iter().map(|line| format!("`{}`", problem.lines[*line].name)).collect();
    let shown = shortened(&names);
    let mut needs: Vec<&'static str> = lines.iter().map(|line| pin_word(problem.lines[*line].need)).collect();
    needs.sort_unstable();
    needs.dedup();
    match (lines.as_slice(), needs.as_slice()) {
        ([line], [need]) if conflict.reasons.contains(&Reason::Barred(Bar::Unfit(*line))) => {
            let because = task.unfit_because[*line].as_deref().unwrap_or("levels do not go together");
            format!("{shown} needs {need}, and none goes with it: {because}")
        }
        ([_], [need]) => format!("no pin is left for {shown}, which needs {need}"),
        (_, [need]) if open_pins(task, &lines) < lines.len() => format!(
            "{} need {need}, and {} can take them: {shown}",
            count(lines.len(), "line", "lines"),
            count(open_pins(task, &lines), "pin", "pins")
        ),
        ([], _) => {
            let said: Vec<String> = conflict.reasons.iter().map(|reason| said(task, *reason)).collect();
            said.join(", and ")
        }
        _ => {
            let because = in_the_way(task, conflict);
            let because =
                if because.is_empty() { String::new() } else { format!(": {}", because.join("; ")) };
            format!("{shown} cannot all be connected{because}")
        }
    }
}

/// What keeps lines of a conflict apart, beside that they want to be connected: rates that differ first.
fn in_the_way(task: &Task<'_>, conflict: &Conflict) -> Vec<String> {
    let problem = &task.problem;
    let mut rates: Vec<(usize, Vec<String>)> = Vec::new();
    for line in lines_of(conflict) {
        let Need::Pulse { rate } = problem.lines[line].need else { continue };
        let name = format!("`{}`", problem.lines[line].name);
        match rates.iter_mut().find(|(known, _)| *known == rate) {
            Some((_, lines)) => lines.push(name),
            None => rates.push((rate, vec![name])),
        }
    }
    let mut said: Vec<String> = Vec::new();
    if rates.len() > 1 {
        let each =
            rates.iter().map(|(rate, lines)| format!("{} for {}", problem.rates[*rate].name, listed(lines)));
        said.push(format!("pulses of {}", listed(&each.collect::<Vec<_>>())));
    }
    for reason in &conflict.reasons {
        let one = match reason {
            Reason::Connected(_) => continue,
            Reason::Barred(Bar::Kept(line)) => match covering(task, *line) {
                Some(plug) => format!("{}, and {plug}", self::said(task, *reason)),
                None => self::said(task, *reason),
            },
            _ => self::said(task, *reason),
        };
        if !said.contains(&one) {
            said.push(one);
        }
    }
    said.truncate(MOST_SAID);
    said
}

/// A plug that puts something else on the pin that a line is to stay on, where it may sit there.
fn covering(task: &Task<'_>, line: usize) -> Option<String> {
    let problem = &task.problem;
    let was = problem.lines[line].was?;
    let pin = &problem.pins[was];
    let covers = |plug: &&crate::problem::Plug| {
        let other = |(position, seat): &(std::sync::Arc<str>, Seat)| {
            *position == pin.position && *seat != Seat::Line(line)
        };
        plug.ports.contains(&pin.port) && plug.seats.iter().any(other)
    };
    let plugs: Vec<String> =
        problem.plugs.iter().filter(covers).map(|plug| format!("`{}`", plug.name)).collect();
    let place = problem.place(was);
    (!plugs.is_empty()).then(|| {
        format!("{} lies on {place} where it sits on {}", plugs.join(" or "), problem.ports[pin.port])
    })
}

/// Counters that the pins open to these encoders lead to; and those of which a plug puts other lines on all such pins.
fn reached_counters(task: &Task<'_>, encoders: &[usize]) -> (Vec<String>, Vec<String>) {
    let problem = &task.problem;
    let (mut open, mut covered): (Vec<String>, Vec<String>) = (Vec::new(), Vec::new());
    for line in encoders.iter().flat_map(|encoder| &problem.encoders[*encoder].lines) {
        for choice in crate::choice::choices(problem, *line, false) {
            if let Ability::Count(unit, _) = choice.ability {
                let found = if is_covered(task, *line, choice.pin) { &mut covered } else { &mut open };
                let name = problem.units[unit].name.to_string();
                if !found.contains(&name) {
                    found.push(name);
                }
            }
        }
    }
    covered.retain(|name| !open.contains(name));
    (open, covered)
}

/// Whether a plug, wherever it may sit, puts something else on a pin.
fn is_covered(task: &Task<'_>, line: usize, pin: usize) -> bool {
    let pin = &task.problem.pins[pin];
    task.problem.plugs.iter().any(|plug| {
        let other = |(position, seat): &(std::sync::Arc<str>, Seat)| {
            *position == pin.position && *seat != Seat::Line(line)
        };
        plug.ports == [pin.port] && plug.seats.iter().any(other)
    })
}

/// How many pins are open to any of these lines and under no plug.
fn open_pins(task: &Task<'_>, lines: &[usize]) -> usize {
    let mut open = vec![false; task.problem.pins.len()];
    for line in lines {
        for choice in crate::choice::choices(&task.problem, *line, false) {
            open[choice.pin] |= !is_covered(task, *line, choice.pin);
        }
    }
    open.into_iter().filter(|open| *open).count()
}

/// What a line needs, after `needs`.
pub(crate) fn pin_word(need: Need) -> &'static str {
    match need {
        Need::Read => "a digital input",
        Need::Drive => "a digital output",
        Need::Pulse { .. } => "a pulse output of a timer",
        Need::Measure => "an analogue input",
        Need::Give => "an analogue output",
        Need::Count { .. } => "an input of a counter",
    }
}

/// A reason in words.
fn said(task: &Task<'_>, reason: Reason) -> String {
    let problem = &task.problem;
    let line = |line: usize| format!("`{}`", problem.lines[line].name);
    match reason {
        Reason::Connected(at) => match problem.lines[at].need {
            Need::Pulse { rate } => format!("{} needs pulses: {}", line(at), problem.rates[rate].name),
            Need::Count { encoder, input } => {
                let input = match input {
                    Input::A => "first channel",
                    Input::B => "second channel",
                    Input::Index => "mark",
                };
                format!("{} is the {input} of the encoder of `{}`", line(at), problem.encoders[encoder].axis)
            }
            need => format!("{} needs {}", line(at), pin_word(need)),
        },
        Reason::Barred(Bar::Reserved(pin)) => format!("{} must be left alone", problem.place(pin)),
        Reason::Barred(Bar::Taken(pin)) => {
            let by = problem.pins[pin].taken_by.as_deref().unwrap_or("something else");
            format!("{} is taken by `{by}`", problem.place(pin))
        }
        Reason::Barred(Bar::Unfit(at)) => {
            format!("levels of {} do not go with pins that could serve it", line(at))
        }
        Reason::Barred(Bar::Seated(plug)) => {
            format!(
                "`{}` fixes where its lines land, and no connector brings them out again",
                problem.plugs[plug].name
            )
        }
        Reason::Barred(Bar::Way(encoder, way)) => not_counted(task, encoder, way),
        Reason::Barred(Bar::Kept(at)) => {
            let was =
                problem.lines[at].was.map_or_else(String::new, |pin| format!(" on {}", problem.place(pin)));
            format!("{} is to stay{was}", line(at))
        }
        Reason::OnePlug(port) => {
            format!("port {} takes one plug: {}", problem.ports[port], listed(&plugs_of(task, port)))
        }
        Reason::OneJob(unit) if counts(task, unit) => {
            format!("the counter `{}` serves one encoder", problem.units[unit].name)
        }
        Reason::OneJob(unit) if gives(task, unit) => {
            format!("the digital-to-analogue converter `{}` gives one voltage", problem.units[unit].name)
        }
        Reason::OneJob(unit) => format!("the timer `{}` runs at one frequency", problem.units[unit].name),
        Reason::Outputs(unit) => format!(
            "the timer `{}` has {} with a duty of their own",
            problem.units[unit].name,
            count(problem.units[unit].outputs.unwrap_or(0), "output", "outputs")
        ),
        Reason::OneCounter(encoder) => {
            format!("both lines of the encoder of `{}` belong on one counter", problem.encoders[encoder].axis)
        }
        Reason::OneConverter(group) => format!("{} belong on one converter", problem.groups[group].name),
        Reason::Interrupts => {
            format!("counting by program may take {:.0} % of the processor", problem.interrupt_share * 100.0)
        }
    }
}

/// Why an encoder is not counted in a way that would serve.
fn not_counted(task: &Task<'_>, encoder: usize, way: Way) -> String {
    let encoder = &task.problem.encoders[encoder];
    let axis = &encoder.axis;
    match encoder.ways.as_slice() {
        [only] if !encoder.ways.contains(&way) && has_decoding(task, axis) => {
            let how = match only {
                Way::Counter => "by a counter",
                Way::Stamp => "by timer stamps",
                Way::Program => "by a program",
            };
            format!("the bench file has the encoder of `{axis}` counted {how}")
        }
        _ => format!(
            "timer stamps give the encoder of `{axis}` no position, and the bench file does not say that its axis needs none"
        ),
    }
}

fn has_decoding(task: &Task<'_>, axis: &str) -> bool {
    task.bench.axis(axis).is_some_and(|axis| axis.entry.has("decoding"))
}

/// Where a reason stands in the files.
fn place(task: &Task<'_>, reason: Reason) -> Option<Span> {
    let bench = task.bench;
    match reason {
        Reason::Connected(line) | Reason::Barred(Bar::Unfit(line) | Bar::Kept(line)) => {
            bench.span_of(&task.lines[line].path())
        }
        Reason::Barred(Bar::Reserved(pin) | Bar::Taken(pin)) => Some(task.pins[pin].span.clone()),
        Reason::Barred(Bar::Seated(plug)) => Some(plugged_span(task, plug)),
        Reason::OnePlug(port) => {
            let plug = task.problem.plugs.iter().position(|plug| plug.ports.contains(&port))?;
            Some(plugged_span(task, plug))
        }
        Reason::OneJob(unit) | Reason::Outputs(unit) => {
            let name = &task.problem.units[unit].name;
            let path = if counts(task, unit) { "counters" } else { "timers" };
            bench.span_of(&format!("controller.{path}.{name}"))
        }
        Reason::Barred(Bar::Way(encoder, _)) => {
            let axis = bench.axis(&task.problem.encoders[encoder].axis)?;
            let key = if axis.entry.key_span("decoding").is_some() { "decoding" } else { "encoder" };
            Some(axis.entry.span_of(key))
        }
        Reason::OneCounter(encoder) => {
            bench.axis(&task.problem.encoders[encoder].axis).map(|axis| axis.entry.span_of("encoder"))
        }
        Reason::OneConverter(group) => {
            let line = *task.problem.groups[group].lines.first()?;
            bench.span_of(&task.lines[line].path())
        }
        Reason::Interrupts => bench.span_of("controller.interrupt_time"),
    }
}

/// Where the bench file says that a plug sits on a port.
fn plugged_span(task: &Task<'_>, plug: usize) -> Span {
    task.plugs[plug].0.entry.span_of(if task.is_first(plug) { "plugged_into" } else { "also_plugged" })
}

/// Plugs that may sit on a port.
fn plugs_of(task: &Task<'_>, port: usize) -> Vec<String> {
    let plugs = task.problem.plugs.iter().filter(|plug| plug.ports.contains(&port));
    plugs.map(|plug| format!("`{}`", plug.name)).collect()
}

/// Whether a unit counts edges on some pin.
fn counts(task: &Task<'_>, unit: usize) -> bool {
    let mut abilities = task.problem.pins.iter().flat_map(|pin| &pin.abilities);
    abilities.any(|ability| matches!(ability, Ability::Count(of, _) if *of == unit))
}

/// Whether a unit gives a voltage on some pin.
fn gives(task: &Task<'_>, unit: usize) -> bool {
    task.problem.pins.iter().any(|pin| pin.abilities.contains(&Ability::Give(unit)))
}

fn quoted(names: &[String]) -> Vec<String> {
    names.iter().map(|name| format!("`{name}`")).collect()
}

fn shortened(names: &[String]) -> String {
    const MOST: usize = 8;
    match names.len().saturating_sub(MOST) {
        0 => listed(names),
        rest => format!("{} and {rest} more", names[..MOST].join(", ")),
    }
}

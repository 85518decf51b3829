//! A conflict in words: what stands in each other's way, where each of it is in the files, and what leads out.

use crate::choice::Bar;
use crate::plan::Conflict;
use crate::problem::{Ability, Input, Need, Seat, Way};
use crate::reason::Reason;
use crate::task::Task;
use bench::file::Decoding;
use finding::words::{count, listed};
use finding::{Edit, Finding, Harm, Remedy, Severity, Span, Trust};

/// Ways out that are said; more only bury the cheap ones.
const MOST_WAYS: usize = 5;

/// Members of a conflict that are shown with their places.
const MOST_SHOWN: usize = 12;

/// The finding of a conflict.
pub(crate) fn conflict(task: &Task<'_>, conflict: &Conflict) -> Finding {
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
        message: headline(task, conflict),
        at: related.first().map(|(span, _)| span.clone()),
        related: related.into_iter().take(MOST_SHOWN).skip(1).collect(),
        notes,
        figures: Vec::new(),
        remedies: remedies(task, conflict),
        accepted: None,
        decided: true,
    }
}

/// The ways out; where none was looked for, what always helps.
fn remedies(task: &Task<'_>, conflict: &Conflict) -> Vec<Remedy> {
    if conflict.ways_out.is_empty() {
        let text =
            "use a controller with more such pins, or a second one, or fewer lines on this one".to_owned();
        return vec![Remedy { text, edit: None, trust: Trust::Manual }];
    }
    conflict.ways_out.iter().take(MOST_WAYS).map(|way| remedy(task, way)).collect()
}

/// One line: a count where counting is enough, otherwise what cannot be together.
fn headline(task: &Task<'_>, conflict: &Conflict) -> String {
    let problem = &task.problem;
    let lines: Vec<usize> = conflict
        .reasons
        .iter()
        .filter_map(|reason| match reason {
            Reason::Connected(line) => Some(*line),
            _ => None,
        })
        .collect();
    let mut encoders: Vec<usize> = Vec::new();
    for line in &lines {
        if let Need::Count { encoder, .. } = problem.lines[*line].need
            && !encoders.contains(&encoder)
        {
            encoders.push(encoder);
        }
    }
    let counts_only = |encoder: &usize| problem.encoders[*encoder].ways == [Way::Counter];
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
        (_, [need]) => {
            let open = open_pins(task, &lines);
            format!(
                "{} need {need}, and {} can take them: {shown}",
                count(lines.len(), "line", "lines"),
                count(open, "pin", "pins")
            )
        }
        ([], _) => {
            let said: Vec<String> = conflict.reasons.iter().map(|reason| said(task, *reason)).collect();
            said.join(", and ")
        }
        _ => format!("{shown} cannot all be connected"),
    }
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

/// How many pins are open to any of these lines.
fn open_pins(task: &Task<'_>, lines: &[usize]) -> usize {
    let mut open = vec![false; task.problem.pins.len()];
    for line in lines {
        for choice in crate::choice::choices(&task.problem, *line, false) {
            open[choice.pin] = true;
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

/// What leads out, with its price.
fn remedy(task: &Task<'_>, way: &[Reason]) -> Remedy {
    let said = given_up_together(task, way);
    let parts = way.iter().filter(|reason| is_part(task, **reason)).count();
    let lost =
        |reason: &Reason| matches!(reason, Reason::Connected(_) | Reason::Outputs(_) | Reason::Interrupts);
    let price = match (way.iter().any(|reason| lost(reason) && !is_part(task, *reason)), parts) {
        (true, _) => "something is lost".to_owned(),
        (false, 0) => "no part to buy".to_owned(),
        (false, parts) => format!("{} to buy", count(parts, "part", "parts")),
    };
    // Both lines of an encoder are given up by one change.
    let mut edits: Vec<Option<Edit>> = way.iter().map(|reason| edit(task, *reason)).collect();
    edits.dedup();
    let edit = if let [one] = edits.as_slice() { one.clone() } else { None };
    let trust = if edit.is_some() { Trust::Ask } else { Trust::Manual };
    Remedy { text: format!("{} ({price})", said.join(", and ")), edit, trust }
}

/// Whether it takes a part to do without a reason.
fn is_part(task: &Task<'_>, reason: Reason) -> bool {
    match reason {
        Reason::Connected(line) => matches!(task.problem.lines[line].need, Need::Count { .. } | Need::Give),
        Reason::OneJob(unit) => counts(task, unit) || gives(task, unit),
        Reason::Barred(Bar::Seated(_) | Bar::Unfit(_)) | Reason::OneCounter(_) => true,
        _ => false,
    }
}

/// What is given up, like things in one breath.
fn given_up_together(task: &Task<'_>, way: &[Reason]) -> Vec<String> {
    let shifted: Vec<String> = way
        .iter()
        .filter_map(|reason| match reason {
            Reason::Barred(Bar::Unfit(line)) => Some(format!("`{}`", task.problem.lines[*line].name)),
            _ => None,
        })
        .collect();
    let mut said: Vec<String> = Vec::new();
    for reason in way {
        let one = match reason {
            Reason::Barred(Bar::Unfit(_)) if shifted.len() > 1 => {
                format!("put level shifters into the lines of {}", listed(&shifted))
            }
            _ => given_up(task, *reason),
        };
        if !said.contains(&one) {
            said.push(one);
        }
    }
    said
}

fn given_up(task: &Task<'_>, reason: Reason) -> String {
    let problem = &task.problem;
    let line = |line: usize| format!("`{}`", problem.lines[line].name);
    match reason {
        Reason::Connected(at) => match problem.lines[at].need {
            Need::Count { encoder, .. } => external(task, encoder),
            Need::Give => format!(
                "give {} its voltage from a digital-to-analogue converter on a serial bus, or from a fixed divider",
                line(at)
            ),
            _ => format!("do without {}", line(at)),
        },
        Reason::Barred(Bar::Reserved(pin)) => {
            format!("free {}, if nothing else needs it", problem.place(pin))
        }
        Reason::Barred(Bar::Taken(pin)) => {
            let by = problem.pins[pin].taken_by.as_deref().unwrap_or("what sits there");
            format!("move `{by}` away from {}", problem.place(pin))
        }
        Reason::Barred(Bar::Unfit(at)) => format!("put a level shifter into the line of {}", line(at)),
        Reason::Barred(Bar::Seated(plug)) => format!(
            "fit a break-out between `{}` and its port, so that single wires can go elsewhere",
            problem.plugs[plug].name
        ),
        Reason::Barred(Bar::Kept(at)) => format!("let {} move to another pin", line(at)),
        Reason::Barred(Bar::Way(encoder, way)) => count_by(task, encoder, way),
        Reason::OnePlug(port) => format!(
            "wire one of {} loosely, or name another port for it in `plugged_into`",
            listed(&plugs_of(task, port))
        ),
        Reason::OneJob(unit) if counts(task, unit) => {
            format!(
                "count one more encoder beside `{}`, by a counter on a serial bus",
                problem.units[unit].name
            )
        }
        Reason::OneJob(unit) if gives(task, unit) => format!(
            "add a digital-to-analogue converter on a serial bus beside `{}`",
            problem.units[unit].name
        ),
        Reason::OneJob(unit) => format!("run all pulses of `{}` at one frequency", problem.units[unit].name),
        Reason::Outputs(unit) => {
            format!("use a controller whose timer `{}` has more outputs", problem.units[unit].name)
        }
        Reason::OneCounter(encoder) => external(task, encoder),
        Reason::OneConverter(group) => {
            format!("read {} one after the other, by different converters", problem.groups[group].name)
        }
        Reason::Interrupts => "use encoders with fewer lines where a program counts them".to_owned(),
    }
}

fn external(task: &Task<'_>, encoder: usize) -> String {
    format!("count the encoder of `{}` by a counter on a serial bus", task.problem.encoders[encoder].axis)
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

/// To count an encoder in another way, with what that costs.
fn count_by(task: &Task<'_>, encoder: usize, way: Way) -> String {
    let encoder = &task.problem.encoders[encoder];
    let axis = &encoder.axis;
    match way {
        Way::Counter => format!("count the encoder of `{axis}` by a counter of the controller"),
        Way::Stamp => format!(
            "let a timer stamp the edges of the encoder of `{axis}`, if its axis needs no position: that gives the speed only and takes the sense from the command"
        ),
        Way::Program => format!(
            "let a program count the encoder of `{axis}`: its edges take {:.1} % of the processor",
            encoder.interrupt_share * 100.0
        ),
    }
}

/// The edit of the bench file that gives a reason up, where an edit does.
fn edit(task: &Task<'_>, reason: Reason) -> Option<Edit> {
    if let Reason::Barred(Bar::Way(encoder, way)) = reason {
        let decoding = match way {
            Way::Counter => Decoding::Counter,
            Way::Stamp => Decoding::Capture,
            Way::Program => Decoding::Software,
        };
        return decoded_by(task, encoder, decoding);
    }
    let encoder = match reason {
        Reason::OneCounter(encoder) => encoder,
        Reason::Connected(line) => match task.problem.lines[line].need {
            Need::Count { encoder, .. } => encoder,
            _ => return None,
        },
        _ => return None,
    };
    decoded_by(task, encoder, Decoding::External)
}

/// The edit that says how an encoder is counted.
pub(crate) fn decoded_by(task: &Task<'_>, encoder: usize, decoding: Decoding) -> Option<Edit> {
    let axis = task.bench.axis(&task.problem.encoders[encoder].axis)?;
    let word = format!("\"{}\"", decoding.word());
    if axis.entry.key_span("decoding").is_some() {
        return Some(Edit { span: axis.entry.span_of("decoding"), text: word });
    }
    let first = axis.entry.key_span("driver")?;
    Some(Edit { span: Span { end: first.start, ..first }, text: format!("decoding = {word}\n") })
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
    let (board, plugged) = task.plugs[plug];
    let first = board.plugged.as_ref().is_some_and(|first| std::ptr::eq(first, plugged));
    board.entry.span_of(if first { "plugged_into" } else { "also_plugged" })
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

//! What leads out of a conflict, with its price, and the edit of the bench file that does it.

use super::{counted, counts, encoders_of, gives, lines_of, plugs_of};
use crate::choice::Bar;
use crate::plan::Conflict;
use crate::problem::{Need, Way};
use crate::reason::Reason;
use crate::task::Task;
use bench::file::Decoding;
use finding::words::{count, listed};
use finding::{Edit, Remedy, Span, Trust};

/// Ways out that are said; more only bury the cheap ones.
const MOST_WAYS: usize = 5;

/// The ways out; where none was found, first steps.
pub(super) fn remedies(task: &Task<'_>, conflict: &Conflict) -> Vec<Remedy> {
    let encoders = encoders_of(task, &lines_of(conflict));
    let counted = encoders.iter().all(|encoder| counted::only_by_counter(task, *encoder));
    let by_program = counted.then(|| counted::program_would_help(task, &encoders)).flatten();
    let mut all: Vec<Remedy> =
        conflict.ways_out.iter().take(MOST_WAYS).map(|way| remedy(task, way)).collect();
    if all.is_empty() {
        all = first_steps(task, conflict, &encoders);
    }
    all.extend(by_program);
    all
}

/// Ways out of a conflict that only count encoders in a way that the bench file closes.
pub(super) fn counted_otherwise(task: &Task<'_>, conflict: &Conflict) -> impl Iterator<Item = Remedy> {
    let counts = |way: &&Vec<Reason>| way.iter().all(|reason| matches!(reason, Reason::Barred(Bar::Way(..))));
    conflict.ways_out.iter().filter(counts).take(MOST_WAYS).map(move |way| remedy(task, way))
}

/// What begins to lead out of a conflict for which no way out of few steps was found.
fn first_steps(task: &Task<'_>, conflict: &Conflict, encoders: &[usize]) -> Vec<Remedy> {
    let mut reasons: Vec<Reason> =
        conflict.reasons.iter().copied().filter(|reason| !matches!(reason, Reason::Connected(_))).collect();
    reasons.sort_by_key(|reason| (reason.price(), *reason));
    let mut steps: Vec<String> = Vec::new();
    for said in reasons.iter().map(|reason| given_up(task, *reason)) {
        if !steps.contains(&said) && steps.len() < MOST_WAYS {
            steps.push(said);
        }
    }
    if !encoders.is_empty() {
        return counted::external_counters(task, encoders);
    }
    if steps.is_empty() {
        steps.push(
            "use a controller with more such pins, or a second one, or fewer lines on this one".to_owned(),
        );
        return steps.into_iter().map(|text| Remedy { text, edit: None, trust: Trust::Manual }).collect();
    }
    let step = |text: String| Remedy {
        text: format!("a first step, which alone is not enough: {text}"),
        edit: None,
        trust: Trust::Manual,
    };
    steps.into_iter().map(step).collect()
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

/// What is done without a reason.
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

/// A counter of its own for an encoder.
pub(super) fn external(task: &Task<'_>, encoder: usize) -> String {
    format!("count the encoder of `{}` by a counter on a serial bus", task.problem.encoders[encoder].axis)
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

/// The edit that adds pins to those kept free.
pub(crate) fn keeping_free(task: &Task<'_>, pins: &[String]) -> Option<Edit> {
    let entry = &task.bench.controller()?.entry;
    let named: Vec<String> = pins.iter().map(|pin| format!("\"{pin}\"")).collect();
    let named = named.join(", ");
    if entry.key_span("keep_free").is_some() {
        // Behind the bracket that opens the list, so that what it holds stays.
        let list = entry.span_of("keep_free");
        let more = if entry.keep_free().is_empty() { "" } else { ", " };
        let at = list.start + 1;
        return Some(Edit { span: Span { start: at, end: at, ..list }, text: format!("{named}{more}") });
    }
    let first = entry.key_span("part")?;
    Some(Edit { span: Span { end: first.start, ..first }, text: format!("keep_free = [{named}]\n") })
}

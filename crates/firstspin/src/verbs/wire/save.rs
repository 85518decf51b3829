//! The plan in the bench file: wires to add are added at its end, wires that lead elsewhere now are led there, wires
//! without a use are taken out, pins that must stay inputs are kept free.
//! Everything else of the file stays byte for byte. The new text is read and wired once more before it is kept.

use crate::bench_choice::Chosen;
use crate::changed::{Changed, replace};
use crate::failure::Failure;
use bench::Bench;
use finding::words::{count, listed};
use finding::{Edit, Span};
use std::fs;
use std::path::Path;
use wiring::{Options, PlannedWire, State, Wiring};

/// Writes the plan into the bench file; what was done, in a sentence.
pub(super) fn save(chosen: &Chosen, wiring: &Wiring<'_>, keep: bool) -> Result<String, Failure> {
    let Some(folder) = &chosen.folder else {
        return Err(Failure::Said("there is no bench.toml to write the plan into".to_owned()));
    };
    let path = folder.join("bench.toml");
    let (added, moved) = (in_state(wiring, State::New), in_state(wiring, State::Moves));
    let gone = in_state(wiring, State::Goes);
    let ports = chosen_ports(wiring);
    let counted = wiring.newly_counted();
    let free: Vec<String> = wiring.newly_kept_free().iter().map(|(pin, _)| pin.place()).collect();
    let nothing_said = ports.is_empty() && counted.is_empty() && free.is_empty();
    if added.is_empty() && moved.is_empty() && gone.is_empty() && nothing_said {
        return Ok("bench.toml holds the plan already.".to_owned());
    }
    let old = fs::read_to_string(&path)
        .map_err(|error| Failure::Said(format!("cannot read {}: {error}", path.display())))?;
    let said = ports.iter().map(|(span, _, port)| Edit { span: span.clone(), text: quoted(port) });
    let said = said.chain(counted.iter().filter_map(|(_, _, edit)| edit.clone()));
    let said: Vec<Edit> = said.chain(wiring.keeping_free(&free).filter(|_| !free.is_empty())).collect();
    let new = changed(&old, &added, &moved, &gone, &said);
    if let Err(why) = can_begin(wiring).and_then(|()| holds_the_plan(folder, &new, wiring, keep)) {
        return Err(Failure::Said(format!(
            "{} was left as it is, since the changed file would not hold the plan: {why}; or write the wires of the list by \
             hand",
            path.display()
        )));
    }
    replace(&path, &new).map_err(|error| {
        Failure::Said(format!("cannot write {}: {error}; it is as it was", path.display()))
    })?;
    let done = [(added.len(), "added"), (moved.len(), "moved"), (gone.len(), "taken out")];
    let mut done: Vec<String> = done
        .iter()
        .filter(|(n, _)| *n > 0)
        .map(|(n, what)| format!("{} {what}", count(*n, "wire", "wires")))
        .collect();
    done.extend(counted.iter().map(|(axis, by, _)| format!("encoder of {axis} counted by {}", by.word())));
    done.extend(Some(format!("{} kept free", listed(&free))).filter(|_| !free.is_empty()));
    done.extend(ports.iter().map(|(_, board, port)| format!("{board} plugged into {port}")));
    Ok(format!("bench.toml: {}.", done.join(", ")))
}

fn in_state<'w>(wiring: &'w Wiring<'_>, state: State) -> Vec<&'w PlannedWire> {
    wiring.wires.iter().filter(|wire| wire.state == state).collect()
}

/// Boards for which the plan chose among several ports: where that is said, the board, the port.
fn chosen_ports(wiring: &Wiring<'_>) -> Vec<(Span, String, String)> {
    let problem = &wiring.task.problem;
    let plugs = wiring.task.plugs.iter().zip(&problem.plugs).zip(&wiring.solved.plan.ports);
    let open = plugs.filter(|((_, plug), _)| plug.ports.len() > 1);
    open.map(|(((board, _), _), port)| {
        (board.entry.span_of("plugged_into"), board.name.to_string(), problem.ports[*port].to_string())
    })
    .collect()
}

fn changed(
    old: &str,
    added: &[&PlannedWire],
    moved: &[&PlannedWire],
    gone: &[&PlannedWire],
    said: &[Edit],
) -> String {
    let end = if old.contains("\r\n") { "\r\n" } else { "\n" };
    let mut new = old.to_owned();
    // Spans are those of the text without the mark that some editors put first.
    let shift = if old.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
    let mut edits: Vec<(std::ops::Range<usize>, String)> = Vec::new();
    for wire in moved {
        let Some(entry) = &wire.entry else { continue };
        for (key, text) in [("from", &wire.from), ("to", &wire.to)] {
            let span = entry.span_of(key);
            edits.push((span.start + shift..span.end + shift, quoted(text)));
        }
    }
    edits.extend(
        said.iter()
            .map(|edit| (edit.span.start + shift..edit.span.end + shift, edit.text.replace('\n', end))),
    );
    let starts = gone.iter().filter_map(|wire| wire.entry.as_ref()).map(|entry| entry.span().start + shift);
    edits.extend(starts.filter_map(|start| table_at(old, start)).map(|range| (range, String::new())));
    // From the last to the first, so that places before stay where they are.
    edits.sort_by_key(|(range, _)| std::cmp::Reverse(range.start));
    for (range, text) in edits {
        if new.get(range.clone()).is_some() {
            new.replace_range(range, &text);
        }
    }
    if !new.is_empty() && !new.ends_with('\n') {
        new.push_str(end);
    }
    for wire in added {
        let colour = wire.colour.as_ref().map(|colour| format!("colour = {}", quoted(colour)));
        let lines = [
            String::new(),
            "[[wires]]".to_owned(),
            format!("id = {}", quoted(&wire.id)),
            format!("from = {}", quoted(&wire.from)),
            format!("to = {}", quoted(&wire.to)),
            format!("carries = {}", quoted(&wire.carries)),
        ];
        for line in lines.into_iter().chain(colour) {
            new.push_str(&line);
            new.push_str(end);
        }
    }
    new
}

/// A text as the file writes it.
fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}

/// The lines of the table that begins about here: its head and the keys below, up to an empty line, a comment or the
/// next table.
fn table_at(text: &str, start: usize) -> Option<std::ops::Range<usize>> {
    let from = text.get(..start)?.rfind('\n').map_or(0, |at| at + 1);
    let mut to = from;
    for (at, line) in text[from..].split_inclusive('\n').enumerate() {
        let bare = line.trim_start();
        if at > 0 && (bare.starts_with(['[', '#']) || bare.trim_end().is_empty()) {
            break;
        }
        to += line.len();
    }
    text[from..to].trim_start().starts_with("[[wires]]").then_some(from..to)
}

/// Every wire begins at a contact that the files name; else why not.
fn can_begin(wiring: &Wiring<'_>) -> Result<(), String> {
    let without = wiring.on_no_contact();
    if without.is_empty() {
        return Ok(());
    }
    let names: Vec<String> =
        without.iter().map(|line| format!("`{}`", wiring.task.problem.lines[*line].name)).collect();
    Err(format!("no connector in the part files carries {}: add the contact to `pins` there", listed(&names)))
}

/// Whether the changed file is a bench whose wires are just the plan; else why not.
fn holds_the_plan(folder: &Path, text: &str, wiring: &Wiring<'_>, keep: bool) -> Result<(), String> {
    let in_a_list = |line: &str| {
        line.trim_start().strip_prefix("wires").is_some_and(|rest| rest.trim_start().starts_with('='))
    };
    if text.lines().any(in_a_list) {
        return Err(
            "its wires stand in one list, `wires = [ … ]`: write each as a table `[[wires]]`".to_owned()
        );
    }
    let files = Changed::new(folder, "bench.toml", text);
    let loaded = bench::load_from(&files);
    let Some(bench) = loaded.value else {
        let first = loaded.findings.first().map(|finding| finding.message.clone());
        return Err(first.unwrap_or_else(|| "it could not be read again".to_owned()));
    };
    let Some(again) = rewired(&bench, keep) else { return Err("it would leave no plan".to_owned()) };
    if let Some(wire) = again.wires.iter().find(|wire| wire.state != State::Stays) {
        return Err(format!(
            "the wire from {} to {} would be one {}",
            wire.from,
            wire.to,
            match wire.state {
                State::New => "to add still",
                State::Moves => "to move still",
                _ => "to take away still",
            }
        ));
    }
    if again.solved.plan != wiring.solved.plan || !again.newly_kept_free().is_empty() {
        return Err("another plan would come out of it".to_owned());
    }
    Ok(())
}

fn rewired(bench: &Bench, keep: bool) -> Option<Wiring<'_>> {
    wiring::wire(bench, &Options { keep, ..Options::default() }).value
}

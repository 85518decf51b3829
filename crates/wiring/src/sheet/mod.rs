//! The wiring as tables: what a person wires by, checks by, and buys by.

mod connectors;
mod parts;
mod power_up;
mod rails;
mod signals;
mod spare;
mod wire_list;

pub(crate) use signals::meaning;

use crate::Wiring;
use crate::firm::Firm;
use crate::wires::State;
use bench::file::Decoding;
use finding::sheet::{Block, Sheet, Table};
use finding::words::count;

/// The sheet of a wiring: the plan in a paragraph, then all tables.
pub(crate) fn sheet(wiring: &Wiring<'_>) -> Sheet {
    let mut blocks = vec![
        Block::Caution(
            "Wire with every supply off and unplugged. Compare each wire with this list before power; a wrong pin can \
             put a supply on an input."
                .to_owned(),
        ),
        signals::control(wiring),
        signals::feedback(wiring),
        wire_list::table(wiring),
        Block::Text("↷ marks a line that a single wire leads away from the pin that its plug puts it on.".to_owned()),
    ];
    blocks.extend(connectors::tables(wiring));
    blocks.push(spare::table(wiring));
    blocks.extend(firm(wiring));
    blocks.push(Block::Text(power_up::INTRODUCTION.to_owned()));
    blocks.push(power_up::table(wiring));
    blocks.push(rails::table(wiring));
    blocks.push(parts::table(wiring));
    Sheet { id: "wiring".to_owned(), title: "Wiring".to_owned(), summary: summary(wiring), blocks }
}

/// Which lines could lie elsewhere, and at what price.
fn firm(wiring: &Wiring<'_>) -> Option<Block> {
    let task = &wiring.task;
    let mut rows = Vec::new();
    for (line, firm) in wiring.firm()?.into_iter().enumerate() {
        let (Some(firm), Some(seat)) = (firm, wiring.solved.plan.lines[line]) else { continue };
        let said = match firm {
            Firm::Only => "nowhere".to_owned(),
            Firm::Equal => "as good".to_owned(),
            Firm::Costs(aim, count) => format!("{count} more {}", aim.words(count)),
        };
        rows.push(vec![task.problem.lines[line].name.to_string(), task.pins[seat.pin].place(), said]);
    }
    Some(table("firm-pins", "How firm each pin is", &["line", "pin", "elsewhere"], rows))
}

/// What the plan is, how good, and how far that is proven.
fn summary(wiring: &Wiring<'_>) -> Vec<String> {
    let solved = &wiring.solved;
    let lines = solved.plan.lines.iter().flatten().count();
    let in_state = |state| wiring.wires.iter().filter(|wire| wire.state == state).count();
    let changes: Vec<String> =
        [(State::New, "to add"), (State::Moves, "to move"), (State::Goes, "to take away")]
            .into_iter()
            .filter(|(state, _)| in_state(*state) > 0)
            .map(|(state, said)| format!("{} {said}", count(in_state(state), "wire", "wires")))
            .collect();
    let changes = if changes.is_empty() {
        "the wires of the bench file are the plan".to_owned()
    } else {
        changes.join(", ")
    };
    let first = format!(
        "{} on {} of the controller; {changes}.",
        count(lines, "line lies", "lines lie"),
        count(wiring.task.problem.pins.len(), "pin", "pins")
    );
    let costs: Vec<String> = wiring
        .price
        .iter()
        .filter(|(_, count)| *count > 0)
        .map(|(aim, count)| format!("{count} {}", aim.words(*count)))
        .collect();
    let costs = if costs.is_empty() { "nothing that a plan keeps few".to_owned() } else { costs.join("; ") };
    let proof = if solved.proven {
        format!("Proven: no plan does better. It costs: {costs}.")
    } else {
        let known: Vec<String> =
            solved.least.iter().map(|(aim, least)| format!("{least} {}", aim.words(*least))).collect();
        format!(
            "The search was given up before the plan was proven best. It costs: {costs}. Proven so far, in the order of weight, each given the ones before: at least {}.",
            known.join("; ")
        )
    };
    let free = solved.free.iter().filter(|free| **free).count();
    let ties = match free {
        0 if solved.proven => "No line could lie elsewhere in a plan as good.".to_owned(),
        0 => String::new(),
        n => format!(
            "{} could lie elsewhere in a plan as good; the first pins in the order of the file were taken.",
            count(n, "line", "lines")
        ),
    };
    let mut all = vec![first, proof];
    all.extend(wiring.newly_counted().into_iter().map(|(axis, decoding, _)| {
        let how = match decoding {
            Decoding::Capture => "a timer stamps its edges, which gives the speed only and takes the sense from the command. That",
            _ => "a program counts it, which each edge interrupts. That",
        };
        let word = decoding.word();
        format!("No counter is left for the encoder of `{axis}`: {how} `decoding = \"{word}\"` of axes.{axis} has to say.")
    }));
    all.extend(Some(ties).filter(|text| !text.is_empty()));
    all
}

/// A table; a heading that begins with `#` stands over numbers.
fn table(id: &str, title: &str, headings: &[&str], rows: Vec<Vec<String>>) -> Block {
    Block::Table(Table::of(id, title, headings, rows))
}

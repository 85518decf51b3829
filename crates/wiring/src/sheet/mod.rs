//! The wiring as tables: what a person wires by, checks by, and buys by.

mod cables;
mod connectors;
mod parts;
mod power_up;
mod rails;
mod signals;
mod spare;
mod wire_list;

pub(crate) use signals::meaning;

use crate::Wiring;
use crate::aim::Aim;
use crate::firm::Firm;
use crate::wires::State;
use bench::file::Decoding;
use bench::model::PortPin;
use finding::sheet::{Block, Sheet, Table};
use finding::words::{count, listed};

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
    blocks.extend(cables::table(wiring));
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
        .map(|(aim, count)| match aim {
            Aim::Served => format!("{count} {} ({})", aim.words(*count), listed(&left_out(wiring))),
            _ => format!("{count} {}", aim.words(*count)),
        })
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
        0 if solved.settled => "No line could lie elsewhere in a plan as good.".to_owned(),
        0 => String::new(),
        n if solved.settled => format!(
            "{} could lie elsewhere in a plan as good; the first pins in the order of the file were taken.",
            count(n, "line", "lines")
        ),
        n => format!(
            "At least {} could lie elsewhere in a plan as good; whether pins that come first in the file were left for some of them was not searched to the end.",
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
    all.extend(unlike(wiring));
    all.extend(twice(wiring));
    let free = wiring.newly_kept_free();
    if !free.is_empty() {
        let of =
            |text: &dyn Fn(&(&PortPin, String)) -> String| listed(&free.iter().map(text).collect::<Vec<_>>());
        all.push(format!(
            "The firmware must never drive {}, which a plug leaves connected to {}: `keep_free` of [controller] has to name \
             {}.",
            of(&|(pin, _)| pin.place()),
            of(&|(_, line)| format!("`{line}`")),
            if free.len() == 1 { "it" } else { "them" }
        ));
    }
    all.extend(Some(ties).filter(|text| !text.is_empty()));
    all
}

/// Lines that the plan leaves without a pin.
fn left_out(wiring: &Wiring<'_>) -> Vec<String> {
    let lines = wiring.task.problem.lines.iter().zip(&wiring.solved.plan.lines);
    lines.filter(|(_, seat)| seat.is_none()).map(|(line, _)| format!("`{}`", line.name)).collect()
}

/// Plugs that are made for another port than the one that they sit on; `check` says what follows.
fn unlike(wiring: &Wiring<'_>) -> Vec<String> {
    let task = &wiring.task;
    let ports = task.bench.controller().map(|controller| controller.part.ports()).unwrap_or_default();
    let plugs = task.plugs.iter().zip(&task.problem.plugs).zip(&wiring.solved.plan.ports);
    plugs
        .filter_map(|(((_, plugged), plug), port)| {
            let port = ports.get(*port)?;
            let own = plugged.connector.mates()?.to_owned();
            let other = port.mates().filter(|other| *other != own)?.to_owned();
            Some(format!(
                "`{}` is made for a {own}, and port {} for a {other}: they do not go together.",
                plug.name,
                port.name()
            ))
        })
        .collect()
}

/// Lines that plugs carry on more than one contact: a slip of a sheet, or pins to keep inputs.
fn twice(wiring: &Wiring<'_>) -> Vec<String> {
    let problem = &wiring.task.problem;
    let mut said = Vec::new();
    for (line, entry) in problem.lines.iter().enumerate() {
        let mut on: Vec<(usize, Vec<String>)> = Vec::new();
        for (plug, position) in problem.seats_of(line) {
            match on.last_mut().filter(|(last, _)| *last == plug) {
                Some((_, positions)) => positions.push(position.to_string()),
                None => on.push((plug, vec![position.to_string()])),
            }
        }
        let contacts: usize = on.iter().map(|(_, positions)| positions.len()).sum();
        if contacts < 2 {
            continue;
        }
        let name = |plug: usize| &problem.plugs[plug].name;
        let which = match on.as_slice() {
            [(plug, positions)] => format!("of `{}`: {}", name(*plug), listed(positions)),
            plugs => {
                let each = plugs.iter().map(|(plug, at)| format!("{} of `{}`", listed(at), name(*plug)));
                listed(&each.collect::<Vec<_>>())
            }
        };
        said.push(format!(
            "`{}` stands on {contacts} contacts{}{which}. All pins opposite to them are one line.",
            entry.name,
            if on.len() == 1 { " " } else { ": " },
        ));
    }
    said
}

/// A table; a heading that begins with `#` stands over numbers.
fn table(id: &str, title: &str, headings: &[&str], rows: Vec<Vec<String>>) -> Block {
    Block::Table(Table::of(id, title, headings, rows))
}

//! Every connector pin by pin: ports of the controller, connectors of the boards.

use crate::Wiring;
use crate::wires::{PlannedWire, State, is_rerouted};
use bench::model::{Board, Feed};
use bench::part::{Connector, Numbering, Port, SignalDirection, View};
use finding::sheet::Block;
use std::sync::Arc;

const HEADINGS: [&str; 5] = ["pin", "carries", "plug", "wires", "remark"];

/// A table for each port, then for each connector of a board that carries something.
pub(super) fn tables(wiring: &Wiring<'_>) -> Vec<Block> {
    let ports = wiring.task.bench.controller().map(|controller| controller.part.ports()).unwrap_or_default();
    let mut tables: Vec<Block> = ports.iter().map(|port| self::port(wiring, port)).collect();
    for board in wiring.task.bench.boards() {
        let connectors = board.connectors();
        tables
            .extend(connectors.iter().filter(|c| board.is_populated(c)).map(|c| connector(wiring, board, c)));
    }
    for servo in wiring.task.bench.servos().iter().filter(|servo| servo.output.is_none()) {
        let own = servo.part.connectors();
        tables.extend(own.iter().map(|c| lead(wiring, &servo.name, c, servo.feed.as_ref())));
    }
    for axis in wiring.task.bench.axes().iter().filter(|axis| axis.encoder_at.is_none()) {
        let own = axis.encoder.as_ref().map(|encoder| encoder.connectors()).unwrap_or_default();
        let device = format!("{}.encoder", axis.name);
        tables.extend(own.iter().map(|c| lead(wiring, &device, c, axis.encoder_feed.as_ref())));
    }
    tables
}

fn port(wiring: &Wiring<'_>, port: &Port) -> Block {
    let task = &wiring.task;
    let pins = task.bench.controller().map(|controller| controller.pins.as_slice()).unwrap_or_default();
    let number = task.problem.ports.iter().position(|name| **name == *port.name());
    let plug = (0..task.problem.plugs.len()).find(|plug| Some(wiring.solved.plan.ports[*plug]) == number);
    let rows = pins.iter().filter(|pin| *pin.port == *port.name()).map(|pin| {
        let place = pin.place();
        let own = task.pins.iter().position(|known| known.place() == place);
        let line = own.and_then(|own| {
            wiring.solved.plan.lines.iter().position(|seat| seat.is_some_and(|seat| seat.pin == own))
        });
        let opposite = plug.and_then(|plug| {
            let (board, plugged) = task.plugs[plug];
            board
                .pins_of(&plugged.connector)
                .into_iter()
                .find(|(at, _)| *at == pin.position)
                .map(|(_, carries)| carries)
        });
        let left =
            plug.zip(opposite.as_deref()).and_then(|(plug, carries)| input(wiring, plug, carries, own));
        let remark = match (&left, own.map(|own| &task.problem.pins[own])) {
            (Some(why), _) => format!("keep it an input: {why}"),
            (None, Some(entry)) if entry.reserved => "leave it alone".to_owned(),
            (None, Some(entry)) => {
                entry.taken_by.as_ref().map(|by| format!("taken by {by}")).unwrap_or_default()
            }
            (None, None) => String::new(),
        };
        let carries = match (line, &pin.carries) {
            (Some(line), _) => task.problem.lines[line].name.to_string(),
            (None, Some(rail)) => rail.to_string(),
            (None, None) => String::new(),
        };
        vec![
            pin.position.to_string(),
            carries,
            opposite.as_deref().unwrap_or_default().to_owned(),
            wires_at(wiring, &format!("controller.{place}")),
            remark,
        ]
    });
    let seen = seen(port.view().value, port.numbering().value);
    let id = format!("port-{}", slug(port.name()));
    super::table(&id, &format!("Port {} of the controller{seen}", port.name()), &HEADINGS, rows.collect())
}

/// Why the firmware must never drive a pin that a plug puts a signal on; `None` where the signal goes just there.
fn input(wiring: &Wiring<'_>, plug: usize, carries: &str, pin: Option<usize>) -> Option<String> {
    let task = &wiring.task;
    let (board, _) = task.plugs[plug];
    let signal = board.signal(carries)?;
    let name = format!("{}:{carries}", board.name);
    let line = task.problem.lines.iter().position(|line| *line.name == *name);
    match line.and_then(|line| Some((line, wiring.solved.plan.lines[line]?))) {
        Some((_, seat)) if Some(seat.pin) == pin => None,
        Some((line, seat)) => {
            let place = task.pins[seat.pin].place();
            Some(match is_rerouted(task, &wiring.solved.plan, line) {
                true => format!("{name} goes to {place} by a wire ↷"),
                false => format!("{name} stands on this contact as well, and goes to {place}"),
            })
        }
        None => signal.direction().is(SignalDirection::Out).then(|| format!("{name} drives it")),
    }
}

fn connector(wiring: &Wiring<'_>, board: &Arc<Board>, connector: &Connector) -> Block {
    let plugged = board.is_plugged(connector.name());
    let name = format!("{}.{}", board.name, connector.name());
    let port = wiring.task.problem.plugs.iter().position(|plug| plugged && *plug.name == *name);
    let port = port.map(|plug| &wiring.task.problem.ports[wiring.solved.plan.ports[plug]]);
    let rows = board.pins_of(connector).into_iter().map(|(pin, carries)| {
        let line = format!("{}:{carries}", board.name);
        let line = wiring.task.problem.lines.iter().position(|known| *known.name == *line);
        let remark = match line.and_then(|line| wiring.solved.plan.lines[line].map(|seat| (line, seat))) {
            Some((line, seat)) => {
                let sign = if is_rerouted(&wiring.task, &wiring.solved.plan, line) { " ↷" } else { "" };
                format!("goes to {}{sign}", wiring.task.pins[seat.pin].place())
            }
            None => String::new(),
        };
        let opposite = port.map(|port| format!("{port}.{pin}")).unwrap_or_default();
        vec![
            pin.to_string(),
            carries.to_string(),
            opposite,
            wires_at(wiring, &format!("{name}.{pin}")),
            remark,
        ]
    });
    // A break-out is counted like the connector that it brings out again, unless it says otherwise.
    let passed = connector.passes().and_then(|passed| board.connector(passed));
    let seen = seen(
        connector.view().value.or_else(|| passed.as_ref()?.view().value),
        connector.numbering().value.or_else(|| passed.as_ref()?.numbering().value),
    );
    let id = format!("connector-{}-{}", slug(&board.name), slug(connector.name()));
    super::table(&id, &format!("Connector {name}{seen}"), &HEADINGS, rows.collect())
}

/// The connector of a servo or encoder that is wired by itself.
fn lead(wiring: &Wiring<'_>, device: &str, connector: &Connector, feed: Option<&Feed>) -> Block {
    let (task, plan) = (&wiring.task, &wiring.solved.plan);
    let name = format!("{device}.{}", connector.name());
    let rows = connector.pins().iter().map(|entry| {
        let carries = entry.text().unwrap_or_default();
        let line = task.problem.lines.iter().position(|line| *line.name == *format!("{device}:{carries}"));
        let goes = line.and_then(|line| plan.lines[line]).map(|seat| task.pins[seat.pin].place());
        let fed = feed.filter(|_| carries == "supply").map(|feed| format!("from {feed}"));
        vec![
            entry.key.text.to_string(),
            carries.to_owned(),
            String::new(),
            wires_at(wiring, &format!("{name}.{}", entry.key.text)),
            goes.map(|place| format!("goes to {place}")).or(fed).unwrap_or_default(),
        ]
    });
    let seen = seen(connector.view().value, connector.numbering().value);
    let id = format!("connector-{}-{}", slug(device), slug(connector.name()));
    super::table(&id, &format!("Connector {name}{seen}"), &HEADINGS, rows.collect())
}

/// Labels of the wires at a place.
fn wires_at(wiring: &Wiring<'_>, place: &str) -> String {
    let here = |wire: &&PlannedWire| wire.state != State::Goes && (wire.from == place || wire.to == place);
    wiring.wires.iter().filter(here).map(|wire| wire.id.as_str()).collect::<Vec<_>>().join(", ")
}

fn seen(view: Option<View>, numbering: Option<Numbering>) -> String {
    let mut said = Vec::new();
    said.extend(numbering.map(|numbering| format!("counted {}", numbering_word(numbering))));
    said.extend(view.map(|view| format!("seen on the {}", view.word())));
    if said.is_empty() { String::new() } else { format!(", {}", said.join(", ")) }
}

fn numbering_word(numbering: Numbering) -> &'static str {
    match numbering {
        Numbering::Zigzag => "in a zigzag",
        Numbering::RowByRow => "row by row",
        Numbering::Around => "around",
        Numbering::Line => "in a line",
    }
}

/// A name as a part of a file name.
fn slug(name: &str) -> String {
    let plain = |c: char| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' };
    name.chars().map(plain).collect()
}

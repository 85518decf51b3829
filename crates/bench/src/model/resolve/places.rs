//! What the name of a place stands for.

use crate::file::{AxisEntry, Sensor};
use crate::model::{Bench, Board, ChannelName, Device, Place};
use crate::part::Connector;
use std::sync::Arc;

/// What a place such as `board.host.3`, `left.motor` or `controller.J1.3` stands for.
///
/// Devices of different kinds may have the same name; the first one that has the rest of the place is meant.
pub(in crate::model) fn find_place(bench: &Bench, text: &str) -> Option<Place> {
    meanings(bench, text).into_iter().next()
}

/// Everything that a place can stand for, boards first.
pub(super) fn meanings(bench: &Bench, text: &str) -> Vec<Place> {
    if text == "controller" || text.starts_with("controller.") {
        return controller_place(bench, text).into_iter().collect();
    }
    let (kind, bare) = split_kind(text);
    let (name, rest) = bare.split_once('.').map_or((bare, None), |(name, rest)| (name, Some(rest)));
    let of = |wanted: &str| kind.is_empty() || kind == wanted;
    let mut found = Vec::new();
    if of("drivers")
        && let Some(board) = bench.board(name)
    {
        found.extend(board_place(board, rest));
    }
    if of("supplies")
        && let Some(supply) = bench.supply(name)
    {
        let device = Device::Supply(supply.name.clone());
        found.extend(part_place(device, &supply.part.connectors(), &["+", "-"], rest));
    }
    if of("servos")
        && let Some(servo) = bench.servo(name)
    {
        let device = Device::Servo(servo.name.clone());
        found.extend(part_place(device, &servo.part.connectors(), &["pulse", "supply", "ground"], rest));
    }
    if of("axes") {
        found.extend(axis_place(bench, name, rest));
    }
    if of("sensors") && bench.file.one_named::<Sensor>("sensors", name).is_some() {
        found.extend(part_place(Device::Sensor(name.into()), &[], &["signal", "supply", "ground"], rest));
    }
    found
}

/// The controller, or a pin of it by number, by its name, or by the rail that it carries.
fn controller_place(bench: &Bench, text: &str) -> Option<Place> {
    let controller = bench.controller.as_ref()?;
    let Some(rest) = text.strip_prefix("controller.") else { return Some(Place::Device(Device::Controller)) };
    let pin = controller.pins.iter().find(|pin| pin.place() == rest || pin.name.as_deref() == Some(rest));
    let pin = pin.or_else(|| {
        let (port, carries) = rest.split_once('.')?;
        controller.pins.iter().find(|pin| &*pin.port == port && pin.carries.as_deref() == Some(carries))
    })?;
    let (connector, position) = (pin.port.clone(), pin.position.clone());
    Some(Place::Pin { device: Device::Controller, connector, pin: position })
}

fn board_place(board: &Board, rest: Option<&str>) -> Option<Place> {
    let device = Device::Board(board.name.clone());
    let Some(rest) = rest else { return Some(Place::Device(device)) };
    if board.channel(rest).is_some() {
        return Some(Place::Channel(ChannelName::new(&board.name, rest)));
    }
    if board.input(rest).is_some() {
        return Some(Place::Input { board: board.name.clone(), input: rest.into() });
    }
    if board.part.servo_outputs().iter().any(|output| output.name() == rest) {
        return Some(Place::ServoOutput { board: board.name.clone(), output: rest.into() });
    }
    let (connector, pin) = rest.rsplit_once('.')?;
    let connector = board.connector(connector)?;
    let pins = board.pins_of(&connector);
    let (pin, _) = pins.into_iter().find(|(at, carries)| &**at == pin || &**carries == pin)?;
    Some(Place::Pin { device, connector: connector.name().into(), pin })
}

/// A device that has connectors, or only leads by name.
fn part_place(device: Device, connectors: &[Connector], leads: &[&str], rest: Option<&str>) -> Option<Place> {
    let Some(rest) = rest else { return Some(Place::Device(device)) };
    if let Some((name, at)) = rest.rsplit_once('.')
        && let Some(connector) = connectors.iter().find(|c| c.name() == name)
    {
        let pin = connector.pins().iter().find(|e| &*e.key == at || e.text() == Some(at))?;
        return Some(Place::Pin { device, connector: name.into(), pin: pin.key.text.clone() });
    }
    if let Some(connector) = connectors.iter().find(|c| c.pins().iter().any(|e| e.text() == Some(rest))) {
        let pin = connector.pins().iter().find(|e| e.text() == Some(rest))?;
        return Some(Place::Pin { device, connector: connector.name().into(), pin: pin.key.text.clone() });
    }
    leads.contains(&rest).then(|| Place::Pin { device, connector: "leads".into(), pin: rest.into() })
}

fn axis_place(bench: &Bench, name: &str, rest: Option<&str>) -> Option<Place> {
    let entry: AxisEntry = bench.file.one_named("axes", name)?;
    let name: Arc<str> = name.into();
    let (part, rest) = match rest?.split_once('.') {
        Some((part, rest)) => (part, Some(rest)),
        None => (rest?, None),
    };
    match part {
        "motor" => {
            let connectors = entry.motor().map(|motor| motor.connectors()).unwrap_or_default();
            part_place(Device::Motor(name), &connectors, &["+", "-"], rest)
        }
        "stepper" => {
            let connectors = entry.stepper().map(|stepper| stepper.connectors()).unwrap_or_default();
            part_place(Device::Motor(name), &connectors, &["A+", "A-", "B+", "B-"], rest)
        }
        "encoder" => {
            let connectors = entry.encoder().map(|encoder| encoder.connectors()).unwrap_or_default();
            part_place(Device::Encoder(name), &connectors, &["a", "b", "index", "supply", "ground"], rest)
        }
        _ => None,
    }
}

/// `drivers.board` as `drivers` and `board`; a bare name has no kind.
pub(super) fn split_kind(text: &str) -> (&str, &str) {
    let kinds = ["drivers", "supplies", "servos", "axes", "sensors"];
    let found = kinds.into_iter().find_map(|kind| Some((kind, text.strip_prefix(kind)?.strip_prefix('.')?)));
    found.unwrap_or(("", text))
}

/// A name without the kind of its device.
pub(in crate::model) fn bare(text: &str) -> &str {
    split_kind(text).1
}

/// Whether a device of that name stands in the file but could not be read: that has its own finding.
pub(super) fn hidden_by_a_problem(bench: &Bench, text: &str) -> bool {
    let device = split_kind(text).1.split(['.', ':']).next().unwrap_or(text);
    let unread = |name: &Arc<str>| &**name == device;
    (device == "controller" && bench.controller.is_none())
        || bench.file.drivers().iter().any(|(name, entry)| unread(name) && entry.part().is_none())
        || bench.file.supplies().iter().any(|(name, entry)| unread(name) && entry.part().is_none())
        || bench.file.servos().iter().any(|(name, entry)| unread(name) && entry.part().is_none())
}

/// Names of places near the one that was not found.
pub(super) fn place_names(bench: &Bench, text: &str) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    names.extend(bench.supplies.iter().map(|s| s.name.to_string()));
    for board in &bench.boards {
        names.push(board.name.to_string());
        names.extend(board.channels().iter().map(|c| format!("{}.{}", board.name, c.name())));
        names.extend(board.inputs.iter().map(|fed| format!("{}.{}", board.name, fed.input.name())));
        if text.starts_with(&*board.name) {
            for connector in board.connectors() {
                let pins = board.pins_of(&connector);
                names
                    .extend(pins.iter().map(|(pin, _)| format!("{}.{}.{pin}", board.name, connector.name())));
            }
        }
    }
    for (name, _) in bench.file.axes() {
        names.extend(["motor", "encoder"].map(|part| format!("{name}.{part}")));
    }
    names.extend(bench.servos.iter().map(|s| s.name.to_string()));
    if let Some(controller) = &bench.controller {
        names.push("controller".to_owned());
        if text.starts_with("controller") {
            names.extend(controller.pins.iter().map(|pin| format!("controller.{}", pin.place())));
        }
    }
    names
}

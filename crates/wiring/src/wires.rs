//! The single wires of a plan: those that the bench has and that stay, those that go, those to add.

use crate::plan::Plan;
use crate::problem::Need;
use crate::task::{Task, pin_place};
use crate::verify::leaves_seat;
use bench::file::Wire;
use bench::model::{Board, Device, Feed, Place};
use bench::part::{Connector, Gender};
use drive::assembly::nets::Member;
use std::sync::Arc;

/// A single wire.
#[derive(Clone, Debug)]
pub struct PlannedWire {
    /// Label.
    pub id: String,
    /// Where it comes from.
    pub from: String,
    /// Where it goes.
    pub to: String,
    /// What it carries, as the bench names it: `board:B.enc_a`, `ground`, `controller.rails.5V`.
    pub carries: String,
    /// Colour: of a wire of the bench file its own, of one to add that of the table `colours`.
    pub colour: Option<String>,
    /// What the plan does with it.
    pub state: State,
    /// What the bench file says of it; `None` of a wire to add.
    pub entry: Option<Wire>,
    /// It leaves the place where a plug would have put the line.
    pub rerouted: bool,
}

/// What a plan does with a wire.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum State {
    /// It is in the bench file and stays.
    Stays,
    /// It is to be added.
    New,
    /// It is in the bench file, and its end at the controller goes to another pin.
    Moves,
    /// It is in the bench file, and its line needs no wire now.
    Goes,
}

impl State {
    /// In a word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Stays => "stays",
            Self::New => "new",
            Self::Moves => "move",
            Self::Goes => "take away",
        }
    }
}

/// All wires of a bench under a plan, those of the file first.
pub(crate) fn wires(task: &Task<'_>, plan: &Plan) -> Vec<PlannedWire> {
    let mut found = Vec::new();
    let mut served: Vec<usize> = Vec::new();
    for (wire, from, to) in task.bench.wires() {
        let line = line_of(task, wire, from, to);
        let pin = pin_place(from).or_else(|| pin_place(to));
        let state = match (line, &pin) {
            (Some(line), Some(pin)) => state(task, plan, line, pin, served.contains(&line)),
            _ => State::Stays,
        };
        let rerouted = line.is_some_and(|line| is_rerouted(task, plan, line));
        served.extend(line.filter(|_| state != State::Goes));
        let (mut ends, planned) = (
            [wire.from().unwrap_or_default().to_owned(), wire.to().unwrap_or_default().to_owned()],
            line.and_then(|line| plan.lines[line])
                .map(|seat| format!("controller.{}", task.pins[seat.pin].place())),
        );
        if let (State::Moves, Some(planned)) = (state, planned) {
            ends[usize::from(pin_place(from).is_none())] = planned;
        }
        let [from_text, to_text] = ends;
        found.push(PlannedWire {
            id: wire.id().unwrap_or_default().to_owned(),
            from: from_text,
            to: to_text,
            carries: line
                .map(|line| task.problem.lines[line].name.to_string())
                .or_else(|| wire.carries().map(str::to_owned))
                .or_else(|| carried_by_rail(task, from, to))
                .unwrap_or_default(),
            colour: wire.colour().map(str::to_owned),
            state,
            entry: Some(wire.clone()),
            rerouted,
        });
    }
    let mut number = 0;
    let mut next = |found: &[PlannedWire]| loop {
        number += 1;
        let id = format!("W{number}");
        if found.iter().all(|wire| wire.id != id) {
            return id;
        }
    };
    for (line, seat) in plan.lines.iter().enumerate() {
        let Some(seat) = seat.filter(|_| !served.contains(&line)) else { continue };
        let seated = task.problem.seats_of(line).next().is_some();
        if seated && !is_rerouted(task, plan, line) {
            continue;
        }
        let ends = (far_end(task, line), format!("controller.{}", task.pins[seat.pin].place()));
        let carries = task.problem.lines[line].name.to_string();
        found.push(PlannedWire { rerouted: seated, ..new_wire(task, next(&found), ends, carries) });
    }
    for (from, to, carries) in supplies(task, plan, &found) {
        found.push(new_wire(task, next(&found), (from, to), carries));
    }
    found
}

fn new_wire(task: &Task<'_>, id: String, (from, to): (String, String), carries: String) -> PlannedWire {
    let colour = task.bench.colour_of(&carries).map(str::to_owned);
    PlannedWire { id, from, to, carries, colour, state: State::New, entry: None, rerouted: false }
}

/// What becomes of a wire of the bench file that leads a line to a pin of the controller.
fn state(task: &Task<'_>, plan: &Plan, line: usize, pin: &str, served: bool) -> State {
    let Some(seat) = plan.lines[line] else { return State::Goes };
    let needs_wire = task.problem.seats_of(line).next().is_none() || is_rerouted(task, plan, line);
    match (task.pins[seat.pin].place() == *pin, needs_wire && !served) {
        (true, true) => State::Stays,
        (false, true) => State::Moves,
        // A second wire to the same pin does no harm; to another pin it would.
        (true, false) => State::Stays,
        (false, false) => State::Goes,
    }
}

/// Whether a line leaves the seat that its plug gives it.
pub(crate) fn is_rerouted(task: &Task<'_>, plan: &Plan, line: usize) -> bool {
    plan.lines[line].is_some_and(|seat| leaves_seat(&task.problem, plan, line, seat))
}

/// The line that a wire carries: by its name, else by the end that is not the controller's.
fn line_of(task: &Task<'_>, wire: &Wire, from: &Place, to: &Place) -> Option<usize> {
    if let Some(text) = wire.carries() {
        let named = |line: &crate::problem::Line| {
            *line.name == *text || text.strip_suffix(&*line.name).is_some_and(|kind| kind.ends_with('.'))
        };
        if let Some(line) = task.problem.lines.iter().position(named) {
            return Some(line);
        }
    }
    (0..task.lines.len()).find(|line| {
        let ends = far_ends(task, *line);
        [from, to].iter().any(|place| ends.contains(&place.to_string()) || ends.contains(&short(place)))
    })
}

/// A place as the bench file writes it: `board.host.3`, `latch.plug.1`.
fn short(place: &Place) -> String {
    let text = place.to_string();
    for head in ["drivers.", "servos.", "axes."] {
        if let Some(rest) = text.strip_prefix(head) {
            return rest.to_owned();
        }
    }
    text
}

/// Where a wire of a line begins.
pub(crate) fn far_end(task: &Task<'_>, line: usize) -> String {
    far_ends(task, line).into_iter().next().unwrap_or_else(|| task.problem.lines[line].name.to_string())
}

/// Pins that carry a line at its far end, the likeliest to take a wire first.
pub(crate) fn far_ends(task: &Task<'_>, line: usize) -> Vec<String> {
    match &task.lines[line] {
        Member::Signal(board, signal) => board_pins(board, signal.name()),
        Member::Pulse(servo) => part_pins(&servo.name, &servo.part.connectors(), "pulse"),
        Member::Encoder(axis, name) => {
            let connectors = axis.encoder.as_ref().map(|encoder| encoder.connectors()).unwrap_or_default();
            part_pins(&format!("{}.encoder", axis.name), &connectors, name)
        }
        Member::Sensor(name, _) => vec![format!("{name}.signal")],
        Member::Pin(_) => Vec::new(),
    }
}

/// Pins of a board that carry a signal: of a break-out first, of the plugged connector and of terminals last.
fn board_pins(board: &Arc<Board>, signal: &str) -> Vec<String> {
    let mut pins = board.pins_carrying(signal);
    pins.retain(|(connector, _)| !board.is_plugged(connector.name()) && board.is_populated(connector));
    let rank = |connector: &Connector| {
        let passes = connector.passes().is_some_and(|passed| board.is_plugged(passed));
        (!passes, connector.same_as().is_some())
    };
    pins.sort_by_key(|(connector, _)| rank(connector));
    pins.iter().map(|(connector, pin)| format!("{}.{}.{pin}", board.name, connector.name())).collect()
}

fn part_pins(device: &str, connectors: &[Connector], line: &str) -> Vec<String> {
    let mut found = Vec::new();
    for connector in connectors {
        let carrying = connector.pins().iter().filter(|entry| entry.text() == Some(line));
        found.extend(carrying.map(|entry| format!("{device}.{}.{}", connector.name(), entry.key.text)));
    }
    if found.is_empty() {
        found.push(format!("{device}.{line}"));
    }
    found
}

/// What a wire between a rail or ground and a part carries.
fn carried_by_rail(task: &Task<'_>, from: &Place, to: &Place) -> Option<String> {
    let controller = task.bench.controller()?;
    [from, to]
        .into_iter()
        .find_map(|place| controller.pin(&pin_place(place)?)?.carries.as_deref().map(str::to_owned))
}

/// Wires for the rails that boards without a plug take from the controller, for their return, and for that of servos.
fn supplies(task: &Task<'_>, plan: &Plan, known: &[PlannedWire]) -> Vec<(String, String, String)> {
    let mut found = Vec::new();
    for board in task.bench.boards().iter().filter(|board| board.plugs().next().is_none()) {
        let wired =
            |pins: &[String]| known.iter().any(|wire| pins.contains(&wire.from) || pins.contains(&wire.to));
        let mut from_controller = false;
        for fed in &board.inputs {
            let Some(Feed::ControllerRail(rail)) = &fed.feed else { continue };
            from_controller = true;
            let name = fed.input.name();
            let pins = board_pins(board, name);
            if let (false, Some(from), Some(pin)) =
                (wired(&pins), pins.first(), rail_pins(task, plan, rail, None).first())
            {
                found.push((from.clone(), format!("controller.{pin}"), format!("{}:{name}", board.name)));
            }
        }
        let signals = known.iter().any(|wire| wire.from.starts_with(&format!("{}.", board.name)));
        let grounds = board_pins(board, "ground");
        if (from_controller || signals) && !wired(&grounds) {
            // Every ground pin of the connector that the signals are on, as far as the controller has as many.
            let connector = |pin: &String| pin.rsplit_once('.').map(|(connector, _)| connector.to_owned());
            let own = grounds.iter().filter(|pin| connector(pin) == grounds.first().and_then(connector));
            for (from, pin) in own.zip(rail_pins(task, plan, "ground", None)) {
                found.push((from.clone(), format!("controller.{pin}"), "ground".to_owned()));
            }
        }
    }
    found.extend(returns_of_servos(task, plan, known));
    found
}

/// The pulse of a servo needs its return beside it, unless a wire or a cable brings one.
fn returns_of_servos(task: &Task<'_>, plan: &Plan, known: &[PlannedWire]) -> Vec<(String, String, String)> {
    let mut found = Vec::new();
    for (line, member) in task.lines.iter().enumerate() {
        let (Member::Pulse(servo), Some(seat)) = (member, plan.lines[line]) else { continue };
        let ground = part_pins(&servo.name, &servo.part.connectors(), "ground");
        let device = Device::Servo(servo.name.clone());
        let wired = known.iter().any(|wire| ground.contains(&wire.from) || ground.contains(&wire.to));
        let cabled =
            |run: &bench::model::CableRun| Place::join((&run.from, &run.to), &device, &Device::Controller);
        let port = task.problem.pins[seat.pin].port;
        if let (false, false, Some(from), Some(pin)) = (
            wired,
            task.bench.cables().iter().any(cabled),
            ground.first(),
            rail_pins(task, plan, "ground", Some(port)).first(),
        ) {
            found.push((from.clone(), format!("controller.{pin}"), "ground".to_owned()));
        }
    }
    found
}

/// Pins of the controller that carry a rail or ground: of a given port first, those under a plug last.
fn rail_pins(task: &Task<'_>, plan: &Plan, rail: &str, port: Option<usize>) -> Vec<String> {
    let Some(controller) = task.bench.controller() else { return Vec::new() };
    let number = |name: &str| task.problem.ports.iter().position(|known| **known == *name);
    let rank =
        |at: Option<usize>| (at.is_some_and(|at| plan.ports.contains(&at)), port.is_some() && at != port);
    let carrying = controller.pins.iter().filter(|pin| pin.carries.as_deref() == Some(rail));
    let mut pins: Vec<((bool, bool), String)> =
        carrying.map(|pin| (rank(number(&pin.port)), pin.place())).collect();
    pins.sort_by_key(|(rank, _)| *rank);
    pins.into_iter().map(|(_, place)| place).collect()
}

/// Kind of the contacts of a connector at a place of a wire, for the list of things to crimp; `None` where the place
/// has no connector of its own.
pub(crate) fn contact(task: &Task<'_>, place: &str) -> Option<(String, Option<Gender>)> {
    let place = task.bench.place_named(place)?;
    let Place::Pin { device, connector, .. } = place else { return None };
    match device {
        Device::Controller => {
            let port =
                task.bench.controller()?.part.ports().into_iter().find(|port| *port.name() == *connector)?;
            Some((port.mates().unwrap_or("terminal").to_owned(), port.gender().value))
        }
        Device::Board(name) => {
            let board = task.bench.board(&name)?;
            let found = board.connector(&connector)?;
            let of = found.passes().and_then(|passed| board.connector(passed));
            let mates = found.mates().map(str::to_owned).or_else(|| of.as_ref()?.mates().map(str::to_owned));
            Some((mates.unwrap_or_else(|| format!("{name}.{connector}")), found.gender().value))
        }
        Device::Servo(name) => {
            let connector =
                task.bench.servo(&name)?.part.connectors().into_iter().find(|c| *c.name() == *connector)?;
            let own = || format!("{name}.{}", connector.name());
            Some((connector.mates().map_or_else(own, str::to_owned), connector.gender().value))
        }
        _ => None,
    }
}

/// Whether the controller is the one that gives a line's level.
pub(crate) fn is_control(need: Need) -> bool {
    matches!(need, Need::Drive | Need::Pulse { .. } | Need::Give)
}

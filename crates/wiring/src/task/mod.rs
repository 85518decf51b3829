//! From the bench to the task: which lines want a pin, what the pins can do, what the plugs fix.
//!
//! | left out in the bench | taken |
//! |---|---|
//! | how an encoder is counted | by a counter; without one by timer stamps, where its axis needs no position; else by a program, where its edges take no more than 20 % of the processor |
//! | whether a signal is required | pulses, directions, enables and both channels of an encoder are |
//! | rows of a port | two where the numbering is a zigzag, runs around or row by row; one where it is a line |
//! | the last plan | the pins that wires of the bench lead to |

mod fit;
mod lines;
mod position;

pub(crate) use fit::still_level;

use crate::choice::{Bar, choices};
use crate::plan::Plan;
use crate::problem::{Ability, Input, Pin, Plug, Problem, Risk, Seat, Unit};
use bench::Bench;
use bench::model::{Board, Connection, CounterInput, Device, Function, Place, Plugged, PortPin, Via};
use drive::assembly::nets::{Member, Net, is_kept_free};
use finding::Span;
use lines::Wanted;
use std::sync::Arc;

/// The task of a bench, with what each of its lines and pins is.
pub struct Task<'b> {
    /// The bench.
    pub bench: &'b Bench,
    /// Lines and pins as numbers.
    pub problem: Problem,
    /// What each line is at its far end.
    pub lines: Vec<Member<'b>>,
    /// The pin behind each number.
    pub pins: Vec<&'b PortPin>,
    /// Board and connector behind each plug.
    pub plugs: Vec<(&'b Arc<Board>, &'b Plugged)>,
    /// For each line why levels of a pin that could serve it do not go with it, with the figures; `None` where all do.
    pub unfit_because: Vec<Option<String>>,
    /// Lines that wires lead to pins that no line can go to, with the wire and the pin: rails and ground.
    pub(crate) astray: Vec<Astray>,
}

/// Pins on which a line is at risk, while a plug sits on a port; for any port where the plugs of the line have no choice.
type AtRisk = (Option<(usize, usize)>, Vec<usize>);

/// A line that a wire leads to a pin that carries a rail or ground.
pub(crate) struct Astray {
    pub(crate) line: usize,
    pub(crate) wire: Span,
    /// The pin as the bench writes it: `J1.2`.
    pub(crate) place: String,
    pub(crate) carries: Arc<str>,
}

impl<'b> Task<'b> {
    /// The task of a bench; `None` where it has no controller. With `keep`, lines stay on the pins that wires of the
    /// bench lead to.
    pub fn of(bench: &'b Bench, keep: bool) -> Option<Self> {
        let controller = bench.controller()?;
        let pins: Vec<&PortPin> = controller.pins.iter().filter(|pin| pin.carries.is_none()).collect();
        let mut problem = Problem { interrupt_share: lines::PROCESSOR_SHARE, ..Problem::default() };
        problem.ports = controller.part.ports().iter().map(|port| Arc::from(port.name())).collect();
        problem.units = units(bench);
        for pin in &pins {
            let entry = self::pin(bench, &problem, pin);
            problem.pins.push(entry);
        }
        cells(bench, &mut problem);
        let wanted = lines::wanted(bench, &mut problem);
        let mut task = Self {
            bench,
            problem,
            lines: Vec::new(),
            pins,
            plugs: Vec::new(),
            unfit_because: Vec::new(),
            astray: Vec::new(),
        };
        task.plugs();
        for (line, wanted) in wanted.into_iter().enumerate() {
            task.line(line, wanted, keep);
        }
        task.taken();
        Some(task)
    }

    /// A line with the pins that hang on it under a plan: the one that it goes to, and those opposite in its plugs,
    /// which a single wire leaves connected.
    pub fn net(&self, plan: &Plan, line: usize) -> Net<'b> {
        let opposite = self.opposite(line, &plan.ports);
        fit::joined(&self.lines[line], &opposite, plan.lines[line].map(|seat| self.pins[seat.pin]))
    }

    /// Pins that lie opposite to a line where each plug sits on one of these ports; several where plugs carry the line on
    /// several contacts, which makes all of them one conductor.
    pub(crate) fn opposite(&self, line: usize, ports: &[usize]) -> Vec<&'b PortPin> {
        let at = |(plug, position): (usize, &Arc<str>)| self.problem.pin_at(ports[plug], position);
        self.problem.seats_of(line).filter_map(at).map(|pin| self.pins[pin]).collect()
    }

    /// Whether a plug is the one that `plugged_into` puts on a port; `also_plugged` puts the others of a board.
    pub(crate) fn is_first(&self, plug: usize) -> bool {
        let (board, plugged) = self.plugs[plug];
        is_first(board, plugged)
    }

    /// A line with the pins that do not go with it, and where it lies now.
    fn line(&mut self, number: usize, wanted: Wanted<'b>, keep: bool) {
        let wired = |c: &&Connection| matches!(c.via, Via::Wire(_));
        let was = wanted.connections.iter().find(wired).map(|connection| connection.pin.place());
        self.astray.extend(wanted.connections.iter().filter_map(|connection| match &connection.via {
            Via::Wire(wire) => Some(Astray {
                line: number,
                wire: wire.clone(),
                place: connection.pin.place(),
                carries: connection.pin.carries.clone()?,
            }),
            Via::Plug => None,
        }));
        let risks = self.risks(number, &wanted.member);
        // What is unsafe on every port that a plug may sit on is so on any.
        let on_all = |pin: &usize| risks.iter().all(|(_, pins)| pins.contains(pin));
        let unsafe_at = risks.first().map_or_else(Vec::new, |(_, pins)| pins.clone());
        let unsafe_at: Vec<usize> = unsafe_at.into_iter().filter(on_all).collect();
        for ((plug, port), pins) in risks.iter().filter_map(|(sits, pins)| Some(((*sits)?, pins))) {
            let here = pins.iter().filter(|pin| !unsafe_at.contains(pin));
            self.problem.risks.extend(here.map(|pin| Risk { line: number, plug, port, pin: *pin }));
        }
        let line = &mut self.problem.lines[number];
        line.unfit = fit::unfit(self.bench, &wanted.member, &self.pins);
        line.unsafe_at = unsafe_at;
        line.was = was.and_then(|place| self.pins.iter().position(|pin| pin.place() == place));
        line.kept = keep && line.was.is_some();
        let because = self.unfit_because(number, &wanted.member);
        self.unfit_because.push(because);
        self.lines.push(wanted.member);
    }

    /// Why levels of the first pin that could serve a line do not go with it; encoders are best served by a counter.
    fn unfit_because(&self, line: usize, member: &Member<'b>) -> Option<String> {
        let mut served = choices(&self.problem, line, true);
        served.retain(|choice| choice.bars.contains(&Bar::Unfit(line)));
        let closed = |bars: &[Bar]| bars.iter().any(|bar| matches!(bar, Bar::Way(..)));
        let first = served.into_iter().min_by_key(|choice| (closed(&choice.bars), choice.way, choice.pin))?;
        fit::misfit(self.bench, member, self.pins[first.pin])
    }

    /// Pins on which a line is at risk, for each port that a plug of it may sit on: one plug at most has a choice, the
    /// first of its board.
    fn risks(&self, line: usize, member: &Member<'b>) -> Vec<AtRisk> {
        // A port that is not known has no pin opposite.
        let only = |plug: &Plug| plug.ports.first().copied().unwrap_or(usize::MAX);
        let mut ports: Vec<usize> = self.problem.plugs.iter().map(only).collect();
        let at_risk =
            |ports: &[usize]| fit::unsafe_at(self.bench, member, &self.pins, &self.opposite(line, ports));
        let open = |(plug, _): &(usize, &Arc<str>)| self.problem.plugs[*plug].ports.len() > 1;
        let Some((plug, _)) = self.problem.seats_of(line).find(open) else {
            return vec![(None, at_risk(&ports))];
        };
        let sits = |port: &usize| {
            ports[plug] = *port;
            (Some((plug, *port)), at_risk(&ports))
        };
        self.problem.plugs[plug].ports.iter().map(sits).collect()
    }

    /// Pins that something else sits on: a sensor or a switch that the bench leads to a given pin, a wire by hand.
    fn taken(&mut self) {
        let own: Vec<String> = self.lines.iter().map(Member::name).collect();
        let nets = Net::all(self.bench);
        let mut taken: Vec<(String, String)> = Vec::new();
        for net in &nets {
            let other = net.members.iter().find(|m| !matches!(m, Member::Pin(_)) && !own.contains(&m.name()));
            let alone = net.members.iter().all(|member| !own.contains(&member.name()));
            if let (Some(other), true) = (other, alone) {
                taken.extend(net.pins().map(|pin| (pin.place(), other.name())));
            }
        }
        let switches =
            self.bench.homing().into_iter().filter_map(|(name, h)| Some((h.switch()?.to_owned(), name)));
        let ends =
            self.bench.end_stops().into_iter().filter_map(|(name, e)| Some((e.switch()?.to_owned(), name)));
        let brakes =
            self.bench.brakes().into_iter().filter_map(|(name, b)| Some((b.released_by()?.to_owned(), name)));
        for (place, name) in switches.chain(ends).chain(brakes) {
            if let Some(pin) = self.bench.place_named(&place).and_then(|place| pin_place(&place)) {
                taken.push((pin, name.to_string()));
            }
        }
        for (place, name) in taken {
            if let Some(pin) = self.pins.iter().position(|pin| pin.place() == place) {
                self.problem.pins[pin].taken_by = Some(name.into());
            }
        }
    }

    /// Connectors that sit on a port, with what each of their pins carries.
    fn plugs(&mut self) {
        let boards = self.bench.boards().iter();
        for (board, plugged) in boards.flat_map(|board| board.plugs().map(move |plugged| (board, plugged))) {
            // Only the first plug of a board may be left to choose among ports.
            let named =
                if is_first(board, plugged) { board.entry.plugged_into() } else { vec![plugged.port.name()] };
            let ports: Vec<usize> = named
                .iter()
                .filter_map(|name| self.problem.ports.iter().position(|port| **port == **name))
                .collect();
            let carried = board.pins_of(&plugged.connector);
            let seats = carried.iter().map(|(position, carries)| {
                let name = format!("{}:{carries}", board.name);
                let line = self.problem.lines.iter().position(|line| *line.name == *name);
                (position.clone(), line.map_or(Seat::Other, Seat::Line))
            });
            let breakout =
                board.connectors().into_iter().find(|c| c.passes() == Some(plugged.connector.name()));
            let plug = Plug {
                name: format!("{}.{}", board.name, plugged.connector.name()).into(),
                ports,
                seats: seats.collect(),
                breakout: breakout.map(|c| format!("{}.{}", board.name, c.name()).into()),
            };
            self.problem.plugs.push(plug);
            self.plugs.push((board, plugged));
        }
    }
}

/// Gives every pin with a number its row and column.
fn cells(bench: &Bench, problem: &mut Problem) {
    let ports = bench.controller().map(|controller| controller.part.ports()).unwrap_or_default();
    let number = |text: &str| text.parse::<usize>().ok().filter(|number| *number > 0);
    for pin in &mut problem.pins {
        let Some(port) = ports.get(pin.port) else { continue };
        let highest = port.pins().iter().filter_map(|entry| number(&entry.key.text)).max().unwrap_or(0);
        let rows = port.has("rows").then(|| port.rows().value() as usize);
        let cell = |number| port.numbering().value.map(|numbering| numbering.cell(rows, highest, number));
        pin.cell = number(&pin.position).and_then(cell);
    }
}

/// Place of a pin of the controller, without the device.
pub(crate) fn pin_place(place: &Place) -> Option<String> {
    match place {
        Place::Pin { device: Device::Controller, connector, pin } => Some(format!("{connector}.{pin}")),
        _ => None,
    }
}

/// Timers, counters, converters and serial units; a timer and a counter of one name are one.
fn units(bench: &Bench) -> Vec<Unit> {
    let Some(controller) = bench.controller() else { return Vec::new() };
    let mut units: Vec<Unit> = Vec::new();
    for timer in controller.part.timers() {
        let fastest = timer.has("max_frequency").then(|| timer.max_frequency().value());
        let outputs = timer.has("channels").then(|| timer.channels().value() as usize);
        units.push(Unit { name: timer.name().into(), fastest, outputs, edge_rate: None });
    }
    for counter in controller.part.counters() {
        let edge_rate = counter.has("max_edge_rate").then(|| counter.max_edge_rate().value());
        match units.iter_mut().find(|unit| *unit.name == *counter.name()) {
            Some(unit) => unit.edge_rate = edge_rate,
            None => units.push(Unit { name: counter.name().into(), edge_rate, ..Unit::default() }),
        }
    }
    // Units that only a pin names are units as well.
    let named = controller.pins.iter().flat_map(|pin| &pin.functions).filter_map(unit_name);
    for name in named {
        if units.iter().all(|unit| unit.name != name) {
            units.push(Unit { name, ..Unit::default() });
        }
    }
    units
}

fn is_first(board: &Board, plugged: &Plugged) -> bool {
    board.plugged.as_ref().is_some_and(|first| std::ptr::eq(first, plugged))
}

/// Name of the digital-to-analogue converter that no pin names.
pub(crate) const OUTPUT_CONVERTER: &str = "output converter";

/// Name of the unit behind a function.
fn unit_name(function: &Function) -> Option<Arc<str>> {
    match function {
        Function::Pwm(unit) | Function::Quadrature { counter: unit, .. } => Some(unit.clone()),
        Function::AnalogIn(Some(unit)) => Some(unit.clone()),
        Function::AnalogIn(None) => Some("converter".into()),
        Function::AnalogOut(Some(unit)) => Some(unit.clone()),
        Function::AnalogOut(None) => Some(OUTPUT_CONVERTER.into()),
        Function::Other(text) => {
            text.split_once(':').map(|(_, unit)| unit.split('.').next().unwrap_or(unit).into())
        }
        Function::Digital | Function::Input => None,
    }
}

fn pin(bench: &Bench, problem: &Problem, pin: &PortPin) -> Pin {
    let mut abilities = Vec::new();
    for function in &pin.functions {
        let unit =
            unit_name(function).and_then(|name| problem.units.iter().position(|unit| unit.name == name));
        match (function, unit) {
            (Function::Digital, _) => {
                abilities.push(Ability::Read);
                if !pin.input_only {
                    abilities.push(Ability::Drive);
                }
            }
            (Function::Input, _) => abilities.push(Ability::Read),
            (Function::Pwm(_), Some(unit)) if !pin.input_only => abilities.push(Ability::Pulse(unit)),
            (Function::AnalogIn(_), Some(unit)) => abilities.push(Ability::Measure(unit)),
            (Function::AnalogOut(_), Some(unit)) if !pin.input_only => abilities.push(Ability::Give(unit)),
            (Function::Quadrature { input, .. }, Some(unit)) => {
                let input = match input {
                    CounterInput::A => Input::A,
                    CounterInput::B => Input::B,
                    CounterInput::Index => Input::Index,
                };
                abilities.push(Ability::Count(unit, input));
            }
            (Function::Other(text), Some(unit)) if text.starts_with("capture:") => {
                abilities.push(Ability::Stamp(unit))
            }
            (Function::Other(_), Some(unit)) => abilities.push(Ability::Serial(unit, abilities.len() as u8)),
            _ => {}
        }
    }
    Pin {
        port: problem.ports.iter().position(|port| *port == pin.port).unwrap_or(0),
        position: pin.position.clone(),
        cell: None,
        abilities,
        reserved: pin.reserved || is_kept_free(bench, pin),
        taken_by: None,
    }
}

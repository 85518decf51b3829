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

use crate::problem::{Ability, Input, Pin, Plug, Problem, Seat, Unit};
use bench::Bench;
use bench::model::{Board, CounterInput, Device, Function, Place, Plugged, PortPin};
use drive::assembly::nets::{Member, Net, is_kept_free};
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
    /// For each line why levels of some pins do not go with it, with the figures; `None` where all do.
    pub unfit_because: Vec<Option<String>>,
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
        let mut task =
            Self { bench, problem, lines: Vec::new(), pins, plugs: Vec::new(), unfit_because: Vec::new() };
        for (line, wanted) in wanted.into_iter().enumerate() {
            task.line(line, wanted, keep);
        }
        task.taken();
        task.plugs();
        Some(task)
    }

    /// A line with the pins that do not go with it, and where it lies now.
    fn line(&mut self, number: usize, wanted: Wanted<'b>, keep: bool) {
        let fit = fit::Fit::of(self.bench, &wanted.member, &self.pins);
        let wired = |c: &&bench::model::Connection| matches!(c.via, bench::model::Via::Wire(_));
        let was = wanted.connections.iter().find(wired).map(|connection| connection.pin.place());
        let line = &mut self.problem.lines[number];
        (line.unfit, line.unsafe_at) = (fit.unfit, fit.unsafe_at);
        line.was = was.and_then(|place| self.pins.iter().position(|pin| pin.place() == place));
        line.kept = keep && line.was.is_some();
        self.unfit_because.push(fit.because);
        self.lines.push(wanted.member);
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
            let first = board.plugged.as_ref().is_some_and(|first| std::ptr::eq(first, plugged));
            let named = if first { board.entry.plugged_into() } else { vec![plugged.port.name()] };
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

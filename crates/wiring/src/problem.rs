//! The task as the solver and the verifier see it: lines that want a pin, pins that can do something, plugs that
//! fix where lines land. Everything is a number here; names are kept for words only.

use std::sync::Arc;

/// Lines, pins and what ties them.
#[derive(Clone, Debug, Default)]
pub struct Problem {
    /// Ports of the controller.
    pub ports: Vec<Arc<str>>,
    /// Pins that a line could go to, in the order of the file.
    pub pins: Vec<Pin>,
    /// Timers, counters, converters and serial units.
    pub units: Vec<Unit>,
    /// Rates of pulses that are wanted; lines name them by their number.
    pub rates: Vec<Rate>,
    /// Lines, in the order of the file. The order breaks ties.
    pub lines: Vec<Line>,
    /// Connectors that sit on a port.
    pub plugs: Vec<Plug>,
    /// Encoders: lines that belong to one counter.
    pub encoders: Vec<Encoder>,
    /// Analogue lines that have to be read by one converter.
    pub groups: Vec<Group>,
    /// Lines that should lie side by side.
    pub pairs: Vec<(usize, usize)>,
    /// Pins that are unsafe for a line only while a plug of it sits on a certain port.
    pub risks: Vec<Risk>,
    /// Part of the processor's time that counting edges may take.
    pub interrupt_share: f64,
}

/// A pin of the controller.
#[derive(Clone, Debug, Default)]
pub struct Pin {
    /// Number of its port.
    pub port: usize,
    /// Its number on the port, as printed.
    pub position: Arc<str>,
    /// Row and column on the port; `None` where the numbering is not known.
    pub cell: Option<(usize, usize)>,
    /// What it can do.
    pub abilities: Vec<Ability>,
    /// It must be left alone.
    pub reserved: bool,
    /// A line of the bench that no plan may move sits on it.
    pub taken_by: Option<Arc<str>>,
}

/// What a pin can do.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Ability {
    /// Read a level.
    Read,
    /// Drive a level.
    Drive,
    /// Pulse by a timer.
    Pulse(usize),
    /// Read a voltage by a converter.
    Measure(usize),
    /// Give a voltage by a digital-to-analogue converter.
    Give(usize),
    /// Count edges: a counter and its input.
    Count(usize, Input),
    /// Stamp edges with the time: a timer.
    Stamp(usize),
    /// A line of a serial unit, by the number of its wire.
    Serial(usize, u8),
}

/// Input of a counter, and line of an encoder.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Input {
    /// First channel.
    A,
    /// Second channel.
    B,
    /// One mark a turn.
    Index,
}

/// A timer, counter, converter or serial unit. A counter and a timer of the same name are one.
#[derive(Clone, Debug, Default)]
pub struct Unit {
    /// Its name.
    pub name: Arc<str>,
    /// Highest PWM frequency; `None` where it is not said.
    pub fastest: Option<f64>,
    /// Pulse outputs with a duty of their own; `None` where it is not said.
    pub outputs: Option<usize>,
    /// Highest rate of edges that it counts; `None` where it is not said.
    pub edge_rate: Option<f64>,
}

/// A rate of pulses.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Rate {
    /// As a person says it: `18 kHz`.
    pub name: Arc<str>,
    /// In hertz; zero where it changes all the time.
    pub hertz: f64,
}

/// A line that wants a pin.
#[derive(Clone, Debug)]
pub struct Line {
    /// Name: `board:A.pwm`.
    pub name: Arc<str>,
    /// What the pin has to do.
    pub need: Need,
    /// The bench does not work without it.
    pub required: bool,
    /// Pins whose levels do not go with it.
    pub unfit: Vec<usize>,
    /// Pins that hold it, until the firmware runs, on the side where something moves. The pin opposite in its plug
    /// holds it as well wherever a wire leads it: where that one is too strong, all pins are unsafe.
    pub unsafe_at: Vec<usize>,
    /// Pin of the last plan.
    pub was: Option<usize>,
    /// It has to stay there.
    pub kept: bool,
}

/// What a line needs.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Need {
    /// To be read.
    Read,
    /// To be driven.
    Drive,
    /// To be pulsed, at one of the problem's rates.
    Pulse {
        /// Number of the rate.
        rate: usize,
    },
    /// To be read as a voltage.
    Measure,
    /// To be given a voltage.
    Give,
    /// To be counted as a line of an encoder.
    Count {
        /// Number of the encoder.
        encoder: usize,
        /// Which of its lines.
        input: Input,
    },
}

/// Lines of one encoder and how they may be counted.
#[derive(Clone, Debug, Default)]
pub struct Encoder {
    /// Axis that it belongs to.
    pub axis: Arc<str>,
    /// Its lines.
    pub lines: Vec<usize>,
    /// Ways to count it that are open, cheapest first.
    pub ways: Vec<Way>,
    /// Ways that the bench file closes, and a person could open.
    pub closed: Vec<Way>,
    /// Rate of its edges at the highest speed, in hertz; zero where not known.
    pub edge_rate: f64,
    /// Part of the processor's time that its edges cost where a program counts them.
    pub interrupt_share: f64,
}

/// How an encoder is counted.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Way {
    /// By a counter made for it.
    Counter,
    /// By a timer that stamps edges: speed only, the direction is taken from the command.
    Stamp,
    /// By a program that each edge interrupts.
    Program,
}

/// Analogue lines that one converter has to read.
#[derive(Clone, Debug, Default)]
pub struct Group {
    /// What they are: `current and voltage of A`.
    pub name: Arc<str>,
    /// Its lines.
    pub lines: Vec<usize>,
}

/// A connector of a board that sits on a port of the controller.
#[derive(Clone, Debug, Default)]
pub struct Plug {
    /// Board and connector: `board.host`.
    pub name: Arc<str>,
    /// Ports that it may sit on.
    pub ports: Vec<usize>,
    /// What its pins carry, by their number.
    pub seats: Vec<(Arc<str>, Seat)>,
    /// Connector that brings its pins out again, for single wires.
    pub breakout: Option<Arc<str>>,
}

/// What a pin of a plug carries.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Seat {
    /// A line.
    Line(usize),
    /// A rail, ground, or a signal that this bench does not use: the pin opposite is no longer free.
    Other,
}

/// A pin that is unsafe for a line while a plug of the line sits on a port, because of the pin that then lies opposite;
/// on another of the plug's ports it is not.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Risk {
    /// The line.
    pub line: usize,
    /// The plug.
    pub plug: usize,
    /// Port that the plug sits on.
    pub port: usize,
    /// Pin that it goes to.
    pub pin: usize,
}

impl Problem {
    /// Where plugs have a line: each plug with the position of its seat. Pins that carry one line are one conductor, so
    /// that any of them may serve it.
    pub fn seats_of(&self, line: usize) -> impl Iterator<Item = (usize, &Arc<str>)> {
        self.plugs.iter().enumerate().flat_map(move |(at, plug)| {
            let seats = plug.seats.iter().filter(move |(_, seat)| *seat == Seat::Line(line));
            seats.map(move |(position, _)| (at, position))
        })
    }

    /// A pin by port and position.
    pub fn pin_at(&self, port: usize, position: &str) -> Option<usize> {
        self.pins.iter().position(|pin| pin.port == port && *pin.position == *position)
    }

    /// Whether two pins are known not to lie side by side. Of pins on one port whose numbering nobody tells it is not
    /// known.
    pub fn apart(&self, a: usize, b: usize) -> bool {
        let (one, other) = (&self.pins[a], &self.pins[b]);
        one.port != other.port || one.cell.is_some() && other.cell.is_some() && !self.beside(a, b)
    }

    /// Whether two pins are known to lie side by side.
    pub fn beside(&self, a: usize, b: usize) -> bool {
        let (a, b) = (&self.pins[a], &self.pins[b]);
        match (a.port == b.port, a.cell, b.cell) {
            (true, Some((ra, ca)), Some((rb, cb))) => ra.abs_diff(rb) + ca.abs_diff(cb) == 1,
            _ => false,
        }
    }

    /// Place of a pin as the bench writes it, without the device: `J1.3`.
    pub fn place(&self, pin: usize) -> String {
        format!("{}.{}", self.ports[self.pins[pin].port], self.pins[pin].position)
    }
}

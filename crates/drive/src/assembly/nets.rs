//! Which pins, signals and leads hang together, and who drives whom.
//!
//! A net is what a plug, a wire and the traces behind them join: pins of the controller, signals of boards, pulse
//! inputs of servos, lines of encoders, sensors. An encoder that is plugged into a board ends there: the board's
//! own signal goes on, because a receiver may sit between the two.

use bench::Bench;
use bench::file::Sensor;
use bench::model::{Axis, Board, Device, Place, PortPin, ServoUnit};
use bench::part::{Levels, OutputKind, Role, Signal, SignalDirection};
use std::sync::Arc;

/// Everything that one conductor joins.
#[derive(Clone, Debug)]
pub struct Net<'b> {
    /// What hangs on it, in the order of the bench.
    pub members: Vec<Member<'b>>,
}

/// Something that hangs on a net.
#[derive(Clone, Debug)]
pub enum Member<'b> {
    /// A pin of the controller.
    Pin(&'b PortPin),
    /// A signal of a board.
    Signal(&'b Arc<Board>, Box<Signal>),
    /// The pulse input of a servo.
    Pulse(&'b ServoUnit),
    /// A line of an encoder that is wired by itself: `a`, `b` or `index`.
    Encoder(&'b Axis, &'static str),
    /// The output of a separate sensor.
    Sensor(Arc<str>, Box<Sensor>),
}

/// A step of a net: one output and one input that it drives.
#[derive(Clone, Copy, Debug)]
pub struct Hop<'n, 'b> {
    /// Net that it is on.
    pub net: &'n Net<'b>,
    /// Output.
    pub from: &'n Member<'b>,
    /// Input.
    pub to: &'n Member<'b>,
}

impl Member<'_> {
    /// Name as the bench writes it: `board:A.pwm`, `controller.J1.3`, `latch:pulse`, `left.encoder:a`.
    pub fn name(&self) -> String {
        match self {
            Self::Pin(pin) => format!("controller.{}", pin.place()),
            Self::Signal(board, signal) => format!("{}:{}", board.name, signal.name()),
            Self::Pulse(servo) => format!("{}:pulse", servo.name),
            Self::Encoder(axis, line) => format!("{}.encoder:{line}", axis.name),
            Self::Sensor(name, _) => format!("{name}:signal"),
        }
    }

    /// Path of the table that describes it.
    pub fn path(&self) -> String {
        match self {
            Self::Pin(pin) => format!("controller.ports.{}", pin.port),
            Self::Signal(_, signal) => signal.path().to_owned(),
            Self::Pulse(servo) => servo.entry.path().to_owned(),
            Self::Encoder(axis, _) => format!("{}.encoder", axis.path()),
            Self::Sensor(_, sensor) => sensor.path().to_owned(),
        }
    }

    /// Device that it belongs to.
    pub fn device(&self) -> Device {
        match self {
            Self::Pin(_) => Device::Controller,
            Self::Signal(board, _) => Device::Board(board.name.clone()),
            Self::Pulse(servo) => Device::Servo(servo.name.clone()),
            Self::Encoder(axis, _) => Device::Encoder(axis.name.clone()),
            Self::Sensor(name, _) => Device::Sensor(name.clone()),
        }
    }

    /// Voltages and currents of its line; a sensor has none.
    pub fn levels(&self) -> Option<Levels> {
        match self {
            Self::Pin(pin) => Some(pin.levels.clone()),
            Self::Signal(_, signal) => Some(signal.levels()),
            Self::Pulse(servo) => Some(servo.part.levels()),
            Self::Encoder(axis, _) => axis.encoder.as_ref().map(|encoder| encoder.levels()),
            Self::Sensor(..) => None,
        }
    }

    /// Whether it is made to drive the net, pins of the controller aside, which do as the firmware says.
    pub fn drives(&self) -> bool {
        match self {
            Self::Pin(_) | Self::Pulse(_) => false,
            Self::Signal(_, signal) => signal.direction().is(SignalDirection::Out),
            Self::Encoder(..) | Self::Sensor(..) => true,
        }
    }

    /// Whether it drives low only.
    pub fn is_open_drain(&self) -> bool {
        self.levels().is_some_and(|levels| levels.output().is(OutputKind::OpenDrain))
    }

    /// Whether its voltage means a quantity and no level.
    pub fn is_analogue(&self) -> bool {
        match self {
            Self::Signal(_, signal) => {
                signal.levels().output().is(OutputKind::Analogue)
                    || [Role::Current, Role::Voltage, Role::Temperature, Role::LimitSet]
                        .iter()
                        .any(|role| signal.role().is(*role))
            }
            Self::Sensor(..) => true,
            _ => false,
        }
    }

    fn is_pin(&self) -> bool {
        matches!(self, Self::Pin(_))
    }
}

impl<'b> Net<'b> {
    /// All nets of a bench that join two things or more.
    pub fn all(bench: &'b Bench) -> Vec<Self> {
        let mut joined = Joined::default();
        for board in bench.boards() {
            for signal in board.signals() {
                for connection in bench.connections(board, signal.name()) {
                    let Some(pin) = pin_of(bench, &connection.pin.place()) else { continue };
                    joined.join(Member::Signal(board, Box::new(signal.clone())), Member::Pin(pin));
                }
            }
        }
        for servo in bench.servos() {
            joined.servo(bench, servo);
        }
        for axis in bench.axes().iter().filter(|axis| axis.encoder.is_some() && axis.encoder_at.is_none()) {
            for line in ["a", "b", "index"] {
                for connection in bench.encoder_pins(axis, line) {
                    let Some(pin) = pin_of(bench, &connection.pin.place()) else { continue };
                    joined.join(Member::Encoder(axis, line), Member::Pin(pin));
                }
            }
        }
        for (name, sensor) in bench.sensors() {
            let place = sensor.to().and_then(|text| bench.place_named(text));
            if let Some(pin) = place.as_ref().and_then(|place| pin_at(bench, place)) {
                joined.join(Member::Sensor(name, Box::new(sensor)), Member::Pin(pin));
            }
        }
        for (_, from, to) in bench.wires() {
            if let (Some(from), Some(to)) = (signal_at(bench, from), signal_at(bench, to)) {
                joined.join(from, to);
            }
        }
        joined.nets
    }

    /// The net of something by its name, such as `board:A.pwm`.
    pub fn of<'n>(nets: &'n [Self], name: &str) -> Option<&'n Self> {
        nets.iter().find(|net| net.members.iter().any(|member| member.name() == name))
    }

    /// Pins of the controller on it.
    pub fn pins(&self) -> impl Iterator<Item = &'b PortPin> {
        self.members.iter().filter_map(|member| match member {
            Member::Pin(pin) => Some(*pin),
            _ => None,
        })
    }

    /// What drives it of its own: not the pins, which do as the firmware says.
    pub fn sources(&self) -> impl Iterator<Item = &Member<'b>> {
        self.members.iter().filter(|member| member.drives())
    }

    /// Every output with every input that it drives. Pins listen where something else drives, and drive where
    /// nothing does; of pins that are kept free none drives.
    pub fn hops<'n>(&'n self, bench: &Bench) -> Vec<Hop<'n, 'b>> {
        let driven = self.sources().next().is_some();
        let free = |member: &Member<'_>| match member {
            Member::Pin(pin) => is_kept_free(bench, pin) || pin.input_only,
            _ => false,
        };
        let drives = |member: &Member<'_>| member.drives() || (!driven && member.is_pin() && !free(member));
        let mut hops = Vec::new();
        for from in self.members.iter().filter(|member| drives(member)) {
            for to in self.members.iter().filter(|member| !drives(member) && (driven || !member.is_pin())) {
                hops.push(Hop { net: self, from, to });
            }
        }
        hops
    }
}

impl Hop<'_, '_> {
    /// The end that gives the line its name: not the pin.
    pub fn name(&self) -> String {
        if self.from.is_pin() { self.to.name() } else { self.from.name() }
    }
}

/// Whether the bench keeps a pin free: it stays an input.
pub fn is_kept_free(bench: &Bench, pin: &PortPin) -> bool {
    let named = |text: &&str| *text == pin.place() || pin.name.as_deref() == Some(*text);
    bench.controller().is_some_and(|controller| controller.entry.keep_free().iter().any(named))
}

/// Whether a signal of a board belongs to something that the bench uses.
pub fn is_used(bench: &Bench, board: &Board, signal: &Signal) -> bool {
    if signal.role().is(Role::ServoPulse) {
        let output = |servo: &ServoUnit| {
            servo
                .output
                .as_ref()
                .is_some_and(|(at, output)| *at == board.name && output.signal() == Some(signal.name()))
        };
        return bench.servos().iter().any(output);
    }
    match board.channel_of(signal) {
        Some(channel) => bench.axis_of_channel(&board.name, &channel).is_some(),
        None => !bench.axes_of(&board.name).is_empty(),
    }
}

#[derive(Default)]
struct Joined<'b> {
    nets: Vec<Net<'b>>,
}

impl<'b> Joined<'b> {
    /// The pulse of a servo: from a pin, or passed on by the board that it is plugged into.
    fn servo(&mut self, bench: &'b Bench, servo: &'b ServoUnit) {
        if let Some((board, output)) = &servo.output {
            let Some(board) = bench.board(board) else { return };
            let signal = output.signal().and_then(|name| board.signal(name));
            if let Some(signal) = signal {
                self.join(Member::Signal(board, Box::new(signal)), Member::Pulse(servo));
            }
            return;
        }
        for connection in bench.pulse_pins(servo) {
            if let Some(pin) = pin_of(bench, &connection.pin.place()) {
                self.join(Member::Pulse(servo), Member::Pin(pin));
            }
        }
    }

    fn join(&mut self, a: Member<'b>, b: Member<'b>) {
        let at = |nets: &[Net<'_>], member: &Member<'_>| {
            let name = member.name();
            nets.iter().position(|net| net.members.iter().any(|known| known.name() == name))
        };
        match (at(&self.nets, &a), at(&self.nets, &b)) {
            (None, None) => self.nets.push(Net { members: vec![a, b] }),
            (Some(net), None) => self.nets[net].members.push(b),
            (None, Some(net)) => self.nets[net].members.push(a),
            (Some(first), Some(second)) if first != second => {
                let (keep, gone) = (first.min(second), first.max(second));
                let moved = self.nets.remove(gone);
                self.nets[keep].members.extend(moved.members);
            }
            _ => {}
        }
    }
}

fn pin_of<'b>(bench: &'b Bench, place: &str) -> Option<&'b PortPin> {
    bench.controller()?.pin(place)
}

fn pin_at<'b>(bench: &'b Bench, place: &Place) -> Option<&'b PortPin> {
    match place {
        Place::Pin { device: Device::Controller, connector, pin } => {
            pin_of(bench, &format!("{connector}.{pin}"))
        }
        _ => None,
    }
}

/// The signal of a board at a place; pins of the controller have been joined before.
fn signal_at<'b>(bench: &'b Bench, place: &Place) -> Option<Member<'b>> {
    let Place::Pin { device: Device::Board(name), connector, pin } = place else { return None };
    let board = bench.board(name)?;
    let carried = board.pins_of(&board.connector(connector)?).into_iter().find(|(at, _)| at == pin)?.1;
    Some(Member::Signal(board, Box::new(board.signal(&carried)?)))
}

//! Lines that want a pin: signals of boards, encoders and servos that are wired by themselves, sensors.

use super::position::Position;
use crate::problem::{Encoder, Group, Input, Line, Need, Problem, Rate, Way};
use bench::Bench;
use bench::file::Decoding;
use bench::model::{Axis, Board, Connection, Function, Via};
use bench::part::{Role, Signal, SignalDirection};
use drive::assembly::nets::{Member, is_used};
use drive::assembly::{DcAxis, EncoderPath};
use drive::encoder::interrupt_load;
use drive::servo::frame_rate;
use std::sync::Arc;

/// Part of the processor's time that counting edges may take: common practice, no source.
pub(super) const PROCESSOR_SHARE: f64 = 0.2;

/// The same for stamps, of which each only has to be fetched before the next: half, as for any place that counts edges
/// (common practice, no source).
const STAMP_SHARE: f64 = 0.5;

/// Rates that differ by less may share a timer: common practice, no source.
const SAME_RATE: f64 = 0.01;

/// A line that wants a pin, with where it lies now.
pub(super) struct Wanted<'b> {
    pub(super) member: Member<'b>,
    pub(super) connections: Vec<Connection>,
}

/// All lines of a bench, in the order of the files. Their needs go into the problem.
pub(super) fn wanted<'b>(bench: &'b Bench, problem: &mut Problem) -> Vec<Wanted<'b>> {
    let mut lines = Lines { bench, problem, wanted: Vec::new(), encoders: Vec::new() };
    for board in bench.boards() {
        for signal in board.signals() {
            lines.signal(board, signal);
        }
    }
    let loose = bench.axes().iter().filter(|axis| axis.encoder.is_some() && axis.encoder_at.is_none());
    for axis in loose {
        lines.loose_encoder(axis);
    }
    for servo in bench.servos().iter().filter(|servo| servo.output.is_none()) {
        let rate = lines.rate(&frame_rate(servo.frame()));
        lines.push(Member::Pulse(servo), Need::Pulse { rate }, true, bench.pulse_pins(servo));
    }
    for (name, sensor) in bench.sensors().into_iter().filter(|(_, sensor)| sensor.to().is_none()) {
        lines.push(Member::Sensor(name, Box::new(sensor)), Need::Measure, true, Vec::new());
    }
    let wanted = lines.wanted;
    pairs(problem, &wanted);
    groups(problem, &wanted);
    wanted
}

struct Lines<'b, 'p> {
    bench: &'b Bench,
    problem: &'p mut Problem,
    wanted: Vec<Wanted<'b>>,
    /// Axes whose encoders have a number.
    encoders: Vec<Arc<str>>,
}

impl<'b> Lines<'b, '_> {
    fn push(&mut self, member: Member<'b>, need: Need, required: bool, connections: Vec<Connection>) {
        let line = self.problem.lines.len();
        if let Need::Count { encoder, .. } = need {
            self.problem.encoders[encoder].lines.push(line);
        }
        self.problem.lines.push(Line {
            name: member.name().into(),
            need,
            required,
            unfit: Vec::new(),
            unsafe_at: Vec::new(),
            was: None,
            kept: false,
        });
        self.wanted.push(Wanted { member, connections });
    }

    /// A signal of a board, where something uses it and it is not left open on purpose.
    fn signal(&mut self, board: &'b Arc<Board>, signal: Signal) {
        let bench = self.bench;
        if board.entry.left_open().contains(&signal.name()) || !is_wanted(bench, board, &signal) {
            return;
        }
        let Some(need) = self.need(board, &signal) else { return };
        let always = [
            Role::Pwm,
            Role::Step,
            Role::ServoPulse,
            Role::Direction,
            Role::Enable,
            Role::EncoderA,
            Role::EncoderB,
        ];
        let required = signal.required().is(true) || always.iter().any(|role| signal.role().is(*role));
        let connections = bench.connections(board, signal.name());
        self.push(Member::Signal(board, Box::new(signal)), need, required, connections);
    }

    fn need(&mut self, board: &'b Arc<Board>, signal: &Signal) -> Option<Need> {
        Some(match signal.role().value? {
            Role::Pwm => Need::Pulse { rate: self.rate(&board.entry.pwm_frequency()) },
            Role::Step => {
                Need::Pulse { rate: self.own_rate(format!("steps of `{}:{}`", board.name, signal.name())) }
            }
            Role::ServoPulse => {
                let driven_by = |servo: &&bench::model::ServoUnit| {
                    servo.output.as_ref().is_some_and(|(at, output)| {
                        *at == board.name && output.signal() == Some(signal.name())
                    })
                };
                let servo = self.bench.servos().iter().find(driven_by)?;
                Need::Pulse { rate: self.rate(&frame_rate(servo.frame())) }
            }
            Role::Current | Role::Voltage | Role::Temperature => Need::Measure,
            Role::EncoderA => self.count(board, signal, Input::A)?,
            Role::EncoderB => self.count(board, signal, Input::B)?,
            Role::EncoderIndex => self.count(board, signal, Input::Index)?,
            // A wire to a pin that gives no voltage is somebody's own circuit, such as pulses through a filter: it stays.
            Role::LimitSet if self.is_fed_otherwise(board, signal) => return None,
            Role::LimitSet => Need::Give,
            _ if signal.direction().is(SignalDirection::In) => Need::Drive,
            _ => Need::Read,
        })
    }

    /// Whether a wire of the bench file leads a line to a pin that gives no voltage.
    fn is_fed_otherwise(&self, board: &Board, signal: &Signal) -> bool {
        let gives = |function: &Function| matches!(function, Function::AnalogOut(_));
        let connections = self.bench.connections(board, signal.name());
        let mut wired = connections.iter().filter(|connection| connection.via != Via::Plug);
        wired.any(|connection| !connection.pin.functions.iter().any(gives))
    }

    /// The need of a board's encoder line, of the axis whose encoder is plugged in there.
    fn count(&mut self, board: &'b Arc<Board>, signal: &Signal, input: Input) -> Option<Need> {
        let channel = board.channel_of(signal)?;
        let bench = self.bench;
        let plugged = |axis: &&Axis| {
            axis.encoder_at.as_ref().is_some_and(|(at, of)| at.name == board.name && *of == channel)
        };
        let axis = bench.axes().iter().find(plugged)?;
        Some(Need::Count { encoder: self.encoder(axis)?, input })
    }

    fn loose_encoder(&mut self, axis: &'b Axis) {
        for (line, input) in [("a", Input::A), ("b", Input::B), ("index", Input::Index)] {
            let connections = self.bench.encoder_pins(axis, line);
            // A mark that nobody has wired may not exist.
            if input == Input::Index && connections.is_empty() {
                continue;
            }
            let Some(encoder) = self.encoder(axis) else { return };
            self.push(
                Member::Encoder(axis, line),
                Need::Count { encoder, input },
                input != Input::Index,
                connections,
            );
        }
    }

    /// Number of an axis's encoder; `None` where a counter on a serial bus counts it.
    fn encoder(&mut self, axis: &'b Axis) -> Option<usize> {
        if let Some(known) = self.encoders.iter().position(|name| *name == axis.name) {
            return Some(known);
        }
        let dc = DcAxis::of(self.bench, axis);
        let rate = EncoderPath::of(self.bench, axis, dc.as_ref()).map(|path| path.edge_rate())?;
        let time = self.bench.controller()?.part.interrupt_time();
        let share = interrupt_load(rate.clone(), time).value();
        let (ways, closed) = ways(axis, share)?;
        self.problem.encoders.push(Encoder {
            axis: axis.name.clone(),
            lines: Vec::new(),
            ways,
            closed,
            edge_rate: Some(rate.value()).filter(|rate| rate.is_finite()).unwrap_or(0.0),
            interrupt_share: if share.is_finite() { share } else { 0.0 },
        });
        self.encoders.push(axis.name.clone());
        Some(self.problem.encoders.len() - 1)
    }

    /// Number of a rate; rates that hardly differ are one.
    fn rate(&mut self, rate: &worked::Worked) -> usize {
        let hertz = rate.value();
        let same = |known: &Rate| (known.hertz - hertz).abs() <= SAME_RATE * hertz;
        match self.problem.rates.iter().position(same) {
            Some(known) => known,
            None if hertz.is_finite() => {
                self.problem.rates.push(Rate { name: rate.text().into(), hertz });
                self.problem.rates.len() - 1
            }
            None => self.own_rate("a rate that is not given".to_owned()),
        }
    }

    /// A rate that no other line shares.
    fn own_rate(&mut self, name: String) -> usize {
        self.problem.rates.push(Rate { name: name.into(), hertz: 0.0 });
        self.problem.rates.len() - 1
    }
}

/// Ways in which an encoder may be counted, then those that the bench file closes and a person could open; `None` where
/// a counter on a serial bus counts it. `share` is the part of the processor that its edges take.
fn ways(axis: &Axis, share: f64) -> Option<(Vec<Way>, Vec<Way>)> {
    // A share that nobody can work out is no reason to count by program. Stamps have to be fetched in time, with twice
    // the room; a timer whose program nobody knows may do so.
    let follows = |way: Way| match way {
        Way::Counter => true,
        Way::Stamp => share.is_nan() || share <= STAMP_SHARE,
        Way::Program => share <= PROCESSOR_SHARE,
    };
    let position = Position::of(axis);
    let suits = |way: &Way| follows(*way) && (*way != Way::Stamp || position != Position::Needed);
    let others = |than: Way| {
        let ways = [Way::Counter, Way::Stamp, Way::Program].into_iter();
        ways.filter(|way| *way != than && suits(way)).collect::<Vec<_>>()
    };
    Some(match axis.entry.decoding().value? {
        Decoding::External => return None,
        Decoding::Capture => (vec![Way::Stamp], others(Way::Stamp)),
        Decoding::Software => (vec![Way::Program], others(Way::Program)),
        Decoding::Counter if axis.entry.has("decoding") => (vec![Way::Counter], others(Way::Counter)),
        Decoding::Counter => {
            // Where the bench file does not say whether a speed is enough, a person has to.
            let untold = |way: &Way| *way == Way::Stamp && position == Position::Untold;
            let (closed, open): (Vec<Way>, Vec<Way>) = others(Way::Counter).into_iter().partition(untold);
            (std::iter::once(Way::Counter).chain(open).collect(), closed)
        }
    })
}

/// Whether something of the bench uses a signal, and the controller is its other end.
fn is_wanted(bench: &Bench, board: &Board, signal: &Signal) -> bool {
    let encoder =
        [Role::EncoderA, Role::EncoderB, Role::EncoderIndex].iter().any(|role| signal.role().is(*role));
    if encoder {
        // An encoder may be plugged into a board that drives another axis, or none.
        let channel = board.channel_of(signal);
        return bench.axes().iter().any(|axis| {
            axis.encoder_at
                .as_ref()
                .is_some_and(|(at, of)| at.name == board.name && Some(of) == channel.as_ref())
        });
    }
    is_used(bench, board, signal)
}

/// Lines that belong side by side: both channels of an encoder, pulse and direction or both pulses of a bridge.
fn pairs(problem: &mut Problem, wanted: &[Wanted<'_>]) {
    for encoder in &problem.encoders {
        let of = |wanted: Input| {
            encoder.lines.iter().copied().find(
                |line| matches!(problem.lines[*line].need, Need::Count { input, .. } if input == wanted),
            )
        };
        if let (Some(a), Some(b)) = (of(Input::A), of(Input::B)) {
            problem.pairs.push((a, b));
        }
    }
    for (at, line) in wanted.iter().enumerate() {
        let Some((board, channel)) = channel_with(&line.member, Role::Pwm) else { continue };
        let direction = wanted.iter().position(|other| {
            channel_with(&other.member, Role::Direction) == Some((board.clone(), channel.clone()))
        });
        problem.pairs.extend(direction.map(|direction| (at, direction)));
        // A bridge that takes two pulses.
        let second = wanted[at + 1..].iter().position(|other| {
            channel_with(&other.member, Role::Pwm) == Some((board.clone(), channel.clone()))
        });
        problem.pairs.extend(second.map(|second| (at, at + 1 + second)));
    }
}

/// Current and voltage of a channel are read by one converter, so that they belong to the same instant.
fn groups(problem: &mut Problem, wanted: &[Wanted<'_>]) {
    for (at, line) in wanted.iter().enumerate() {
        let Some((board, channel)) = channel_with(&line.member, Role::Current) else { continue };
        let same = Some((board, channel.clone()));
        let voltage = wanted.iter().position(|other| channel_with(&other.member, Role::Voltage) == same);
        problem.groups.extend(voltage.map(|voltage| Group {
            name: format!("current and voltage of {channel}").into(),
            lines: vec![at, voltage],
        }));
    }
}

/// Board and channel of a signal with a role.
fn channel_with(member: &Member<'_>, role: Role) -> Option<(Arc<str>, Arc<str>)> {
    match member {
        Member::Signal(board, signal) if signal.role().is(role) => {
            Some((board.name.clone(), board.channel_of(signal)?))
        }
        _ => None,
    }
}

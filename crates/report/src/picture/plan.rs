//! What of a bench the picture shows: rows of machines behind the boards, what feeds them, and the lines between
//! boards, sensors and controller. No places yet.

use super::Stage;
use super::layout::{Kind, Sign};
use super::planned::{Lead, Planned};
use super::sides::{Side, axis_sides, end_stops};
use bench::part::{Role, Signal, SignalDirection};
use bench::{Axis, Bench, Board, CableRun, Device, Feed, LimitInForce, Place, ServoUnit};

/// The rows of the picture from top to bottom, and what stands left of them.
pub(super) struct Plan<'b> {
    /// What a plan of the wiring does to the lines.
    pub(super) wiring: &'b Planned,
    pub(super) boards: Vec<BoardPlan<'b>>,
    /// Servos and axes that no board drives.
    pub(super) free: Vec<Row<'b>>,
    pub(super) supplies: Vec<SupplyPlan>,
}

/// A board with a row for each output.
pub(super) struct BoardPlan<'b> {
    pub(super) board: &'b Board,
    pub(super) rows: Vec<Row<'b>>,
    /// Inputs that feed rows, each with the numbers of those rows.
    pub(super) inputs: Vec<RowInput>,
    /// Lines of the whole board.
    pub(super) common: Vec<PinLine>,
    /// Limits that see more than one channel.
    pub(super) limits: Vec<String>,
}

/// An input of a board that power passes through.
pub(super) struct RowInput {
    pub(super) name: String,
    pub(super) feed: Option<Feed>,
    pub(super) rows: Vec<usize>,
}

/// One output with what it drives.
#[derive(Default)]
pub(super) struct Row<'b> {
    /// Bridge or servo output; nothing where no board drives it.
    pub(super) output: Option<Output>,
    pub(super) machine: Option<Machine<'b>>,
    /// The machine is drawn in an earlier row: this is a further phase of it.
    pub(super) further: bool,
    pub(super) cable: Option<&'b CableRun>,
    /// Lines of the output to the controller.
    pub(super) lines: Vec<PinLine>,
    pub(super) sides: Vec<Side>,
}

pub(super) struct Output {
    pub(super) name: String,
    /// `channels` or `servo_outputs`: the table of the part that it stands in.
    pub(super) table: &'static str,
    pub(super) limits: Vec<String>,
}

#[derive(Clone, Copy)]
pub(super) enum Machine<'b> {
    Axis(&'b Axis),
    Servo(&'b ServoUnit),
}

/// A line of a board at its left edge.
pub(super) struct PinLine {
    pub(super) name: String,
    pub(super) kind: Kind,
    pub(super) stage: Stage,
    /// It goes from the controller to the board.
    pub(super) inward: bool,
    /// Pin or rail of the controller; `None` where it has none.
    pub(super) to: Option<String>,
    /// It is fed by a supply of the bench, not by the controller.
    pub(super) fed: Option<Feed>,
    pub(super) signs: Vec<Sign>,
}

/// A supply with what sits behind it and what it feeds.
pub(super) struct SupplyPlan {
    pub(super) name: String,
    pub(super) voltage: String,
    pub(super) fuses: Vec<(String, String)>,
    pub(super) cut: bool,
    /// Kind, name, datum and path of what hangs between the line and ground.
    pub(super) hanging: Vec<(&'static str, String, String, String)>,
    pub(super) targets: Vec<Target>,
}

/// What a supply feeds.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(super) enum Target {
    /// An input of a board through which power passes to rows.
    Rows {
        board: usize,
        input: usize,
    },
    /// A line of a board's common part.
    Common {
        board: usize,
        line: usize,
    },
    /// A row that no board drives.
    Free(usize),
    Controller,
}

impl<'b> Plan<'b> {
    pub(super) fn of(bench: &'b Bench, wiring: &'b Planned) -> Self {
        let boards: Vec<_> = bench.boards().iter().map(|board| board_plan(bench, wiring, board)).collect();
        let mut free = Vec::new();
        for axis in bench.axes().iter().filter(|axis| axis.channels.is_empty()) {
            free.push(Row {
                machine: Some(Machine::Axis(axis)),
                sides: axis_sides(bench, wiring, axis),
                ..Row::default()
            });
        }
        for servo in bench.servos() {
            let plugged = servo.output.as_ref();
            let on_board = plugged.is_some_and(|(board, output)| {
                boards.iter().any(|b| {
                    b.board.name == *board
                        && b.rows.iter().any(|r| r.is_output("servo_outputs", output.name()))
                })
            });
            if !on_board {
                let cable = bench.cable_to_servo(&servo.name);
                let sides = end_stops(bench, &servo.name);
                let machine = Some(Machine::Servo(servo));
                free.push(Row { machine, cable, sides, ..Row::default() });
            }
        }
        let mut plan = Self { wiring, boards, free, supplies: Vec::new() };
        plan.supplies = bench.supplies().iter().map(|supply| plan.supply(bench, &supply.name)).collect();
        plan
    }

    /// Where the pulse of a servo comes from that no board drives.
    pub(super) fn pulse(&self, bench: &Bench, servo: &ServoUnit) -> Lead {
        self.wiring.lead(&format!("{}:pulse", servo.name), &bench.pulse_pins(servo), None)
    }

    fn supply(&self, bench: &Bench, name: &str) -> SupplyPlan {
        let feed = Feed::Supply(name.into());
        let mut targets = Vec::new();
        for (at, board) in self.boards.iter().enumerate() {
            for (input, of) in board.inputs.iter().enumerate() {
                if of.feed.as_ref() == Some(&feed) {
                    targets.push(Target::Rows { board: at, input });
                }
            }
            for (line, of) in board.common.iter().enumerate() {
                if of.fed.as_ref() == Some(&feed) {
                    targets.push(Target::Common { board: at, line });
                }
            }
        }
        for (row, of) in self.free.iter().enumerate() {
            if let Some(Machine::Servo(servo)) = of.machine
                && servo.feed.as_ref() == Some(&feed)
            {
                targets.push(Target::Free(row));
            }
        }
        if bench.controller().is_some_and(|c| c.feed.as_ref() == Some(&feed)) {
            targets.push(Target::Controller);
        }
        let fuses = bench.fuses_on(&feed);
        let clamps = bench.clamps_on(&feed).into_iter().map(|(name, clamp)| {
            ("clamp", name.to_string(), written(&clamp, "threshold"), format!("clamps.{name}"))
        });
        let capacitors = bench.capacitors_on(&feed).into_iter().map(|(name, capacitor)| {
            ("capacitor", name.to_string(), written(&capacitor, "capacitance"), format!("capacitors.{name}"))
        });
        let voltage = bench.supply(name).map(|supply| match supply.entry.datum("set_voltage") {
            Some(datum) => bare(&datum.written),
            None => written(&supply.part, "voltage"),
        });
        SupplyPlan {
            name: name.to_owned(),
            voltage: voltage.unwrap_or_default(),
            fuses: fuses.iter().map(|(name, fuse)| (name.to_string(), written(fuse, "rating"))).collect(),
            cut: bench.stop().cuts().iter().any(|cut| bench.feed_named(cut).as_ref() == Some(&feed)),
            hanging: clamps.chain(capacitors).collect(),
            targets,
        }
    }
}

impl Row<'_> {
    fn is_output(&self, table: &str, name: &str) -> bool {
        self.output.as_ref().is_some_and(|output| output.table == table && output.name == name)
    }
}

fn board_plan<'b>(bench: &'b Bench, wiring: &Planned, board: &'b Board) -> BoardPlan<'b> {
    let mut rows = Vec::new();
    // Phases of one stepper stand together.
    let mut channels: Vec<_> = board.channels().iter().collect();
    let place = |name: &str| {
        let drives = |axis: &Axis| {
            axis.channels.iter().any(|c| c.board.name == board.name && c.channel.name() == name)
        };
        bench.axes().iter().position(drives).unwrap_or(usize::MAX)
    };
    channels.sort_by_key(|channel| place(channel.name()));
    for channel in channels {
        rows.push(channel_row(bench, wiring, board, channel.name()));
    }
    for output in board.part.servo_outputs() {
        let on = |servo: &&ServoUnit| {
            servo.output.as_ref().is_some_and(|(b, o)| *b == board.name && o.name() == output.name())
        };
        let Some(servo) = bench.servos().iter().find(on) else { continue };
        let signal = output.signal().and_then(|name| board.signal(name));
        let here = Place::ServoOutput { board: board.name.clone(), output: output.name().into() };
        rows.push(Row {
            output: Some(Output {
                name: output.name().to_owned(),
                table: "servo_outputs",
                limits: Vec::new(),
            }),
            machine: Some(Machine::Servo(servo)),
            further: false,
            cable: bench.cables().iter().find(|run| run.ends_at(&here)).or(bench.cable_to_servo(&servo.name)),
            lines: signal.iter().filter_map(|signal| pin_line(bench, wiring, board, signal)).collect(),
            sides: end_stops(bench, &servo.name),
        });
    }
    let inputs = row_inputs(board, &rows);
    let mut common = logic_inputs(board, &inputs);
    let served: Vec<String> =
        rows.iter().flat_map(|row| row.lines.iter().map(|line| line.name.clone())).collect();
    for signal in board.signals() {
        let own = board.channel_of(&signal).is_some() || signal.role().is(Role::ServoPulse);
        if !own && !served.iter().any(|name| name == signal.name()) {
            common.extend(pin_line(bench, wiring, board, &signal));
        }
    }
    common.sort_by_key(|line| line.stage);
    let wide = board.limits.iter().filter(|limit| limit.limit.covers().len() != 1);
    BoardPlan { board, rows, inputs, common, limits: wide.map(limit_text).collect() }
}

fn channel_row<'b>(bench: &'b Bench, wiring: &Planned, board: &'b Board, name: &str) -> Row<'b> {
    let axis = bench.axis_of_channel(&board.name, name);
    let first = axis.and_then(|axis| axis.channels.first());
    let further =
        axis.is_some() && first.is_none_or(|c| c.board.name != board.name || c.channel.name() != name);
    let has_encoder = bench.axes().iter().any(|axis| {
        axis.encoder.is_some()
            && axis.encoder_at.as_ref().is_some_and(|(b, channel)| b.name == board.name && **channel == *name)
    });
    let mut lines = Vec::new();
    for signal in board.signals_of(name) {
        let of_encoder =
            matches!(signal.role().value, Some(Role::EncoderA | Role::EncoderB | Role::EncoderIndex));
        if if of_encoder { has_encoder } else { axis.is_some() } {
            lines.extend(pin_line(bench, wiring, board, &signal));
        }
    }
    lines.sort_by_key(|line| line.stage);
    let limits = board.limits.iter().filter(|limit| limit.limit.covers() == [name]);
    let cable = axis.and_then(|axis| {
        let here = Place::Channel(bench::ChannelName::new(&board.name, name));
        let motor = Device::Motor(axis.name.clone());
        let between = |run: &&CableRun| {
            (run.from == here && run.to.is_on(&motor)) || (run.to == here && run.from.is_on(&motor))
        };
        bench.cables().iter().find(between).or(axis.motor_cable.as_ref().filter(|_| !further))
    });
    Row {
        output: Some(Output {
            name: name.to_owned(),
            table: "channels",
            limits: limits.map(limit_text).collect(),
        }),
        machine: axis.map(Machine::Axis),
        further,
        cable,
        lines,
        sides: axis.filter(|_| !further).map(|axis| axis_sides(bench, wiring, axis)).unwrap_or_default(),
    }
}

/// Inputs that power passes through, with the rows behind each; rails of the board are followed to their input.
fn row_inputs(board: &Board, rows: &[Row<'_>]) -> Vec<RowInput> {
    let source = |named: &str| -> String {
        board.rail(named).and_then(|rail| rail.from().map(str::to_owned)).unwrap_or_else(|| named.to_owned())
    };
    let mut inputs: Vec<RowInput> = Vec::new();
    for (at, row) in rows.iter().enumerate() {
        let Some(output) = &row.output else { continue };
        if row.machine.is_none() {
            continue;
        }
        let name = if output.table == "channels" {
            let channel = board.channel(&output.name);
            source(channel.as_ref().and_then(|c| c.supply()).unwrap_or("motor"))
        } else {
            let outputs = board.part.servo_outputs();
            let output = outputs.iter().find(|o| o.name() == output.name);
            match output.and_then(|o| o.supply()) {
                Some(name) => source(name),
                None => continue,
            }
        };
        let Some(fed) = board.input(&name) else { continue };
        match inputs.iter_mut().find(|input| input.name == name) {
            Some(input) => input.rows.push(at),
            None => inputs.push(RowInput { name, feed: fed.feed.clone(), rows: vec![at] }),
        }
    }
    inputs
}

/// The other inputs of a board, as lines of its common part.
fn logic_inputs(board: &Board, inputs: &[RowInput]) -> Vec<PinLine> {
    let mut lines = Vec::new();
    for fed in &board.inputs {
        let name = fed.input.name();
        if inputs.iter().any(|input| input.name == name) {
            continue;
        }
        let (to, supply) = match &fed.feed {
            Some(Feed::ControllerRail(rail)) => (Some(rail.to_string()), None),
            Some(feed @ Feed::Supply(_)) => (None, Some(feed.clone())),
            _ => (None, None),
        };
        lines.push(PinLine {
            name: name.to_owned(),
            kind: Kind::Rail,
            stage: Stage::Logic,
            inward: true,
            to,
            fed: supply,
            signs: Vec::new(),
        });
    }
    lines
}

/// A signal as a line; `None` where its role is not told.
fn pin_line(bench: &Bench, wiring: &Planned, board: &Board, signal: &Signal) -> Option<PinLine> {
    let inward = signal.direction().value != Some(SignalDirection::Out);
    let (stage, kind) = stage_of(signal.role().value?, inward);
    let name = format!("{}:{}", board.name, signal.name());
    let lead = wiring.lead(&name, &bench.connections(board, signal.name()), Some(board));
    Some(PinLine {
        name: signal.name().to_owned(),
        kind,
        stage,
        inward,
        to: lead.to,
        fed: None,
        signs: lead.signs,
    })
}

/// With which stage a line comes into the picture.
fn stage_of(role: Role, inward: bool) -> (Stage, Kind) {
    match role {
        Role::Pwm
        | Role::Direction
        | Role::Enable
        | Role::Brake
        | Role::Decay
        | Role::Step
        | Role::Sleep
        | Role::ServoPulse => (Stage::Drive, Kind::Command),
        Role::Fault
        | Role::PowerGood
        | Role::Clear
        | Role::LimitSelect
        | Role::LimitSet
        | Role::Temperature => (Stage::Protection, Kind::Flag),
        Role::Current
        | Role::Voltage
        | Role::EncoderA
        | Role::EncoderB
        | Role::EncoderIndex
        | Role::Switch => (Stage::Feedback, Kind::Measure),
        Role::Other if inward => (Stage::Drive, Kind::Command),
        Role::Other => (Stage::Feedback, Kind::Measure),
    }
}

/// `input: latch 4.2 A`.
fn limit_text(limit: &LimitInForce) -> String {
    let value = limit.threshold.as_input().filter(|input| !input.is_missing());
    let value = value.map(|input| bare(&input.written)).unwrap_or_default();
    let acts = limit.limit.acts().value.map(|acts| acts.to_string()).unwrap_or_default();
    let name =
        if limit.limit.covers().len() == 1 { String::new() } else { format!("{}: ", limit.limit.name()) };
    format!("{name}{acts} {value}").trim().to_owned()
}

/// Fuses that sit on a cable. A supply of the same name goes first: what a fuse sits on is then the supply.
pub(super) fn fuses_on_cable(bench: &Bench, cable: &str) -> Vec<(std::sync::Arc<str>, bench::file::Fuse)> {
    let is_feed = bench.feed_named(cable).is_some();
    if is_feed { Vec::new() } else { bench.fuses_on_cable(cable) }
}

/// A figure of a table as the file writes it, without its tolerance.
pub(super) fn written(record: &bench::Record, key: &str) -> String {
    record.datum(key).map(|datum| bare(&datum.written)).unwrap_or_default()
}

fn bare(written: &str) -> String {
    written.split(['±']).next().unwrap_or("").split("+/-").next().unwrap_or("").trim().to_owned()
}

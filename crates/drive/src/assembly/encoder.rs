//! The way of an encoder's edges: how many, how fast, over which line, and where they are counted.
//!
//! | left out in the bench | taken |
//! |---|---|
//! | phase error | 45° electrical at most |
//! | a cable, where single wires lead to the encoder | the longest of them, 100 pF/m |
//! | both figures, lines and edges | the lines, which give more edges where the two contradict |
//! | the return of the encoder in the motor's | no: only where the cable says `separate_return = false` |

use super::copper::{both_ways, one_way};
use super::power::feed_voltage;
use super::{DcAxis, gear, gearbox, load, motion_at_shaft, or_zero, stage};
use crate::bus::line_drop;
use crate::constants::zero;
use crate::encoder::{
    cable_capacitance, channel_frequency, counts, counts_at_output, counts_in, edge_rate, rise_time,
    shortest_gap,
};
use crate::load::shaft_angle;
use bench::Bench;
use bench::file::{AdapterKind, Decoding, MotionKind, Then, Way, Wire};
use bench::model::{Axis, Device, Place};
use bench::part::{Counter, Encoder, EncoderShaft, OutputKind};
use worked::{Dimension, Input, Number, Origin, Worked};

/// An encoder with the speed of its shaft and the place where its edges are counted.
#[derive(Clone, Debug)]
pub struct EncoderPath {
    /// The part.
    pub part: Encoder,
    /// Counts for an angle of its own shaft, all edges of both channels.
    pub counts: Worked,
    /// Highest speed of its own shaft; a missing figure where nobody says which shaft that is.
    pub speed: Worked,
    /// Where its edges are counted.
    pub counted: Counted,
}

/// Where the edges of an encoder are counted.
#[derive(Clone, Debug)]
pub enum Counted {
    /// By this counter of the controller.
    Counter(Counter),
    /// By a counter, but its lines reach none.
    NoCounter,
    /// By an interrupt for each edge, which costs this time.
    Interrupt(Worked),
    /// By a counter on a serial bus, of which the bench knows nothing.
    External,
}

/// How the edges of an encoder rise at the far end of its line.
#[derive(Clone, Debug)]
pub enum Rise {
    /// Nothing in the line slows them that the bench knows of.
    Sharp,
    /// The output drives low only, and nothing pulls the line up.
    NoPull,
    /// Rise time from 10 % to 90 %.
    Time(Worked),
}

/// How far an axis goes.
#[derive(Clone, Debug)]
pub enum Travel {
    /// On and on in one sense.
    Endless,
    /// This angle of the shaft that drives the load, from end to end.
    Angle(Worked),
    /// Neither end stops nor motion say so.
    Unknown,
}

impl EncoderPath {
    /// The encoder of an axis; `None` where it has none.
    pub fn of(bench: &Bench, axis: &Axis, dc: Option<&DcAxis>) -> Option<Self> {
        let part = axis.encoder.clone()?;
        Some(Self {
            counts: counts_of(&part),
            speed: shaft_speed(axis, dc, &part),
            counted: counted(bench, axis),
            part,
        })
    }

    /// Width of the counter that counts it, bits; none where no counter does, or its width is not stated.
    pub fn counter_bits(&self) -> Option<u32> {
        match &self.counted {
            Counted::Counter(counter) if counter.has("bits") => Some(counter.bits().value() as u32),
            _ => None,
        }
    }

    /// Edges in a second at the highest speed.
    pub fn edge_rate(&self) -> Worked {
        edge_rate(self.counts.clone(), self.speed.clone())
    }

    /// Frequency of one channel at the highest speed.
    pub fn channel_frequency(&self) -> Worked {
        channel_frequency(self.edge_rate())
    }

    /// Shortest time between two edges at the highest speed.
    pub fn shortest_gap(&self) -> Worked {
        shortest_gap(self.counts.clone(), self.speed.clone(), phase_error(&self.part))
    }

    /// Counts that a travel makes.
    pub fn counts_in(&self, axis: &Axis, travel: Worked) -> Worked {
        counts_in(counts_at_load(axis, &self.part), travel)
    }
}

/// Counts of an encoder for an angle of the shaft that drives the load.
pub fn counts_at_load(axis: &Axis, encoder: &Encoder) -> Worked {
    let own = counts_of(encoder);
    match (encoder.shaft().or(EncoderShaft::Motor), stage(axis)) {
        (EncoderShaft::Motor, _) => counts_at_output(own, gear(axis).ratio),
        (EncoderShaft::Output, Some(stage)) => counts_at_output(own, stage.ratio),
        (EncoderShaft::Output, None) | (EncoderShaft::Load, _) => own,
    }
}

/// Counts of an encoder for an angle of the motor shaft.
pub fn counts_at_motor(axis: &Axis, encoder: &Encoder) -> Worked {
    let own = counts_of(encoder);
    let ratio = match encoder.shaft().or(EncoderShaft::Motor) {
        EncoderShaft::Motor => return own,
        EncoderShaft::Output => gearbox(axis).ratio,
        EncoderShaft::Load => gear(axis).ratio,
    };
    (own / ratio).called("counts for an angle of the motor shaft", "c_m")
}

/// Counts for an angle of the encoder's own shaft, all edges of both channels.
fn counts_of(part: &Encoder) -> Worked {
    let only_edges = part.has("edges_per_rev") && !part.has("lines_per_rev");
    if only_edges { part.edges_per_rev() } else { counts(part.lines_per_rev()) }
}

fn phase_error(part: &Encoder) -> Worked {
    if part.has("phase_error") {
        return part.phase_error();
    }
    Input::new(
        &part.path_of("phase_error"),
        "largest error of the phase between the channels",
        "ε_ph",
        Dimension::ANGLE,
    )
    .value(std::f64::consts::FRAC_PI_4)
    .unit(worked::Unit::parse("deg").unwrap_or_else(|_| worked::Unit::si(Dimension::ANGLE)))
    .written("45 deg")
    .origin(Origin::common_practice("upper end of what low-cost discs show"))
    .worked()
}

fn shaft_speed(axis: &Axis, dc: Option<&DcAxis>, part: &Encoder) -> Worked {
    let all = gear(axis);
    let planned = || motion_at_shaft(axis).map(|motion| all.input_speed(motion.speed));
    let motor =
        dc.map(DcAxis::top_speed).or_else(planned).unwrap_or_else(|| unknown(&axis.entry.path_of("moves")));
    match part.shaft().value {
        Some(EncoderShaft::Motor) => motor,
        Some(EncoderShaft::Load) => all.output_speed(motor),
        Some(EncoderShaft::Output) => {
            let gearbox = axis.gearbox.as_ref().map_or_else(|| 1.0.into(), |gearbox| gearbox.ratio());
            (motor / gearbox).called("speed of the output shaft", "ω_out")
        }
        None => unknown(&part.path_of("shaft")),
    }
}

/// A speed that follows from a datum that the bench does not give.
fn unknown(path: &str) -> Worked {
    Input::new(path, "what tells the speed of its shaft", "ω", Dimension::ANGULAR_SPEED)
        .missing(0.0, 1e5)
        .worked()
}

fn counted(bench: &Bench, axis: &Axis) -> Counted {
    let Some(controller) = bench.controller() else { return Counted::NoCounter };
    match axis.entry.decoding().or(Decoding::Counter) {
        Decoding::External => return Counted::External,
        Decoding::Capture | Decoding::Software => {
            return Counted::Interrupt(controller.part.interrupt_time());
        }
        Decoding::Counter => {}
    }
    let reached = |line| {
        let pins = bench.encoder_pins(axis, line);
        pins.iter().filter_map(|c| c.pin.counter().map(|(name, _)| name.clone())).collect::<Vec<_>>()
    };
    let (a, b) = (reached("a"), reached("b"));
    let both = a.into_iter().find(|name| b.contains(name));
    let found = both.and_then(|name| controller.part.counters().into_iter().find(|c| c.name() == &*name));
    found.map_or(Counted::NoCounter, Counted::Counter)
}

/// Length of the line to an encoder: its cable, or the longest of the wires that lead to it.
pub fn line_length(bench: &Bench, axis: &Axis) -> Worked {
    if let Some(run) = &axis.encoder_cable {
        return run.entry.length();
    }
    let wires = wires_to(bench, axis).into_iter().map(|(wire, _)| wire.length());
    wires.reduce(Number::at_least).unwrap_or_else(|| no_cable(axis))
}

/// A length that nobody gives: the bench describes no cable to the encoder.
fn no_cable(axis: &Axis) -> Worked {
    let path = format!("cables.{}-encoder", axis.name);
    Input::new(&path, "length of the cable to the encoder", "l_c", Dimension::LENGTH)
        .missing(0.0, 1e3)
        .worked()
}

/// Single wires that end at an encoder, each with the pin or lead there.
fn wires_to(bench: &Bench, axis: &Axis) -> Vec<(Wire, Place)> {
    let device = Device::Encoder(axis.name.clone());
    let at = |place: &Place| matches!(place, Place::Pin { device: d, .. } if *d == device);
    let ends = bench.wires().iter().filter_map(|(wire, from, to)| match (at(from), at(to)) {
        (true, _) => Some((wire.clone(), from.clone())),
        (_, true) => Some((wire.clone(), to.clone())),
        _ => None,
    });
    ends.collect()
}

/// How the edges of the encoder of an axis rise at the far end of its line: pull-up and cable of an open-drain
/// output, series resistors and filters in the line, its own edge and that of the board, added up.
pub fn rise(bench: &Bench, axis: &Axis) -> Rise {
    let Some(part) = &axis.encoder else { return Rise::Sharp };
    let own = bench.adapters_on(&format!("{}.encoder", axis.name), "a");
    let signal = axis.encoder_signals().into_iter().next();
    let board = axis.encoder_at.as_ref().zip(signal.as_ref());
    let behind =
        board.map(|((board, _), signal)| bench.adapters_on(&board.name, signal.name())).unwrap_or_default();
    let adapters: Vec<_> = own.into_iter().chain(behind).map(|(_, adapter)| adapter).collect();

    let mut pulls: Vec<Worked> = Vec::new();
    let to_board = signal.as_ref().map(|signal| signal.pull());
    for pull in std::iter::once(part.pull()).chain(to_board) {
        if pull.is_given() && pull.to() != Some("ground") && !pull.populated().is(false) {
            pulls.push(pull.value());
        }
    }
    let pulling = |a: &&bench::file::Adapter| a.kind().is(AdapterKind::Pull) && a.to() != Some("ground");
    pulls.extend(adapters.iter().filter(pulling).map(|a| a.resistance()));
    let open = part.levels().output().is(OutputKind::OpenDrain);
    let pull = pulls.into_iter().reduce(Number::parallel);
    if open && pull.is_none() {
        return Rise::NoPull;
    }
    let in_line =
        |a: &&bench::file::Adapter| matches!(a.kind().value, Some(AdapterKind::Series | AdapterKind::Filter));
    let series: Vec<Worked> =
        adapters.iter().filter(in_line).map(|a| or_zero(a, "resistance", "Ω")).collect();
    let mut at_end: Vec<Worked> =
        adapters.iter().filter(|a| a.has("capacitance")).map(|a| a.capacitance()).collect();
    at_end.push(capacitance(bench, axis));
    let resistances: Vec<Worked> = pull.filter(|_| open).into_iter().chain(series).collect();

    let mut times: Vec<Worked> = Vec::new();
    if !resistances.is_empty() {
        times.push(rise_time(resistances.into_iter().sum(), at_end.into_iter().sum()));
    }
    if part.has("rise_time") {
        times.push(part.rise_time());
    }
    if let Some(signal) = signal.filter(|signal| signal.has("filter_time")) {
        times.push(signal.filter_time() * libm::log(9.0));
    }
    if times.is_empty() {
        return Rise::Sharp;
    }
    Rise::Time(times.into_iter().sum::<Worked>().called("rise time of the line", "t_r"))
}

fn capacitance(bench: &Bench, axis: &Axis) -> Worked {
    let per_length = match &axis.encoder_cable {
        Some(run) => run.part.capacitance_per_length(),
        None => Worked::known(
            100.0,
            "pF/m",
            "C'",
            "capacitance between neighbouring wires",
            Origin::common_practice("about 100 pF/m for a pair"),
        ),
    };
    cable_capacitance(line_length(bench, axis), per_length)
}

/// Voltage at the encoder itself: that of its feed less what is lost in its cable, in the cable of the board that
/// passes it on, and in a return that it shares with the motor. `None` where nothing is said to feed it.
pub fn supply_at_end(bench: &Bench, axis: &Axis, motor_current: Option<Worked>) -> Option<Worked> {
    let feed = axis.encoder_feed.as_ref()?;
    let part = axis.encoder.as_ref()?;
    let own = supply_line(bench, axis);
    let mut lost = line_drop(part.current(), own.clone());
    if let Some((board, channel)) = &axis.encoder_at
        && let Some(fed) = board.input_feeding(&format!("{channel}.encoder"))
        && let Some(run) = bench.cable_to_input(&board.name, fed.input.name())
    {
        let here = |other: &&Axis| other.encoder_at.as_ref().is_some_and(|(b, _)| b.name == board.name);
        let encoders: Worked = bench
            .axes()
            .iter()
            .filter(here)
            .filter_map(|other| other.encoder.as_ref())
            .map(|e| e.current())
            .sum();
        lost = lost + line_drop(or_zero(&fed.input, "current", "A") + encoders, both_ways(bench, run));
    }
    let shared = axis.encoder_cable.as_ref().is_some_and(|run| run.entry.separate_return().is(false));
    if let (true, Some(current)) = (shared, motor_current) {
        lost = lost + line_drop(current, own / 2.0);
    }
    Some((feed_voltage(bench, feed) - lost).called("voltage at the encoder", "U_enc"))
}

/// Resistance of the supply of an encoder, out and back.
fn supply_line(bench: &Bench, axis: &Axis) -> Worked {
    if let Some(run) = &axis.encoder_cable {
        return both_ways(bench, run);
    }
    let connectors = axis.encoder.iter().flat_map(|e| e.connectors()).collect::<Vec<_>>();
    let carried = |place: &Place| match place {
        Place::Pin { connector, pin, .. } => connectors
            .iter()
            .find(|c| *c.name() == **connector)
            .and_then(|c| c.pins().iter().find(|e| *e.key == **pin).and_then(|e| e.text().map(str::to_owned)))
            .unwrap_or_else(|| pin.to_string()),
        _ => String::new(),
    };
    let wires = wires_to(bench, axis);
    let one = |what: &str| wires.iter().find(|(_, place)| carried(place) == what).map(|(wire, _)| wire);
    match (one("supply"), one("ground")) {
        (Some(out), Some(back)) => one_way(bench, out) + one_way(bench, back),
        _ => {
            let path = format!("cables.{}-encoder", axis.name);
            let name = "resistance of the cable to the encoder";
            Input::new(&path, name, "R_w", Dimension::RESISTANCE).missing(0.0, 1e3).worked()
        }
    }
}

/// How far an axis goes: between its end stops, or what its motion says.
pub fn travel(axis: &Axis) -> Travel {
    let end =
        |way: Way| axis.end_stops.iter().find(|(_, stop)| stop.end().is(way)).map(|(_, stop)| stop.at());
    if let (Some(near), Some(far)) = (end(Way::Negative), end(Way::Positive)) {
        return Travel::Angle(as_angle(axis, far - near));
    }
    let Some((_, motion)) = &axis.motion else { return Travel::Unknown };
    match motion.kind().value {
        Some(MotionKind::Hold) => Travel::Angle(zero("rad")),
        Some(MotionKind::Constant) => Travel::Endless,
        Some(MotionKind::Sine) => Travel::Angle(as_angle(axis, motion.amplitude() * 2.0)),
        _ if motion.then().is(Then::Again) => Travel::Endless,
        Some(MotionKind::Trapezoid | MotionKind::SCurve) => Travel::Angle(as_angle(axis, motion.distance())),
        Some(MotionKind::Points | MotionKind::File) | None => Travel::Unknown,
    }
}

fn as_angle(axis: &Axis, way: Worked) -> Worked {
    match axis.load.as_ref().map(load).and_then(|load| load.travel()) {
        Some(travel) if way.dimension() == Dimension::LENGTH => shaft_angle(way, travel),
        _ => way,
    }
}

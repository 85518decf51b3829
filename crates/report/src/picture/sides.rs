//! What sits beside the way of the power: encoders, sensors, switches, brakes, ends of travel.

use super::Stage;
use super::layout::{Kind, Sign};
use super::plan::written;
use super::planned::{Lead, Planned};
use bench::part::EncoderShaft;
use bench::{Axis, Bench, Device, Feed, Place};

/// Something beside the way of the power: it measures, stops or holds.
pub(super) struct Side {
    pub(super) kind: &'static str,
    pub(super) name: String,
    pub(super) detail: String,
    pub(super) path: String,
    pub(super) stage: Stage,
    pub(super) lines: Vec<SideLine>,
}

pub(super) struct SideLine {
    pub(super) name: String,
    pub(super) to: SideEnd,
    pub(super) kind: Kind,
    pub(super) inward: bool,
    pub(super) signs: Vec<Sign>,
}

pub(super) enum SideEnd {
    Board(String),
    Controller(String),
}

/// Everything beside an axis.
pub(super) fn axis_sides(bench: &Bench, wiring: &Planned, axis: &Axis) -> Vec<Side> {
    let mut sides = Vec::new();
    if let Some(encoder) = &axis.encoder {
        let mut lines = Vec::new();
        match &axis.encoder_at {
            Some((board, _)) => lines.push(SideLine {
                name: "A, B".to_owned(),
                to: SideEnd::Board(board.name.to_string()),
                kind: Kind::Measure,
                inward: false,
                signs: Vec::new(),
            }),
            None => {
                if let Some(Feed::ControllerRail(rail)) = &axis.encoder_feed {
                    lines.push(side_line("supply", rail.to_string(), Kind::Rail, true));
                }
                for line in ["a", "b", "index"] {
                    let name = format!("{}.encoder:{line}", axis.name);
                    lines.extend(led(line, wiring.lead(&name, &bench.encoder_pins(axis, line), None)));
                }
            }
        }
        let shaft = encoder.shaft().or(EncoderShaft::Motor);
        sides.push(Side {
            kind: "encoder",
            name: axis.name.to_string(),
            detail: format!("on {shaft} shaft"),
            path: format!("axes.{}.encoder", axis.name),
            stage: Stage::Feedback,
            lines,
        });
    }
    for (name, sensor) in bench.sensors_of(&axis.name) {
        let line = match sensor.to() {
            Some(place) => {
                controller_pin(bench, place).map(|to| side_line("signal", to, Kind::Measure, false))
            }
            None => led("signal", wiring.lead(&format!("{name}:signal"), &[], None)),
        };
        sides.push(Side {
            kind: "sensor",
            name: name.to_string(),
            detail: sensor.measures().value.map(|m| m.to_string()).unwrap_or_default(),
            path: format!("sensors.{name}"),
            stage: Stage::Feedback,
            lines: line.into_iter().collect(),
        });
    }
    if let Some((name, homing)) = &axis.homing
        && let Some(switch) = homing.switch()
    {
        let to = controller_pin(bench, switch);
        sides.push(Side {
            kind: "homing switch",
            name: name.to_string(),
            detail: String::new(),
            path: format!("homing.{name}"),
            stage: Stage::Feedback,
            lines: to.into_iter().map(|to| side_line("switch", to, Kind::Measure, false)).collect(),
        });
    }
    for (name, brake) in bench.brakes_of(&axis.name) {
        let to = brake.released_by().and_then(|place| controller_pin(bench, place));
        sides.push(Side {
            kind: "holding brake",
            name: name.to_string(),
            detail: written(&brake, "torque"),
            path: format!("brakes.{name}"),
            stage: Stage::Protection,
            lines: to.into_iter().map(|to| side_line("release", to, Kind::Flag, true)).collect(),
        });
    }
    sides.extend(end_stops(bench, &axis.name));
    sides
}

/// Ends of travel of an axis or servo.
pub(super) fn end_stops(bench: &Bench, mover: &str) -> Vec<Side> {
    let of = bench.end_stops().into_iter().filter(|(_, stop)| stop.axis() == Some(mover));
    of.map(|(name, stop)| {
        let to = stop.switch().and_then(|place| controller_pin(bench, place));
        Side {
            kind: "end stop",
            name: name.to_string(),
            detail: written(&stop, "at"),
            path: format!("end_stops.{name}"),
            stage: Stage::Protection,
            lines: to.into_iter().map(|to| side_line("switch", to, Kind::Flag, false)).collect(),
        }
    })
    .collect()
}

fn side_line(name: &str, to: String, kind: Kind, inward: bool) -> SideLine {
    SideLine { name: name.to_owned(), to: SideEnd::Controller(to), kind, inward, signs: Vec::new() }
}

/// A measurement that wires of the bench, or a plan, lead to a pin.
fn led(name: &str, lead: Lead) -> Option<SideLine> {
    Some(SideLine { signs: lead.signs, ..side_line(name, lead.to?, Kind::Measure, false) })
}

fn controller_pin(bench: &Bench, place: &str) -> Option<String> {
    match bench.place_named(place)? {
        Place::Pin { device: Device::Controller, connector, pin } => Some(format!("{connector}.{pin}")),
        _ => None,
    }
}

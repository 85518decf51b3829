//! Returns: how far the ground of a device lies above that of the controller.
//!
//! The shift is the current of the device times the resistance of its own return: the core of its cable, else the
//! ground wire. A board that is plugged onto a port has none to speak of. Left out: what the current of the motors
//! does where supplies share a return, and inductance.

use super::copper::{both_ways, one_way};
use crate::constants::zero;
use bench::Bench;
use bench::model::{CableRun, Device, Feed, Place};
use worked::{Number, Worked};

/// Shift of the ground of a device against the controller: its current through its return.
pub fn ground_shift(bench: &Bench, device: &Device) -> Worked {
    let shift = match device {
        Device::Board(name) => board_shift(bench, name),
        Device::Servo(name) => bench.servo(name).and_then(|servo| {
            let cable = bench.cable_to_servo(name).map(|run| core_resistance(bench, run));
            let core = cable.or_else(|| ground_wire(bench, device))?;
            Some((servo.part.stall_current(), core))
        }),
        Device::Encoder(name) => bench.axis(name).and_then(|axis| {
            let cable = axis.encoder_cable.as_ref().map(|run| core_resistance(bench, run));
            let core = cable.or_else(|| ground_wire(bench, device))?;
            Some((axis.encoder.as_ref()?.current(), core))
        }),
        _ => None,
    };
    match shift {
        Some((current, resistance)) => {
            crate::bus::line_drop(current, resistance).called("shift of the ground", "ΔU_g")
        }
        None => zero("V"),
    }
}

/// Resistance of the wire that joins the ground of a device to that of the controller.
pub fn ground_wire(bench: &Bench, device: &Device) -> Option<Worked> {
    let wire = bench.wires().iter().find(|(wire, from, to)| {
        Place::join((from, to), device, &Device::Controller)
            && (wire.carries() == Some("ground") || is_ground(bench, from) || is_ground(bench, to))
    });
    let (wire, _, _) = wire?;
    Some(one_way(bench, wire).called("resistance of the ground wire", "R_g"))
}

/// Whether a place is a ground pin.
fn is_ground(bench: &Bench, place: &Place) -> bool {
    let Place::Pin { device, connector, pin } = place else { return false };
    match device {
        Device::Controller => {
            let pin = bench.controller().and_then(|c| c.pin(&format!("{connector}.{pin}")));
            pin.is_some_and(|pin| pin.carries.as_deref() == Some("ground"))
        }
        Device::Board(name) => bench.board(name).is_some_and(|board| {
            let pins = board.connector(connector).map(|c| board.pins_of(&c)).unwrap_or_default();
            pins.iter().any(|(at, carries)| at == pin && &**carries == "ground")
        }),
        _ => &**pin == "ground",
    }
}

/// Current and resistance of the return of a board that is wired loosely; a plugged one has none to speak of.
fn board_shift(bench: &Bench, name: &str) -> Option<(Worked, Worked)> {
    let board = bench.board(name).filter(|board| board.plugs().next().is_none())?;
    let wire = ground_wire(bench, &Device::Board(board.name.clone()))?;
    let from_controller = board.inputs.iter().filter(|fed| matches!(fed.feed, Some(Feed::ControllerRail(_))));
    let mut currents: Vec<Worked> = from_controller.map(|fed| fed.input.current()).collect();
    for axis in bench.axes() {
        let here = axis.encoder_at.as_ref().is_some_and(|(at, _)| at.name == board.name);
        if let (true, Some(encoder), Some(Feed::ControllerRail(_))) =
            (here, &axis.encoder, &axis.encoder_feed)
        {
            currents.push(encoder.current());
        }
    }
    let current = currents.into_iter().reduce(|a, b| a + b)?;
    Some((current.called("current through the return", "I_g"), wire))
}

fn core_resistance(bench: &Bench, run: &CableRun) -> Worked {
    (both_ways(bench, run) / 2.0).called("resistance of the return core", "R_g")
}

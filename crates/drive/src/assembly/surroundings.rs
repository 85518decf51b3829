//! The air that parts work in: that of the room, or of the box that they sit in.

use super::{DcAxis, or_zero};
use crate::heat::{enclosure_temperature, temperature};
use bench::Bench;
use bench::model::Axis;
use worked::{Number, Worked};

/// Temperature of the air around a device. In a box it rises with the heat of what sits in it: bridges over their
/// cycles, what boards and the controller draw for themselves. Supplies and motors in the box are not counted.
pub fn air_around<'a>(
    bench: &Bench,
    device: &str,
    kind: Kind,
    axes: impl Iterator<Item = (&'a Axis, &'a DcAxis)>,
) -> Worked {
    let enclosure = bench.header().enclosure();
    if !enclosure.is_given() || !holds(bench, device, kind) {
        return bench.ambient();
    }
    let mut losses: Vec<Worked> = Vec::new();
    for (axis, dc) in axes {
        let held = axis.board().is_some_and(|board| holds(bench, &board.name, Kind::Driver));
        losses.extend(dc.bridge_loss().filter(|_| held));
    }
    for board in bench.boards().iter().filter(|board| holds(bench, &board.name, Kind::Driver)) {
        for fed in board.inputs.iter().filter(|fed| fed.input.has("current")) {
            let voltage = fed.feed.as_ref().map(|feed| super::power::feed_voltage(bench, feed));
            losses.extend(voltage.map(|voltage| voltage * fed.input.current()));
        }
    }
    if let Some(controller) = bench.controller().filter(|_| holds(bench, "controller", Kind::Controller)) {
        let drawn = or_zero(&controller.part.supply(), "current", "A");
        let voltage = controller.feed.as_ref().map(|feed| super::power::feed_voltage(bench, feed));
        losses.extend(voltage.map(|voltage| voltage * drawn));
    }
    if losses.is_empty() {
        return bench.ambient();
    }
    let loss = losses.into_iter().sum::<Worked>().called("heat in the box", "P_box");
    let (ambient, known) = (bench.ambient(), enclosure.has("thermal_resistance") || !enclosure.has("area"));
    if known {
        temperature(ambient, enclosure.thermal_resistance(), loss).called("temperature inside", "ϑ_in")
    } else {
        enclosure_temperature(ambient, loss, enclosure.area())
    }
}

/// What a device is, where a box names what it holds only in part.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Kind {
    /// A driver board.
    Driver,
    /// A supply.
    Supply,
    /// The controller.
    Controller,
    /// Anything else.
    Other,
}

fn holds(bench: &Bench, device: &str, kind: Kind) -> bool {
    let enclosure = bench.header().enclosure();
    let named = enclosure.holds();
    if named.is_empty() { matches!(kind, Kind::Driver | Kind::Supply) } else { named.contains(&device) }
}

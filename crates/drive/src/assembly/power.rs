//! From the supply to the bridge, and the loop of the motor current.

use super::copper::both_ways;
use super::or_zero;
use crate::bus::cable_inductance;
use crate::constants::zero;
use bench::Bench;
use bench::model::{Axis, CableRun, Feed};
use worked::{Dimension, Input, Number, Worked};

/// What lies between an ideal source and the bridge of an axis.
#[derive(Clone, Debug)]
pub struct PowerPath {
    /// Voltage of the source without load.
    pub open_voltage: Worked,
    /// Resistance of the source itself.
    pub source_resistance: Worked,
    /// Resistance of the supply cable, both ways, and of fuse and protector.
    pub line_resistance: Worked,
    /// Inductance of the supply cable.
    pub line_inductance: Worked,
    /// Voltage lost in a series diode.
    pub series_drop: Worked,
    /// Capacitance on the bus at the bridge, all capacitors of that line together.
    pub capacitance: Worked,
}

impl PowerPath {
    pub(super) fn of(bench: &Bench, axis: &Axis) -> Self {
        let input = axis.input().map(|fed| &fed.input);
        let cable = supply_cable(bench, axis);
        let source_resistance = match axis.supply() {
            Some(supply) if supply.part.has("source_resistance") => supply.part.source_resistance(),
            _ => zero("Ω"),
        };
        let protector = input.map_or_else(|| zero("Ω"), |i| or_zero(i, "series_resistance", "Ω"));
        let fuses: Worked = fuses(bench, axis).iter().map(|fuse| or_zero(fuse, "resistance", "Ω")).sum();
        let line = cable.map_or_else(|| zero("Ω"), |run| both_ways(bench, run));
        Self {
            open_voltage: open_voltage(bench, axis),
            source_resistance,
            line_resistance: (line + protector + fuses).called("resistance of the supply line", "R_line"),
            line_inductance: cable.map_or_else(
                || zero("H"),
                |run| cable_inductance(run.entry.length(), run.part.inductance_per_length()),
            ),
            series_drop: input.map_or_else(|| zero("V"), |i| or_zero(i, "series_drop", "V")),
            capacitance: capacitance(bench, axis),
        }
    }

    /// Voltage at the bridge while a current is drawn.
    pub fn sagged(&self, current: Worked) -> Worked {
        crate::bus::sagged_voltage(
            self.open_voltage.clone(),
            self.series_drop.clone(),
            current,
            self.source_resistance.clone(),
            self.line_resistance.clone(),
        )
    }
}

/// Voltage without load of what feeds the axis: a supply, or a rail.
pub fn open_voltage(bench: &Bench, axis: &Axis) -> Worked {
    match axis.feed() {
        Some(feed) => feed_voltage(bench, feed),
        None => missing_voltage(axis),
    }
}

/// Voltage without load of a supply or rail.
pub fn feed_voltage(bench: &Bench, feed: &Feed) -> Worked {
    match feed {
        Feed::Supply(name) => bench.supply(name).map(|unit| unit.voltage()),
        Feed::ControllerRail(rail) => {
            bench.controller().and_then(|c| c.rail(rail)).map(|rail| rail.voltage())
        }
        Feed::BoardRail { board, rail } => {
            bench.board(board).and_then(|b| b.rail(rail)).map(|rail| rail.voltage())
        }
    }
    .unwrap_or_else(|| {
        Input::new(&format!("{feed}.voltage"), "voltage", "U_s", Dimension::VOLTAGE)
            .missing(0.0, 400.0)
            .worked()
    })
}

fn missing_voltage(axis: &Axis) -> Worked {
    let path = format!("{}.supply.voltage", axis.path());
    Input::new(&path, "voltage of the supply that feeds it", "U_s", Dimension::VOLTAGE)
        .missing(0.0, 400.0)
        .worked()
}

/// Resistance in the loop of the motor current besides the motor: both switches, motor leads, shunt.
pub(super) fn loop_resistance(bench: &Bench, axis: &Axis) -> Worked {
    let Some(channel) = axis.channel() else { return zero("Ω") };
    let leads = axis.motor_cable.as_ref().map_or_else(|| zero("Ω"), |run| both_ways(bench, run));
    let shunt = or_zero(channel, "shunt_resistance", "Ω");
    (channel.on_resistance() + leads + shunt).called("resistance of switches and leads", "R_loop")
}

/// The cable between the supply of an axis and its board.
pub fn supply_cable<'b>(bench: &'b Bench, axis: &Axis) -> Option<&'b CableRun> {
    bench.cable_to_input(&axis.board()?.name, axis.input()?.input.name())
}

/// Fuses on the supply of an axis.
pub fn fuses(bench: &Bench, axis: &Axis) -> Vec<bench::file::Fuse> {
    let fuses = axis.feed().map(|feed| bench.fuses_on(feed)).unwrap_or_default();
    fuses.into_iter().map(|(_, fuse)| fuse).collect()
}

/// All capacitors that lie on the bus of an axis: those of every board input on its supply, and separate ones.
/// Behind an input that lets no current back, only that board's own.
pub fn capacitance(bench: &Bench, axis: &Axis) -> Worked {
    let own = axis.input().map(|fed| fed.input.clone());
    let blocked = own.as_ref().is_some_and(|input| input.blocks_return().is(true));
    let mut parts: Vec<Worked> = Vec::new();
    for board in bench.boards() {
        for fed in &board.inputs {
            let same_line = fed.feed.is_some() && fed.feed.as_ref() == axis.feed();
            let is_own = own.as_ref().is_some_and(|input| input.path() == fed.input.path());
            let open = !fed.input.blocks_return().is(true);
            if is_own || (same_line && open && !blocked) {
                parts.push(or_zero(&fed.input, "capacitance", "F"));
            }
        }
    }
    if !blocked {
        let beside = axis.feed().map(|feed| bench.capacitors_on(feed)).unwrap_or_default();
        parts.extend(beside.iter().map(|(_, capacitor)| capacitor.capacitance()));
        if let Some(supply) = axis.supply() {
            parts.push(or_zero(&supply.part, "output_capacitance", "F"));
        }
    }
    parts.retain(|part| part.value() != 0.0);
    if parts.is_empty() {
        // A sum of nothing has no dimension of its own.
        return zero("F");
    }
    parts.into_iter().sum::<Worked>().called("capacitance of the bus", "C_bus")
}

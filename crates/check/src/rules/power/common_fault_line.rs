//! A trip of one axis must not endanger another.

use super::listed;
use super::trips;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::{Axis, Board, LimitInForce};
use drive::assembly::DcAxis;
use drive::load::At;
use finding::Harm;

rule!("common-fault-line", row "Common fault line", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for trip in trips::of(view) {
        let on_board: Vec<&Axis> = view.bench.axes_of(&trip.board.name);
        if on_board.len() < 2 {
            continue;
        }
        let joined = trip.board.part.faults_joined().is(true);
        let stops = |axis: &Axis| joined || stopped(axis, trip.board, trip.limit);
        let seen: Vec<&str> = trip.axes.iter().map(|(axis, _)| &*axis.name).collect();
        for axis in on_board.iter().filter(|axis| stops(axis)) {
            let others: Vec<&str> = seen.iter().copied().filter(|name| *name != &*axis.name).collect();
            let Some(dc) = view.dc(&axis.name) else { continue };
            if !others.is_empty() && !axis.brakes.is_empty() {
                ruling.fact(axis.path(), true).weakness(Harm::People).done();
            } else if !others.is_empty() {
                falls(ruling, axis, dc, &trip.name(), &others);
            }
        }
        split_load(view, ruling, &trip, &on_board, &stops);
    }
}

/// The trip stops only some of the axes that carry one load together.
fn split_load(
    view: &View<'_>,
    ruling: &mut Ruling<'_>,
    trip: &trips::Trip<'_>,
    on_board: &[&Axis],
    stops: &dyn Fn(&Axis) -> bool,
) {
    let mut told: Vec<&str> = Vec::new();
    for axis in on_board.iter().filter(|axis| stops(axis)) {
        let Some(carried) =
            axis.load.as_ref().filter(|carried| carried.shared_by > 1 && !told.contains(&&*carried.name))
        else {
            continue;
        };
        told.push(&carried.name);
        let carriers =
            view.axes().filter(|other| other.load.as_ref().is_some_and(|own| own.name == carried.name));
        let left: Vec<&str> = carriers.filter(|other| !stops(other)).map(|other| &*other.name).collect();
        ruling
            .fact(&trip.path(), left.is_empty())
            .weakness(Harm::Function)
            .says(format!(
                "{} stops `{}` and leaves {} running, which carry load `{}` together",
                trip.name(),
                axis.name,
                listed(left.iter().copied()),
                carried.name
            ))
            .because("one side pulls on alone: a vehicle spins, a carriage jams")
            .or_do("join the faults, or let the firmware stop all of them on one flag")
            .done();
    }
}

/// Whether the load falls when a trip takes the power away.
fn falls(ruling: &mut Ruling<'_>, axis: &Axis, dc: &DcAxis, trip: &str, others: &[&str]) {
    let Some(load) = &dc.load else { return };
    let falling = dc.gear.driving_back(load.falling_torque(At::Worst));
    let held = dc.motor.coulomb_friction.clone() + dc.gear.drag.clone();
    ruling
        .judge(axis.path(), falling.must_stay_below(held))
        .weakness(Harm::People)
        .says(format!(
            "axis `{}` loses its power when {trip} acts for {}; then its load pulls with {{value}} at the motor shaft, and friction holds {{limit}}",
            axis.name,
            listed(others.iter().copied())
        ))
        .because("a trip is a fall for an axis under gravity, whoever caused it")
        .or_do("fit a brake that closes without power, a self-locking gear or a counterbalance, or put the axis on a board of its own")
        .done();
}

fn stopped(axis: &Axis, board: &Board, limit: &LimitInForce) -> bool {
    axis.channels.iter().any(|used| used.board.name == board.name && limit.stops(used.channel.name()))
}

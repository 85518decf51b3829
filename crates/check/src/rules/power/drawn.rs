//! What hangs on a supply or rail, and what it draws there.

use crate::view::View;
use bench::Consumer;
use bench::model::{Axis, Feed, SupplyUnit};
use bench::part::Rail;
use drive::assembly::DcAxis;
use drive::assembly::current::together;
use drive::assembly::limits::{sees_winding, trips};
use drive::assembly::power::feed_voltage;
use worked::{Number, Worked};

/// How long a current is looked at.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Over {
    /// The worst moment.
    Moment,
    /// The cycle of the motion: what heats.
    Cycle,
}

/// What every consumer of a supply or rail draws, at the same time.
pub(super) fn from_feed(view: &View<'_>, feed: &Feed, over: Over) -> Vec<Worked> {
    let mut drawn: Vec<Worked> = Vec::new();
    for consumer in view.bench.consumers_of(feed) {
        match consumer {
            Consumer::Input { board, input } => drawn.extend(through_input(view, &board, &input, over)),
            Consumer::Controller => drawn.extend(controller_itself(view)),
            Consumer::Rail(rail) => drawn.extend(into_rail(view, feed, &rail)),
            Consumer::Servo(name) => {
                drawn.extend(view.bench.servo(&name).map(|servo| servo.part.stall_current()))
            }
            Consumer::Encoder(name) => {
                let encoder = view.bench.axis(&name).and_then(|axis| axis.encoder.clone());
                drawn.extend(encoder.map(|encoder| encoder.current()));
            }
            Consumer::Sensor(name) => {
                drawn.extend(
                    view.bench
                        .sensors()
                        .into_iter()
                        .filter(|(n, _)| *n == name)
                        .map(|(_, sensor)| sensor.current()),
                );
            }
            Consumer::Brake(name) => {
                drawn.extend(
                    view.bench
                        .brakes()
                        .into_iter()
                        .filter(|(n, _)| *n == name)
                        .map(|(_, brake)| brake.current()),
                );
            }
        }
    }
    drawn
}

/// Currents that a supply gives together, with the part of them that its bench says can come at once.
pub(super) fn at_once(supply: &SupplyUnit, drawn: Vec<Worked>, name: &str) -> Worked {
    let sum = together(drawn, name);
    if supply.entry.has("diversity") { supply.entry.diversity() * sum } else { sum }
}

/// A current as far as the limit of the supply lets it: beyond that it holds its current and lets its voltage go, which
/// is the matter of rules of its own.
pub(super) fn within_limit(supply: Option<&SupplyUnit>, drawn: Worked) -> Worked {
    match supply.map(SupplyUnit::limit) {
        Some(limit) if !limit.is_missing() => drawn.at_most(limit),
        _ => drawn,
    }
}

/// Whether motors or servos hang on a supply or rail.
pub(super) fn moves_something(view: &View<'_>, feed: &Feed) -> bool {
    !view.bench.axes_on(feed).is_empty()
        || view.bench.consumers_of(feed).iter().any(|consumer| matches!(consumer, Consumer::Servo(_)))
}

/// What the controller takes from its feed: its own current, and that of its rails.
pub(super) fn of_controller(view: &View<'_>, feed: &Feed) -> Vec<Worked> {
    let rails = view.bench.controller().map(|c| c.part.rails()).unwrap_or_default();
    let rails =
        rails.iter().filter_map(|rail| into_rail(view, feed, &Feed::ControllerRail(rail.name().into())));
    controller_itself(view).into_iter().chain(rails).collect()
}

fn controller_itself(view: &View<'_>) -> Option<Worked> {
    view.bench.controller().map(|c| c.part.supply().current())
}

/// What a board input takes: its axes, no more than a trip in the supply lets by, and the board itself.
fn through_input(view: &View<'_>, board: &str, input: &str, over: Over) -> Option<Worked> {
    let unit = view.bench.board(board)?;
    let fed = unit.input(input)?;
    let here = |axis: &Axis| {
        axis.channels
            .iter()
            .any(|used| used.input.as_ref().is_some_and(|own| own.input.path() == fed.input.path()))
    };
    let axes: Vec<Worked> = view
        .axes()
        .filter(|axis| here(axis))
        .flat_map(|axis| of_axis(axis, view.dc(&axis.name), over))
        .collect();
    let own = fed.input.has("current").then(|| fed.input.current());
    if axes.is_empty() {
        return own;
    }
    let mut current = together(axes, "current of all axes on the input");
    for limit in unit
        .limits
        .iter()
        .filter(|limit| trips(limit) && !sees_winding(limit) && limit.limit.covers().len() != 1)
    {
        current = current.at_most(limit.threshold.clone());
    }
    Some(own.into_iter().fold(current, |sum, own| sum + own))
}

/// What an axis draws from its supply: one figure for a DC motor, one a phase for a stepper.
pub(super) fn of_axis(axis: &Axis, dc: Option<&DcAxis>, over: Over) -> Vec<Worked> {
    match dc {
        Some(dc) if over == Over::Cycle => {
            let motor = dc.rms_current().unwrap_or_else(|| dc.current_with_firmware());
            vec![dc.supply_current(dc.duty_limit.clone(), motor)]
        }
        Some(dc) => vec![dc.largest_supply_current()],
        None => axis.channels.iter().map(|_| phase_current(axis)).collect(),
    }
}

fn phase_current(axis: &Axis) -> Worked {
    match axis.stepper() {
        Some(stepper) if !axis.entry.has("phase_current") => stepper.phase_current(),
        _ => axis.entry.phase_current(),
    }
}

/// What a converter behind a supply draws for a rail at its rating.
fn into_rail(view: &View<'_>, feed: &Feed, rail: &Feed) -> Option<Worked> {
    let part: Rail = match rail {
        Feed::ControllerRail(name) => view.bench.controller()?.rail(name)?,
        Feed::BoardRail { board, rail } => view.bench.board(board)?.rail(rail)?,
        Feed::Supply(_) => return None,
    };
    if !part.has("efficiency") {
        return Some(part.current());
    }
    let drawn = part.current() * part.voltage() / (part.efficiency() * feed_voltage(view.bench, feed));
    Some(drawn.called("current drawn for a rail at its rating", "I_rail'"))
}

//! What hangs on a supply or rail, and what it draws there.

use super::DcAxis;
use super::budget::{by_sheet, into_rail, rail};
use super::current::together;
use super::limits::{sees_winding, trips};
use super::stepper::set_current;
use bench::model::{Axis, Feed, SupplyUnit};
use bench::{Bench, Consumer};
use worked::{Number, Worked};

/// How long a current is looked at.
#[derive(Clone, Copy, PartialEq)]
pub enum Over {
    /// The worst moment, locked rotors included.
    Moment,
    /// The hardest moment of the planned motion; the worst moment of what has none.
    Motion,
    /// The cycle of the motion: what heats.
    Cycle,
}

/// The consumers of a bench with the physics of its axes.
#[derive(Clone, Copy)]
pub struct Drawn<'a> {
    /// The bench.
    pub bench: &'a Bench,
    /// Its axes, each with its physics where it has a DC motor.
    pub axes: &'a [(&'a Axis, Option<DcAxis>)],
}

impl Drawn<'_> {
    /// What every consumer of a supply or rail draws, at the same time.
    pub fn on_feed(&self, feed: &Feed, over: Over) -> Vec<Worked> {
        let mut drawn: Vec<Worked> = Vec::new();
        for consumer in self.bench.consumers_of(feed) {
            match consumer {
                Consumer::Input { board, input } => drawn.extend(self.through_input(&board, &input, over)),
                Consumer::Rail(rail) => drawn.extend(self.for_rail(feed, &rail)),
                other => drawn.extend(by_sheet(self.bench, &other).map(|(_, current)| current)),
            }
        }
        drawn
    }

    /// What the controller takes from its feed: its own current, and that of its rails.
    pub fn of_controller(&self, feed: &Feed) -> Vec<Worked> {
        let rails = self.bench.controller().map(|c| c.part.rails()).unwrap_or_default();
        let rails =
            rails.iter().filter_map(|rail| self.for_rail(feed, &Feed::ControllerRail(rail.name().into())));
        self.controller_itself().into_iter().chain(rails).collect()
    }

    /// Whether motors or servos hang on a supply or rail.
    pub fn moves_something(&self, feed: &Feed) -> bool {
        !self.bench.axes_on(feed).is_empty()
            || self.bench.consumers_of(feed).iter().any(|consumer| matches!(consumer, Consumer::Servo(_)))
    }

    fn controller_itself(&self) -> Option<Worked> {
        self.bench.controller().map(|c| c.part.supply().current())
    }

    /// What a board input takes: its axes, no more than a trip in the supply lets by, and the board itself.
    fn through_input(&self, board: &str, input: &str, over: Over) -> Option<Worked> {
        let unit = self.bench.board(board)?;
        let fed = unit.input(input)?;
        let here = |axis: &Axis| {
            axis.channels
                .iter()
                .any(|used| used.input.as_ref().is_some_and(|own| own.input.path() == fed.input.path()))
        };
        let axes: Vec<Worked> = self
            .axes
            .iter()
            .filter(|(axis, _)| here(axis))
            .flat_map(|(axis, dc)| of_axis(axis, dc.as_ref(), over))
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

    /// What a rail draws at its rating from what it is made from.
    fn for_rail(&self, feed: &Feed, made: &Feed) -> Option<Worked> {
        let part = rail(self.bench, made)?;
        let rating = part.current();
        Some(into_rail(self.bench, feed, &part, rating))
    }
}

/// Currents that a supply gives together, with the part of them that its bench says can come at once.
pub fn at_once(supply: &SupplyUnit, drawn: Vec<Worked>, name: &str) -> Worked {
    let sum = together(drawn, name);
    if supply.entry.has("diversity") { supply.entry.diversity() * sum } else { sum }
}

/// A current as far as the limit of the supply lets it: beyond that it holds its current and lets its voltage go, which
/// is the matter of rules of its own.
pub fn within_limit(supply: Option<&SupplyUnit>, drawn: Worked) -> Worked {
    match supply.map(SupplyUnit::limit) {
        Some(limit) if !limit.is_missing() => drawn.at_most(limit),
        _ => drawn,
    }
}

/// What an axis draws from its supply: one figure for a DC motor, one a phase for a stepper.
pub fn of_axis(axis: &Axis, dc: Option<&DcAxis>, over: Over) -> Vec<Worked> {
    match dc {
        Some(dc) if over == Over::Cycle => {
            vec![dc.supply_current(dc.duty_limit.clone(), dc.effective_current())]
        }
        Some(dc) => {
            let planned = dc.accelerating_supply_current().filter(|_| over == Over::Motion);
            vec![planned.unwrap_or_else(|| dc.largest_supply_current())]
        }
        None => axis.channels.iter().map(|_| phase_current(axis)).collect(),
    }
}

fn phase_current(axis: &Axis) -> Worked {
    axis.stepper().map_or_else(|| axis.entry.phase_current(), |stepper| set_current(axis, stepper))
}

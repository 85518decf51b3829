//! The trips of a bench, each with the axes whose current it sees.

use crate::view::View;
use bench::model::{Axis, Board, LimitInForce};
use drive::assembly::DcAxis;
use drive::assembly::limits::trips;
use std::sync::Arc;

/// A limit that switches off, with what it sees.
pub(super) struct Trip<'v> {
    pub(super) board: &'v Arc<Board>,
    pub(super) limit: &'v LimitInForce,
    /// Axes with a DC motor whose current it sees.
    pub(super) axes: Vec<(&'v Axis, &'v DcAxis)>,
    /// Phases of steppers that it sees.
    pub(super) phases: Vec<(&'v Axis, &'v str)>,
}

/// Every limit of the boards in use that switches off and sees at least one axis.
pub(super) fn of<'v>(view: &'v View<'_>) -> Vec<Trip<'v>> {
    let mut found = Vec::new();
    for board in view.bench.boards() {
        for limit in board.limits.iter().filter(|limit| trips(limit)) {
            let covers = limit.limit.covers();
            let mut trip = Trip { board, limit, axes: Vec::new(), phases: Vec::new() };
            for axis in view.bench.axes_of(&board.name) {
                for used in axis.channels.iter().filter(|used| used.board.name == board.name) {
                    let name = used.channel.name();
                    if !covers.is_empty() && !covers.contains(&name) {
                        continue;
                    }
                    match view.dc(&axis.name) {
                        Some(dc) => trip.axes.push((axis, dc)),
                        None => trip.phases.push((axis, name)),
                    }
                }
            }
            if !trip.axes.is_empty() || !trip.phases.is_empty() {
                found.push(trip);
            }
        }
    }
    found
}

impl Trip<'_> {
    /// Path of the limit: the subject of what is said about it.
    pub(super) fn path(&self) -> String {
        self.limit.limit.path().to_owned()
    }

    /// `trip \`input\` of board \`board\``.
    pub(super) fn name(&self) -> String {
        format!("trip `{}` of board `{}`", self.limit.limit.name(), self.board.name)
    }

    /// Where its threshold stands, or would.
    pub(super) fn threshold_path(&self) -> String {
        self.limit
            .threshold
            .as_input()
            .map_or_else(|| self.limit.limit.path_of("value"), |input| input.path.to_string())
    }

    /// How it is set, for people: `set by the bench`, `its line is left to its default level`.
    pub(super) fn set_by(&self) -> Option<String> {
        use bench::model::DecidedBy;
        let setting = self.limit.setting.as_deref()?;
        Some(match &self.limit.decided_by {
            DecidedBy::Undriven(line) => {
                format!("the setting `{setting}` holds because nothing drives the line `{line}`")
            }
            DecidedBy::Firmware(line) => {
                format!(
                    "the setting `{setting}` is the default of the line `{line}`, which the firmware may drive otherwise"
                )
            }
            DecidedBy::Line(line) => format!("the line `{line}` selects the setting `{setting}`"),
            DecidedBy::Jumper(jumper) => format!("the jumper `{jumper}` selects the setting `{setting}`"),
            DecidedBy::Factory => format!("nothing selects: the factory setting `{setting}` holds"),
            DecidedBy::Bench | DecidedBy::Fixed | DecidedBy::Nothing => return None,
        })
    }
}

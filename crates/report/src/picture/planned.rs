//! What a plan of the wiring does to the lines and wires that the bench file holds, as the picture shows it.

use super::layout::Sign;
use bench::{Bench, Board, Connection, Place, Plugged, Via};
use std::collections::BTreeMap;

/// A plan of the wiring, as far as the picture shows it. Without one, only what the bench file holds is drawn.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Planned {
    /// Where lines go, by their names: `board:A.pwm`, `left.encoder:a`, `latch:pulse`.
    pub lines: BTreeMap<String, PlannedLine>,
    /// Numbers of those wires of the bench file, from zero, that the plan takes from where they lie: one that it
    /// moves is added elsewhere under the same label.
    pub gone: Vec<usize>,
    /// Wires where none lies now.
    pub added: Vec<AddedWire>,
    /// Port that each plug sits on, by board and connector: `board.host`.
    pub ports: BTreeMap<String, String>,
}

/// Where the plan puts a line.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct PlannedLine {
    /// Pin of the controller: `J1.3`; nothing where the plan leaves the line out.
    pub pin: Option<String>,
    /// A wire of its own leads it away from its plug.
    pub rerouted: bool,
}

/// A single wire that the plan lays.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct AddedWire {
    /// Label: `W3`.
    pub id: String,
    /// One end, as the bench file would write it.
    pub from: String,
    /// The other.
    pub to: String,
    /// What it carries.
    pub carries: String,
}

/// A connector of a board on a port.
pub(super) struct Plug<'b> {
    pub(super) board: &'b Board,
    pub(super) connector: &'b str,
    pub(super) plugged: &'b Plugged,
    pub(super) port: String,
}

/// A line as the picture shows it: where it goes, and the signs that it bears.
#[derive(Default)]
pub(super) struct Lead {
    pub(super) to: Option<String>,
    pub(super) signs: Vec<Sign>,
}

impl Planned {
    /// A line that lies on these pins now; of several the last one counts.
    pub(super) fn lead(&self, name: &str, now: &[Connection], board: Option<&Board>) -> Lead {
        let plugged = board.filter(|board| board.plugs().next().is_some());
        // Of several ports none is settled yet: where the board sits, only a plan says.
        let open = plugged.is_some_and(|board| board.entry.plugged_into().len() > 1);
        let last = now.last().filter(|last| last.via != Via::Plug || !open || self.ports.is_empty());
        let pin = last.map(|connection| connection.pin.place());
        let wired = last.is_some_and(|connection| matches!(connection.via, Via::Wire(_)));
        let leaves = |leaves: bool| if leaves { vec![Sign::Leaves] } else { Vec::new() };
        let as_now = |more: Option<Sign>| {
            let mut signs = leaves(plugged.is_some() && wired);
            signs.extend(more);
            signs
        };
        let Some(planned) = self.lines.get(name) else { return Lead { signs: as_now(None), to: pin } };
        // Pins that plugs join are one: any of them may serve the line.
        let joined = |new: &String| !wired && now.iter().any(|connection| connection.pin.place() == *new);
        match (&pin, &planned.pin) {
            (Some(_), Some(new)) if joined(new) => Lead { to: Some(new.clone()), signs: as_now(None) },
            (Some(pin), Some(new)) if pin == new => Lead { to: Some(pin.clone()), signs: as_now(None) },
            (Some(pin), Some(new)) => {
                let mut signs = leaves(planned.rerouted);
                signs.push(Sign::Moves);
                Lead { to: Some(format!("{pin} → {new}")), signs }
            }
            (None, Some(new)) => {
                let mut signs = leaves(planned.rerouted);
                signs.push(Sign::Planned);
                Lead { to: Some(new.clone()), signs }
            }
            (Some(_), None) if wired => Lead { signs: as_now(Some(Sign::Goes)), to: pin },
            (_, None) => Lead { signs: as_now(None), to: pin },
        }
    }

    /// Every plug with the port that it sits on: by the plan, else as the bench file says.
    pub(super) fn plugs<'b>(&self, bench: &'b Bench) -> Vec<Plug<'b>> {
        let plug = |board: &'b Board, plugged: &'b Plugged| {
            let connector = plugged.connector.name();
            let planned = self.ports.get(&format!("{}.{connector}", board.name)).cloned();
            Plug {
                board,
                connector,
                plugged,
                port: planned.unwrap_or_else(|| plugged.port.name().to_owned()),
            }
        };
        let boards = bench.boards().iter();
        boards.flat_map(|board| board.plugs().map(move |plugged| plug(board, plugged))).collect()
    }

    /// Wires that lie in the end, those of the bench file first: their ends and what they carry.
    pub(super) fn wires<'w>(&'w self, bench: &'w Bench) -> Vec<(Place, Place, Option<&'w str>)> {
        let stays = |(at, _): &(usize, &(bench::file::Wire, Place, Place))| !self.gone.contains(at);
        let laid = bench.wires().iter().enumerate().filter(stays);
        let laid = laid.map(|(_, (wire, from, to))| (from.clone(), to.clone(), wire.carries()));
        let added = self.added.iter().filter_map(|wire| {
            Some((bench.place_named(&wire.from)?, bench.place_named(&wire.to)?, Some(wire.carries.as_str())))
        });
        laid.chain(added).collect()
    }
}

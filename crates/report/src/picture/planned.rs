//! What a plan of the wiring does to the lines and wires that the bench file holds, as the picture shows it.

use super::layout::Sign;
use bench::{Board, Connection, Place, Via};
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
    /// Port that each plugged board sits on, by the board's name.
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

/// A line as the picture shows it: where it goes, and the signs that it bears.
#[derive(Default)]
pub(super) struct Lead {
    pub(super) to: Option<String>,
    pub(super) signs: Vec<Sign>,
}

impl Planned {
    /// A line that lies on these pins now; of several the last one counts.
    pub(super) fn lead(&self, name: &str, now: &[Connection], board: Option<&Board>) -> Lead {
        let plugged = board.filter(|board| board.plugged.is_some());
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
        match (&pin, &planned.pin) {
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

    /// The port that a board sits on: by the plan, else as the bench file says.
    pub(super) fn port_of(&self, board: &Board) -> Option<String> {
        let plugged = board.plugged.as_ref()?;
        let planned = self.ports.get(&*board.name).cloned();
        Some(planned.unwrap_or_else(|| plugged.port.name().to_owned()))
    }

    /// Wires that lie in the end, those of the bench file first: their ends and what they carry.
    pub(super) fn wires<'w>(&'w self, bench: &'w bench::Bench) -> Vec<(Place, Place, Option<&'w str>)> {
        let stays = |(at, _): &(usize, &(bench::file::Wire, Place, Place))| !self.gone.contains(at);
        let laid = bench.wires().iter().enumerate().filter(stays);
        let laid = laid.map(|(_, (wire, from, to))| (from.clone(), to.clone(), wire.carries()));
        let added = self.added.iter().filter_map(|wire| {
            Some((bench.place_named(&wire.from)?, bench.place_named(&wire.to)?, Some(wire.carries.as_str())))
        });
        laid.chain(added).collect()
    }
}

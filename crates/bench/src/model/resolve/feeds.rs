//! What feeds what.

use super::Resolver;
use crate::model::{Bench, ControllerUnit, Feed};
use crate::read::unknown_name;
use crate::record::Record;
use finding::Span;
use std::sync::Arc;

impl Resolver {
    /// What feeds the controller and every input of every board.
    pub(super) fn feeds(&mut self, bench: &mut Bench) {
        if let Some(controller) = bench.controller.clone() {
            let feed = controller.entry.supply().and_then(|text| {
                self.feed(bench, controller.entry.path(), text, &controller.entry.span_of("supply"))
            });
            bench.controller = Some(Arc::new(ControllerUnit { feed, ..(*controller).clone() }));
        }
        let mut boards = Vec::new();
        for board in bench.boards.clone() {
            let mut fed = (*board).clone();
            for entry in board.entry.supplies() {
                let subject = board.entry.path_of("supplies");
                let Some(slot) = fed.inputs.iter_mut().find(|f| f.input.name() == &*entry.key) else {
                    let inputs = board.part.supply_inputs();
                    let names: Vec<&str> = inputs.iter().map(|i| i.name()).collect();
                    self.findings.push(unknown_name(
                        &subject,
                        &entry.key,
                        &entry.key.span,
                        "supply inputs of the board",
                        &names,
                    ));
                    continue;
                };
                if let Some(text) = entry.texts.first() {
                    slot.feed = self.feed(bench, &subject, text, &text.span);
                }
            }
            boards.push(Arc::new(fed));
        }
        bench.boards = boards;
    }

    /// Reads what feeds something: `drive`, `controller.J1.5V`, `board.5V`.
    pub(super) fn feed(&mut self, bench: &Bench, subject: &str, text: &str, at: &Span) -> Option<Feed> {
        let found = find_feed(bench, text);
        if found.is_none() {
            let mut names: Vec<String> = bench.supplies.iter().map(|s| s.name.to_string()).collect();
            if let Some(controller) = &bench.controller {
                names
                    .extend(controller.part.rails().iter().map(|rail| format!("controller.{}", rail.name())));
            }
            for board in &bench.boards {
                names.extend(board.part.rails().iter().map(|rail| format!("{}.{}", board.name, rail.name())));
            }
            // A supply whose part could not be read has its own finding.
            if bench.file.supplies().iter().all(|(name, _)| **name != *text)
                && (bench.controller.is_some() || !text.starts_with("controller"))
            {
                let names: Vec<&str> = names.iter().map(String::as_str).collect();
                self.findings.push(unknown_name(subject, text, at, "supplies and rails", &names));
            }
        }
        found
    }

    pub(super) fn fed_from(&mut self, bench: &Bench, record: &Record, key: &str) {
        for text in record.placed(key).to_vec() {
            self.feed(bench, record.path(), &text, &text.span);
        }
    }
}

/// What `drive`, `controller.J1.5V`, `board.5V` stand for.
pub(in crate::model) fn find_feed(bench: &Bench, text: &str) -> Option<Feed> {
    let text = text.strip_prefix("supplies.").unwrap_or(text);
    if let Some(supply) = bench.supply(text) {
        return Some(Feed::Supply(supply.name.clone()));
    }
    if let Some(rest) = text.strip_prefix("controller.") {
        let controller = bench.controller.as_ref()?;
        let rest = rest.strip_prefix("rails.").unwrap_or(rest);
        let rail = match controller.rail(rest) {
            Some(rail) => rail,
            None => {
                // The rail at a pin of a port, by the pin's number or by the rail's own name.
                let (port, at) = rest.split_once('.')?;
                let mut pins = controller.pins.iter().filter(|pin| &*pin.port == port);
                let pin = pins.find(|pin| &*pin.position == at || pin.carries.as_deref() == Some(at))?;
                controller.rail(pin.carries.as_deref()?)?
            }
        };
        return Some(Feed::ControllerRail(rail.name().into()));
    }
    let (board, rail) = text.strip_prefix("drivers.").unwrap_or(text).split_once('.')?;
    let board = bench.board(board)?;
    let rail = board.rail(rail.strip_prefix("rails.").unwrap_or(rail))?;
    Some(Feed::BoardRail { board: board.name.clone(), rail: rail.name().into() })
}

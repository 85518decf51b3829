//! Which setting of each limit is in force.

use super::Resolver;
use crate::model::{Bench, Board, DecidedBy, LimitInForce};
use crate::part::Limit;
use crate::read::unknown_name;
use crate::record::{Entry, SettingValue};
use std::sync::Arc;

impl Resolver {
    /// Every limit of a board with the setting in force.
    pub(super) fn limits(&mut self, bench: &Bench, board: &Board) -> Vec<LimitInForce> {
        let chosen = board.entry.limits();
        let limits = board.part.limits();
        let names: Vec<&str> = limits.iter().map(|limit| limit.name()).collect();
        let set = chosen.iter().map(|setting| &setting.name);
        self.known_words(&board.entry.path_of("limits"), set, "limits of the board", &names);
        limits.into_iter().map(|limit| self.limit(bench, board, limit, &chosen)).collect()
    }

    fn limit(
        &mut self,
        bench: &Bench,
        board: &Board,
        limit: Limit,
        chosen: &[crate::record::Setting],
    ) -> LimitInForce {
        let settings: Vec<(Arc<str>, worked::Worked)> = limit
            .settings()
            .into_iter()
            .filter_map(|setting| match setting.value {
                SettingValue::Quantity(value) => Some((setting.name.text, value)),
                SettingValue::Name(_) => None,
            })
            .collect();
        let by_name = |name: &str| settings.iter().find(|(n, _)| &**n == name).cloned();
        let force = |picked: Option<(Arc<str>, worked::Worked)>, decided_by: DecidedBy| {
            let (setting, threshold) = match picked {
                Some((name, value)) => (Some(name), value),
                None => (None, limit.value()),
            };
            LimitInForce { limit: limit.clone(), threshold, setting, decided_by, settings: settings.clone() }
        };
        if let Some(setting) = chosen.iter().find(|setting| &*setting.name == limit.name()) {
            match &setting.value {
                SettingValue::Quantity(value) => {
                    return LimitInForce { threshold: value.clone(), ..force(None, DecidedBy::Bench) };
                }
                SettingValue::Name(name) => match by_name(name) {
                    Some(found) => return force(Some(found), DecidedBy::Bench),
                    None => {
                        let names: Vec<&str> = settings.iter().map(|(n, _)| &**n).collect();
                        let subject = board.entry.path_of("limits");
                        self.findings.push(unknown_name(
                            &subject,
                            name,
                            &name.span,
                            "settings of the limit",
                            &names,
                        ));
                    }
                },
            }
        }
        if limit.has("value") {
            return force(None, DecidedBy::Fixed);
        }
        if let Some(line) = limit.selected_by() {
            let (level, decided_by) = self.line_level(bench, board, line);
            if let Some(found) = level.and_then(|level| by_name(&selected(&limit, &level))) {
                return force(Some(found), decided_by);
            }
        }
        let jumper = limit.jumper();
        if jumper.is_given() {
            let state = board.entry.jumpers().iter().find(|entry| *entry.key == *jumper.name());
            let setting = match state.and_then(Entry::text) {
                Some("fitted") => jumper.fitted(),
                Some("open") => jumper.open(),
                _ => None,
            };
            if let Some(found) = setting.and_then(by_name) {
                return force(Some(found), DecidedBy::Jumper(jumper.name().into()));
            }
        }
        if let Some(found) = limit.default().and_then(by_name) {
            return force(Some(found), DecidedBy::Factory);
        }
        if limit.has("set_to") {
            return LimitInForce { threshold: limit.set_to(), ..force(None, DecidedBy::Factory) };
        }
        match settings.len() {
            1 => force(settings.first().cloned(), DecidedBy::Fixed),
            _ => force(None, DecidedBy::Nothing),
        }
    }

    /// Level of a control line as far as the bench says it.
    fn line_level(&mut self, bench: &Bench, board: &Board, line: &str) -> (Option<String>, DecidedBy) {
        if let Some(state) = board.line_state(line) {
            return (Some(state.to_owned()), DecidedBy::Line(line.into()));
        }
        let undriven = board.signal(line).and_then(|signal| signal.undriven().stated());
        let level = undriven.map(|level| level.word().to_owned());
        let left = board.entry.left_open().contains(&line);
        let plugged = board.plugs().any(|plugged| {
            let pins = board.pins_of(&plugged.connector);
            pins.iter().any(|(_, carries)| &**carries == line)
        });
        let wired =
            bench.file.wires().iter().any(|wire| wire.carries() == Some(&format!("{}:{line}", board.name)));
        let decided_by = match !left && (plugged || wired) {
            true => DecidedBy::Firmware(line.into()),
            false => DecidedBy::Undriven(line.into()),
        };
        (level, decided_by)
    }
}

/// Setting of a limit that a level of its line selects.
fn selected(limit: &Limit, level: &str) -> String {
    let mapped = limit.selects().iter().find(|entry| &*entry.key == level);
    mapped.and_then(Entry::text).unwrap_or(level).to_owned()
}

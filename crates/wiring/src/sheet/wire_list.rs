//! The single wires, one a row.

use crate::Wiring;
use crate::wires::PlannedWire;
use finding::sheet::Block;

/// All wires of the plan; those that go come last.
pub(super) fn table(wiring: &Wiring<'_>) -> Block {
    let goes = |wire: &&PlannedWire| wire.state == crate::wires::State::Goes;
    let wires = &wiring.wires;
    let ordered = wires.iter().filter(|wire| !goes(wire)).chain(wires.iter().filter(goes));
    super::table(
        "wires",
        "Single wires",
        &["wire", "from", "to", "carries", "plan", "#area", "#length", "colour", "pair or shield", "tested"],
        ordered.map(row).collect(),
    )
}

fn row(wire: &PlannedWire) -> Vec<String> {
    let entry = wire.entry.as_ref();
    let quantity = |key: &str, worked: Option<worked::Worked>| {
        worked.filter(|_| entry.is_some_and(|entry| entry.has(key))).map(|worked| worked.text())
    };
    let mut laid: Vec<String> = Vec::new();
    laid.extend(entry.and_then(|entry| entry.pair()).map(|pair| format!("with {pair}")));
    laid.extend(entry.filter(|entry| entry.shielded().is(true)).map(|_| "shielded".to_owned()));
    vec![
        wire.id.clone(),
        wire.from.clone(),
        format!("{}{}", wire.to, if wire.rerouted { "\u{a0}↷" } else { "" }),
        wire.carries.clone(),
        wire.state.word().to_owned(),
        quantity("area", entry.map(|entry| entry.area())).unwrap_or_default(),
        quantity("length", entry.map(|entry| entry.length())).unwrap_or_default(),
        wire.colour.clone().unwrap_or_default(),
        laid.join(", "),
        entry.and_then(|entry| entry.tested()).unwrap_or_default().to_owned(),
    ]
}

//! What every supply and rail gives, and what hangs on it.

use crate::Wiring;
use drive::assembly::budget::{loads, rating};
use finding::sheet::Block;
use worked::{Number, Worked};

pub(super) fn table(wiring: &Wiring<'_>) -> Block {
    let bench = wiring.task.bench;
    let rows = bench.feeds().into_iter().filter_map(|feed| {
        let drawn = loads(bench, &feed);
        let list: Vec<String> =
            drawn.iter().map(|(name, current)| format!("{name} {}", current.text())).collect();
        let sum = drawn.into_iter().map(|(_, current)| current).reduce(|a, b| a + b)?;
        let gives = rating(bench, &feed);
        let left = gives.clone().map(|gives| part_left(&sum, gives));
        Some(vec![
            feed.to_string(),
            gives.map(|gives| gives.text()).unwrap_or_default(),
            sum.text(),
            left.unwrap_or_default(),
            list.join("; "),
        ])
    });
    super::table(
        "rail-budget",
        "Rails and what hangs on them, bridges not counted",
        &["rail", "#gives", "#drawn", "#left at worst", "loads"],
        rows.collect(),
    )
}

/// Part of the rating that is left at the worst corner, in per cent.
fn part_left(sum: &Worked, gives: Worked) -> String {
    let left = Worked::pure(1.0) - sum.clone() / gives;
    match left.worst_case() {
        // Down, so that no more is promised than there is; a whole number may miss itself by the last bit.
        Some((low, _)) => format!("{:.0} %", (low * 100.0 + 1e-9).floor()),
        None => "not known".to_owned(),
    }
}

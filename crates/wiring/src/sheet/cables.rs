//! Cables of the bench file, one a row: to supplies, motors and encoders.

use crate::Wiring;
use finding::sheet::Block;

/// `None` where the bench describes no cable.
pub(super) fn table(wiring: &Wiring<'_>) -> Option<Block> {
    let cables = wiring.task.bench.cables();
    let rows = cables.iter().map(|run| {
        let stated = |given: bool, worked: worked::Worked| if given { worked.text() } else { String::new() };
        let cores = run.part.cores();
        vec![
            run.name.to_string(),
            run.entry.from().unwrap_or_default().to_owned(),
            run.entry.to().unwrap_or_default().to_owned(),
            if run.part.has("cores") { format!("{}", cores.value()) } else { String::new() },
            stated(run.part.has("area"), run.part.area()),
            stated(run.entry.has("length"), run.entry.length()),
        ]
    });
    let headings = ["cable", "from", "to", "#cores", "#area", "#length"];
    (!cables.is_empty()).then(|| super::table("cables", "Cables", &headings, rows.collect()))
}

//! Which signal of a dump is what: as told, else by names.

use crate::measured::columns::{Column, Mapping, NoColumns, in_unit, is_line, names};
use crate::measured::said::Said;
use bench::Words;
use bench::file::LogQuantity;
use logs::{Dump, Traced};

/// The signals that are taken, those told first. A [`Column::column`] is the number of the signal in the dump.
pub(super) fn signals(mapping: &Mapping, dump: &Dump, said: &Said) -> Result<Vec<Column>, NoColumns> {
    let all = dump.signals();
    let mut taken: Vec<Column> = Vec::new();
    for entry in &mapping.entries {
        let wrong =
            |why| NoColumns::Kind { heading: entry.heading.clone(), quantity: entry.quantity.word(), why };
        if entry.quantity == LogQuantity::Time {
            return Err(wrong("a dump of signals has its own time; leave it out"));
        }
        let number = dump.find(&entry.heading)?;
        if is_line(entry.quantity) && !is_wire(&all[number]) {
            return Err(wrong("it is no signal of one bit"));
        }
        if taken.iter().any(|other| other.column == number) {
            return Err(wrong("it was told to be another quantity as well; name a signal once"));
        }
        let mut column = entry.taken(number, &all[number].heading(), &said.axis, &said.lines)?;
        if is_line(entry.quantity) {
            column.taken_as = if column.reversed { "a line, reversed" } else { "a line" }.to_owned();
        }
        taken.push(column);
    }
    for quantity in LogQuantity::ALL.iter().copied().filter(|quantity| *quantity != LogQuantity::Time) {
        if taken.iter().any(|column| column.quantity == quantity) {
            continue;
        }
        let free = |k: &usize| !taken.iter().any(|column| column.column == *k);
        let is_called = |k: &usize| {
            let signal = &all[*k];
            (!is_line(quantity) || is_wire(signal)) && names(quantity, &signal.heading())
        };
        let found = of_the_axis((0..all.len()).filter(free).filter(is_called).collect(), all, &said.axis);
        let Some(first) = found.first().copied() else { continue };
        // The same signal may be declared in several scopes.
        if found.iter().any(|k| !all[*k].is_same(&all[first])) {
            let found: Vec<String> = found.iter().map(|k| format!("`{}`", all[*k].path)).collect();
            let found = finding::words::listed(&found);
            return Err(NoColumns::Several { found, quantity: quantity.word() });
        }
        let heading = all[first].heading();
        let taken_as = if is_line(quantity) { "a line".to_owned() } else { in_unit(&heading, quantity) };
        let (heading, ground) = (heading.text, "by its name");
        taken.push(Column {
            quantity,
            column: first,
            heading,
            taken_as,
            ground,
            line: None,
            reversed: false,
        });
    }
    Ok(taken)
}

fn is_wire(signal: &Traced) -> bool {
    signal.bits == 1 && !signal.is_real()
}

/// Of several signals with the name of a quantity those in a scope that is called like the axis, where there are such.
fn of_the_axis(found: Vec<usize>, all: &[Traced], axis: &str) -> Vec<usize> {
    let own: Vec<usize> = found
        .iter()
        .copied()
        .filter(|k| all[*k].path.split('.').any(|scope| scope.eq_ignore_ascii_case(axis)))
        .collect();
    if found.len() > 1 && !own.is_empty() { own } else { found }
}

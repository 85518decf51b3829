//! Pieces that several sheets are built of.

use finding::sheet::{Block, Table};
pub(super) use finding::words::{count, listed};
use worked::{Draws, Unit, Worked};

/// Draws for uncertainties that do not hold to first order: to about 1 % of them, always with the same seed.
pub(super) fn draws() -> Draws {
    Draws::new(5_000, 1)
}

/// A table; a heading that begins with `#` stands over numbers.
pub(super) fn table(id: &str, title: &str, headings: &[&str], rows: Vec<Vec<String>>) -> Block {
    Block::Table(Table::of(id, title, headings, rows))
}

/// Worked numbers, frozen.
pub(super) fn figures<'a>(list: impl IntoIterator<Item = &'a Worked>) -> Block {
    let mut draws = draws();
    Block::Figures(list.into_iter().map(|worked| worked.figure_with(&mut draws)).collect())
}

/// Value with its bounds: `24.0 V (22.8 V .. 25.2 V)`.
pub(super) fn with_band(worked: &Worked) -> String {
    match worked.worst_case().filter(|(low, high)| low < high) {
        Some((low, high)) => {
            format!("{} ({})", worked.text(), worked::format::range(low, high, &worked.unit()))
        }
        None => worked.text(),
    }
}

/// A unit by its symbol; every symbol here is written in this crate.
pub(super) fn unit(symbol: &str) -> Unit {
    Unit::parse(symbol).unwrap_or_else(|_| Unit::one())
}

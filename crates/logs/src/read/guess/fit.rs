//! Which separator and decimal mark fit the lines, and where the rows begin.

use super::super::dialect::{self, Cell, Mark, Separator};
use super::super::error::Unreadable;
use super::super::form::Told;
use super::Line;
use std::collections::BTreeMap;

/// Rows that are used to tell what a column holds.
const LOOKED_AT: usize = 200;

/// A dialect with the rows that it finds.
#[derive(Debug)]
pub(super) struct Fit {
    pub(super) separator: Separator,
    pub(super) mark: Mark,
    /// The first row, as an index into the lines.
    pub(super) start: usize,
    pub(super) columns: usize,
    /// Which columns hold numbers, stamps or nothing.
    pub(super) numeric: Vec<bool>,
    /// Which columns hold anything in the first rows.
    pub(super) filled: Vec<bool>,
    /// Whether a number of the first rows has the mark.
    pub(super) has_decimals: bool,
    score: i64,
}

impl Fit {
    /// The first rows.
    pub(super) fn rows<'l, 'h>(&self, lines: &'l [Line<'h>]) -> Vec<&'l Line<'h>> {
        lines[self.start..]
            .iter()
            .filter(|line| !line.is_blank() && !line.is_remark())
            .take(LOOKED_AT)
            .collect()
    }
}

/// The dialect whose rows hold most; `None` where no line holds numbers.
pub(super) fn best(lines: &[Line<'_>], told: &Told) -> Result<Option<Fit>, Unreadable> {
    let mut best: Option<Fit> = None;
    for separator in Separator::ALL {
        for mark in [Mark::Point, Mark::Comma] {
            let is_wished = told.separator.is_none_or(|wish| wish == separator)
                && told.decimal.is_none_or(|wish| wish == mark)
                && (separator, mark) != (Separator::Comma, Mark::Comma);
            if !is_wished {
                continue;
            }
            let Some(fit) = fit(lines, separator, mark, told)? else { continue };
            if best.as_ref().is_none_or(|best| fit.score > best.score) {
                best = Some(fit);
            }
        }
    }
    Ok(best)
}

/// A line as a dialect cuts it.
struct Cut {
    line: usize,
    cells: Vec<Cell>,
    score: i64,
}

fn fit(lines: &[Line<'_>], separator: Separator, mark: Mark, told: &Told) -> Result<Option<Fit>, Unreadable> {
    let from = match told.first_row {
        Some(number) => {
            lines.iter().position(|line| line.number == number).ok_or_else(|| Unreadable::Told {
                what: format!(
                    "line {number} cannot be the first row: {} lines were looked at; rows begin before that",
                    lines.len()
                ),
            })?
        }
        None => {
            let above = [told.headings_line, told.units_line].into_iter().flatten().max().unwrap_or(0);
            lines.iter().position(|line| line.number > above).unwrap_or(lines.len())
        }
    };
    let last = told.last_row.unwrap_or(u64::MAX);
    let cut = |(k, line): (usize, &Line<'_>)| {
        let cells: Vec<Cell> =
            dialect::cells(line.bytes, separator).iter().map(|cell| Cell::of(cell, mark)).collect();
        let (numbers, texts) = (count(&cells, is_value), count(&cells, |cell| *cell == Cell::Text));
        let score = if numbers == 0 { 0 } else { 2 * numbers as i64 - texts as i64 };
        Cut { line: k, cells, score }
    };
    let rows: Vec<Cut> = lines
        .iter()
        .enumerate()
        .skip(from)
        .filter(|(_, line)| !line.is_blank() && !line.is_remark() && line.number <= last)
        .map(cut)
        .collect();
    let told_width = rows.first().map(|row| row.cells.len());
    let Some(columns) = (if told.first_row.is_some() { told_width } else { width(&rows) }) else {
        return Ok(None);
    };
    let alike: Vec<&Cut> = rows.iter().filter(|row| row.cells.len() == columns && row.score > 0).collect();
    let numeric: Vec<bool> = (0..columns).map(|column| is_numeric(&alike, column)).collect();
    let has_any = |row: &&Cut, column: usize| row.cells[column] != Cell::Gap;
    let filled = (0..columns).map(|column| alike.iter().any(|row| has_any(row, column))).collect();
    let is_row = |row: &Cut| {
        row.cells.len() == columns
            && row.cells.iter().any(is_value)
            && row.cells.iter().zip(&numeric).all(|(cell, numeric)| !numeric || *cell != Cell::Text)
    };
    let first = if told.first_row.is_some() { rows.first() } else { rows.iter().find(|row| is_row(row)) };
    let Some(first) = first else { return Ok(None) };
    let score: i64 = alike.iter().filter(|row| row.line >= first.line).map(|row| row.score).sum();
    if score <= 0 && told.first_row.is_none() {
        return Ok(None);
    }
    let has_decimals = alike.iter().any(|row| {
        let cells = dialect::cells(lines[row.line].bytes, separator);
        let has = |(cell, kind): (&std::borrow::Cow<'_, [u8]>, &Cell)| {
            matches!(kind, Cell::Number(_)) && cell.contains(&mark.byte())
        };
        cells.iter().zip(&row.cells).any(has)
    });
    Ok(Some(Fit { separator, mark, start: first.line, columns, numeric, filled, has_decimals, score }))
}

/// The number of cells of the lines that hold most; of equals, that of the last line.
fn width(rows: &[Cut]) -> Option<usize> {
    let mut scores: BTreeMap<usize, (i64, usize)> = BTreeMap::new();
    for row in rows.iter().filter(|row| row.score > 0) {
        let entry = scores.entry(row.cells.len()).or_default();
        *entry = (entry.0 + row.score, row.line);
    }
    scores.into_iter().max_by_key(|(_, score)| *score).map(|(width, _)| width)
}

fn is_value(cell: &Cell) -> bool {
    matches!(cell, Cell::Number(_) | Cell::Stamp(_))
}

fn count(cells: &[Cell], is: impl Fn(&Cell) -> bool) -> usize {
    cells.iter().filter(|cell| is(cell)).count()
}

/// Whether a column holds numbers. What stands at the end is rows, if anything is; a preamble may have the same shape.
fn is_numeric(rows: &[&Cut], column: usize) -> bool {
    let counts = |rows: &[&Cut]| {
        let texts = rows.iter().filter(|row| row.cells[column] == Cell::Text).count();
        let values = rows.iter().filter(|row| is_value(&row.cells[column])).count();
        (texts, values)
    };
    let (texts, values) = counts(rows);
    let (last_texts, last_values) = counts(&rows[rows.len() / 2..]);
    // A column of gaps alone counts too, but not one that has gaps at the end and words before.
    texts == 0 || (values > texts && last_values > 0) || last_values > last_texts
}

//! Why a log cannot be read: what is wrong, where, and what to change.

use super::dialect::{Mark, Separator};
use crate::{DumpFault, Refused};
use finding::words::count;
use std::io;

/// Why a table cannot be read. Lines are counted from 1, as an editor counts them; so are columns.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Unreadable {
    /// The system refused.
    #[error("the log cannot be read: {0}")]
    Io(#[from] io::Error),
    /// Whoever takes the rows takes no more.
    #[error(transparent)]
    Refused(#[from] Refused),
    /// A dump of changes that is not as it should be.
    #[error(transparent)]
    Dump(#[from] DumpFault),
    /// Nothing in the file.
    #[error("the log is empty: write it again, or name another file")]
    Empty,
    /// Something else than text.
    #[error("this is no text: {what} at byte {at}; export the log as CSV")]
    Binary {
        /// Place of the first byte that no text has.
        at: u64,
        /// What it looks like.
        what: String,
    },
    /// A dump of changes instead of a table.
    #[error("this is a value change dump and no table: read it as VCD, by a name that ends in `.vcd`")]
    IsDump,
    /// A line without an end.
    #[error(
        "line {line} goes on for more than {most} bytes without an end: a log has a line for each moment; \
         see that lines end in LF or CR LF"
    )]
    LongLine {
        /// The line.
        line: u64,
        /// Bytes that a line may have.
        most: usize,
    },
    /// The packed file ends too early.
    #[error(
        "the packed log was cut off: it ends in the middle, after line {line} of the text in it; pack it again from the \
         original, or unpack what is there with `gzip -dc` and read that"
    )]
    PackedCut {
        /// Whole lines that came out.
        line: u64,
    },
    /// The packed file is damaged.
    #[error(
        "the packed log is damaged after line {line} of the text in it ({why}): pack it again from the original"
    )]
    PackedDamaged {
        /// Whole lines that came out.
        line: u64,
        /// What the unpacker says.
        why: String,
    },
    /// No line holds numbers.
    #[error(
        "none of the first {lines} lines is a row of numbers{}; say which line is the first row, and what separates the cells",
        shown_line(.line, .text)
    )]
    NoNumbers {
        /// Lines that were looked at.
        lines: u64,
        /// The last of them that is not blank.
        line: u64,
        /// What it says.
        text: String,
    },
    /// Headings without anything below.
    #[error("line {line} holds headings, and no row follows: the log was begun and nothing was recorded")]
    NoRows {
        /// The line of the headings.
        line: u64,
    },
    /// A single row.
    #[error("the log has a single row, in line {line}: a course in time takes at least two")]
    OneRow {
        /// Its line.
        line: u64,
    },
    /// Two ways to read it are as good.
    #[error(
        "line {line}, `{text}`: this can be {one} or {other}; say what separates the cells and which mark the decimals have"
    )]
    Ambiguous {
        /// The line.
        line: u64,
        /// What it says.
        text: String,
        /// One reading.
        one: String,
        /// The other.
        other: String,
    },
    /// More columns than a log has.
    #[error(
        "line {line} has {columns} columns, and a log has {most} at most: where it lies on its side, a row for each signal, \
         turn it so that each moment has a row; else keep only the columns that matter"
    )]
    TooManyColumns {
        /// The line.
        line: u64,
        /// Its columns.
        columns: usize,
        /// Columns that are taken.
        most: usize,
    },
    /// A cell that is no number.
    #[error("line {line}, column {column}{}: {what}", named(.heading))]
    Cell {
        /// The line.
        line: u64,
        /// The column.
        column: usize,
        /// What stands over it.
        heading: String,
        /// What is wrong and what to change.
        what: String,
    },
    /// A row of another length.
    #[error(
        "line {line} has {}, the rows before it {columns}: {what}",
        count(*.cells, "cell", "cells")
    )]
    Ragged {
        /// The line.
        line: u64,
        /// Cells in it.
        cells: usize,
        /// Cells in the rows before.
        columns: usize,
        /// What may be wrong and what to change.
        what: String,
    },
    /// The last row is half there.
    #[error(
        "the last row, line {line}, ends after {} of {columns}: the log was cut off while it was written; delete that line, \
         or allow a last row to be left out",
        count(*.cells, "cell", "cells")
    )]
    CutRow {
        /// The line.
        line: u64,
        /// Cells in it.
        cells: usize,
        /// Cells in the rows before.
        columns: usize,
    },
    /// More rows than memory holds.
    #[error(
        "after {rows} rows there is no more memory for columns as a whole: read them in blocks, or fewer of them"
    )]
    TooMuch {
        /// Rows that were read.
        rows: u64,
    },
    /// A column that is not there.
    #[error("there is no column `{wanted}`; the log has {have}")]
    NoColumn {
        /// The column that is asked for.
        wanted: String,
        /// The headings.
        have: String,
    },
    /// A heading that stands over several columns.
    #[error("`{wanted}` stands over {count} columns ({columns}): give each a heading of its own")]
    ManyColumns {
        /// The heading that is asked for.
        wanted: String,
        /// How many there are.
        count: usize,
        /// Which.
        columns: String,
    },
    /// A column that is asked for twice, or besides being the time.
    #[error("column {column}{} is asked for twice, or is the time already: ask for it once", named(.heading))]
    Twice {
        /// The column.
        column: usize,
        /// What stands over it.
        heading: String,
    },
    /// A column by a number that it does not have.
    #[error("there is no column {column}; the log has {columns}")]
    NoSuchColumn {
        /// The column, from 1.
        column: usize,
        /// Columns of the log.
        columns: usize,
    },
    /// No column tells the time, and no rate is known.
    #[error(
        "no column tells the time, and no line before the rows tells the rate: say which column is the time, or how many rows \
         there are in a second"
    )]
    NoTime,
    /// The time counts samples, and no rate is known.
    #[error(
        "column {column}{} counts samples, and no line before the rows tells their rate: say how many there are in a second",
        named(.heading)
    )]
    NoRate {
        /// The column.
        column: usize,
        /// What stands over it.
        heading: String,
    },
    /// A rate or unit that is no use.
    #[error("{what}")]
    Told {
        /// What was told, why it cannot be, and what can.
        what: String,
    },
    /// Time goes back.
    #[error(
        "line {line}: time falls from {from} s to {to} s; sort the rows by time, or cut the log in two there{}",
        .hint
    )]
    TimeFalls {
        /// The line of the later row.
        line: u64,
        /// Time of the row before, s.
        from: f64,
        /// Time of this one, s.
        to: f64,
        /// What else it may be.
        hint: String,
    },
    /// Time does not pass.
    #[error("all rows, from line {line} on, bear the same time, {time} s: this is no course in time")]
    TimeStands {
        /// The first row.
        line: u64,
        /// Its time, s.
        time: f64,
    },
    /// A row without a time.
    #[error(
        "line {line} has no time: a row without a time cannot be placed; delete it, or number the rows instead"
    )]
    TimeMissing {
        /// The line.
        line: u64,
    },
    /// A column without values.
    #[error("column {column}{} holds no number in any of the {rows} rows: take another, or leave it out", named(.heading))]
    NoValues {
        /// The column.
        column: usize,
        /// What stands over it.
        heading: String,
        /// Rows of the log.
        rows: u64,
    },
}

impl From<finding::Stopped> for Unreadable {
    fn from(stopped: finding::Stopped) -> Self {
        Self::Refused(stopped.into())
    }
}

fn named(heading: &str) -> String {
    if heading.is_empty() { String::new() } else { format!(" `{heading}`") }
}

fn shown_line(line: &u64, text: &str) -> String {
    if text.is_empty() { String::new() } else { format!("; line {line} is `{text}`") }
}

/// A text as a message shows it: short, and without anything that a terminal would act on.
pub(crate) fn shown(text: &str) -> String {
    const MOST: usize = 40;
    let mut out: String = text
        .chars()
        .take(MOST)
        .flat_map(|c| if c.is_control() { c.escape_default().collect() } else { vec![c] })
        .collect();
    if text.chars().nth(MOST).is_some() {
        out.push('…');
    }
    out
}

/// Why a cell is no number, and what to do about it.
pub(super) fn no_number(cell: &str, mark: Mark, separator: Separator) -> String {
    let quoted = format!("`{}`", shown(cell));
    if cell.chars().any(|c| c.is_control() && c != '\t') || cell.contains('\u{fffd}') {
        return format!("{quoted} holds bytes that no text has: the file is damaged there");
    }
    let foreign = [(';', "semicolons"), ('\t', "tabs"), ('|', "vertical bars")];
    if let Some((_, name)) =
        foreign.iter().find(|(c, _)| cell.contains(*c) && *c as u32 != u32::from(separator.byte()))
    {
        return format!(
            "{quoted} is a row separated by {name}, those before by {separator}: make it one kind throughout"
        );
    }
    if cell.starts_with('"') {
        return format!("{quoted} opens a quote that is not closed: close it, or take it out");
    }
    let digits = cell.chars().filter(char::is_ascii_digit).count();
    if digits == 0 {
        return format!("{quoted} is no number: leave the cell empty where a value is not known");
    }
    if let Some(thousands) = thousands(cell, mark) {
        return format!(
            "{quoted} seems to have {thousands} between thousands: export numbers without such marks"
        );
    }
    let other = match mark {
        Mark::Point => Mark::Comma,
        Mark::Comma => Mark::Point,
    };
    if super::number::of_cell(cell.as_bytes(), other.byte(), 0).is_some() {
        return format!(
            "{quoted} has a decimal {other}, the numbers before it a decimal {mark}: make it one kind throughout"
        );
    }
    let number_ends = cell.find(|c: char| !(c.is_ascii_digit() || "+-.,".contains(c))).unwrap_or(cell.len());
    if number_ends > 0 && super::heading::known(&cell[number_ends..]).is_some() {
        return format!(
            "{quoted} has a unit in it: put the unit into the heading, and numbers alone below it"
        );
    }
    if super::stamp::shape(cell.as_bytes()).is_some() {
        return format!("{quoted} is a date or a time of day, where a number is due");
    }
    format!("{quoted} is no number")
}

/// The mark between thousands, where a text has such.
fn thousands(cell: &str, mark: Mark) -> Option<&'static str> {
    let whole = cell.trim_start_matches(['-', '+']);
    let whole = whole.split(char::from(mark.byte())).next().unwrap_or(whole);
    let marks = [
        ('.', "points"),
        (',', "commas"),
        (' ', "blanks"),
        ('\u{a0}', "blanks"),
        ('\u{202f}', "blanks"),
        ('\'', "apostrophes"),
        ('’', "apostrophes"),
        ('_', "low lines"),
    ];
    marks
        .iter()
        .find(|(c, _)| {
            let mut groups = whole.split(*c);
            let first = groups.next().unwrap_or_default();
            let mut others = 0;
            let all = groups.all(|group| {
                others += 1;
                group.len() == 3 && group.bytes().all(|byte| byte.is_ascii_digit())
            });
            all && others > 0
                && (1..=3).contains(&first.len())
                && first.bytes().all(|byte| byte.is_ascii_digit())
        })
        .map(|(_, name)| *name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_is_told_why_it_is_no_number() {
        for (cell, mark, separator, want) in [
            ("1,234.5", Mark::Point, Separator::Semicolon, "commas between thousands"),
            ("1.234,5", Mark::Comma, Separator::Semicolon, "points between thousands"),
            ("1 234 567", Mark::Point, Separator::Comma, "blanks between thousands"),
            ("1'234.5", Mark::Point, Separator::Comma, "apostrophes between thousands"),
            (
                "1,5",
                Mark::Point,
                Separator::Semicolon,
                "a decimal comma, the numbers before it a decimal point",
            ),
            (
                "1.5",
                Mark::Comma,
                Separator::Semicolon,
                "a decimal point, the numbers before it a decimal comma",
            ),
            ("1;2;3", Mark::Point, Separator::Comma, "separated by semicolons, those before by comma"),
            ("1.5 A", Mark::Point, Separator::Comma, "put the unit into the heading"),
            ("12:30:00", Mark::Point, Separator::Comma, "a time of day"),
            ("fault", Mark::Point, Separator::Comma, "leave the cell empty"),
            ("1.2\u{0}3", Mark::Point, Separator::Comma, "the file is damaged there"),
            ("1.2.3", Mark::Point, Separator::Comma, "`1.2.3` is no number"),
        ] {
            let said = no_number(cell, mark, separator);
            assert!(said.contains(want), "{cell}: {said}");
        }
        assert_eq!(shown("a\u{1b}[2Jb"), "a\\u{1b}[2Jb");
        assert_eq!(shown(&"x".repeat(50)).chars().count(), 41);
    }
}

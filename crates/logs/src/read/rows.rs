//! Rows of a table from their text into columns: the loop that takes the time.

use super::dialect::{self, Mark, Separator};
use super::form::Scale;
use super::guess::since_1970;
use super::number;
use super::stamp::{self, Order};
use std::borrow::Cow;

/// Bytes that a line may have.
pub(super) const MOST_LINE: usize = 1 << 20;

/// What is taken from each row, and where it goes.
#[derive(Clone, Debug)]
pub(super) struct Plan {
    pub(super) separator: Separator,
    pub(super) mark: Mark,
    /// Cells of a row.
    pub(super) width: usize,
    /// Cell by cell, as far as anything is taken.
    pub(super) takes: Vec<Take>,
    /// What the numbers of a slot are scaled by beyond a power of ten, once they are there.
    pub(super) scales: Vec<Option<Scale>>,
    /// The moment that is time 0, in nanoseconds.
    pub(super) origin: i64,
    pub(super) cut_row_left_out: bool,
}

/// What happens with a cell.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Take {
    Skip,
    /// A number, times a power of ten, goes into a slot; slot 0 is the time.
    Number {
        slot: usize,
        ten: i32,
    },
    /// A date, a time of day or both are added to the time.
    Stamp(Order),
    /// A count since 1970 with so many decimal places of a second.
    Epoch(u8),
}

/// What a piece of text gave.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Parsed {
    pub(super) rows: usize,
    /// Whether a last row was left out because it is half there.
    pub(super) is_cut: bool,
}

/// Where and why a row could not be read.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(super) struct Fault {
    /// Where its line begins.
    pub(super) at: usize,
    pub(super) kind: FaultKind,
}

#[derive(Clone, PartialEq, Eq, Debug)]
pub(super) enum FaultKind {
    /// A cell, from 0, that is not what is due.
    Cell {
        cell: usize,
        text: String,
        is_stamp: bool,
    },
    /// Another number of cells.
    Ragged(usize),
    /// A last row that has only so many.
    Cut(usize),
    Long,
}

/// Reads whole lines into columns, row by row from the first place on. Blank lines and remarks are no rows.
pub(super) fn rows(plan: &Plan, text: &[u8], out: &mut [&mut [f64]]) -> Result<Parsed, Fault> {
    match plan.separator {
        Separator::Blanks => rows_of::<true>(plan, text, out),
        _ => rows_of::<false>(plan, text, out),
    }
}

fn rows_of<const BLANKS: bool>(plan: &Plan, text: &[u8], out: &mut [&mut [f64]]) -> Result<Parsed, Fault> {
    let (mut at, mut row) = (0, 0);
    let is_usual = !BLANKS && plan.takes.len() == plan.width;
    while at < text.len() {
        if is_usual && let Some(next) = usual(plan, text, at, row, out) {
            at = next;
            row += 1;
            continue;
        }
        if let Some(next) = no_row(text, at) {
            at = next;
            continue;
        }
        match one::<BLANKS>(plan, text, at, row, out) {
            Ok(next) => at = next,
            // What has no end and is no whole row was cut off.
            Err(fault) if memchr::memchr(b'\n', &text[at..]).is_none() => {
                let cells = dialect::cells(&text[at..], plan.separator).len();
                let is_cut = cells < plan.width
                    || matches!(fault.kind, FaultKind::Cell { cell, .. } if cell + 1 == cells);
                return match is_cut {
                    true if plan.cut_row_left_out => Ok(Parsed { rows: row, is_cut: true }),
                    true => Err(Fault { at, kind: FaultKind::Cut(cells) }),
                    false => Err(fault),
                };
            }
            Err(fault) => return Err(fault),
        }
        row += 1;
    }
    Ok(Parsed { rows: row, is_cut: false })
}

/// The place behind a line that is no row: a blank one, or a remark.
#[inline]
pub(super) fn no_row(text: &[u8], at: usize) -> Option<usize> {
    match text[at] {
        b'\n' => Some(at + 1),
        b'#' | b'\r' | b' ' | b'\t' => {
            let end = memchr::memchr(b'\n', &text[at..]).map_or(text.len(), |length| at + length);
            let line = text[at..end].trim_ascii_start();
            // A line of tabs alone is a row of gaps to whoever separates by tabs; it has nothing to tell.
            (line.is_empty() || line[0] == b'#').then_some((end + 1).min(text.len()))
        }
        _ => None,
    }
}

/// Reads a row of short numbers and nothing else, as most rows are; `None` where it is no such row.
#[inline]
fn usual(plan: &Plan, text: &[u8], start: usize, row: usize, out: &mut [&mut [f64]]) -> Option<usize> {
    let (separator, mark) = (plan.separator.byte(), plan.mark.byte());
    let mut at = start;
    let last = plan.takes.len() - 1;
    for (cell, take) in plan.takes.iter().enumerate() {
        let Take::Number { slot, ten } = *take else { return None };
        let (value, next, behind) = number::short(text, at, mark, ten)?;
        *out.get_mut(slot)?.get_mut(row)? = value;
        match behind {
            b'\n' if cell == last => return Some(next + 1),
            b'\r' if cell == last && text.get(next + 1) == Some(&b'\n') => return Some(next + 2),
            behind if behind == separator && cell < last => at = next + 1,
            _ => return None,
        }
    }
    None
}

/// Reads the row that begins at a place; the result is where the next line begins.
fn one<const BLANKS: bool>(
    plan: &Plan,
    text: &[u8],
    start: usize,
    row: usize,
    out: &mut [&mut [f64]],
) -> Result<usize, Fault> {
    let (separator, mark) = (plan.separator.byte(), plan.mark.byte());
    let pads_tab = plan.separator != Separator::Tab;
    let is_separator = |byte: u8| byte == separator || (BLANKS && byte == b'\t');
    let fault = |kind| Fault { at: start, kind };
    let (mut at, mut cell, mut count) = (start, 0, 0);
    let mut stamp: Option<i64> = None;
    let mut stamp_gap = false;
    loop {
        while let Some(byte) = text.get(at)
            && (*byte == b' ' || (pads_tab && *byte == b'\t'))
        {
            at += 1;
        }
        if BLANKS && cell > 0 && is_end(text, at) {
            break;
        }
        count = cell + 1;
        match plan.takes.get(cell) {
            Some(Take::Number { slot, ten }) => {
                let value;
                match number::short(text, at, mark, *ten) {
                    Some((short, next, behind)) if is_separator(behind) || behind == b'\n' => {
                        value = short;
                        at = next;
                    }
                    _ => {
                        (value, at) = other_number(plan, text, at, *ten)
                            .map_err(|text| fault(FaultKind::Cell { cell, text, is_stamp: false }))?
                    }
                }
                if let Some(place) = out.get_mut(*slot).and_then(|column| column.get_mut(row)) {
                    *place = value;
                }
            }
            Some(take @ (Take::Stamp(_) | Take::Epoch(_))) => {
                let (content, end) = cell_at(plan, text, at);
                let found = match take {
                    Take::Epoch(places) => since_1970(&content, plan.mark, *places),
                    Take::Stamp(order) => stamp::read(&content, *order).map(|stamp| stamp.nanoseconds),
                    _ => None,
                };
                match found {
                    Some(found) => stamp = Some(stamp.unwrap_or(0).saturating_add(found)),
                    None if dialect::word(&content).is_some() => stamp_gap = true,
                    None => {
                        return Err(fault(FaultKind::Cell {
                            cell,
                            text: dialect::text(&content),
                            is_stamp: true,
                        }));
                    }
                }
                at = end;
            }
            Some(Take::Skip) | None => {
                if text.get(at) == Some(&b'"') || BLANKS || cell >= plan.width {
                    let (content, end) = cell_at(plan, text, at);
                    // A separator too many at the end of a line is no cell.
                    if cell >= plan.width && !content.is_empty() {
                        let end = line_end(text, start);
                        return Err(fault(FaultKind::Ragged(
                            dialect::cells(&text[start..end], plan.separator).len(),
                        )));
                    }
                    at = end;
                } else {
                    at = memchr::memchr2(separator, b'\n', &text[at..])
                        .map_or(text.len(), |length| at + length);
                }
            }
        }
        match text.get(at) {
            Some(byte) if is_separator(*byte) => {
                at += 1;
                cell += 1;
            }
            _ => break,
        }
    }
    if count < plan.width {
        return Err(fault(FaultKind::Ragged(count)));
    }
    if let Some(place) = out.first_mut().and_then(|column| column.get_mut(row))
        && (stamp.is_some() || stamp_gap)
    {
        // The difference of two moments is exact; nanoseconds of a hundred days are whole floats.
        *place = match stamp {
            Some(stamp) if !stamp_gap => stamp.saturating_sub(plan.origin) as f64 / 1e9,
            _ => f64::NAN,
        };
    }
    at = if text.get(at) == Some(&b'\r') { at + 1 } else { at };
    if at - start > MOST_LINE {
        return Err(fault(FaultKind::Long));
    }
    Ok((at + 1).min(text.len()))
}

/// Whether a line ends at a place.
#[inline]
fn is_end(text: &[u8], at: usize) -> bool {
    match text.get(at) {
        None | Some(b'\n') => true,
        Some(b'\r') => matches!(text.get(at + 1), None | Some(b'\n')),
        Some(_) => false,
    }
}

/// Where the line that goes through a place ends, its end not counted.
fn line_end(text: &[u8], at: usize) -> usize {
    let end = memchr::memchr(b'\n', &text[at..]).map_or(text.len(), |length| at + length);
    if end > at && text[end - 1] == b'\r' { end - 1 } else { end }
}

#[inline(never)]
fn cell_at<'t>(plan: &Plan, text: &'t [u8], at: usize) -> (Cow<'t, [u8]>, usize) {
    dialect::cell_at(&text[..line_end(text, at)], at, plan.separator)
}

/// A number that is not short, a gap or a word, and the place behind its cell; the cell, where it is none of these.
#[inline(never)]
fn other_number(plan: &Plan, text: &[u8], at: usize, ten: i32) -> Result<(f64, usize), String> {
    let mark = plan.mark.byte();
    if let Some((value, taken)) = number::plain(&text[at..], mark, ten)
        && (is_end(text, at + taken) || text[at + taken] == plan.separator.byte())
    {
        return Ok((value, at + taken));
    }
    let (content, end) = cell_at(plan, text, at);
    let value = number::any_length(&content, mark, ten).or_else(|| dialect::word(&content));
    value.map(|value| (value, end)).ok_or_else(|| dialect::text(&content))
}

//! A block of text, read by all cores: cut at ends of lines, each piece into its own places of the columns.

use super::account::Held;
use super::error::Unreadable;
use super::rows::{self, Fault, Plan};
use super::target::Target;
use rayon::prelude::*;

/// Text that one core reads at a time.
const PIECE: usize = 128 << 10;

/// A part of a block that one core reads.
pub(super) struct Piece {
    from: usize,
    to: usize,
    pub(super) lines: usize,
    pub(super) rows: usize,
    pub(super) is_cut: bool,
    pub(super) held: Vec<Held>,
}

/// Cuts a block at ends of lines, and counts the lines.
pub(super) fn cut(text: &[u8]) -> Vec<Piece> {
    let mut ends = Vec::with_capacity(text.len() / PIECE + 1);
    let mut from = 0;
    while from < text.len() {
        let near = (from + PIECE).min(text.len());
        let to = memchr::memchr(b'\n', &text[near..]).map_or(text.len(), |length| near + length + 1);
        ends.push((from, to));
        from = to;
    }
    let piece = |(from, to): (usize, usize)| {
        let part = &text[from..to];
        let lines = memchr::memchr_iter(b'\n', part).count() + usize::from(!part.ends_with(b"\n"));
        Piece { from, to, lines, rows: 0, is_cut: false, held: Vec::new() }
    };
    ends.into_par_iter().map(piece).collect()
}

/// Reads all pieces; the first fault counts, with its place in the block.
pub(super) fn parse(
    plan: &Plan,
    text: &[u8],
    pieces: &mut [Piece],
    mut room: Vec<&mut [f64]>,
) -> Result<(), Fault> {
    let mut shares = Vec::with_capacity(pieces.len());
    for piece in pieces.iter() {
        let mut share = Vec::with_capacity(room.len());
        for column in &mut room {
            let (mine, rest) = std::mem::take(column).split_at_mut(piece.lines);
            share.push(mine);
            *column = rest;
        }
        shares.push(share);
    }
    let one = |(piece, mut share): (&mut Piece, Vec<&mut [f64]>)| {
        let parsed = rows::rows(plan, &text[piece.from..piece.to], &mut share)
            .map_err(|fault| Fault { at: fault.at + piece.from, ..fault })?;
        for (column, scale) in share.iter_mut().zip(&plan.scales) {
            if let Some(scale) = scale {
                column[..parsed.rows].iter_mut().for_each(|value| *value = scale.rest(*value));
            }
        }
        piece.rows = parsed.rows;
        piece.is_cut = parsed.is_cut;
        piece.held = share[1..].iter().map(|column| Held::of(&column[..parsed.rows])).collect();
        Ok(())
    };
    let results: Vec<Result<(), Fault>> = pieces.par_iter_mut().zip(shares).map(one).collect();
    results.into_iter().collect()
}

/// Closes the places that lines without a row left; the result is the number of rows.
pub(super) fn compact(pieces: &[Piece], lines: usize, target: &mut impl Target) -> Result<usize, Unreadable> {
    let rows = pieces.iter().map(|piece| piece.rows).sum();
    if rows < lines {
        for column in target.room(lines)? {
            let (mut from, mut to) = (0, 0);
            for piece in pieces {
                column.copy_within(from..from + piece.rows, to);
                from += piece.lines;
                to += piece.rows;
            }
        }
    }
    Ok(rows)
}

/// The block that is being read.
pub(super) struct Here<'b> {
    pub(super) text: &'b [u8],
    pub(super) pieces: &'b [Piece],
    /// The line that it begins with.
    pub(super) line: u64,
}

impl Here<'_> {
    /// The line of a row of this block.
    pub(super) fn line_of(&self, row: usize) -> u64 {
        let (mut line, mut left) = (self.line, row);
        for piece in self.pieces {
            if left >= piece.rows {
                left -= piece.rows;
                line += piece.lines as u64;
                continue;
            }
            if piece.rows == piece.lines {
                return line + left as u64;
            }
            let text = &self.text[piece.from..piece.to];
            let mut at = 0;
            while at < text.len() {
                let next = memchr::memchr(b'\n', &text[at..]).map_or(text.len(), |length| at + length + 1);
                if rows::no_row(text, at).is_none() {
                    if left == 0 {
                        return line;
                    }
                    left -= 1;
                }
                line += 1;
                at = next;
            }
        }
        line
    }
}

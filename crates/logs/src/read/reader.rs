//! A table that was opened: its form, and its columns in blocks or as a whole.

use super::account::{Account, Held};
use super::error::{Unreadable, no_number, shown};
use super::feed::{self, Block, Feed};
use super::form::{Clock, Form, Scale, Told};
use super::guess::{self, Guessed};
use super::pieces::{Here, compact, cut, parse};
use super::rows::{Fault, FaultKind, MOST_LINE, Plan, Take};
use super::stamp::{self, Order};
use super::target::{Parts, Target, Whole};
use super::timekeeper::Timekeeper;
use crate::Refused;
use finding::Watch;
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// Rows that columns are made ready for before any was read; more come as they are needed.
const READY: f64 = (1 << 26) as f64;

/// A table in text, opened: how it is laid out is known, its rows are not read yet.
///
/// ```
/// use finding::Watch;
/// use logs::{Reader, Told};
///
/// let text = "Logger 3\r\nZeit [ms];Strom [mA]\r\n0;12,5\r\n1;\r\n2;-40\r\n";
/// let reader = Reader::new(text.as_bytes(), &Told::default())?;
/// assert_eq!(reader.form().separator.to_string(), "semicolon");
/// let current = reader.form().find("Strom")?;
/// let log = reader.read(&[current], &Watch::none())?;
/// assert_eq!(log.time, [0.0, 0.001, 0.002]);
/// assert_eq!(log.columns[0][0], 0.0125);
/// assert!(log.columns[0][1].is_nan());
/// # Ok::<(), logs::Unreadable>(())
/// ```
pub struct Reader {
    form: Form,
    feed: Feed,
    told: Told,
    /// Bytes of the file, where that is known.
    length: Option<u64>,
    row_bytes: f64,
}

/// Chosen columns of a table.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub struct Columns {
    /// Time of each row, s.
    pub time: Vec<f64>,
    /// The columns in the order in which they were asked for, in SI where their unit is known. What is not known is NaN.
    pub columns: Vec<Vec<f64>>,
    /// What was noticed on the way.
    pub account: Account,
}

/// Rows that follow each other, as columns.
#[derive(Debug)]
pub struct Rows<'r> {
    /// The number of the first of them, from 0.
    pub first: u64,
    /// Time of each row, s.
    pub time: &'r [f64],
    /// The columns in the order in which they were asked for.
    pub columns: &'r [&'r [f64]],
}

impl Reader {
    /// Opens a file.
    ///
    /// # Errors
    /// Where it is not there, or its first lines show that it is no table.
    pub fn open(path: &Path, told: &Told) -> Result<Self, Unreadable> {
        let file = File::open(path)?;
        let about = file.metadata()?;
        let mut reader = Self::new(file, told)?;
        reader.length = about.is_file().then_some(about.len());
        Ok(reader)
    }

    /// Opens what comes from elsewhere.
    ///
    /// # Errors
    /// As [`Reader::open`].
    pub fn new(source: impl Read + Send + 'static, told: &Told) -> Result<Self, Unreadable> {
        let mut opened = feed::open(source, told.encoding)?;
        let Guessed { form, rows_at, row_bytes } =
            guess::guess(opened.feed.held(), opened.whole, told, opened.encoding, opened.packed)?;
        opened.feed.skip(rows_at);
        Ok(Self { form, feed: opened.feed, told: told.clone(), length: None, row_bytes })
    }

    /// How the table is laid out.
    pub fn form(&self) -> &Form {
        &self.form
    }

    /// Reads columns, by their numbers from 0, as a whole.
    ///
    /// # Errors
    /// Where a row cannot be read, time falls, or nothing is there; nothing is handed out then.
    pub fn read(self, columns: &[usize], watch: &Watch<'_>) -> Result<Columns, Unreadable> {
        let rows =
            self.length.filter(|_| !self.form.packed).map_or(0.0, |length| length as f64 / self.row_bytes);
        // Zeros that nobody touches cost no memory: the guess may be a little high.
        let guess = (rows * 1.02).min(READY) as usize + 1000;
        let empty = (0..=columns.len()).map(|_| vec![0.0; guess]);
        let mut whole = Whole { rows: 0, columns: empty.collect() };
        let account = self.run(columns, watch, &mut whole)?;
        for column in &mut whole.columns {
            column.truncate(whole.rows);
            if column.capacity() > 2 * whole.rows {
                column.shrink_to_fit();
            }
        }
        let time = whole.columns.remove(0);
        Ok(Columns { time, columns: whole.columns, account })
    }

    /// Hands out columns in blocks, in order. Memory does not grow with the log.
    ///
    /// # Errors
    /// As [`Reader::read`], and where `take` refuses. The blocks before an error were handed out.
    pub fn stream(
        self,
        columns: &[usize],
        watch: &Watch<'_>,
        take: impl FnMut(Rows<'_>) -> Result<(), Refused>,
    ) -> Result<Account, Unreadable> {
        let mut parts = Parts { columns: vec![Vec::new(); columns.len() + 1], take };
        self.run(columns, watch, &mut parts)
    }

    fn run(
        mut self,
        columns: &[usize],
        watch: &Watch<'_>,
        target: &mut impl Target,
    ) -> Result<Account, Unreadable> {
        let plan = self.plan(columns)?;
        let mut now = Timekeeper::new(&self.form, self.told.falls_allowed);
        let mut held = vec![Held::NOTHING; columns.len()];
        let (mut block, mut spare) = (Block::new(), Block::new());
        let (mut line, mut rows) = (self.form.first_row, 0_u64);
        let mut more = self.next(&mut block, line)?;
        let (mut cut_row, mut is_unended) = (None, false);
        while more {
            let done = self.length.map_or(0.0, |length| self.feed.bytes_read() as f64 / length.max(1) as f64);
            watch.go_on(done.min(1.0))?;
            let ends = self.up_to_last(&mut block, line);
            let mut pieces = cut(block.text());
            let lines: usize = pieces.iter().map(|piece| piece.lines).sum();
            let room = target.room(lines)?;
            let feed = &mut self.feed;
            let (parsed, next) = rayon::join(
                || parse(&plan, block.text(), &mut pieces, room),
                || if ends { Ok(false) } else { feed.next(&mut spare) },
            );
            parsed.map_err(|fault| self.explain(&fault, block.text(), line))?;
            let here = Here { text: block.text(), pieces: &pieces, line };
            let count = compact(&pieces, lines, target)?;
            for piece in &pieces {
                held.iter_mut().zip(&piece.held).for_each(|(held, piece)| held.add(piece));
            }
            now.keep(target.time(count), rows, &here)?;
            target.done(rows, count)?;
            rows += count as u64;
            is_unended = !block.text().ends_with(b"\n");
            line += lines as u64;
            if pieces.iter().any(|piece| piece.is_cut) {
                cut_row = Some(line - 1);
            }
            more = next.map_err(|error| later(error, line))?;
            std::mem::swap(&mut block, &mut spare);
        }
        let first_line = self.form.first_row;
        match rows {
            0 => return Err(Unreadable::NoRows { line: self.form.headings_line.unwrap_or(first_line) }),
            1 => return Err(Unreadable::OneRow { line: first_line }),
            _ => {}
        }
        if now.course.first == now.course.last && now.course.falls.count == 0 {
            return Err(Unreadable::TimeStands { line: first_line, time: now.course.first });
        }
        if let Some(k) = held.iter().position(|held| held.values == 0) {
            let column = columns[k];
            return Err(Unreadable::NoValues {
                column: column + 1,
                heading: self.form.heading(column),
                rows,
            });
        }
        watch.go_on(1.0)?;
        Ok(Account {
            rows,
            first_line,
            columns: held,
            time: now.course,
            cut_row,
            is_unended: is_unended && cut_row.is_none(),
        })
    }

    fn next(&mut self, block: &mut Block, line: u64) -> Result<bool, Unreadable> {
        self.feed.next(block).map_err(|error| later(error, line))
    }

    /// What is done with each cell of a row.
    fn plan(&self, columns: &[usize]) -> Result<Plan, Unreadable> {
        let form = &self.form;
        let width = form.columns.len();
        let clock = form.clock.as_ref().ok_or(Unreadable::NoTime)?;
        let mut takes = vec![Take::Skip; width];
        let mut origin = 0;
        let mut scales = vec![None; columns.len() + 1];
        let mut number = |take: &mut Take, slot: usize, scale: Scale| {
            *take = Take::Number { slot, ten: scale.ten() };
            scales[slot] = Some(scale).filter(|scale| !matches!(scale, Scale::Ten(_)));
        };
        match clock {
            Clock::Rows { .. } => {}
            Clock::Times { column, unit } => {
                number(&mut takes[*column], 0, Scale::of(Some(unit)));
            }
            Clock::Samples { column, rate } => {
                let heading = form.heading(*column);
                let rate = rate.ok_or(Unreadable::NoRate { column: column + 1, heading })?;
                number(&mut takes[*column], 0, Scale::Over(rate));
            }
            Clock::Stamps { columns, order, start, .. } => {
                columns.iter().for_each(|column| takes[*column] = Take::Stamp(*order));
                origin = stamp::read(start.as_bytes(), Order::YearFirst).map_or(0, |stamp| stamp.nanoseconds);
            }
            Clock::Epoch { column, places, start } => {
                takes[*column] = Take::Epoch(*places);
                origin = stamp::read(start.as_bytes(), Order::YearFirst).map_or(0, |stamp| stamp.nanoseconds);
            }
        }
        for (k, column) in columns.iter().enumerate() {
            let Some(take) = takes.get_mut(*column) else {
                return Err(Unreadable::NoSuchColumn { column: column + 1, columns: width });
            };
            if !matches!(take, Take::Skip) {
                return Err(Unreadable::Twice { column: column + 1, heading: form.heading(*column) });
            }
            number(take, k + 1, Scale::of(form.columns[*column].scale.as_ref()));
        }
        let used = takes.iter().rposition(|take| !matches!(take, Take::Skip)).map_or(0, |last| last + 1);
        takes.truncate(used);
        Ok(Plan {
            separator: form.separator,
            mark: form.decimal,
            width,
            takes,
            scales,
            origin,
            cut_row_left_out: self.told.cut_row_left_out,
        })
    }

    /// Shortens a block at the last row that was told; whether that is in it.
    fn up_to_last(&self, block: &mut Block, line: u64) -> bool {
        let Some(last) = self.told.last_row else { return false };
        let wanted = (last + 1).saturating_sub(line);
        let Some(before) = wanted.checked_sub(1) else {
            block.shorten(0);
            return true;
        };
        let end = memchr::memchr_iter(b'\n', block.text()).nth(usize::try_from(before).unwrap_or(usize::MAX));
        end.map(|end| block.shorten(end + 1)).is_some()
    }

    /// Words for a row that cannot be read.
    fn explain(&self, fault: &Fault, text: &[u8], line: u64) -> Unreadable {
        let line = line + memchr::memchr_iter(b'\n', &text[..fault.at]).count() as u64;
        let columns = self.form.columns.len();
        match &fault.kind {
            FaultKind::Long => Unreadable::LongLine { line, most: MOST_LINE },
            FaultKind::Cut(cells) => Unreadable::CutRow { line, cells: *cells, columns },
            FaultKind::Cell { cell, text, is_stamp } => {
                let what = if *is_stamp {
                    format!("`{}` is no date or time of day as in the rows before it", shown(text))
                } else {
                    no_number(text, self.form.decimal, self.form.separator)
                };
                Unreadable::Cell { line, column: cell + 1, heading: self.form.heading(*cell), what }
            }
            FaultKind::Ragged(cells) => {
                let end =
                    memchr::memchr(b'\n', &text[fault.at..]).map_or(text.len(), |length| fault.at + length);
                let what =
                    ragged(&super::dialect::text(text[fault.at..end].trim_ascii_end()), *cells, &self.form);
                Unreadable::Ragged { line, cells: *cells, columns, what }
            }
        }
    }
}

/// Why a row may have another length.
fn ragged(row: &str, cells: usize, form: &Form) -> String {
    let marks = [(';', "semicolons"), ('\t', "tabs"), ('|', "vertical bars"), (',', "commas")];
    let other = marks.iter().find(|(c, _)| {
        row.matches(*c).count() + 1 == form.columns.len() && u32::from(form.separator.byte()) != *c as u32
    });
    match other {
        Some((_, name)) => {
            format!("it is separated by {name}, those by {}; make it one kind throughout", form.separator)
        }
        None if row.matches('"').count() % 2 == 1 => {
            "a quote is opened and not closed in it; keep each row on a line of its own".to_owned()
        }
        None if cells < form.columns.len() => {
            format!(
                "`{}`; where values are not known, leave their cells empty but keep the separators",
                shown(row)
            )
        }
        None => format!(
            "`{}`; put cells with separators in them into quotes, or tell where the rows end",
            shown(row)
        ),
    }
}

/// An error of a later block, its lines counted from the start of the file.
fn later(error: Unreadable, before: u64) -> Unreadable {
    match error {
        Unreadable::PackedCut { line } => Unreadable::PackedCut { line: before - 1 + line },
        Unreadable::PackedDamaged { line, why } => Unreadable::PackedDamaged { line: before - 1 + line, why },
        Unreadable::LongLine { line, most } => Unreadable::LongLine { line: before + line, most },
        error => error,
    }
}

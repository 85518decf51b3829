//! How a table is laid out: what was guessed, stated in the file or told, as values that can be shown and overridden.

use super::dialect::{Encoding, Mark, Separator};
use super::error::{Unreadable, shown};
use super::stamp::{self, Order};
use super::{heading, number};
use worked::Unit;

/// What is known about a table before it is read; nothing of it has to be told. Lines are counted from 1.
#[derive(Clone, PartialEq, Default, Debug)]
pub struct Told {
    /// What separates the cells.
    pub separator: Option<Separator>,
    /// The mark of the decimals.
    pub decimal: Option<Mark>,
    /// How bytes make characters.
    pub encoding: Option<Encoding>,
    /// The line of the headings.
    pub headings_line: Option<u64>,
    /// The line of the units.
    pub units_line: Option<u64>,
    /// The line of the first row of numbers.
    pub first_row: Option<u64>,
    /// The line of the last row; what follows is not read.
    pub last_row: Option<u64>,
    /// Units by heading. They take the place of those in the file.
    pub units: Vec<(String, String)>,
    /// The heading of the time.
    pub time: Option<String>,
    /// Rows in a second. Then the rows are as far apart as this says, whatever a column tells.
    pub rate: Option<f64>,
    /// The order of dates that do not begin with the year.
    pub dates: Option<Order>,
    /// Whether time may fall from a row to the next.
    pub falls_allowed: bool,
    /// Whether a last row that is half there is left out.
    pub cut_row_left_out: bool,
}

/// How a table is read.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub struct Form {
    /// Whether the file is packed (gzip).
    pub packed: bool,
    /// How bytes make characters.
    pub encoding: Encoding,
    /// What separates the cells.
    pub separator: Separator,
    /// The mark of the decimals.
    pub decimal: Mark,
    /// The line of the headings, where there are such.
    pub headings_line: Option<u64>,
    /// The line of the units, where they stand below the headings.
    pub units_line: Option<u64>,
    /// The line of the first row.
    pub first_row: u64,
    /// Columns in order.
    pub columns: Vec<Heading>,
    /// What tells the time; `None` where nothing does.
    pub clock: Option<Clock>,
    /// Lines before the headings, a hundred at most.
    pub preamble: Vec<String>,
    /// How each of these was found.
    pub guesses: Vec<Guess>,
}

/// A column of a table.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub struct Heading {
    /// As it stands in the file.
    pub text: String,
    /// Without its unit.
    pub name: String,
    /// Its unit as written; empty where none is stated.
    pub unit: String,
    /// What its values are multiplied with to be SI; `None` where no unit is stated or nobody knows it.
    pub scale: Option<Unit>,
    /// Whether its first rows hold numbers.
    pub is_numbers: bool,
}

/// What tells the time of a row.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub enum Clock {
    /// A column of times.
    Times {
        /// The column, from 0.
        column: usize,
        /// Their unit.
        unit: Unit,
    },
    /// A column counts samples.
    Samples {
        /// The column, from 0.
        column: usize,
        /// Samples in a second; `None` where nothing tells it.
        rate: Option<f64>,
    },
    /// Rows follow at a rate; the first is at 0 s.
    Rows {
        /// Rows in a second.
        rate: f64,
    },
    /// One column or two hold date and time of day. Times count from the first row.
    Stamps {
        /// The columns, from 0.
        columns: Vec<usize>,
        /// The order of dates.
        order: Order,
        /// Whether they hold a date; without one, midnight is passed where the time of day falls by more than half a day.
        has_date: bool,
        /// The first stamp, in ISO 8601.
        start: String,
    },
    /// A column counts from 1970-01-01 (UTC). Times count from the first row.
    Epoch {
        /// The column, from 0.
        column: usize,
        /// Decimal places of a second in one of its units: 0 for s, 3 for ms, 6 for µs, 9 for ns.
        places: u8,
        /// The first moment, in ISO 8601.
        start: String,
    },
}

/// How something was found.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Guess {
    /// What: `separator`.
    pub what: &'static str,
    /// What it was taken for: `semicolon`.
    pub value: String,
    /// Where that comes from: `told`, `stated in line 4`, `fits 200 of 200 lines`.
    pub from: String,
}

impl Form {
    /// The column, from 0, with a heading: as it stands in the file, or its name without unit, or the same in other letters.
    ///
    /// # Errors
    /// Where there is none, or several; says which there are.
    pub fn find(&self, wanted: &str) -> Result<usize, Unreadable> {
        let wish = wanted.trim();
        let ways: [&dyn Fn(&Heading) -> bool; 3] =
            [&|heading| heading.text == wish, &|heading| heading.name == wish, &|heading| {
                heading::plain(&heading.name) == heading::plain(wish)
                    || heading::plain(&heading.text) == heading::plain(wish)
            }];
        for way in ways {
            let found: Vec<usize> =
                self.columns.iter().enumerate().filter(|(_, heading)| way(heading)).map(|(k, _)| k).collect();
            match found[..] {
                [] => {}
                [one] => return Ok(one),
                _ => {
                    let numbers: Vec<String> = found.iter().take(5).map(|k| (k + 1).to_string()).collect();
                    return Err(Unreadable::ManyColumns {
                        wanted: shown(wanted),
                        count: found.len(),
                        columns: finding::words::listed(&numbers),
                    });
                }
            }
        }
        const MOST: usize = 12;
        let mut have: Vec<String> =
            self.columns.iter().take(MOST).map(|heading| format!("`{}`", shown(&heading.text))).collect();
        if self.columns.len() > MOST {
            have.push(format!("{} more", self.columns.len() - MOST));
        }
        Err(Unreadable::NoColumn { wanted: shown(wanted), have: finding::words::listed(&have) })
    }

    /// The columns, from 0, that hold numbers and do not tell the time.
    pub fn values(&self) -> Vec<usize> {
        let of_clock = self.clock.as_ref().map(Clock::columns).unwrap_or_default();
        (0..self.columns.len()).filter(|k| self.columns[*k].is_numbers && !of_clock.contains(k)).collect()
    }

    /// What stands over a column, for messages.
    pub(super) fn heading(&self, column: usize) -> String {
        self.columns.get(column).map(|heading| shown(&heading.text)).unwrap_or_default()
    }
}

impl Clock {
    /// The columns that it is read from.
    pub fn columns(&self) -> Vec<usize> {
        match self {
            Self::Times { column, .. } | Self::Samples { column, .. } | Self::Epoch { column, .. } => {
                vec![*column]
            }
            Self::Rows { .. } => Vec::new(),
            Self::Stamps { columns, .. } => columns.clone(),
        }
    }
}

impl Heading {
    /// A heading with the unit that is in it, or the one below it.
    pub(super) fn new(text: &str, below: Option<&str>, number: usize, is_numbers: bool) -> Self {
        let (name, inside) = heading::parts(text);
        let unit = below.map(str::to_owned).or(inside).unwrap_or_default();
        let text = if text.trim().is_empty() { format!("column {number}") } else { text.trim().to_owned() };
        let name = if name.is_empty() { text.clone() } else { name };
        Self { text, name, scale: heading::known(&unit), unit, is_numbers }
    }
}

/// How a number of a column becomes SI.
#[derive(Clone, PartialEq, Debug)]
pub(super) enum Scale {
    /// Times a power of ten: a matter of the exponent, and so without rounding.
    Ten(i32),
    /// By a unit.
    Unit(Unit),
    /// Divided by a rate.
    Over(f64),
}

impl Scale {
    pub(super) fn of(unit: Option<&Unit>) -> Self {
        let Some(unit) = unit else { return Self::Ten(0) };
        if unit.to_si(0.0) == 0.0 {
            let ten = (-18..=12).find(|ten| number::of_cell(b"1", b'.', *ten) == Some(unit.factor()));
            if let Some(ten) = ten {
                return Self::Ten(ten);
            }
        }
        Self::Unit(unit.clone())
    }

    /// The power of ten that the number is read with.
    pub(super) fn ten(&self) -> i32 {
        if let Self::Ten(ten) = self { *ten } else { 0 }
    }

    /// The rest of the way.
    #[inline]
    pub(super) fn rest(&self, value: f64) -> f64 {
        match self {
            Self::Ten(_) => value,
            Self::Unit(unit) => unit.to_si(value),
            Self::Over(rate) => value / rate,
        }
    }
}

/// The moment of a count since 1970 in ISO 8601.
pub(super) fn moment(nanoseconds: i64) -> String {
    stamp::shown(nanoseconds, true)
}

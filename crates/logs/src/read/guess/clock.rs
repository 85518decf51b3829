//! Which column tells the time, in which unit, or at which rate rows follow.

use super::super::dialect::{self, Cell, Mark, text};
use super::super::error::{Unreadable, shown};
use super::super::form::{Clock, Form, Guess, Told, moment};
use super::super::stamp::{self, Order, Orders, Shape};
use super::super::{heading, number};
use super::Line;
use worked::{Dimension, Unit};

const TIMES: [&str; 21] = [
    "time",
    "t",
    "zeit",
    "temps",
    "tiempo",
    "tempo",
    "timestamp",
    "time stamp",
    "elapsed",
    "elapsed time",
    "seconds",
    "second",
    "sec",
    "secs",
    "millis",
    "micros",
    "milliseconds",
    "microseconds",
    "ms",
    "us",
    "clock",
];
const SAMPLES: [&str; 17] = [
    "sample",
    "samples",
    "sample no",
    "sample nr",
    "sample number",
    "sample index",
    "n",
    "k",
    "index",
    "idx",
    "no",
    "nr",
    "number",
    "point",
    "row",
    "tick",
    "ticks",
];
const RATES: [&str; 12] = [
    "sample rate",
    "samplerate",
    "sampling rate",
    "sample frequency",
    "sampling frequency",
    "sampling freq",
    "sample freq",
    "rate",
    "fs",
    "samples per second",
    "abtastrate",
    "logging rate",
];
const INTERVALS: [&str; 16] = [
    "sample interval",
    "sampling interval",
    "sample period",
    "sampling period",
    "sample time",
    "sampling time",
    "interval",
    "dt",
    "delta t",
    "ts",
    "increment",
    "x increment",
    "xincrement",
    "time step",
    "time increment",
    "abtastzeit",
];

/// The clock of a table, and how it was found.
pub(super) fn guess(
    form: &Form,
    rows: &[&Line<'_>],
    told: &Told,
) -> Result<(Option<Clock>, Vec<Guess>), Unreadable> {
    let table = Table { form, rows };
    if let Some(rate) = told.rate
        && !(rate.is_finite() && rate > 0.0)
    {
        return Err(Unreadable::Told {
            what: format!("{rate} rows in a second is no rate: give a number above zero"),
        });
    }
    let stated = stated_rate(form);
    let rate = told.rate.or(stated.as_ref().map(|(rate, _)| *rate));
    let rate_from =
        if told.rate.is_some() { "told".to_owned() } else { stated.map_or(String::new(), |(_, from)| from) };
    let mut guesses = Vec::new();
    let mut push =
        |what, value: String, from: &str| guesses.push(Guess { what, value, from: from.to_owned() });
    let (clock, from) = match &told.time {
        Some(wanted) => (Some(table.told(form.find(wanted)?, told, rate)?), "told"),
        None => table.found(told, rate)?,
    };
    let named = |column: &usize| format!("column {} `{}`", column + 1, form.heading(*column));
    match &clock {
        None => {
            push("time", "none".to_owned(), "no column rises and is called a time, and no rate is stated")
        }
        Some(Clock::Times { column, unit }) => {
            push("time", named(column), from);
            let stated = form.columns[*column].scale.is_some();
            push(
                "unit of time",
                unit.to_string(),
                if stated { "stated in the file" } else { "none is stated: assumed" },
            );
        }
        Some(Clock::Samples { column, rate }) => {
            push("time", format!("{}, which counts samples", named(column)), from);
            if let Some(rate) = rate {
                push("rate", format!("{rate} in a second"), &rate_from);
            }
        }
        Some(Clock::Rows { rate }) => {
            push("time", "from the number of the row".to_owned(), from);
            push("rate", format!("{rate} in a second"), &rate_from);
        }
        Some(Clock::Stamps { columns, order, has_date, start }) => {
            let columns: Vec<String> = columns.iter().map(named).collect();
            push("time", finding::words::listed(&columns), from);
            if *has_date && *order != Order::YearFirst {
                let value = if *order == Order::DayFirst { "day first" } else { "month first" };
                push("dates", value.to_owned(), table.order(&columns_of(&clock), told).1);
            }
            push("start", start.clone(), "first row");
        }
        Some(Clock::Epoch { column, start, .. }) => {
            push("time", format!("{}, counted from 1970", named(column)), from);
            push("start", start.clone(), "first row");
        }
    }
    Ok((clock, guesses))
}

fn columns_of(clock: &Option<Clock>) -> Vec<usize> {
    clock.as_ref().map(Clock::columns).unwrap_or_default()
}

/// The first rows under their headings.
struct Table<'t, 'h> {
    form: &'t Form,
    rows: &'t [&'t Line<'h>],
}

impl Table<'_, '_> {
    fn cells(&self, column: usize) -> impl Iterator<Item = Cell> {
        self.rows.iter().filter_map(move |row| {
            let cells = dialect::cells(row.bytes, self.form.separator);
            cells.get(column).map(|cell| Cell::of(cell, self.form.decimal))
        })
    }

    /// Numbers of the first rows, gaps left out; `None` where most are anything else.
    fn numbers(&self, column: usize) -> Option<Vec<f64>> {
        let numbers: Vec<f64> = self
            .cells(column)
            .filter_map(|cell| if let Cell::Number(value) = cell { Some(value) } else { None })
            .collect();
        (2 * numbers.len() > self.rows.len()).then_some(numbers)
    }

    /// What the stamps of a column hold; `None` where most are anything else.
    fn stamps(&self, column: usize) -> Option<Shape> {
        let stamps: Vec<Shape> = self
            .cells(column)
            .filter_map(|cell| if let Cell::Stamp(shape) = cell { Some(shape) } else { None })
            .collect();
        let first = *stamps.first()?;
        let is_alike =
            |shape: &&Shape| shape.clock == first.clock && shape.date.is_some() == first.date.is_some();
        (2 * stamps.iter().filter(is_alike).count() > self.rows.len()).then_some(first)
    }

    /// The order of dates in columns, and how that is known.
    fn order(&self, columns: &[usize], told: &Told) -> (Order, &'static str) {
        let dates: Vec<Orders> = columns
            .iter()
            .flat_map(|column| self.cells(*column).collect::<Vec<_>>())
            .filter_map(|cell| if let Cell::Stamp(shape) = cell { shape.date } else { None })
            .collect();
        let has = |order| dates.contains(&order);
        match told.dates {
            Some(order) => (order, "told"),
            None if has(Orders::YearFirst) => (Order::YearFirst, "year first"),
            None if has(Orders::MonthFirst) => (Order::MonthFirst, "a number above 12 stands second"),
            None if has(Orders::DayFirst) => (Order::DayFirst, "a number above 12 stands first"),
            None => (Order::DayFirst, "no date shows it: assumed"),
        }
    }

    fn rises(&self, column: usize) -> bool {
        let Some(values) = self.numbers(column) else { return false };
        values.windows(2).all(|pair| pair[0] <= pair[1]) && values.first() < values.last()
            || values.len() == 1
    }

    fn name(&self, column: usize) -> String {
        let heading = &self.form.columns[column];
        if heading.text.trim() == "#" { "number".to_owned() } else { heading::plain(&heading.name) }
    }

    /// The clock that a column makes.
    fn told(&self, column: usize, told: &Told, rate: Option<f64>) -> Result<Clock, Unreadable> {
        if let Some(shape) = self.stamps(column) {
            let mut columns = vec![column];
            // Date and time of day may stand beside each other.
            let other = (0..self.form.columns.len()).find(|other| {
                self.stamps(*other).is_some_and(|found| {
                    found.clock != shape.clock && found.date.is_some() != shape.date.is_some()
                })
            });
            if !(shape.clock && shape.date.is_some()) {
                columns.extend(other);
                columns.sort_unstable();
            }
            return self.stamped(columns, told);
        }
        let heading = &self.form.columns[column];
        let wrong = heading
            .scale
            .as_ref()
            .filter(|unit| unit.dimension() != Dimension::TIME && !unit.dimension().eq(&Dimension::NONE));
        if let Some(unit) = wrong {
            return Err(Unreadable::Told {
                what: format!(
                    "`{}` is in {unit}, which is no unit of time: take another column",
                    shown(&heading.text)
                ),
            });
        }
        Ok(self.counted(column, rate).unwrap_or_else(|| self.timed(column)))
    }

    /// A column of sample numbers, where its name says so or a rate is told for it.
    fn counted(&self, column: usize, rate: Option<f64>) -> Option<Clock> {
        let heading = &self.form.columns[column];
        let is_time = heading.scale.as_ref().is_some_and(|unit| unit.dimension() == Dimension::TIME);
        (!is_time && SAMPLES.contains(&&*self.name(column))).then_some(Clock::Samples { column, rate })
    }

    /// A column of times; great numbers without a unit count from 1970.
    fn timed(&self, column: usize) -> Clock {
        let heading = &self.form.columns[column];
        let unit = heading.scale.clone().filter(|unit| unit.dimension() == Dimension::TIME);
        let first = self.numbers(column).and_then(|values| values.first().copied()).unwrap_or(0.0);
        // From 2001 to 2096, in s, ms, µs or ns.
        let scales = [(0_u8, 1.0), (3, 1e3), (6, 1e6), (9, 1e9)];
        let by_size = scales.iter().find(|(_, scale)| (1e9..4e9).contains(&(first / scale)));
        let of_unit = |unit: &Unit| scales.iter().find(|(_, scale)| unit.factor() * scale == 1.0);
        let epoch = match &unit {
            None => by_size,
            Some(unit) => of_unit(unit).filter(|found| by_size == Some(found)),
        };
        if let Some((places, _)) = epoch
            && let Some(start) =
                self.first_of(column).and_then(|cell| since_1970(&cell, self.form.decimal, *places))
        {
            return Clock::Epoch { column, places: *places, start: moment(start) };
        }
        let named = || match &*self.name(column) {
            "millis" | "milliseconds" | "ms" => heading::known("ms"),
            "micros" | "microseconds" | "us" => heading::known("us"),
            _ => None,
        };
        let unit = unit.or_else(named).unwrap_or_else(|| Unit::si(Dimension::TIME));
        Clock::Times { column, unit }
    }

    fn first_of(&self, column: usize) -> Option<Vec<u8>> {
        let cells = dialect::cells(self.rows.first()?.bytes, self.form.separator);
        cells.get(column).map(|cell| cell.to_vec())
    }

    fn stamped(&self, columns: Vec<usize>, told: &Told) -> Result<Clock, Unreadable> {
        let (order, _) = self.order(&columns, told);
        let mut has_date = false;
        let mut start = 0;
        for column in &columns {
            let cell = self.first_of(*column).unwrap_or_default();
            let stamp = stamp::read(&cell, order).ok_or_else(|| Unreadable::Told {
                what: format!("`{}` is no date in this order: tell the other one", shown(&text(&cell))),
            })?;
            has_date |= stamp.date.is_some();
            start += stamp.nanoseconds;
        }
        Ok(Clock::Stamps { columns, order, has_date, start: stamp::shown(start, has_date) })
    }

    /// The clock that the table seems to have.
    fn found(&self, told: &Told, rate: Option<f64>) -> Result<(Option<Clock>, &'static str), Unreadable> {
        let all = 0..self.form.columns.len();
        let by_rows = |rate| (Some(Clock::Rows { rate }), "a rate, and no column that counts");
        let counted =
            all.clone().filter(|column| self.rises(*column)).find_map(|column| self.counted(column, rate));
        if let Some(rate) = told.rate {
            return Ok(counted.map_or_else(|| by_rows(rate), |clock| (Some(clock), "name of the column")));
        }
        if let Some(column) = all.clone().find(|column| self.stamps(*column).is_some()) {
            return Ok((Some(self.told(column, told, rate)?), "dates or times of day"));
        }
        let is_called =
            |column: &usize| TIMES.contains(&&*self.name(*column)) && self.numbers(*column).is_some();
        let is_time = |column: &usize| {
            let unit = self.form.columns[*column].scale.as_ref().map(Unit::dimension);
            self.rises(*column) && (unit == Some(Dimension::TIME) || (unit.is_none() && is_called(column)))
        };
        if let Some(column) = all.clone().find(is_time) {
            return Ok((Some(self.timed(column)), "name or unit, and it rises"));
        }
        if counted.is_some() {
            return Ok((counted, "name of the column, and it rises"));
        }
        // A time that falls is no less the time: reading it will say where.
        if let Some(column) = all.clone().find(is_called) {
            return Ok((Some(self.timed(column)), "name of the column, though it does not rise"));
        }
        if let Some(rate) = rate {
            return Ok(by_rows(rate));
        }
        // Without headings, a first column that rises all the way is the time.
        let rising = self.numbers(0).filter(|values| {
            values.len() >= 3
                && values.windows(2).all(|pair| pair[0] < pair[1])
                && self.form.columns.len() > 1
        });
        match rising {
            Some(values) if self.form.headings_line.is_none() => {
                let is_count = values.windows(2).all(|pair| pair[1] - pair[0] == 1.0);
                let clock = if is_count { Clock::Samples { column: 0, rate } } else { self.timed(0) };
                Ok((Some(clock), "the first column rises from row to row: assumed"))
            }
            _ => Ok((None, "")),
        }
    }
}

/// A rate, in rows a second, that a line before the headings states.
fn stated_rate(form: &Form) -> Option<(f64, String)> {
    form.preamble.iter().find_map(|line| {
        let line = line.trim_start_matches(['#', '%', '/', '"', ' ']);
        let is_between = |c: char| match c {
            ',' => form.decimal == Mark::Point,
            c => matches!(c, ';' | '\t' | '|' | ':' | '='),
        };
        let cells: Vec<&str> = line.split(is_between).map(|cell| cell.trim_matches(['"', ' '])).collect();
        cells.iter().enumerate().find_map(|(k, cell)| {
            let (name, unit) = heading::parts(cell);
            let following = cells[k + 1..].iter().find(|cell| !cell.is_empty());
            let after = cells[k + 1..].iter().filter(|cell| !cell.is_empty()).nth(1);
            let unit = unit.as_deref().or(after.copied().filter(|cell| heading::known(cell).is_some()));
            let digits = cell.find(|c: char| c.is_ascii_digit()).unwrap_or(cell.len());
            let rate = following
                .and_then(|value| rate_of(&name, value, unit, form.decimal))
                .or_else(|| rate_of(&cell[..digits], &cell[digits..], None, form.decimal))?;
            Some((rate, format!("stated above the rows: `{}`", shown(line))))
        })
    })
}

fn rate_of(name: &str, value: &str, unit: Option<&str>, mark: Mark) -> Option<f64> {
    let name = heading::plain(name);
    let is_interval = INTERVALS.contains(&&*name);
    if !is_interval && !RATES.contains(&&*name) {
        return None;
    }
    let value = value.trim();
    // The longest beginning that is a number; the rest is its unit.
    let ends = value.char_indices().map(|(at, c)| at + c.len_utf8()).rev();
    let (number, inside) = ends
        .filter_map(|end| {
            let found = [mark, Mark::Point]
                .iter()
                .find_map(|mark| number::of_cell(value[..end].trim_end().as_bytes(), mark.byte(), 0));
            found.map(|number| (number, value[end..].trim()))
        })
        .next()?;
    let written = if inside.is_empty() { unit.unwrap_or_default() } else { inside };
    let dimension = if is_interval { Dimension::TIME } else { Dimension::FREQUENCY };
    let samples = [
        ("GSa/s", "GHz"),
        ("MSa/s", "MHz"),
        ("kSa/s", "kHz"),
        ("Sa/s", "Hz"),
        ("kS/s", "kHz"),
        ("MS/s", "MHz"),
        ("S/s", "Hz"),
        ("samples/s", "Hz"),
    ];
    let written = samples.iter().find(|(word, _)| *word == written).map_or(written, |(_, unit)| unit);
    let scale = if written.is_empty() { Some(Unit::si(dimension)) } else { heading::known(written) };
    let value = scale.filter(|unit| unit.dimension() == dimension)?.to_si(number);
    let rate = if is_interval { 1.0 / value } else { value };
    (rate.is_finite() && rate > 0.0).then_some(rate)
}

/// Nanoseconds since 1970 of a count in units with so many decimal places of a second.
pub(in super::super) fn since_1970(cell: &[u8], mark: Mark, places: u8) -> Option<i64> {
    let (whole, part) = match cell.iter().position(|byte| *byte == mark.byte()) {
        Some(at) => (&cell[..at], &cell[at + 1..]),
        None => (cell, &b""[..]),
    };
    let is_digits = |text: &[u8]| text.iter().all(u8::is_ascii_digit);
    if whole.is_empty() || whole.len() > 19 || !is_digits(whole) || !is_digits(part) {
        return None;
    }
    let value = |text: &[u8]| {
        text.iter()
            .try_fold(0_i64, |value, digit| value.checked_mul(10)?.checked_add(i64::from(digit - b'0')))
    };
    let below = usize::from(9 - places.min(9));
    let nanoseconds = (0..below).try_fold(value(whole)?, |value, _| value.checked_mul(10))?;
    let part = (0..below).fold(0, |sum, k| sum * 10 + part.get(k).map_or(0, |digit| i64::from(digit - b'0')));
    nanoseconds.checked_add(part)
}

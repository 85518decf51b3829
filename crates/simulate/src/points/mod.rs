//! What each test point of the bench shows during a trial, as far as it is simulated.

mod beside;
mod dc;

pub(crate) use beside::Beside;
use beside::ComesFrom;
pub(crate) use dc::{CAPTION, WithEdges, shaded};

use crate::builds::Spread;
use crate::record::Row;
use crate::simulation::Ended;
use finding::chart::{Band, Purpose};
use finding::{Chart, Watch};
use logs::{Column, Outline, Picture, Refused, TestPoint};

/// Stretches that an outline of a trial holds.
const STRETCHES: usize = 1000;

/// The test points of a trial whose rows are of one kind, time first.
pub(crate) struct Points<R> {
    traces: Vec<Trace<R>>,
    limits: Vec<Limit>,
}

/// A column of the picture.
struct Trace<R> {
    column: Column,
    /// What it is at a row.
    of: Value<R>,
    /// Builds shade it: what they stay between follows from the same fields of their rows.
    shaded: bool,
    /// Whatever happens it stays as it is.
    still: bool,
}

/// A value of a column, from a row.
type Value<R> = Box<dyn Fn(&R) -> f64>;

/// What a column must not pass, or where something acts.
struct Limit {
    column: String,
    words: String,
    at: f64,
}

/// Whose test points are shown, and with what beside them.
pub(crate) struct Shown<'a> {
    pub(crate) name: &'a str,
    /// `axis left`, `servo latch`.
    pub(crate) mover: &'a str,
    pub(crate) bands: Vec<(String, Band)>,
    pub(crate) moments: Vec<(f64, String)>,
    /// What was played and how to read it, in sentences.
    pub(crate) caption: String,
}

impl<R> Points<R> {
    /// None yet; the rows have this time, s.
    pub(crate) fn over(time: impl Fn(&R) -> f64 + 'static) -> Self {
        let column = Column::real("time", "s", None, "since the start");
        let time = Trace { column, of: Box::new(time), shaded: false, still: false };
        Self { traces: vec![time], limits: Vec::new() }
    }

    /// One more.
    pub(crate) fn add(&mut self, column: Column, of: impl Fn(&R) -> f64 + 'static) {
        self.traces.push(Trace { column, of: Box::new(of), shaded: false, still: false });
    }

    /// One more that stays at a value.
    fn add_still(&mut self, column: Column, value: f64) {
        self.traces.push(Trace { column, of: Box::new(move |_| value), shaded: false, still: true });
    }

    /// One more that builds shade.
    pub(crate) fn add_shaded(&mut self, column: Column, of: impl Fn(&R) -> f64 + 'static) {
        self.traces.push(Trace { column, of: Box::new(of), shaded: true, still: false });
    }

    /// A limit of a column, by its name; nothing where it is no number.
    pub(crate) fn limit(&mut self, column: &str, words: &str, at: f64) {
        if at.is_finite() {
            self.limits.push(Limit { column: column.to_owned(), words: words.to_owned(), at });
        }
    }

    /// The same in either sense; it is named once.
    pub(crate) fn limit_both_ways(&mut self, column: &str, words: &str, at: f64) {
        self.limit(column, words, at);
        self.limit(column, "", -at);
    }

    /// Logic rails with their limits, each in a plot of its own; at a row the terminals of the supply and the bus are at
    /// these voltages.
    pub(crate) fn rails(&mut self, beside: &Beside, voltages: impl Fn(&R) -> (f64, f64) + Clone + 'static) {
        for rail in &beside.rails {
            let column = Column::real(&rail.name, "V", Some(TestPoint::Tp4), "logic rail").of(&rail.name);
            let (of, voltages) = (rail.clone(), voltages.clone());
            let voltage = move |row: &R| {
                let (terminals, bus) = voltages(row);
                of.voltage(terminals, bus)
            };
            // What builds stay between at the terminals is not told.
            match rail.comes_from {
                ComesFrom::Bus => self.add_shaded(column, voltage),
                ComesFrom::Terminals => self.add(column, voltage),
                ComesFrom::Elsewhere(voltage) => self.add_still(column, voltage),
            }
            // What lies still is told the limit that it would meet first.
            let steady = matches!(rail.comes_from, ComesFrom::Elsewhere(_));
            let first = rail.limits.iter().map(|line| line.at).fold(f64::NEG_INFINITY, f64::max);
            for line in rail.limits.iter().filter(|line| !steady || line.at == first) {
                self.limit(&rail.name, &line.words, line.at);
            }
        }
    }

    /// What builds stay between, of each column that is shaded; `of_traces` makes rows of those of the band.
    pub(crate) fn bands_of(&self, spread: &Spread, of_traces: fn(&Row) -> R) -> Vec<(String, Band)> {
        let rows = spread.band().rows().map(|(low, high)| (of_traces(&low), of_traces(&high)));
        self.bands(&rows.collect::<Vec<_>>(), spread)
    }

    /// What builds stay between, from their lowest and highest rows at each time, of each column that is shaded.
    pub(crate) fn bands(&self, rows: &[(R, R)], spread: &Spread) -> Vec<(String, Band)> {
        let name = &format!("{} builds", spread.builds().0);
        let Some(time) = self.traces.first() else { return Vec::new() };
        let band = |trace: &Trace<R>| {
            let edge = |end: fn(&(R, R)) -> &R| {
                rows.iter().map(|row| [(time.of)(end(row)), (trace.of)(end(row))]).collect()
            };
            let band = Band { name: name.to_owned(), upper: edge(|row| &row.1), lower: edge(|row| &row.0) };
            (trace.column.name.clone(), band)
        };
        self.traces.iter().filter(|trace| trace.shaded).map(band).collect()
    }

    /// What each shows at a row, but for what stays as it is.
    pub(crate) fn shown(&self, row: &R) -> Vec<(Column, f64)> {
        let at_points = self.traces.iter().filter(|trace| trace.column.at.is_some() && !trace.still);
        at_points.map(|trace| (trace.column.clone(), (trace.of)(row))).collect()
    }

    /// What they show in a run that takes so long, s, in a column of small plots with limits.
    pub(crate) fn picture<'p, K>(
        &'p self,
        length: f64,
        watch: Watch<'p>,
        shown: Shown<'_>,
        play: impl FnOnce(&mut AtPoints<'p, R>) -> Result<K, Ended<Refused>>,
    ) -> Result<Chart, Ended<Refused>> {
        let columns: Vec<Column> = self.traces.iter().map(|trace| trace.column.clone()).collect();
        let mut at_points = AtPoints {
            points: self,
            log: Outline::new(&columns, STRETCHES),
            values: Vec::with_capacity(columns.len()),
            watch,
            length,
        };
        play(&mut at_points)?;
        let mut picture = Picture::default().log(&at_points.log, Purpose::Nominal);
        for Limit { column, words, at } in &self.limits {
            picture = picture.limit(column, words, *at);
        }
        for (column, band) in &shown.bands {
            picture = picture.band(column, band);
        }
        for (time, words) in &shown.moments {
            picture = picture.moment(*time, words);
        }
        let Shown { name, mover, caption, .. } = shown;
        let of = mover.rsplit(' ').next().unwrap_or(mover);
        Ok(picture.chart(
            &format!("trial-{name}-{of}"),
            &format!("{name}, {mover}: what each test point shows"),
            &caption,
        ))
    }
}

/// Keeps rows as values of test points.
pub(crate) struct AtPoints<'p, R> {
    points: &'p Points<R>,
    log: Outline,
    values: Vec<f64>,
    watch: Watch<'p>,
    /// Time of the whole, s.
    length: f64,
}

impl<R> AtPoints<'_, R> {
    /// Takes a row.
    pub(crate) fn put(&mut self, row: &R) -> Result<(), Refused> {
        self.put_with(row, &[])
    }

    /// Takes a row with other values of some columns, by their names.
    pub(crate) fn put_with(&mut self, row: &R, others: &[(&str, f64)]) -> Result<(), Refused> {
        self.values.clear();
        let traces = &self.points.traces;
        self.values.extend(traces.iter().map(|trace| (trace.of)(row)));
        for (name, value) in others {
            self.set(name, *value);
        }
        self.go_on(self.values.first().copied().unwrap_or(0.0))?;
        logs::Sink::take(&mut self.log, &self.values)
    }

    /// Takes a value of one column at a time between two rows, s.
    pub(crate) fn put_alone(&mut self, time: f64, name: &str, value: f64) -> Result<(), Refused> {
        self.values.clear();
        self.values.resize(self.points.traces.len(), f64::NAN);
        self.values[0] = time;
        self.set(name, value);
        logs::Sink::take(&mut self.log, &self.values)
    }

    fn set(&mut self, name: &str, value: f64) {
        let own = self.points.traces.iter().zip(&mut self.values);
        if let Some((_, own)) = own.into_iter().find(|(trace, _)| trace.column.name == name) {
            *own = value;
        }
    }

    /// Whether to go on at a time, s.
    pub(crate) fn go_on(&mut self, time: f64) -> Result<(), Refused> {
        Ok(self.watch.go_on(time / self.length)?)
    }
}

//! How a trial carries its faults, and what is told of them: one sentence first, a column beside the key figures, a table
//! of the test points.

use super::{AskedFault, NoFault};
use crate::points::Points;
use crate::record::{Row, Sink};
use finding::sheet::{Block, Table};
use logs::Column;
use std::convert::Infallible;
use worked::{Dimension, Unit, format};

/// What counts as nothing in a table, as a part of the largest of its row.
const LEAST: f64 = 1e-6;

/// The faults of a trial, in the order in which they come; `F` is what they do to what moves.
#[derive(Clone, PartialEq, Debug)]
pub(crate) struct Faults<F> {
    put: Vec<Put<F>>,
}

/// A fault in a trial.
#[derive(Clone, PartialEq, Debug)]
struct Put<F> {
    asked: AskedFault,
    /// When it comes in what is played, s.
    at: f64,
    does: F,
    /// What it is and when it comes, in words.
    words: String,
}

/// A fault as it is fitted to what moves.
pub(crate) struct Fitted<F> {
    pub(crate) does: F,
    /// What it is in words, where they are others than those of its kind.
    pub(crate) what: Option<&'static str>,
    /// What it does besides, in words that follow the others.
    pub(crate) more: String,
}

impl<F> From<F> for Fitted<F> {
    fn from(does: F) -> Self {
        Self { does, what: None, more: String::new() }
    }
}

/// What came of a trial with its faults: `K` is what is kept of it.
#[derive(Clone, PartialEq, Debug)]
pub struct Faulted<K> {
    /// What is kept of it.
    pub(crate) kept: K,
    /// Test points just before the first fault and at the end, and at the end without it.
    pub(crate) shown: Vec<(Column, [f64; 3])>,
}

impl<F: Clone> Faults<F> {
    pub(crate) fn none() -> Self {
        Self { put: Vec::new() }
    }

    /// Adds what is asked for to a trial that takes so long, s. `nearest` is the time at which what is played can take
    /// one up, `fitted` what it does there.
    ///
    /// # Errors
    /// The first that comes after the end of the trial, or that what moves cannot have.
    pub(crate) fn add(
        &mut self,
        asked: &[AskedFault],
        length: f64,
        nearest: impl Fn(f64) -> f64,
        fitted: impl Fn(&AskedFault) -> Result<Fitted<F>, String>,
    ) -> Result<(), NoFault> {
        for asked in asked {
            let no = |why: String| NoFault { written: asked.written.clone(), why };
            if !(asked.time >= 0.0 && asked.time < length) {
                let end = format::plain(length, &format::choose_unit(length, Dimension::TIME, None));
                return Err(no(format!("it must come before the trial ends, from 0 s up to {end}")));
            }
            let Fitted { does, what, more } = fitted(asked).map_err(no)?;
            let what = what.map_or_else(|| asked.what(), str::to_owned);
            let time = format::plain(asked.time, &format::choose_unit(asked.time, Dimension::TIME, None));
            let words = format!("{what} after {time}{more}");
            self.put.push(Put { asked: asked.clone(), at: nearest(asked.time), does, words });
        }
        self.put.sort_by(|a, b| a.at.total_cmp(&b.at));
        Ok(())
    }

    /// The means by which a trial goes on being played: none once it has faults, as no mean follows any.
    ///
    /// # Errors
    /// The first of the faults where the trial takes too long without them.
    pub(crate) fn switched_for<M>(
        &self,
        means: Option<M>,
        can_be_switched: bool,
    ) -> Result<Option<M>, NoFault> {
        match (self.put.first(), means) {
            (Some(put), Some(_)) if !can_be_switched => Err(NoFault {
                written: put.asked.written.clone(),
                why: "no mean follows a fault, and switched the trial would take too long; make it shorter"
                    .to_owned(),
            }),
            (Some(_), _) => Ok(None),
            (None, means) => Ok(means),
        }
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.put.is_empty()
    }

    /// When the first one comes, s.
    pub(crate) fn first(&self) -> Option<f64> {
        self.put.first().map(|put| put.at)
    }

    /// What they are asked as.
    pub(crate) fn asked(&self) -> impl Iterator<Item = &AskedFault> {
        self.put.iter().map(|put| &put.asked)
    }

    /// What they do, with their times, s.
    pub(crate) fn timed(&self) -> Vec<(f64, F)> {
        self.put.iter().map(|put| (put.at, put.does.clone())).collect()
    }

    /// Their names at their times, s, for a picture.
    pub(crate) fn moments(&self) -> impl Iterator<Item = (f64, String)> {
        self.put.iter().map(|put| (put.at, put.asked.kind.name().to_owned()))
    }

    /// What stands before everything else that is told of the trial; nothing where it has none.
    pub(crate) fn told(&self) -> Option<String> {
        let words: Vec<&str> = self.put.iter().map(|put| &*put.words).collect();
        (!words.is_empty()).then(|| {
            format!(
                "Put in on purpose: {}. Verdict, checks, closed forms and ranges are those of the trial without it. Never \
                 make such a fault on a real axis.",
                words.join("; ")
            )
        })
    }

    /// What a picture is played with, in words that follow the nominal values.
    pub(crate) fn beside_nominal(&self) -> &'static str {
        if self.is_empty() { "" } else { ", with the faults that were put in" }
    }
}

/// The last row up to a time, the first of several at that time, and the last of all.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Ends<R> {
    time: f64,
    /// A row at that time was met.
    is_met: bool,
    before: R,
    last: R,
}

impl<R: Copy + Default> Ends<R> {
    /// Up to a time, s; rounding of it does not count.
    pub(crate) fn new(time: f64) -> Self {
        Self { time, is_met: false, before: R::default(), last: R::default() }
    }

    /// Takes a row of a time, s.
    pub(crate) fn see(&mut self, time: f64, row: &R) {
        if time <= self.time * (1.0 + 1e-12) && !self.is_met {
            self.before = *row;
            self.is_met = time >= self.time * (1.0 - 1e-12);
        }
        self.last = *row;
    }

    /// What test points show just before the first fault, at the end, and at the end without it: `points` are those with
    /// faults, each with how it went.
    pub(crate) fn shown(&self, points: &Points<R>, plain: (&Self, &Points<R>)) -> Vec<(Column, [f64; 3])> {
        let (before, last) = (points.shown(&self.before), points.shown(&self.last));
        let without = plain.1.shown(&plain.0.last);
        before
            .into_iter()
            .zip(last)
            .map(|((column, before), (_, last))| {
                let same = without.iter().find(|(other, _)| *other == column);
                let without = same.map_or(f64::NAN, |(_, value)| *value);
                (column, [before, last, without])
            })
            .collect()
    }
}

impl Sink for Ends<Row> {
    type Failure = Infallible;

    fn take(&mut self, row: &Row) -> Result<(), Infallible> {
        self.see(row.time, row);
        Ok(())
    }
}

/// What each test point shows before the first fault and at the end.
pub(crate) fn points_table<K>(faulted: &Faulted<K>) -> Block {
    // What only shows in its edges has no value at an instant.
    let told = faulted.shown.iter().filter(|(_, values)| values.iter().any(|value| value.is_finite()));
    let rows = told.map(|(column, values)| {
        let unit = Unit::parse(&column.unit).unwrap_or_else(|_| Unit::one());
        let at = column.at.map_or_else(String::new, |at| at.to_string());
        // What is nothing beside the others is what arithmetic leaves.
        let largest = values.iter().fold(0.0f64, |largest, value| largest.max(value.abs()));
        let told = |value: f64| match value {
            value if value.is_nan() => String::new(),
            value if value.abs() < LEAST * largest => format::plain(0.0, &unit),
            value => format::plain(unit.to_si(value), &unit),
        };
        [vec![at, column.name.clone()], values.map(told).to_vec()].concat()
    });
    let headings = ["at", "what", "#just before", "#at the end", "#without it"];
    Block::Table(Table::of("test-points", "What test points show, with the fault", &headings, rows.collect()))
}

//! What accessors give beside worked numbers: texts with their places, windows, choices, settings, and figures as
//! the file has them.

use super::{Data, Record, Table, join};
use crate::ratio::Ratio;
use finding::Span;
use std::sync::Arc;
use worked::{Dimension, How, Unit, Worked};

/// The table of a file that keys belong to.
#[derive(Clone, PartialEq, Debug)]
pub struct Home {
    /// The header, or the whole inline table.
    pub span: Span,
    /// Line of its start.
    pub line: u32,
    /// The table as its header names it: `axes.left`; empty for the top of the file.
    pub table: Arc<str>,
}

/// A text with its place.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Text {
    /// The text.
    pub text: Arc<str>,
    /// Where it stands.
    pub span: Span,
}

impl std::ops::Deref for Text {
    type Target = str;
    fn deref(&self) -> &str {
        &self.text
    }
}

/// One line of a map such as `pins = { 1 = "logic" }`.
#[derive(Clone, Debug)]
pub struct Entry {
    /// What stands before the equals sign.
    pub key: Text,
    /// The texts behind it; empty where a table stands there.
    pub texts: Vec<Text>,
    /// The texts stood in a list: of a pin, its functions.
    pub list: bool,
    pub(super) table: Option<Arc<Data>>,
    owner: Arc<str>,
}

/// A figure as the file gives it.
#[derive(Clone, Debug)]
pub struct Datum {
    /// Nominal value, SI; the middle where only a range is given.
    pub value: f64,
    /// Limits, SI; `None` where exact.
    pub limits: Option<(f64, f64)>,
    /// Stated standard uncertainty, SI.
    pub standard_uncertainty: Option<f64>,
    /// The tolerance is in proportion to the value.
    pub relative: bool,
    /// What it measures in a working.
    pub dimension: Dimension,
    /// The user's unit.
    pub unit: Unit,
    /// As written.
    pub written: Arc<str>,
    /// The width of the limits is the program's assumption.
    pub band_assumed: bool,
    /// How the user came by it.
    pub how: How,
    /// The user's words about the source.
    pub from: Option<Arc<str>>,
    /// Conditions for which it holds: `at = { temperature = "25 °C" }`.
    pub at: Vec<Condition>,
    /// The exact ratio, where it is one.
    pub ratio: Option<Ratio>,
    /// Where the value stands.
    pub span: Span,
    /// Its line.
    pub line: u32,
}

/// A condition for which a figure holds.
#[derive(Clone, PartialEq, Debug)]
pub struct Condition {
    /// `temperature`, `voltage`, `current`, `frequency`, `speed`.
    pub name: Arc<str>,
    /// SI.
    pub value: f64,
    /// What it measures.
    pub dimension: Dimension,
    /// The user's unit.
    pub unit: Unit,
    /// As written.
    pub written: Arc<str>,
}

/// Both ends of what is permitted, each a limit that is exactly known.
#[derive(Clone)]
pub struct Window {
    /// Lower end.
    pub low: Worked,
    /// Upper end.
    pub high: Worked,
    /// The file gives it.
    pub given: bool,
}

/// A choice with whether the file makes it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Choice<T> {
    /// What holds: stated, or taken where the file is silent; `None` where nothing can be taken.
    pub value: Option<T>,
    /// The file says so.
    pub stated: bool,
}

impl<T: Copy + PartialEq> Choice<T> {
    /// Whether it is this.
    pub fn is(&self, what: T) -> bool {
        self.value == Some(what)
    }

    /// What the file says; `None` where it is silent.
    pub fn stated(&self) -> Option<T> {
        self.value.filter(|_| self.stated)
    }

    /// What holds, or `other` where nothing is known.
    pub fn or(&self, other: T) -> T {
        self.value.unwrap_or(other)
    }
}

/// One of several quantities by name.
#[derive(Clone)]
pub struct Setting {
    /// Its name.
    pub name: Text,
    /// What it is.
    pub value: SettingValue,
}

/// What a setting is.
#[derive(Clone)]
pub enum SettingValue {
    /// A quantity.
    Quantity(Worked),
    /// The name of a setting of the part.
    Name(Text),
}

impl Entry {
    pub(crate) fn new(
        key: Text,
        texts: Vec<Text>,
        list: bool,
        table: Option<Arc<Data>>,
        owner: Arc<str>,
    ) -> Self {
        Self { key, texts, list, table, owner }
    }

    /// The first text.
    pub fn text(&self) -> Option<&str> {
        self.texts.first().map(|t| &*t.text)
    }

    /// The table form of the value.
    pub fn table<T: Table>(&self, path: &str) -> Option<T> {
        let data = self.table.clone()?;
        let path = join(&join(path, &self.owner), &self.key);
        Some(T::from_record(Record::new(data, path)))
    }
}

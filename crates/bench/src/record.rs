//! A table of the user's files as it was read: the values by field, where each stands, and the accessors that
//! the structs of `part` and `file` are built on.
//!
//! The data of a part file are shared by all devices made of it; a [`Record`] adds the path of one device, so
//! that two motors of one file are two motors.

mod values;

pub use values::{Choice, Condition, Datum, Entry, Home, Setting, SettingValue, Text, Window};

use crate::kind::{Band, Default, Field, Form, Kind, Quant, Words};
use crate::ratio::Ratio;
use finding::Span;
use std::sync::Arc;
use worked::{Dimension, How, Input, Origin, Unit, Worked};

/// A table of one kind that belongs to one device of the bench.
#[derive(Clone, Debug)]
pub struct Record {
    pub(crate) data: Arc<Data>,
    path: Arc<str>,
}

/// A struct over a record of a fixed kind.
pub trait Table: Sized {
    /// The list of its fields.
    const KIND: &'static Kind;
    /// Takes a record of that kind.
    fn from_record(record: Record) -> Self;
}

/// What was read of one table.
#[derive(Debug)]
pub(crate) struct Data {
    pub(crate) kind: &'static Kind,
    /// The table stands in a file; otherwise it is the place where it would stand.
    pub(crate) given: bool,
    pub(crate) home: Home,
    pub(crate) slots: Vec<Option<Slot>>,
}

/// One key that is given.
#[derive(Debug)]
pub(crate) struct Slot {
    pub(crate) key_span: Span,
    pub(crate) span: Span,
    pub(crate) value: Value,
}

#[derive(Debug)]
pub(crate) enum Value {
    /// The key is given, but what stands there is told as a problem.
    Unreadable,
    Datum(Datum),
    Choice(usize),
    Flag(bool),
    Texts(Vec<Text>),
    Table(Arc<Data>),
    Tables(Vec<Arc<Data>>),
    Named(Vec<(Text, Arc<Data>)>),
    Settings(Vec<(Text, SettingData)>),
    Map(Vec<Entry>),
}

#[derive(Debug)]
pub(crate) enum SettingData {
    Datum(Datum),
    Name(Text),
}

impl Record {
    pub(crate) fn new(data: Arc<Data>, path: impl Into<Arc<str>>) -> Self {
        Self { data, path: path.into() }
    }

    /// The kind of table.
    pub fn kind(&self) -> &'static Kind {
        self.data.kind
    }

    /// Path of the device in the bench: `axes.left.motor`.
    pub fn path(&self) -> &str {
        &self.path
    }

    /// Path of one of its figures: `axes.left.motor.resistance`.
    pub fn path_of(&self, key: &str) -> String {
        join(&self.path, key)
    }

    /// Whether the table stands in a file. One that does not still knows where it would stand.
    pub fn is_given(&self) -> bool {
        self.data.given
    }

    /// Whether the file gives this key.
    pub fn has(&self, key: &str) -> bool {
        self.slot(key).is_some()
    }

    /// The table of the file that its keys belong to.
    pub fn home(&self) -> &Home {
        &self.data.home
    }

    /// Where the table stands, or where it would.
    pub fn span(&self) -> Span {
        self.data.home.span.clone()
    }

    /// Where the value of this key stands; the table where it is not given.
    pub fn span_of(&self, key: &str) -> Span {
        match self.slot(key) {
            Some(slot) => slot.span.clone(),
            None => self.span(),
        }
    }

    /// Where the key itself stands; `None` where it is not given.
    pub fn key_span(&self, key: &str) -> Option<Span> {
        self.slot(key).map(|slot| slot.key_span.clone())
    }

    /// The figure as the file gives it; `None` where it is not given or no quantity.
    pub fn datum(&self, key: &str) -> Option<&Datum> {
        match &self.slot(key)?.value {
            Value::Datum(datum) => Some(datum),
            _ => None,
        }
    }

    /// The condition for which a figure holds, such as its `temperature`.
    pub fn condition(&self, key: &str, name: &str) -> Option<Worked> {
        let datum = self.datum(key)?;
        let condition = datum.at.iter().find(|c| &*c.name == name)?;
        let path = format!("{}.at.{name}", self.path_of(key));
        let title = format!("{name} at which it holds");
        Some(
            Input::new(&path, &title, condition_symbol(name), condition.dimension)
                .value(condition.value)
                .unit(condition.unit.clone())
                .written(&condition.written)
                .origin(self.origin(datum))
                .worked(),
        )
    }

    /// The exact ratio of a gear, where the file gives one.
    pub fn exact_ratio(&self, key: &str) -> Option<&Ratio> {
        self.datum(key)?.ratio.as_ref()
    }

    /// Texts of a key with their places; empty where it is not given or holds no text.
    pub fn placed(&self, key: &str) -> &[Text] {
        match self.slot(key).map(|slot| &slot.value) {
            Some(Value::Texts(texts)) => texts,
            _ => &[],
        }
    }

    /// The figure of this key, whatever its field; `None` where the kind has no such quantity.
    pub fn figure(&self, key: &str) -> Option<Worked> {
        let (holder, at) = self.holder(key)?;
        match &holder.data.kind.fields[at].form {
            Form::Quantity(_) | Form::Ratio | Form::Whole { .. } => Some(holder.quantity(at)),
            _ => None,
        }
    }

    fn slot(&self, key: &str) -> Option<&Slot> {
        slot_of(&self.data, key)
    }

    /// The record that holds a key: this one, or one whose keys stand directly in it.
    fn holder(&self, key: &str) -> Option<(Record, usize)> {
        if let Some(at) =
            self.data.kind.fields.iter().position(|f| f.key == key && !matches!(f.form, Form::Flat(_)))
        {
            return Some((self.clone(), at));
        }
        self.data.kind.fields.iter().enumerate().find_map(|(at, field)| match field.form {
            Form::Flat(_) => self.child(at).holder(key),
            _ => None,
        })
    }

    fn field(&self, at: usize) -> &'static Field {
        &self.data.kind.fields[at]
    }

    fn value(&self, at: usize) -> Option<&Value> {
        self.data.slots.get(at)?.as_ref().map(|slot| &slot.value)
    }

    fn origin(&self, datum: &Datum) -> Origin {
        Origin::File {
            file: datum.span.file.clone(),
            line: datum.line,
            how: datum.how,
            from: datum.from.clone(),
        }
    }

    fn input(
        &self,
        path: &str,
        name: &str,
        symbol: &str,
        datum: &Datum,
        setting: Option<(f64, f64)>,
    ) -> Input {
        let mut input = Input::new(path, name, symbol, datum.dimension)
            .value(datum.value)
            .unit(datum.unit.clone())
            .written(&datum.written)
            .origin(self.origin(datum));
        if let Some((low, high)) = datum.limits {
            input = input.limits(low, high);
        }
        if let Some(u) = datum.standard_uncertainty {
            input = input.standard_uncertainty(u);
        }
        if datum.band_assumed {
            input = input.band_assumed();
        }
        if let Some((low, high)) = setting {
            input = input.setting(low, high, datum.relative);
        }
        input
    }

    pub(crate) fn quantity(&self, at: usize) -> Worked {
        let field = self.field(at);
        let path = join(&self.path, field.key);
        let (symbol, setting) = match &field.form {
            Form::Quantity(quant) => (quant.symbol, quant.setting),
            Form::Whole { symbol, .. } => (*symbol, None),
            _ => ("N", None),
        };
        if let Some(Value::Datum(datum)) = self.value(at) {
            return self.input(&path, field.text, symbol, datum, setting).worked();
        }
        match &field.form {
            Form::Quantity(quant) => self.absent(&path, field.text, quant),
            Form::Whole { within, per_rev, .. } => {
                let (unit, scale) = per_turn(*per_rev);
                Input::new(&path, field.text, symbol, unit.dimension())
                    .unit(unit)
                    .missing(within.0 as f64 * scale, within.1 as f64 * scale)
                    .origin(self.nowhere())
                    .worked()
            }
            _ => Input::new(&path, field.text, symbol, Dimension::NONE)
                .missing(1e-3, 1e6)
                .origin(self.nowhere())
                .worked(),
        }
    }

    /// A figure that the file does not give: its default, or an input that is missing.
    fn absent(&self, path: &str, name: &str, quant: &Quant) -> Worked {
        let dimension = quant.dimension;
        let input = Input::new(path, name, quant.symbol, dimension);
        match quant.default {
            Some(Default { si, source, standard }) => {
                let origin =
                    if standard { Origin::standard(source) } else { Origin::common_practice(source) };
                let input = input.value(si).origin(origin);
                match quant.band {
                    Band::Percent(below, above) => {
                        let (low, high) = spread(si, below, above, quant.span);
                        input.limits(low, high).band_assumed().worked()
                    }
                    Band::Exact => input.worked(),
                }
            }
            None => input.missing(quant.span.0, quant.span.1).origin(self.nowhere()).worked(),
        }
    }

    /// The origin of a figure that is not given: the table where it belongs.
    fn nowhere(&self) -> Origin {
        Origin::File {
            file: self.data.home.span.file.clone(),
            line: self.data.home.line,
            how: How::Stated,
            from: None,
        }
    }

    pub(crate) fn window(&self, at: usize) -> Window {
        let field = self.field(at);
        let Form::Window(quant) = &field.form else {
            return Window { low: f64::NAN.into(), high: f64::NAN.into(), given: false };
        };
        let path = join(&self.path, field.key);
        let ends = match self.value(at) {
            Some(Value::Datum(datum)) => Some((datum, datum.limits.unwrap_or((datum.value, datum.value)))),
            _ => None,
        };
        let end = |word: &str, phrase: &str, pick: fn((f64, f64)) -> f64| {
            let path = join(&path, word);
            let name = format!("{phrase} of the {}", field.text);
            let symbol = format!("{}_{word}", quant.symbol);
            match &ends {
                Some((datum, limits)) => Input::new(&path, &name, &symbol, datum.dimension)
                    .value(pick(*limits))
                    .unit(datum.unit.clone())
                    .written(&in_unit(pick(*limits), &datum.unit))
                    .origin(self.origin(datum))
                    .worked(),
                None => Input::new(&path, &name, &symbol, quant.dimension)
                    .missing(quant.span.0, quant.span.1)
                    .origin(self.nowhere())
                    .worked(),
            }
        };
        Window {
            low: end("low", "lower end", |limits| limits.0),
            high: end("high", "upper end", |limits| limits.1),
            given: ends.is_some(),
        }
    }

    pub(crate) fn choice<T: Words>(&self, at: usize) -> Choice<T> {
        if let Some(Value::Choice(index)) = self.value(at) {
            return Choice { value: T::ALL.get(*index).copied(), stated: true };
        }
        let value = match self.field(at).form {
            Form::Choice { default: Some(index), .. } => T::ALL.get(index).copied(),
            _ => None,
        };
        Choice { value, stated: false }
    }

    pub(crate) fn flag(&self, at: usize) -> Choice<bool> {
        if let Some(Value::Flag(value)) = self.value(at) {
            return Choice { value: Some(*value), stated: true };
        }
        let value = match self.field(at).form {
            Form::Flag { default } => default,
            _ => None,
        };
        Choice { value, stated: false }
    }

    pub(crate) fn text(&self, at: usize) -> Option<&str> {
        match self.value(at)? {
            Value::Texts(texts) => texts.first().map(|t| &*t.text),
            _ => None,
        }
    }

    pub(crate) fn texts(&self, at: usize) -> Vec<&str> {
        match self.value(at) {
            Some(Value::Texts(texts)) => texts.iter().map(|t| &*t.text).collect(),
            _ => Vec::new(),
        }
    }

    /// A nested table; one that is not given knows where it would stand.
    pub(crate) fn child(&self, at: usize) -> Record {
        let field = self.field(at);
        let flat = matches!(field.form, Form::Flat(_));
        let path = if flat { self.path.clone() } else { join(&self.path, field.key).into() };
        if let Some(Value::Table(data)) = self.value(at) {
            return Record::new(data.clone(), path);
        }
        let kind = match field.form {
            Form::Table(kind) | Form::Flat(kind) | Form::Part(kind) => kind,
            _ => self.data.kind,
        };
        let mut home = self.data.home.clone();
        if !flat {
            home.table = join(&home.table, field.key).into();
        }
        Record::new(Arc::new(Data::absent(kind, home)), path)
    }

    pub(crate) fn table<T: Table>(&self, at: usize) -> T {
        T::from_record(self.child(at))
    }

    /// A part takes the path of the device that it makes up: of `[supplies.drive] part = …` the part's figures
    /// are `supplies.drive.voltage`; of `motor = …` in an axis they are `axes.left.motor.resistance`.
    pub(crate) fn part<T: Table>(&self, at: usize) -> Option<T> {
        match self.value(at)? {
            Value::Table(data) => {
                let key = self.field(at).key;
                let path = if key == "part" { self.path.clone() } else { join(&self.path, key).into() };
                Some(T::from_record(Record::new(data.clone(), path)))
            }
            _ => None,
        }
    }

    pub(crate) fn tables<T: Table>(&self, at: usize) -> Vec<T> {
        let Some(Value::Tables(items)) = self.value(at) else { return Vec::new() };
        let base = join(&self.path, self.field(at).key);
        let item = |(i, data): (usize, &Arc<Data>)| {
            let path = match name_of(data) {
                Some(name) => join(&base, name),
                None => join(&base, &(i + 1).to_string()),
            };
            T::from_record(Record::new(data.clone(), path))
        };
        items.iter().enumerate().map(item).collect()
    }

    pub(crate) fn named<T: Table>(&self, at: usize) -> Vec<(Arc<str>, T)> {
        let Some(Value::Named(items)) = self.value(at) else { return Vec::new() };
        let base = join(&self.path, self.field(at).key);
        let item = |(name, data): &(Text, Arc<Data>)| {
            (name.text.clone(), T::from_record(Record::new(data.clone(), join(&base, name))))
        };
        items.iter().map(item).collect()
    }

    /// One of the tables by name, without making the others.
    pub(crate) fn one_named<T: Table>(&self, key: &str, name: &str) -> Option<T> {
        let Value::Named(items) = &self.slot(key)?.value else { return None };
        let (known, data) = items.iter().find(|(known, _)| &*known.text == name)?;
        let path = join(&join(&self.path, key), known);
        Some(T::from_record(Record::new(data.clone(), path)))
    }

    pub(crate) fn settings(&self, at: usize) -> Vec<Setting> {
        let field = self.field(at);
        let (Some(Value::Settings(items)), Form::Settings { quant, .. }) = (self.value(at), &field.form)
        else {
            return Vec::new();
        };
        let base = join(&self.path, field.key);
        let item = |(name, data): &(Text, SettingData)| {
            let value = match data {
                SettingData::Name(text) => SettingValue::Name(text.clone()),
                SettingData::Datum(datum) => {
                    let path = join(&base, name);
                    let title = format!("{}: {}", field.text, &**name);
                    let symbol = format!("{}_{}", quant.symbol, &**name);
                    SettingValue::Quantity(self.input(&path, &title, &symbol, datum, quant.setting).worked())
                }
            };
            Setting { name: name.clone(), value }
        };
        items.iter().map(item).collect()
    }

    pub(crate) fn map(&self, at: usize) -> &[Entry] {
        match self.value(at) {
            Some(Value::Map(entries)) => entries,
            _ => &[],
        }
    }
}

impl Data {
    /// A table that no file gives.
    pub(crate) fn absent(kind: &'static Kind, home: Home) -> Self {
        let slots = kind.fields.iter().map(|_| None).collect();
        Self { kind, given: false, home, slots }
    }
}

/// The slot of a key, also of keys that stand directly in the table but belong to another kind.
fn slot_of<'a>(data: &'a Data, key: &str) -> Option<&'a Slot> {
    for (field, slot) in data.kind.fields.iter().zip(&data.slots) {
        match (&field.form, slot) {
            (Form::Flat(_), Some(Slot { value: Value::Table(flat), .. })) => {
                if let Some(found) = slot_of(flat, key) {
                    return Some(found);
                }
            }
            (_, Some(slot)) if field.key == key => return Some(slot),
            _ => {}
        }
    }
    None
}

/// The `name` (or `id`) of an item of an array of tables.
pub(crate) fn name_of(data: &Data) -> Option<&str> {
    let slot = slot_of(data, "name").or_else(|| slot_of(data, "id"))?;
    match &slot.value {
        Value::Texts(texts) => texts.first().map(|t| &*t.text),
        _ => None,
    }
}

pub(crate) fn join(path: &str, key: &str) -> String {
    if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") }
}

/// Limits of a value by per cent below and above, cut to what is physically possible.
pub(crate) fn spread(value: f64, below: f64, above: f64, span: (f64, f64)) -> (f64, f64) {
    let width = value.abs() / 100.0;
    ((value - width * below).max(span.0.min(value)), (value + width * above).min(span.1.max(value)))
}

/// Unit of a whole number and what one of it is worth in SI.
pub(crate) fn per_turn(per_rev: bool) -> (Unit, f64) {
    let unit = if per_rev {
        Unit::parse("1/rev").unwrap_or_else(|_| Unit::si(Dimension::PER_ANGLE))
    } else {
        Unit::one()
    };
    let scale = unit.to_si(1.0);
    (unit, scale)
}

/// A value in a unit as the shortest text that reads back the same.
fn in_unit(si: f64, unit: &Unit) -> String {
    let value = unit.from_si(si);
    // Conversion there and back leaves a last digit behind: twelve digits hold every figure of a sheet.
    let rounded = format!("{value:.12e}").parse::<f64>().unwrap_or(value);
    format!("{rounded} {}", unit.symbol()).trim_end().to_owned()
}

fn condition_symbol(name: &str) -> &'static str {
    match name {
        "temperature" => "ϑ",
        "voltage" => "U",
        "current" => "I",
        "frequency" => "f",
        "speed" => "ω",
        _ => "x",
    }
}

//! The values of a record field by field: what the accessors of `part` and `file` hand out.

use super::{
    Choice, Data, Datum, Entry, Record, Setting, SettingData, SettingValue, Table, Text, Value, Window, join,
    name_of,
};
use crate::kind::{Band, Default, Form, Quant, Words};
use std::sync::Arc;
use worked::{Dimension, How, Input, Origin, Unit, Worked};

impl Record {
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

//! A table of the user's files as it was read: what it is, which keys it has, and where each stands. Its values
//! field by field, on which the accessors of `part` and `file` are built, are in `fields`.
//!
//! The data of a part file are shared by all devices made of it; a [`Record`] adds the path of one device, so
//! that two motors of one file are two motors.

mod fields;
mod values;

pub(crate) use fields::{per_turn, spread};
pub use values::{Choice, Condition, Datum, Entry, Home, Setting, SettingValue, Text, Window};

use crate::kind::{Field, Form, Kind};
use crate::ratio::Ratio;
use finding::Span;
use std::sync::Arc;
use worked::{Input, Origin, Worked};

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

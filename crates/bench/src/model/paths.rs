//! From the path of a figure to its place in the files.

use super::Bench;
use crate::kind::Form;
use crate::record::{Data, Home, Record, Value, name_of};
use finding::Span;
use std::sync::Arc;

impl Bench {
    /// The record at a path such as `axes.left.motor`, or the one that a figure's path lies in, with the rest.
    pub fn record_at(&self, path: &str) -> Option<(Record, String)> {
        let top = Record::new(self.file.data.clone(), "");
        Some(descend(top, path))
    }

    /// Where the value of a figure stands, `axes.left.motor.resistance`; the table it would stand in where it is
    /// not given.
    pub fn span_of(&self, path: &str) -> Option<Span> {
        let (record, rest) = self.record_at(path)?;
        let key = rest.split('.').next().unwrap_or("");
        Some(if key.is_empty() { record.span() } else { record.span_of(key) })
    }

    /// The table of the file that a figure belongs to, and its key there: where a missing datum goes.
    pub fn home_of(&self, path: &str) -> Option<(Home, String)> {
        let (record, rest) = self.record_at(path)?;
        Some((record.home().clone(), rest))
    }
}

/// Walks down a path as far as tables go; what is left is the key (and what follows it).
fn descend(record: Record, path: &str) -> (Record, String) {
    if path.is_empty() {
        return (record, String::new());
    }
    // A part that stands under `part` shares the path of its device: its keys are looked for there first.
    for (field, slot) in record.data.kind.fields.iter().zip(&record.data.slots) {
        if field.key == "part"
            && let Some(slot) = slot
            && let Value::Table(data) = &slot.value
        {
            let part = Record::new(data.clone(), record.path());
            let head = path.split('.').next().unwrap_or("");
            let in_part = if !crate::read::keys_of(record.kind()).contains(&head) {
                true
            } else if is_table(&part, head) && !is_table(&record, head) {
                // `supply` of a controller in the bench names its feed, that of its part is a table of figures.
                path.len() > head.len()
            } else {
                part.has(head) && !record.has(head)
            };
            if in_part {
                return descend(part, path);
            }
        }
    }
    for (at, field) in record.data.kind.fields.iter().enumerate() {
        if let Form::Flat(_) = field.form {
            let flat = record.child(at);
            let head = path.split('.').next().unwrap_or("");
            if crate::read::keys_of(flat.kind()).contains(&head) {
                return descend(flat, path);
            }
            continue;
        }
        let Some(rest) = path.strip_prefix(field.key) else { continue };
        let rest = match rest.strip_prefix('.') {
            Some(rest) => rest,
            None if rest.is_empty() => "",
            None => continue,
        };
        let child_path = record.path_of(field.key);
        let value = record.data.slots.get(at).and_then(|slot| slot.as_ref()).map(|slot| &slot.value);
        match (&field.form, value) {
            (Form::Table(_) | Form::Part(_), _) if !rest.is_empty() => {
                return descend(record.child(at), rest);
            }
            (_, Some(Value::Table(data))) if rest.is_empty() => {
                return (Record::new(data.clone(), child_path), String::new());
            }
            (_, Some(Value::Named(items))) => {
                if let Some((data, name, rest)) = pick(items.iter().map(|(n, d)| (&*n.text, d)), rest) {
                    return descend(Record::new(data.clone(), format!("{child_path}.{name}")), rest);
                }
            }
            (_, Some(Value::Tables(items))) => {
                let numbers: Vec<String> = (1..=items.len()).map(|n| n.to_string()).collect();
                let names = items.iter().zip(&numbers).map(|(d, n)| (name_of(d).unwrap_or(n), d));
                if let Some((data, name, rest)) = pick(names, rest) {
                    return descend(Record::new(data.clone(), format!("{child_path}.{name}")), rest);
                }
            }
            _ => {}
        }
    }
    (record, path.to_owned())
}

/// Whether a key of a table of the file is a table itself.
fn is_table(record: &Record, key: &str) -> bool {
    let mut own = record.kind().fields.iter().filter(|field| field.key == key);
    own.any(|field| matches!(field.form, Form::Table(_)))
}

/// The item that a path begins with; names may hold dots themselves, so the longest wins.
fn pick<'a, 'b>(
    items: impl Iterator<Item = (&'a str, &'a Arc<Data>)>,
    path: &'b str,
) -> Option<(&'a Arc<Data>, &'a str, &'b str)> {
    let fit = |(name, data): (&'a str, &'a Arc<Data>)| {
        let rest = path.strip_prefix(name)?;
        match rest.strip_prefix('.') {
            Some(rest) => Some((data, name, rest)),
            None => rest.is_empty().then_some((data, name, "")),
        }
    };
    items.filter_map(fit).max_by_key(|(_, name, _)| name.len())
}

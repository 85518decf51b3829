//! Reads trees of TOML into records: every key against the table of its kind, all problems at once.

pub(crate) mod datum;
mod measured;
mod part;
mod slips;
mod tree;

pub use measured::MEASURED;
pub use part::{all_kinds, part_kinds};
pub(crate) use slips::{quote, settle, unknown_name};

use crate::files::Files;
use crate::kind::{Field, Form, Kind, Word};
use crate::nearest::nearest;
use crate::node::{self, Node, Pair};
use crate::problem::{Build, listed, problem, quoted};
use crate::record::{Data, Entry, Home, SettingData, Slot, Text, Value, join};
use finding::{Finding, SourceMap, Span, Trust};
use slips::bad_name;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use worked::How;

/// Reads files once each and gathers what is wrong with them.
pub(crate) struct Reader<'a> {
    files: &'a dyn Files,
    pub(crate) sources: SourceMap,
    lines: BTreeMap<Arc<str>, Vec<usize>>,
    trees: BTreeMap<String, Option<Node>>,
    parts: BTreeMap<String, Option<Arc<Data>>>,
    /// Names of the files that are there, listed once, for the first that is missing.
    names: Option<Vec<String>>,
    pub(crate) findings: Vec<Finding>,
    /// What was measured on the bench, oldest first.
    measured: Vec<measured::Over>,
    /// How figures of the part file that is being read were come by, where they do not say.
    manner: Manner,
}

/// What a part file says about all its figures.
#[derive(Clone, Default)]
struct Manner {
    file: Option<Arc<str>>,
    how: How,
    from: Option<Arc<str>>,
}

impl<'a> Reader<'a> {
    pub(crate) fn new(files: &'a dyn Files) -> Self {
        Self {
            files,
            sources: SourceMap::default(),
            lines: BTreeMap::new(),
            trees: BTreeMap::new(),
            parts: BTreeMap::new(),
            names: None,
            findings: Vec::new(),
            measured: Vec::new(),
            manner: Manner::default(),
        }
    }

    /// Line of a place, from 1.
    pub(crate) fn line(&self, span: &Span) -> u32 {
        match self.lines.get(&span.file) {
            Some(starts) => starts.partition_point(|start| *start <= span.start) as u32,
            None => 1,
        }
    }

    /// Reads a table of a kind. `title` is the table as its header names it.
    fn table(&mut self, kind: &'static Kind, node: &Node, title: &str) -> Arc<Data> {
        let home = Home { span: node.span.clone(), line: self.line(&node.span), table: title.into() };
        let Some(pairs) = node.pairs().cloned() else {
            return Arc::new(Data::absent(kind, home));
        };
        let mut used = vec![false; pairs.len()];
        let data = self.fields(kind, &pairs, &mut used, home);
        if used.contains(&false) {
            let keys = keys_of(kind);
            let given: BTreeSet<&str> = pairs.iter().map(|pair| &*pair.key).collect();
            let free: Vec<&str> = keys.iter().copied().filter(|key| !given.contains(key)).collect();
            for (pair, _) in pairs.iter().zip(used).filter(|(_, used)| !used) {
                self.unknown_key(kind, pair, &keys, &free, title);
            }
        }
        Arc::new(data)
    }

    fn fields(&mut self, kind: &'static Kind, pairs: &[Pair], used: &mut [bool], home: Home) -> Data {
        let mut slots = Vec::with_capacity(kind.fields.len());
        let mut given = false;
        for field in kind.fields {
            if let Form::Flat(flat) = field.form {
                let data = self.fields(flat, pairs, used, home.clone());
                given |= data.given;
                let (span, key_span) = (home.span.clone(), home.span.clone());
                slots.push(Some(Slot { key_span, span, value: Value::Table(Arc::new(data)) }));
                continue;
            }
            let Some(at) = pairs.iter().position(|pair| &*pair.key == field.key) else {
                if field.required {
                    self.missing_key(kind, field, &home);
                }
                slots.push(None);
                continue;
            };
            used[at] = true;
            given = true;
            let pair = &pairs[at];
            let value = self.value(field, &pair.node, &home.table).unwrap_or(Value::Unreadable);
            let (key_span, span) = (pair.span.clone(), pair.node.span.clone());
            slots.push(Some(Slot { key_span, span, value }));
        }
        let given = given || !pairs.is_empty();
        Data { kind, given, home, slots }
    }

    fn value(&mut self, field: &'static Field, node: &Node, title: &str) -> Option<Value> {
        let subject = join(title, field.key);
        match &field.form {
            Form::Quantity(quant) | Form::Window(quant) => {
                self.quantity(quant, node, &subject).map(Value::Datum)
            }
            Form::Ratio => self.ratio(node, &subject).map(Value::Datum),
            Form::Whole { within, per_rev, .. } => {
                self.whole(*within, *per_rev, node, &subject).map(Value::Datum)
            }
            Form::Choice { words, .. } => self.choice(words, node, &subject).map(Value::Choice),
            Form::Flag { .. } => match node.data {
                node::Data::Flag(flag) => Some(Value::Flag(flag)),
                _ => self.wrong_type(node, &subject, "`true` or `false`"),
            },
            Form::Text(_) => self.one_text(node, &subject).map(|text| Value::Texts(vec![text])),
            Form::Texts(_) => self.texts(node, &subject).map(Value::Texts),
            Form::Table(kind) => self.nested(kind, node, &subject).map(Value::Table),
            Form::Flat(_) => None,
            Form::Tables(kind) => {
                let node::Data::List(items) = &node.data else {
                    return self.wrong_type(
                        node,
                        &subject,
                        &format!("a list of tables, each under `[[{subject}]]`"),
                    );
                };
                let items: Vec<_> =
                    items.iter().filter_map(|item| self.nested(kind, item, &subject)).collect();
                self.name_twice(&items, &subject);
                Some(Value::Tables(items))
            }
            Form::Named(kind) => self.named(kind, node, &subject).map(Value::Named),
            Form::Settings { quant, or_name } => {
                let Some(pairs) = node.pairs().cloned() else {
                    return self.wrong_type(node, &subject, "a table of quantities by name");
                };
                let mut settings = Vec::new();
                for pair in pairs.iter() {
                    let subject = join(&subject, &pair.key);
                    let key = Text { text: pair.key.clone(), span: pair.span.clone() };
                    let data = match pair.node.text() {
                        Some(text) if *or_name && !starts_a_number(text) => {
                            Some(SettingData::Name(Text { text: text.clone(), span: pair.node.span.clone() }))
                        }
                        _ => self.quantity(quant, &pair.node, &subject).map(SettingData::Datum),
                    };
                    settings.extend(data.map(|data| (key, data)));
                }
                Some(Value::Settings(settings))
            }
            Form::Map { table, .. } => {
                let Some(pairs) = node.pairs().cloned() else {
                    return self.wrong_type(node, &subject, "a table of names");
                };
                let entry = |pair: &Pair| self.entry(pair, *table, field.key, &subject);
                Some(Value::Map(pairs.iter().filter_map(entry).collect()))
            }
            Form::Part(kind) => self.part(kind, node, &subject).map(Value::Table),
        }
    }

    fn entry(
        &mut self,
        pair: &Pair,
        table: Option<&'static Kind>,
        owner: &str,
        subject: &str,
    ) -> Option<Entry> {
        let subject = join(subject, &pair.key);
        let key = Text { text: pair.key.clone(), span: pair.span.clone() };
        match (&pair.node.data, table) {
            (node::Data::Table(_), Some(kind)) => {
                let data = self.table(kind, &pair.node, &subject);
                let texts = pair.node.get("functions").map(|list| self.quiet_texts(list)).unwrap_or_default();
                Some(Entry::new(key, texts, true, Some(data), owner.into()))
            }
            _ => {
                let list = matches!(pair.node.data, node::Data::List(_));
                let texts = self.texts(&pair.node, &subject)?;
                Some(Entry::new(key, texts, list, None, owner.into()))
            }
        }
    }

    fn quiet_texts(&self, node: &Node) -> Vec<Text> {
        let text = |node: &Node| node.text().map(|text| Text { text: text.clone(), span: node.span.clone() });
        match &node.data {
            node::Data::List(items) => items.iter().filter_map(text).collect(),
            _ => text(node).into_iter().collect(),
        }
    }

    /// A nested table, or the text that stands for one.
    fn nested(&mut self, kind: &'static Kind, node: &Node, subject: &str) -> Option<Arc<Data>> {
        match (&node.data, kind.shorthand) {
            (node::Data::Table(_), _) => Some(self.table(kind, node, subject)),
            (node::Data::Text(_), Some(key)) => {
                let pair = Pair { key: key.into(), span: node.span.clone(), node: node.clone() };
                let data = node::Data::Table(Arc::new(vec![pair]));
                Some(self.table(kind, &Node { span: node.span.clone(), data }, subject))
            }
            (_, Some(_)) => self.wrong_type(node, subject, "a text or a table"),
            (_, None) => self.wrong_type(node, subject, "a table"),
        }
    }

    /// Tables by name, each with what it takes over from another by `like`.
    fn named(&mut self, kind: &'static Kind, node: &Node, subject: &str) -> Option<Vec<(Text, Arc<Data>)>> {
        let Some(pairs) = node.pairs().cloned() else {
            return self.wrong_type(node, subject, &format!("tables by name: `[{subject}.NAME]`"));
        };
        let heirs = kind.fields.iter().any(|field| field.key == "like");
        let mut tables = Vec::with_capacity(pairs.len());
        for pair in pairs.iter() {
            let key = Text { text: pair.key.clone(), span: pair.span.clone() };
            let title = join(subject, &pair.key);
            if let Some(slip) = bad_name(&pair.key) {
                self.findings.push(problem("name-unknown", &title, slip, pair.span.clone()));
                continue;
            }
            let node = match heirs {
                true => self.inherit(pair, &pairs, subject),
                false => pair.node.clone(),
            };
            let node = self.with_measured(subject, pair, node);
            tables.extend(self.nested(kind, &node, &title).map(|data| (key, data)));
        }
        Some(tables)
    }

    /// A table with the keys that it takes over.
    fn inherit(&mut self, pair: &Pair, all: &[Pair], subject: &str) -> Node {
        let mut chain = vec![pair];
        while let Some(like) = chain.last().and_then(|last| last.node.get("like")) {
            let Some(name) = like.text() else { break };
            if let Some(known) = chain.iter().position(|p| p.key == *name) {
                let round: Vec<&str> = chain[known..].iter().map(|p| &*p.key).collect();
                let message = match round.as_slice() {
                    [alone] => format!("{} takes over keys from itself", quoted(alone)),
                    several => {
                        format!(
                            "{} take over keys from one another in a circle",
                            listed(several.iter().copied())
                        )
                    }
                };
                let title = join(subject, &pair.key);
                self.findings.push(
                    problem("name-circular", &title, message, like.span.clone())
                        .remedy("take `like` away from one of them"),
                );
                return chain[0].node.clone();
            }
            let Some(next) = all.iter().find(|p| p.key == *name) else {
                let names: Vec<&str> = all.iter().map(|p| &*p.key).filter(|n| **n != *pair.key).collect();
                self.findings.push(unknown_name(
                    &join(subject, &pair.key),
                    name,
                    &like.span,
                    subject,
                    &names,
                ));
                break;
            };
            chain.push(next);
        }
        let mut node = chain[chain.len() - 1].node.clone();
        for pair in chain.iter().rev().skip(1) {
            node = node::merge(&node, &pair.node);
        }
        node
    }

    fn choice(&mut self, words: &'static [Word], node: &Node, subject: &str) -> Option<usize> {
        let names = || words.iter().map(|w| w.word);
        let Some(text) = node.text() else {
            return self.wrong_type(node, subject, &format!("one of {}", listed(names())));
        };
        if let Some(index) = words.iter().position(|w| *w.word == **text) {
            return Some(index);
        }
        let message = format!("{} is none of the words that `{subject}` takes", quoted(text));
        let finding = problem("word-unknown", subject, message, node.span.clone())
            .note(format!("it takes {}", listed(names())));
        self.findings.push(match nearest(text, names()) {
            Some(near) => finding.edit(format!("write `{near}`"), node.span.clone(), quote(near), Trust::Ask),
            None => finding.remedy("take the word that fits"),
        });
        None
    }

    fn one_text(&mut self, node: &Node, subject: &str) -> Option<Text> {
        match node.text() {
            Some(text) => Some(Text { text: text.clone(), span: node.span.clone() }),
            None => self.wrong_type(node, subject, "a text in quotation marks"),
        }
    }

    fn texts(&mut self, node: &Node, subject: &str) -> Option<Vec<Text>> {
        match &node.data {
            node::Data::List(items) => {
                Some(items.iter().filter_map(|item| self.one_text(item, subject)).collect())
            }
            node::Data::Text(_) => self.one_text(node, subject).map(|text| vec![text]),
            _ => self.wrong_type(node, subject, "a text in quotation marks, or a list of texts"),
        }
    }
}

/// All keys of a kind, those of flat tables among them.
pub(crate) fn keys_of(kind: &'static Kind) -> Vec<&'static str> {
    let mut keys = Vec::new();
    for field in kind.fields {
        match field.form {
            Form::Flat(flat) => keys.extend(keys_of(flat)),
            _ => keys.push(field.key),
        }
    }
    keys
}

fn starts_a_number(text: &str) -> bool {
    text.trim_start_matches(['+', '-', '−', '±', '~', ' '])
        .starts_with(|c: char| c.is_ascii_digit() || c == '.')
}

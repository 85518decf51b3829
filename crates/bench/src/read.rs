//! Reads trees of TOML into records: every key against the table of its kind, all problems at once.

pub(crate) mod datum;

use crate::files::{Files, LARGEST_FILE, ReadError};
use crate::kind::{Field, Form, Kind};
use crate::nearest::nearest;
use crate::node::{self, Node, Pair, SlipKind};
use crate::part;
use crate::problem::{Build, listed, problem, quoted};
use crate::record::{Data, Entry, Home, SettingData, Slot, Table, Text, Value, join};
use finding::{Finding, SourceMap, Span, Trust};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use worked::How;

/// Most problems that are told of one file; the rest is counted.
const MOST_PROBLEMS: usize = 200;

/// Part kinds by the word that stands in `kind`.
const PART_KINDS: &[&Kind] = &[
    part::Controller::KIND,
    part::Driver::KIND,
    part::Motor::KIND,
    part::Gearbox::KIND,
    part::Encoder::KIND,
    part::Servo::KIND,
    part::Stepper::KIND,
    part::Supply::KIND,
    part::Cable::KIND,
];

/// The kinds of part that a file can describe.
pub fn part_kinds() -> &'static [&'static Kind] {
    PART_KINDS
}

/// Reads files once each and gathers what is wrong with them.
pub(crate) struct Reader<'a> {
    files: &'a dyn Files,
    pub(crate) sources: SourceMap,
    lines: BTreeMap<Arc<str>, Vec<usize>>,
    trees: BTreeMap<String, Option<Node>>,
    parts: BTreeMap<String, Option<Arc<Data>>>,
    pub(crate) findings: Vec<Finding>,
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
            findings: Vec::new(),
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

    /// The whole bench file as a record; `None` where there is none to read.
    pub(crate) fn bench_file(&mut self, kind: &'static Kind) -> Option<Arc<Data>> {
        let tree = match self.files.read("bench.toml") {
            Err(ReadError::Missing) if self.files.changes("bench.toml").is_empty() => {
                let at = Span { file: "bench.toml".into(), start: 0, end: 0 };
                let found = self.files.names();
                let mut missing = problem("bench-file-missing", "", "there is no `bench.toml` in this folder", at)
                    .remedy("name the folder that holds it, or write a first one with `firstspin new DIR`");
                if let Some(near) = found.iter().find(|name| name.ends_with("/bench.toml")) {
                    missing = missing.note(format!("there is one at {}", quoted(near)));
                }
                self.findings.push(missing);
                None
            }
            _ => self.tree("bench.toml", None),
        }?;
        Some(self.table(kind, &tree, ""))
    }

    /// The tree of a file with all changes laid over it. `asked` is where the bench names the file.
    fn tree(&mut self, path: &str, asked: Option<&Span>) -> Option<Node> {
        if let Some(tree) = self.trees.get(path) {
            return tree.clone();
        }
        let tree = self.read_tree(path, asked);
        self.trees.insert(path.to_owned(), tree.clone());
        tree
    }

    fn read_tree(&mut self, path: &str, asked: Option<&Span>) -> Option<Node> {
        let name: Arc<str> = path.into();
        let bytes = match path.strip_prefix("builtin:") {
            Some(part) => match crate::builtin::part(part) {
                Some(text) => text.as_bytes().to_vec(),
                None => {
                    self.no_builtin(part, asked);
                    return None;
                }
            },
            None => match self.files.read(path) {
                Ok(bytes) => bytes,
                Err(error) => {
                    self.unreadable(path, &error, asked);
                    return None;
                }
            },
        };
        let text = self.decode(&name, bytes)?;
        let mut tree = self.parse(&name, text)?;
        for (shown, change) in self.files.changes(path) {
            let mut over = self.parse(&shown, change)?;
            for gone in take_without(&mut over) {
                if !node::remove(&mut tree, &gone.text) {
                    let message = format!("there is no {} to take away", quoted(&gone.text));
                    self.findings.push(problem("name-unknown", "", message, gone.span));
                }
            }
            tree = node::merge(&tree, &over);
        }
        Some(tree)
    }

    fn parse(&mut self, name: &Arc<str>, text: Arc<str>) -> Option<Node> {
        let mut starts = vec![0];
        starts.extend(text.bytes().enumerate().filter(|(_, b)| *b == b'\n').map(|(i, _)| i + 1));
        self.lines.insert(name.clone(), starts);
        self.sources.insert(name.clone(), text.clone());
        let (tree, slips) = node::parse(name, &text);
        let broken = !slips.is_empty();
        for slip in slips {
            let id = match slip.kind {
                SlipKind::Syntax => "notation",
                SlipKind::Twice => "key-twice",
                SlipKind::Deep => "nested-too-deep",
            };
            let at = Span { file: name.clone(), start: slip.range.start, end: slip.range.end };
            let mut finding = problem(id, "", slip.message, at);
            if id == "key-twice" {
                finding = finding.remedy("keep one of the two");
            }
            self.findings.push(finding);
        }
        // A file with broken notation is still walked: what could be read shows its own problems.
        let empty = tree.pairs().is_none_or(|pairs| pairs.is_empty());
        if broken && empty { None } else { Some(tree) }
    }

    fn decode(&mut self, name: &Arc<str>, bytes: Vec<u8>) -> Option<Arc<str>> {
        let whole = Span { file: name.clone(), start: 0, end: 0 };
        if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
            let message = "the file is UTF-16 text; UTF-8 is due";
            let finding = problem("file-not-text", "", message, whole).remedy("save it again as UTF-8");
            self.findings.push(finding);
            return None;
        }
        match String::from_utf8(bytes) {
            Ok(text) if text.contains('\0') => {
                let message = "the file holds NUL bytes: it is no text";
                self.findings.push(problem("file-not-text", "", message, whole).remedy("name the text file that was meant"));
                None
            }
            // The mark stays out of the text: it would shift the first column.
            Ok(text) => Some(text.strip_prefix('\u{feff}').unwrap_or(&text).into()),
            Err(error) => {
                let at = error.utf8_error().valid_up_to();
                let line = error.as_bytes()[..at].iter().filter(|b| **b == b'\n').count() + 1;
                let message = format!("line {line} holds a byte that is no UTF-8");
                self.findings.push(problem("file-not-text", "", message, whole).remedy("save the file again as UTF-8"));
                None
            }
        }
    }

    fn unreadable(&mut self, path: &str, error: &ReadError, asked: Option<&Span>) {
        let at = asked.cloned().unwrap_or(Span { file: path.into(), start: 0, end: 0 });
        let id = match error {
            ReadError::Missing => "file-missing",
            ReadError::Folder => "file-is-a-folder",
            ReadError::Outside => "path-leaves-the-bench",
            ReadError::TooLarge { .. } => "file-too-large",
            ReadError::Special | ReadError::Refused(_) => "file-not-readable",
        };
        let mut finding = problem(id, "", format!("{} cannot be read: {error}", quoted(path)), at.clone());
        finding = match error {
            ReadError::Missing => {
                let names = self.files.names();
                match nearest(path, names.iter().map(String::as_str)).or_else(|| same_file_name(path, &names)) {
                    Some(near) => {
                        let text = format!("name {}", quoted(near));
                        finding.edit(text, at, quote(near), Trust::Ask)
                    }
                    None => finding.remedy("write the file, or name one that is there"),
                }
            }
            ReadError::Folder => finding.remedy("name a file in it"),
            ReadError::Outside => finding.remedy("copy the file into the bench folder: a bench carries all its files"),
            ReadError::TooLarge { .. } => {
                finding.remedy(format!("a part file has a few kB; keep it under {} MB", LARGEST_FILE >> 20))
            }
            ReadError::Special => finding.remedy("name a plain file"),
            ReadError::Refused(_) => finding.remedy("see to its permissions"),
        };
        self.findings.push(finding);
    }

    fn no_builtin(&mut self, part: &str, asked: Option<&Span>) {
        let at = asked.cloned().unwrap_or(Span { file: "bench.toml".into(), start: 0, end: 0 });
        let names = crate::builtin::names();
        let message = format!("there is no built-in part {}", quoted(part));
        let finding = problem("file-missing", "", message, at.clone());
        let finding = match nearest(part, names.iter().copied()) {
            Some(near) => {
                finding.edit(format!("take `builtin:{near}`"), at, quote(&format!("builtin:{near}")), Trust::Ask)
            }
            None => finding.remedy(format!("built-in parts are {}", listed(names.iter().copied()))),
        };
        self.findings.push(finding);
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
            let value = self.value(field, &pair.node, &home.table);
            slots.push(value.map(|value| Slot {
                key_span: pair.span.clone(),
                span: pair.node.span.clone(),
                value,
            }));
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
            Form::Whole { within, per_rev, .. } => self.whole(*within, *per_rev, node, &subject).map(Value::Datum),
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
                    return self.wrong_type(node, &subject, &format!("a list of tables, each under `[[{subject}]]`"));
                };
                let items: Vec<_> = items.iter().filter_map(|item| self.nested(kind, item, &subject)).collect();
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
                        Some(text) if *or_name && !starts_a_number(text) => Some(SettingData::Name(Text {
                            text: text.clone(),
                            span: pair.node.span.clone(),
                        })),
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

    fn entry(&mut self, pair: &Pair, table: Option<&'static Kind>, owner: &str, subject: &str) -> Option<Entry> {
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
                let message = format!("{} take over keys from one another in a circle", listed(round));
                let title = join(subject, &pair.key);
                self.findings.push(
                    problem("name-circular", &title, message, like.span.clone())
                        .remedy("take `like` away from one of them"),
                );
                return chain[0].node.clone();
            }
            let Some(next) = all.iter().find(|p| p.key == *name) else {
                let names: Vec<&str> = all.iter().map(|p| &*p.key).filter(|n| **n != *pair.key).collect();
                self.unknown_name(&join(subject, &pair.key), name, &like.span, subject, &names);
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

    /// A part by the path of its file, or by a table with `file` and keys that replace those of the file.
    fn part(&mut self, kind: &'static Kind, node: &Node, subject: &str) -> Option<Arc<Data>> {
        match &node.data {
            node::Data::Text(path) => self.part_file(kind, path, &node.span, subject),
            node::Data::Table(pairs) => {
                let own: Vec<Pair> = pairs.iter().filter(|p| &*p.key != "file").cloned().collect();
                let own = Node { span: node.span.clone(), data: node::Data::Table(Arc::new(own)) };
                let Some(file) = node.get("file") else {
                    return Some(self.part_table(kind, &own, subject, false));
                };
                let Some(path) = file.text().cloned() else {
                    return self.wrong_type(file, &join(subject, "file"), "the path of a part file");
                };
                let path = self.safe_path(&path, &file.span, subject)?;
                let base = self.tree(&path, Some(&file.span))?;
                self.kind_fits(kind, &base, &path, &file.span, subject)?;
                let merged = node::merge(&base, &own);
                let keep = self.enter(&base);
                let data = self.part_table(kind, &merged, subject, true);
                self.manner = keep;
                Some(data)
            }
            _ => self.wrong_type(node, subject, "the path of a part file, or a table of its figures"),
        }
    }

    /// A part file, read once for all devices made of it.
    fn part_file(&mut self, kind: &'static Kind, path: &str, asked: &Span, subject: &str) -> Option<Arc<Data>> {
        let path = self.safe_path(path, asked, subject)?;
        let tree = self.tree(&path, Some(asked))?;
        self.kind_fits(kind, &tree, &path, asked, subject)?;
        if let Some(data) = self.parts.get(&path) {
            return data.clone();
        }
        let keep = self.enter(&tree);
        let data = self.part_table(kind, &tree, "", true);
        self.manner = keep;
        self.parts.insert(path, Some(data.clone()));
        Some(data)
    }

    fn part_table(&mut self, kind: &'static Kind, tree: &Node, title: &str, with_kind: bool) -> Arc<Data> {
        let Some(pairs) = tree.pairs() else { return self.table(kind, tree, title) };
        let rest: Vec<Pair> =
            pairs.iter().filter(|pair| !((with_kind || title.is_empty()) && &*pair.key == "kind")).cloned().collect();
        let node = Node { span: tree.span.clone(), data: node::Data::Table(Arc::new(rest)) };
        self.table(kind, &node, title)
    }

    /// Takes what a part file says about all its figures; returns what held before.
    fn enter(&mut self, tree: &Node) -> Manner {
        let how = match tree.get("how").and_then(Node::text).map(|text| &**text) {
            Some("datasheet") => How::Datasheet,
            Some("measured") => How::Measured,
            Some("assumed") => How::Assumed,
            _ => How::Stated,
        };
        let from = tree.get("sheet").and_then(Node::text).cloned();
        std::mem::replace(&mut self.manner, Manner { file: Some(tree.span.file.clone()), how, from })
    }

    fn kind_fits(&mut self, kind: &'static Kind, tree: &Node, path: &str, asked: &Span, subject: &str) -> Option<()> {
        let Some(word) = tree.get("kind") else {
            let at = Span { file: tree.span.file.clone(), start: 0, end: 0 };
            let message = format!("{} does not say what kind of part it describes", quoted(path));
            let text = format!("write `kind = \"{}\"` at its top", kind.name);
            self.findings.push(
                problem("key-missing", path, message, at.clone())
                    .also(asked.clone(), format!("taken as a {} here", kind.name))
                    .edit(text, at, format!("kind = \"{}\"\n", kind.name), Trust::Ask),
            );
            return None;
        };
        let Some(name) = word.text() else {
            return self.wrong_type(word, "kind", "the kind of part as a text");
        };
        if **name == *kind.name {
            return Some(());
        }
        let names = PART_KINDS.iter().map(|k| k.name);
        if PART_KINDS.iter().any(|k| *k.name == **name) {
            let message = format!("{} is a {name}; a {} is due", quoted(path), kind.name);
            let finding = problem("part-of-wrong-kind", subject, message, asked.clone());
            self.findings.push(finding.also(word.span.clone(), "it says so here").remedy(format!("name a {}", kind.name)));
        } else {
            let message = format!("{} is no kind of part", quoted(name));
            let finding = problem("word-unknown", path, message, word.span.clone());
            let near = nearest(name, names.clone()).unwrap_or(kind.name);
            self.findings.push(finding.note(format!("kinds of part are {}", listed(names))).edit(
                format!("write `{near}`"),
                word.span.clone(),
                quote(near),
                Trust::Ask,
            ));
        }
        None
    }

    /// A path inside the bench folder, with `/` between its parts.
    fn safe_path(&mut self, path: &str, at: &Span, subject: &str) -> Option<String> {
        if path.starts_with("builtin:") {
            return Some(path.to_owned());
        }
        let absolute = path.starts_with(['/', '\\']) || path.get(1..2) == Some(":");
        let mut parts: Vec<&str> = Vec::new();
        let mut outside = absolute || path.contains('\0');
        for part in path.split(['/', '\\']) {
            match part {
                "" | "." => {}
                ".." => outside |= parts.pop().is_none(),
                part => parts.push(part),
            }
        }
        if outside || parts.is_empty() {
            let message = match parts.is_empty() && !outside {
                true => "the path is empty".to_owned(),
                false => format!("{} leads out of the bench folder", quoted(path)),
            };
            let remedy = "copy the file into the bench folder and name it from there, such as `parts/motor.toml`";
            self.findings.push(problem("path-leaves-the-bench", subject, message, at.clone()).remedy(remedy));
            return None;
        }
        Some(parts.join("/"))
    }

    fn choice(&mut self, words: &'static [crate::kind::Word], node: &Node, subject: &str) -> Option<usize> {
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

    fn name_twice(&mut self, items: &[Arc<Data>], subject: &str) {
        let mut seen: BTreeMap<String, Span> = BTreeMap::new();
        for item in items {
            let Some(name) = crate::record::name_of(item) else { continue };
            let at = item.slots.iter().flatten().next().map_or(item.home.span.clone(), |slot| slot.span.clone());
            if let Some(first) = seen.get(name) {
                let message = format!("two of `{subject}` are called {}", quoted(name));
                let finding = problem("name-twice", subject, message, at);
                self.findings.push(finding.also(first.clone(), "the first one").remedy("give one of them another name"));
            } else {
                seen.insert(name.to_owned(), at);
            }
        }
    }

    /// `free` are the keys of the kind that the table does not give yet: one of them may be meant.
    fn unknown_key(&mut self, kind: &'static Kind, pair: &Pair, keys: &[&str], free: &[&str], title: &str) {
        let whole = if title.is_empty() { format!("a {}", kind.name) } else { format!("`{title}`") };
        let message = format!("{} is no key of {whole}", quoted(&pair.key));
        let finding = problem("key-unknown", &join(title, &pair.key), message, pair.span.clone());
        self.findings.push(match nearest(&pair.key, free.iter().copied()) {
            Some(near) => finding.edit(format!("write `{near}`"), pair.span.clone(), near, Trust::Safe),
            None => finding.note(format!("its keys are {}", listed(keys.iter().copied()))).remedy("take it away"),
        });
    }

    fn missing_key(&mut self, kind: &'static Kind, field: &'static Field, home: &Home) {
        let whole = match &*home.table {
            "" => format!("the {}", kind.name),
            title => format!("`{title}`"),
        };
        let message = format!("{whole} needs `{}`: {}", field.key, field.text);
        let mut span = home.span.clone();
        // The header alone is marked, not all lines below it.
        if let Some(text) = self.sources.text(&span.file) {
            let line_end = text.get(span.start..).and_then(|rest| rest.find('\n')).map_or(text.len(), |n| span.start + n);
            span.end = span.end.min(line_end);
        }
        let example = match &field.form {
            Form::Choice { words, .. } => format!("it takes {}", listed(words.iter().map(|w| w.word))),
            _ => format!("write `{} = …` in this table", field.key),
        };
        self.findings.push(problem("key-missing", &home.table, message, span).remedy(example));
    }

    /// A name that refers to nothing.
    pub(crate) fn unknown_name(&mut self, subject: &str, name: &str, at: &Span, what: &str, names: &[&str]) {
        self.findings.push(unknown_name(subject, name, at, what, names));
    }

    fn wrong_type<T>(&mut self, node: &Node, subject: &str, due: &str) -> Option<T> {
        let message = format!("`{subject}` is {}; {due} is due", node.what());
        let finding = problem("wrong-type", subject, message, node.span.clone());
        self.findings.push(finding.remedy(format!("write {due}")));
        None
    }

}

/// Findings in the order of the files, none twice, of each file not more than [`MOST_PROBLEMS`].
pub(crate) fn settle(findings: Vec<Finding>, sources: &SourceMap) -> Vec<Finding> {
    let order: BTreeMap<&str, usize> = sources.iter().enumerate().map(|(i, (name, _))| (&**name, i)).collect();
    let place = |finding: &Finding| match &finding.at {
        Some(span) => (order.get(&*span.file).copied().unwrap_or(usize::MAX), span.start, span.end),
        None => (usize::MAX, 0, 0),
    };
    let mut findings = findings;
    findings.sort_by_key(place);
    let mut seen = BTreeSet::new();
    findings.retain(|finding| seen.insert((place(finding), finding.id.clone(), finding.message.clone())));
    let mut counts: BTreeMap<Arc<str>, usize> = BTreeMap::new();
    findings.retain(|finding| match &finding.at {
        Some(span) => {
            let count = counts.entry(span.file.clone()).or_default();
            *count += 1;
            *count <= MOST_PROBLEMS
        }
        None => true,
    });
    for (file, count) in counts {
        if let Some(rest) = count.checked_sub(MOST_PROBLEMS).filter(|rest| *rest > 0) {
            let at = Span { file, start: 0, end: 0 };
            let message = format!("{rest} more problems of this file are not printed");
            findings.push(problem("too-many-problems", "", message, at).remedy("see to the first ones"));
        }
    }
    findings
}

pub(crate) fn unknown_name(subject: &str, name: &str, at: &Span, what: &str, names: &[&str]) -> Finding {
    let message = format!("{} names none of the {what}", quoted(name));
    let finding = problem("name-unknown", subject, message, at.clone());
    match nearest(name, names.iter().copied()) {
        Some(near) => finding.edit(format!("write `{near}`"), at.clone(), quote(near), Trust::Ask),
        None if names.is_empty() => finding.remedy("describe it first: the bench has none yet"),
        None => finding.remedy(format!("there are {}", listed(names.iter().copied()))),
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

/// A text as it stands in a TOML file.
pub(crate) fn quote(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}

fn starts_a_number(text: &str) -> bool {
    text.trim_start_matches(['+', '-', '−', '±', '~', ' ']).starts_with(|c: char| c.is_ascii_digit() || c == '.')
}

/// What is wrong with a name that paths are made of.
fn bad_name(name: &str) -> Option<String> {
    let odd = name.chars().find(|c| matches!(c, '.' | ':' | '"' | '\'') || c.is_control());
    match odd {
        _ if name.is_empty() => Some("a name cannot be empty".to_owned()),
        Some(c) => Some(format!("the name {} holds `{}`, which paths are divided by", quoted(name), c.escape_default())),
        None => None,
    }
}

fn same_file_name<'a>(path: &str, names: &'a [String]) -> Option<&'a str> {
    let file = path.rsplit('/').next()?;
    let found = names.iter().find(|name| name.rsplit('/').next() == Some(file));
    found.map(String::as_str)
}

/// Takes the list `without` out of a change.
fn take_without(change: &mut Node) -> Vec<Text> {
    let node::Data::Table(pairs) = &mut change.data else { return Vec::new() };
    let pairs = Arc::make_mut(pairs);
    let Some(at) = pairs.iter().position(|pair| &*pair.key == "without") else { return Vec::new() };
    let node::Data::List(items) = pairs.remove(at).node.data else { return Vec::new() };
    let text = |item: &Node| item.text().map(|text| Text { text: text.clone(), span: item.span.clone() });
    items.iter().filter_map(text).collect()
}

//! A TOML file as a tree in which every key and value knows its file and bytes, so that trees of several files
//! can be laid over one another.

use crate::read::datum::LONG_FORM;
use finding::Span;
use std::ops::Range;
use std::sync::Arc;
use toml::de::{DeTable, DeValue};

/// Deepest nesting of tables and lists that is read.
pub(crate) const DEEPEST: usize = 24;

/// A value with its place.
#[derive(Clone, Debug)]
pub(crate) struct Node {
    pub(crate) span: Span,
    pub(crate) data: Data,
}

#[derive(Clone, Debug)]
pub(crate) enum Data {
    Text(Arc<str>),
    Whole { text: Arc<str>, value: Option<i64> },
    Number { text: Arc<str> },
    Flag(bool),
    Date(Arc<str>),
    List(Vec<Node>),
    Table(Arc<Vec<Pair>>),
}

/// One key of a table.
#[derive(Clone, Debug)]
pub(crate) struct Pair {
    pub(crate) key: Arc<str>,
    pub(crate) span: Span,
    pub(crate) node: Node,
}

/// A place in one file where something is wrong with the notation.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(crate) struct Slip {
    pub(crate) range: Range<usize>,
    pub(crate) message: String,
    pub(crate) kind: SlipKind,
}

#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum SlipKind {
    Syntax,
    Twice,
    Deep,
}

impl Node {
    /// What it is, for a message.
    pub(crate) fn what(&self) -> &'static str {
        match self.data {
            Data::Text(_) => "a text",
            Data::Whole { .. } => "a whole number",
            Data::Number { .. } => "a number",
            Data::Flag(_) => "true or false",
            Data::Date(_) => "a date",
            Data::List(_) => "a list",
            Data::Table(_) => "a table",
        }
    }

    pub(crate) fn pairs(&self) -> Option<&Arc<Vec<Pair>>> {
        match &self.data {
            Data::Table(pairs) => Some(pairs),
            _ => None,
        }
    }

    pub(crate) fn get(&self, key: &str) -> Option<&Node> {
        self.pairs()?.iter().find(|pair| &*pair.key == key).map(|pair| &pair.node)
    }

    pub(crate) fn text(&self) -> Option<&Arc<str>> {
        match &self.data {
            Data::Text(text) | Data::Date(text) => Some(text),
            _ => None,
        }
    }
}

/// Reads a file: the tree as far as it can be read, and all slips of notation.
pub(crate) fn parse(file: &Arc<str>, text: &str) -> (Node, Vec<Slip>) {
    if let Some(range) = deep_header(text) {
        let slip = Slip { range, message: too_deep(), kind: SlipKind::Deep };
        let empty = Data::Table(Arc::default());
        return (Node { span: Span { file: file.clone(), start: 0, end: 0 }, data: empty }, vec![slip]);
    }
    let (table, errors) = DeTable::parse_recoverable(text);
    let mut slips: Vec<Slip> = errors.iter().map(|error| slip(text, error)).collect();
    let span = table.span();
    let data = convert_table(file, table.get_ref(), 0, &mut slips);
    (node(file, span, data), slips)
}

/// Lays one tree over another: tables merge, everything else replaces. A quantity in its long form that says its value
/// replaces too: limits of another value do not hold for it.
pub(crate) fn merge(base: &Node, over: &Node) -> Node {
    match (&base.data, &over.data) {
        (Data::Table(_), Data::Table(_)) if says_its_value(over) => over.clone(),
        (Data::Table(below), Data::Table(above)) => {
            let mut pairs = Vec::clone(below);
            for pair in above.iter() {
                match pairs.iter_mut().find(|p| p.key == pair.key) {
                    Some(slot) => {
                        let merged = merge(&slot.node, &pair.node);
                        *slot = Pair { node: merged, ..pair.clone() };
                    }
                    None => pairs.push(pair.clone()),
                }
            }
            Node { span: over.span.clone(), data: Data::Table(Arc::new(pairs)) }
        }
        (Data::List(below), Data::List(above)) if is_named(below) && is_named(above) => {
            let mut items = below.clone();
            for item in above {
                match items.iter_mut().find(|i| name(i) == name(item)) {
                    Some(slot) => *slot = merge(slot, item),
                    None => items.push(item.clone()),
                }
            }
            Node { span: over.span.clone(), data: Data::List(items) }
        }
        _ => over.clone(),
    }
}

/// Takes a key away, given as a path such as `axes.left.encoder` or `limits.input.timer`. `false` where there
/// is none.
pub(crate) fn remove(node: &mut Node, path: &str) -> bool {
    match &mut node.data {
        Data::Table(pairs) => {
            let pairs = Arc::make_mut(pairs);
            let before = pairs.len();
            pairs.retain(|pair| &*pair.key != path);
            if pairs.len() < before {
                return true;
            }
            pairs
                .iter_mut()
                .any(|pair| below(path, &pair.key).is_some_and(|rest| remove(&mut pair.node, rest)))
        }
        Data::List(items) => {
            let before = items.len();
            items.retain(|item| name(item) != Some(path));
            items.len() < before
                || items.iter_mut().any(|item| {
                    let rest = name(item).and_then(|name| below(path, name)).map(str::to_owned);
                    rest.is_some_and(|rest| remove(item, &rest))
                })
        }
        _ => false,
    }
}

fn below<'a>(path: &'a str, key: &str) -> Option<&'a str> {
    path.strip_prefix(key)?.strip_prefix('.')
}

fn says_its_value(node: &Node) -> bool {
    let is_quantity = |pairs: &Arc<Vec<Pair>>| pairs.iter().all(|pair| LONG_FORM.contains(&&*pair.key));
    ["value", "typ"].iter().any(|key| node.get(key).is_some()) && node.pairs().is_some_and(is_quantity)
}

fn is_named(items: &[Node]) -> bool {
    !items.is_empty() && items.iter().all(|item| name(item).is_some())
}

fn name(item: &Node) -> Option<&str> {
    let name = item.get("name").or_else(|| item.get("id"))?;
    name.text().map(|text| &**text)
}

fn node(file: &Arc<str>, span: Range<usize>, data: Data) -> Node {
    Node { span: Span { file: file.clone(), start: span.start, end: span.end }, data }
}

fn convert_table(file: &Arc<str>, table: &DeTable<'_>, depth: usize, slips: &mut Vec<Slip>) -> Data {
    let mut pairs = Vec::with_capacity(table.len());
    for (key, value) in table {
        let span = key.span();
        if depth >= DEEPEST {
            slips.push(Slip { range: span, message: too_deep(), kind: SlipKind::Deep });
            break;
        }
        pairs.push(Pair {
            key: key.get_ref().as_ref().into(),
            span: Span { file: file.clone(), start: span.start, end: span.end },
            node: convert(file, value.span(), value.get_ref(), depth + 1, slips),
        });
    }
    Data::Table(Arc::new(pairs))
}

fn convert(
    file: &Arc<str>,
    span: Range<usize>,
    value: &DeValue<'_>,
    depth: usize,
    slips: &mut Vec<Slip>,
) -> Node {
    let data = match value {
        DeValue::String(text) => Data::Text(text.as_ref().into()),
        DeValue::Integer(number) => Data::Whole {
            value: i64::from_str_radix(number.as_str(), number.radix()).ok(),
            text: if number.radix() == 10 { number.as_str().into() } else { number.to_string().into() },
        },
        DeValue::Float(number) => Data::Number { text: number.as_str().into() },
        DeValue::Boolean(flag) => Data::Flag(*flag),
        DeValue::Datetime(date) => Data::Date(date.to_string().into()),
        DeValue::Array(items) if depth >= DEEPEST => {
            slips.push(Slip { range: span.clone(), message: too_deep(), kind: SlipKind::Deep });
            let _ = items;
            Data::List(Vec::new())
        }
        DeValue::Array(items) => {
            let item = |item: &toml::Spanned<DeValue<'_>>| {
                convert(file, item.span(), item.get_ref(), depth + 1, slips)
            };
            Data::List(items.iter().map(item).collect())
        }
        DeValue::Table(table) => convert_table(file, table, depth, slips),
    };
    node(file, span, data)
}

fn too_deep() -> String {
    format!("tables and lists are nested more than {DEEPEST} deep")
}

fn slip(text: &str, error: &toml::de::Error) -> Slip {
    let range = error.span().unwrap_or(0..0);
    let range = range.start.min(text.len())..range.end.min(text.len());
    let message = error.message().trim().to_owned();
    match &*message {
        said if said.contains("duplicate") => Slip { range, message, kind: SlipKind::Twice },
        said if said.contains("recursion") => Slip { range, message: too_deep(), kind: SlipKind::Deep },
        _ => Slip { range, message, kind: SlipKind::Syntax },
    }
}

/// A key of very many parts, found before the parser builds (and drops) a tree that deep.
fn deep_header(text: &str) -> Option<Range<usize>> {
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        if line.len() > 2 * DEEPEST && line.bytes().filter(|b| *b == b'.').count() > 2 * DEEPEST {
            let key = line.split(['=', '#', '"', '\'']).next().unwrap_or("");
            if key.bytes().filter(|b| *b == b'.').count() > 2 * DEEPEST {
                return Some(at..at + key.trim_end().len().max(1));
            }
        }
        at += line.len();
    }
    None
}

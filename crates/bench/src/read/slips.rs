//! What is told of keys, names and types that do not fit, and in which order.

use super::Reader;
use crate::kind::{Field, Form, Kind};
use crate::nearest::nearest;
use crate::node::{Node, Pair};
use crate::problem::{Build, listed, problem, quoted};
use crate::record::{Data, Home, join, name_of};
use finding::{Finding, SourceMap, Span, Trust};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Most problems that are told of one file; the rest is counted.
const MOST_PROBLEMS: usize = 200;

impl Reader<'_> {
    pub(super) fn name_twice(&mut self, items: &[Arc<Data>], subject: &str) {
        let mut seen: BTreeMap<String, Span> = BTreeMap::new();
        for item in items {
            let Some(name) = name_of(item) else { continue };
            let at =
                item.slots.iter().flatten().next().map_or(item.home.span.clone(), |slot| slot.span.clone());
            if let Some(first) = seen.get(name) {
                let message = format!("two of `{subject}` are called {}", quoted(name));
                let finding = problem("name-twice", subject, message, at);
                self.findings.push(
                    finding.also(first.clone(), "the first one").remedy("give one of them another name"),
                );
            } else {
                seen.insert(name.to_owned(), at);
            }
        }
    }

    /// `free` are the keys of the kind that the table does not give yet: one of them may be meant.
    pub(super) fn unknown_key(
        &mut self,
        kind: &'static Kind,
        pair: &Pair,
        keys: &[&str],
        free: &[&str],
        title: &str,
    ) {
        let whole = if title.is_empty() { format!("a {}", kind.name) } else { format!("`{title}`") };
        let message = format!("{} is no key of {whole}", quoted(&pair.key));
        let finding = problem("key-unknown", &join(title, &pair.key), message, pair.span.clone());
        self.findings.push(match nearest(&pair.key, free.iter().copied()) {
            Some(near) => finding.edit(format!("write `{near}`"), pair.span.clone(), near, Trust::Safe),
            None => match nearest(&pair.key, keys.iter().copied()) {
                // Taken already; a table of tables takes any number.
                Some(near) if pair.node.pairs().is_some() => finding
                    .note(format!("`{near}` stands here as well"))
                    .edit(format!("write `{near}`"), pair.span.clone(), near, Trust::Ask),
                Some(near) => finding
                    .note(format!("`{near}` stands here as well"))
                    .remedy(format!("keep one of `{near}` and {}", quoted(&pair.key))),
                None => finding
                    .note(format!("its keys are {}", listed(keys.iter().copied())))
                    .remedy("take it away"),
            },
        });
    }

    pub(super) fn missing_key(&mut self, kind: &'static Kind, field: &'static Field, home: &Home) {
        let whole = match &*home.table {
            "" => format!("the {}", kind.name),
            title => format!("`{title}`"),
        };
        let message = format!("{whole} needs `{}`: {}", field.key, field.text);
        let mut span = home.span.clone();
        // The header alone is marked, not all lines below it.
        if let Some(text) = self.sources.text(&span.file) {
            let line_end = text
                .get(span.start..)
                .and_then(|rest| rest.find('\n'))
                .map_or(text.len(), |n| span.start + n);
            span.end = span.end.min(line_end);
        }
        let example = match &field.form {
            Form::Choice { words, .. } => format!("it takes {}", listed(words.iter().map(|w| w.word))),
            Form::Table(_) => format!("write a table `[{}]`", join(&home.table, field.key)),
            _ => format!("write `{} = …` in this table", field.key),
        };
        self.findings.push(problem("key-missing", &home.table, message, span).remedy(example));
    }

    pub(super) fn wrong_type<T>(&mut self, node: &Node, subject: &str, due: &str) -> Option<T> {
        let message = format!("`{subject}` is {}; {due} is due", node.what());
        let finding = problem("wrong-type", subject, message, node.span.clone());
        self.findings.push(finding.remedy(format!("write {due}")));
        None
    }
}

/// Findings in the order of the files, none twice, of each file not more than [`MOST_PROBLEMS`].
pub(crate) fn settle(findings: Vec<Finding>, sources: &SourceMap) -> Vec<Finding> {
    let order: BTreeMap<&str, usize> =
        sources.iter().enumerate().map(|(i, (name, _))| (&**name, i)).collect();
    let place = |finding: &Finding| match &finding.at {
        Some(span) => (order.get(&*span.file).copied().unwrap_or(usize::MAX), span.start, span.end),
        None => (usize::MAX, 0, 0),
    };
    let mut findings = findings;
    findings.sort_by_key(place);
    let mut seen = BTreeSet::new();
    // What two axes take over from one line is one problem, told for the first of them.
    // The message names the subject, or the table that it lies in.
    let said = |f: &Finding| {
        let tables = f.subject.rmatch_indices('.').map(|(end, _)| &f.subject[..end]);
        let named = std::iter::once(&*f.subject).chain(tables).filter(|path| !path.is_empty());
        named.fold(f.message.clone(), |message, path| message.replace(path, ""))
    };
    findings.retain(|finding| seen.insert((place(finding), finding.id.clone(), said(finding))));
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

/// A text as it stands in a TOML file.
pub(crate) fn quote(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}

/// What is wrong with a name that paths are made of.
pub(super) fn bad_name(name: &str) -> Option<String> {
    let odd = name.chars().find(|c| matches!(c, '.' | ':' | '"' | '\'') || c.is_control());
    match odd {
        _ if name.is_empty() => Some("a name cannot be empty".to_owned()),
        Some(c) => Some(format!(
            "the name {} holds `{}`, which paths are divided by",
            quoted(name),
            c.escape_default()
        )),
        None => None,
    }
}

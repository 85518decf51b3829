//! Part files, by path or with figures replaced.

use super::slips::quote;
use super::{Manner, Reader};
use crate::file::BenchFile;
use crate::kind::{Form, Kind};
use crate::nearest::nearest;
use crate::node::{self, Node, Pair};
use crate::part;
use crate::problem::{Build, listed, problem, quoted};
use crate::record::{Data, Table, join};
use finding::{Span, Trust};
use std::sync::Arc;
use worked::How;

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

/// Every kind of table: that of the bench file, those of the parts, and what stands in them.
pub fn all_kinds() -> Vec<&'static Kind> {
    fn add(kind: &'static Kind, kinds: &mut Vec<&'static Kind>) {
        let keys = |kind: &'static Kind| kind.fields.iter().map(|field| field.key);
        // One kind may lie at several addresses, so name and keys tell it.
        if kinds.iter().any(|known| known.name == kind.name && keys(known).eq(keys(kind))) {
            return;
        }
        kinds.push(kind);
        for field in kind.fields {
            match field.form {
                Form::Table(k) | Form::Flat(k) | Form::Tables(k) | Form::Named(k) | Form::Part(k) => {
                    add(k, kinds);
                }
                Form::Map { table: Some(k), .. } => add(k, kinds),
                _ => {}
            }
        }
    }
    let mut kinds = Vec::new();
    add(BenchFile::KIND, &mut kinds);
    PART_KINDS.iter().for_each(|kind| add(kind, &mut kinds));
    kinds
}

impl Reader<'_> {
    /// A part by the path of its file, or by a table with `file` and keys that replace those of the file.
    pub(super) fn part(&mut self, kind: &'static Kind, node: &Node, subject: &str) -> Option<Arc<Data>> {
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
    fn part_file(
        &mut self,
        kind: &'static Kind,
        path: &str,
        asked: &Span,
        subject: &str,
    ) -> Option<Arc<Data>> {
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
        let rest: Vec<Pair> = pairs
            .iter()
            .filter(|pair| !((with_kind || title.is_empty()) && &*pair.key == "kind"))
            .cloned()
            .collect();
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

    fn kind_fits(
        &mut self,
        kind: &'static Kind,
        tree: &Node,
        path: &str,
        asked: &Span,
        subject: &str,
    ) -> Option<()> {
        let Some(word) = tree.get("kind") else {
            let at = Span { file: tree.span.file.clone(), start: 0, end: 0 };
            let message = format!("{} does not say what kind of part it describes", quoted(path));
            let text = format!("write `kind = \"{}\"` at its top", kind.name);
            self.findings.push(
                problem("key-missing", path, message, at.clone())
                    .also(asked.clone(), format!("`{}` is due here", kind.name))
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
            let message = format!("{} is of kind `{name}`; `{}` is due", quoted(path), kind.name);
            let finding = problem("part-of-wrong-kind", subject, message, asked.clone());
            self.findings.push(
                finding
                    .also(word.span.clone(), "it says so here")
                    .remedy(format!("name a part of kind `{}`", kind.name)),
            );
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
}

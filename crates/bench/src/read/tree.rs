//! Files as trees: reading, decoding, changes laid over.

use super::Reader;
use super::slips::quote;
use crate::files::{LARGEST_FILE, ReadError};
use crate::kind::Kind;
use crate::nearest::nearest;
use crate::node::{self, Node, SlipKind};
use crate::problem::{Build, listed, problem, quoted};
use crate::record::{Data, Text};
use finding::{Span, Trust};
use std::sync::Arc;

impl Reader<'_> {
    /// The whole bench file as a record; `None` where there is none to read.
    pub(crate) fn bench_file(&mut self, kind: &'static Kind) -> Option<Arc<Data>> {
        let tree = match self.files.read("bench.toml") {
            Err(ReadError::Missing) if self.files.changes("bench.toml").is_empty() => {
                let at = Span { file: "bench.toml".into(), start: 0, end: 0 };
                let found = self.files.names();
                let mut missing =
                    problem("bench-file-missing", "", "there is no `bench.toml` in this folder", at).remedy(
                        "name the folder that holds it, or write a first one with `firstspin new DIR`",
                    );
                if let Some(near) = found.iter().find(|name| name.ends_with("/bench.toml")) {
                    missing = missing.note(format!("there is one at {}", quoted(near)));
                }
                self.findings.push(missing);
                None
            }
            _ => self.tree("bench.toml", None),
        }?;
        self.read_measured();
        Some(self.table(kind, &tree, ""))
    }

    /// The tree of a file with all changes laid over it. `asked` is where the bench names the file.
    pub(super) fn tree(&mut self, path: &str, asked: Option<&Span>) -> Option<Node> {
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
            let message = match slip.kind {
                SlipKind::Twice => {
                    format!("{} stands twice", quoted(text.get(slip.range.clone()).unwrap_or("")))
                }
                _ => slip.message.clone(),
            };
            let id = match slip.kind {
                SlipKind::Syntax => "notation",
                SlipKind::Twice => "key-twice",
                SlipKind::Deep => "nested-too-deep",
            };
            let at = Span { file: name.clone(), start: slip.range.start, end: slip.range.end };
            let way_out = match slip.kind {
                SlipKind::Syntax if slip.message.contains("quoted") => {
                    "texts and quantities stand in quotation marks: `key = \"24 V\"`"
                }
                SlipKind::Syntax => "see to quotation marks, brackets, commas and equals signs here",
                SlipKind::Twice => "keep one of the two",
                SlipKind::Deep => "no table of a bench lies that deep: see to the brackets",
            };
            let finding = problem(id, "", message, at).remedy(way_out);
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
                self.findings.push(
                    problem("file-not-text", "", message, whole).remedy("name the text file that was meant"),
                );
                None
            }
            // The mark stays out of the text: it would shift the first column.
            Ok(text) => Some(text.strip_prefix('\u{feff}').unwrap_or(&text).into()),
            Err(error) => {
                let at = error.utf8_error().valid_up_to();
                let line = error.as_bytes()[..at].iter().filter(|b| **b == b'\n').count() + 1;
                let message = format!("line {line} holds a byte that is no UTF-8");
                let place = Span { start: at, end: at + 1, ..whole };
                // For the eye: up to the broken byte it is the file to the letter.
                self.sources.insert(name.clone(), String::from_utf8_lossy(error.as_bytes()).into());
                self.findings.push(
                    problem("file-not-text", "", message, place).remedy("save the file again as UTF-8"),
                );
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
                let names = self.names.get_or_insert_with(|| self.files.names());
                match nearest(path, names.iter().map(String::as_str)).or_else(|| same_file_name(path, names))
                {
                    Some(near) => {
                        let text = format!("name {}", quoted(near));
                        finding.edit(text, at, quote(near), Trust::Ask)
                    }
                    None => finding.remedy("write the file, or name one that is there"),
                }
            }
            ReadError::Folder if asked.is_some() => finding.remedy("name a file in it"),
            ReadError::Folder => finding.remedy(format!(
                "move the folder away and write the file {}; `firstspin new` writes one to begin with",
                quoted(path)
            )),
            ReadError::Outside => {
                finding.remedy("copy the file into the bench folder: a bench carries all its files")
            }
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
            Some(near) => finding.edit(
                format!("take `builtin:{near}`"),
                at,
                quote(&format!("builtin:{near}")),
                Trust::Ask,
            ),
            None => finding.remedy(format!("built-in parts are {}", listed(names.iter().copied()))),
        };
        self.findings.push(finding);
    }

    /// A path inside the bench folder, with `/` between its parts.
    pub(super) fn safe_path(&mut self, path: &str, at: &Span, subject: &str) -> Option<String> {
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
            let remedy =
                "copy the file into the bench folder and name it from there, such as `parts/motor.toml`";
            self.findings.push(problem("path-leaves-the-bench", subject, message, at.clone()).remedy(remedy));
            return None;
        }
        Some(parts.join("/"))
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

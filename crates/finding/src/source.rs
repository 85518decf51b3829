//! Places in the user's files.

use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// A range of bytes in one of the user's files.
#[derive(Clone, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
pub struct Span {
    /// Path relative to the bench folder.
    pub file: Arc<str>,
    /// First byte.
    pub start: usize,
    /// Byte after the last.
    pub end: usize,
}

/// A span as a person names it.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
pub struct Place {
    /// Path relative to the bench folder.
    pub file: Arc<str>,
    /// Line, from 1.
    pub line: u32,
    /// Column in characters, from 1.
    pub column: u32,
}

/// The texts of all files that were read.
#[derive(Clone, Debug, Default)]
pub struct SourceMap {
    files: Vec<(Arc<str>, Arc<str>)>,
}

impl SourceMap {
    /// Adds a file; a name that is already there is replaced.
    pub fn insert(&mut self, name: Arc<str>, text: Arc<str>) {
        match self.files.iter_mut().find(|(n, _)| *n == name) {
            Some(slot) => slot.1 = text,
            None => self.files.push((name, text)),
        }
    }

    /// Text of a file.
    pub fn text(&self, name: &str) -> Option<&Arc<str>> {
        self.files.iter().find(|(n, _)| &**n == name).map(|(_, text)| text)
    }

    /// All files in the order they were read.
    pub fn iter(&self) -> impl Iterator<Item = (&Arc<str>, &Arc<str>)> {
        self.files.iter().map(|(name, text)| (name, text))
    }

    /// Line and column of the start of a span.
    pub fn place(&self, span: &Span) -> Option<Place> {
        let text = self.text(&span.file)?;
        let mut start = span.start.min(text.len());
        while !text.is_char_boundary(start) {
            start -= 1;
        }
        let before = &text[..start];
        let line = before.bytes().filter(|b| *b == b'\n').count() + 1;
        let column = before.rsplit('\n').next().unwrap_or("").chars().count() + 1;
        Some(Place { file: span.file.clone(), line: line as u32, column: column as u32 })
    }
}

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
    files: Vec<File>,
}

#[derive(Clone, Debug)]
struct File {
    name: Arc<str>,
    text: Arc<str>,
    /// First byte of each line.
    starts: Arc<[usize]>,
}

impl SourceMap {
    /// Adds a file; a name that is already there is replaced.
    pub fn insert(&mut self, name: Arc<str>, text: Arc<str>) {
        let after = text.bytes().enumerate().filter(|(_, byte)| *byte == b'\n').map(|(at, _)| at + 1);
        let starts = std::iter::once(0).chain(after).collect();
        let file = File { name, text, starts };
        match self.files.iter_mut().find(|known| known.name == file.name) {
            Some(slot) => *slot = file,
            None => self.files.push(file),
        }
    }

    /// Text of a file.
    pub fn text(&self, name: &str) -> Option<&Arc<str>> {
        self.file(name).map(|file| &file.text)
    }

    /// All files in the order they were read.
    pub fn iter(&self) -> impl Iterator<Item = (&Arc<str>, &Arc<str>)> {
        self.files.iter().map(|file| (&file.name, &file.text))
    }

    /// Line of the start of a span, from 1.
    pub fn line(&self, span: &Span) -> Option<u32> {
        let starts = &self.file(&span.file)?.starts;
        u32::try_from(starts.partition_point(|start| *start <= span.start)).ok()
    }

    /// Line and column of the start of a span. A place beyond the end of the file is taken as its end.
    pub fn place(&self, span: &Span) -> Option<Place> {
        let line = self.line(span)?;
        let (start, text) = self.line_text(&span.file, line)?;
        let mut end = span.start.saturating_sub(start).min(text.len());
        while !text.is_char_boundary(end) {
            end -= 1;
        }
        let column = text[..end].chars().count() + 1;
        Some(Place { file: span.file.clone(), line, column: u32::try_from(column).unwrap_or(u32::MAX) })
    }

    /// A line, from 1, without its end, and its first byte in the file.
    pub fn line_text(&self, name: &str, line: u32) -> Option<(usize, &str)> {
        let file = self.file(name)?;
        let at = (line as usize).checked_sub(1)?;
        let start = *file.starts.get(at)?;
        let end = file.starts.get(at + 1).map_or(file.text.len(), |next| next - 1);
        let text = file.text.get(start..end)?;
        Some((start, text.strip_suffix('\r').unwrap_or(text)))
    }

    fn file(&self, name: &str) -> Option<&File> {
        self.files.iter().find(|file| &*file.name == name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_count_lines_and_characters() {
        let mut sources = SourceMap::default();
        sources.insert("a".into(), "eins\r\nµ = 2\n\nend".into());
        let place =
            |start| sources.place(&Span { file: "a".into(), start, end: start }).map(|p| (p.line, p.column));
        assert_eq!(place(0), Some((1, 1)));
        // The µ has two bytes: the equals sign is the third character and byte 9.
        assert_eq!(place(9), Some((2, 3)));
        assert_eq!(place(7), Some((2, 1)), "inside of a character counts as its start");
        assert_eq!(place(13), Some((3, 1)));
        assert_eq!(place(14), Some((4, 1)));
        assert_eq!(place(999), Some((4, 4)));
        assert_eq!(sources.line_text("a", 1), Some((0, "eins")));
        assert_eq!(sources.line_text("a", 4), Some((14, "end")));
        assert_eq!(sources.line_text("a", 5), None);
        assert_eq!(sources.line_text("b", 1), None);
    }
}

//! How a line of a table is cut into cells, and what a cell can be.

use super::{number, stamp};
use std::borrow::Cow;
use std::fmt;

/// What stands between the cells of a line.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Separator {
    /// `,`
    Comma,
    /// `;`
    Semicolon,
    /// A tab.
    Tab,
    /// `|`
    Bar,
    /// Blanks or tabs, as many as there are: columns are lined up.
    Blanks,
}

impl Separator {
    /// All of them; where two fit alike, the first is taken.
    pub(super) const ALL: [Self; 5] = [Self::Tab, Self::Semicolon, Self::Comma, Self::Bar, Self::Blanks];

    /// The byte that separates; a blank stands for all of them.
    pub(super) fn byte(self) -> u8 {
        match self {
            Self::Comma => b',',
            Self::Semicolon => b';',
            Self::Tab => b'\t',
            Self::Bar => b'|',
            Self::Blanks => b' ',
        }
    }

    /// Whether a byte beside a cell belongs to no cell.
    fn pads(self, byte: u8) -> bool {
        byte == b' ' || (byte == b'\t' && self != Self::Tab)
    }
}

impl fmt::Display for Separator {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Comma => "comma",
            Self::Semicolon => "semicolon",
            Self::Tab => "tab",
            Self::Bar => "vertical bar",
            Self::Blanks => "blanks",
        })
    }
}

/// What stands between the whole part of a number and the rest.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Mark {
    /// `1.5`
    Point,
    /// `1,5`
    Comma,
}

impl Mark {
    pub(super) fn byte(self) -> u8 {
        match self {
            Self::Point => b'.',
            Self::Comma => b',',
        }
    }
}

impl fmt::Display for Mark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Point => "point",
            Self::Comma => "comma",
        })
    }
}

/// How the bytes of a file make characters.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Encoding {
    /// UTF-8, with its mark at the start or without.
    Utf8,
    /// UTF-16, the low byte first.
    Utf16Le,
    /// UTF-16, the high byte first.
    Utf16Be,
    /// ISO 8859-1, a byte a character: taken where the bytes are no UTF-8.
    Latin1,
}

impl fmt::Display for Encoding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Utf8 => "UTF-8",
            Self::Utf16Le => "UTF-16, low byte first",
            Self::Utf16Be => "UTF-16, high byte first",
            Self::Latin1 => "Latin-1",
        })
    }
}

/// What a cell is.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) enum Cell {
    /// Nothing, or a word for nothing.
    Gap,
    Number(f64),
    Stamp(stamp::Shape),
    Text,
}

impl Cell {
    pub(super) fn of(cell: &[u8], mark: Mark) -> Self {
        if let Some(value) = word(cell) {
            return if value.is_nan() { Self::Gap } else { Self::Number(value) };
        }
        if let Some(value) = number::of_cell(cell, mark.byte(), 0) {
            return Self::Number(value);
        }
        stamp::shape(cell).map_or(Self::Text, Self::Stamp)
    }
}

/// Cells of a line, without blanks and quotes around them.
pub(super) fn cells(line: &[u8], separator: Separator) -> Vec<Cow<'_, [u8]>> {
    let mut cells = Vec::new();
    let mut at = 0;
    loop {
        while line.get(at).is_some_and(|byte| separator.pads(*byte)) {
            at += 1;
        }
        if separator == Separator::Blanks && at == line.len() {
            return cells;
        }
        let cell;
        (cell, at) = cell_at(line, at, separator);
        cells.push(cell);
        if at >= line.len() {
            return cells;
        }
        at += 1;
    }
}

/// The cell that begins at a place, and where the separator or the end of the line behind it stands.
pub(super) fn cell_at(line: &[u8], from: usize, separator: Separator) -> (Cow<'_, [u8]>, usize) {
    let is_end =
        |byte: u8| byte == separator.byte() || (separator == Separator::Blanks && separator.pads(byte));
    if line.get(from) == Some(&b'"')
        && let Some((inside, behind)) = quoted(line, from)
    {
        let rest = line[behind..].iter().position(|byte| is_end(*byte) || !separator.pads(*byte));
        let end = rest.map_or(line.len(), |rest| behind + rest);
        if line.get(end).is_none_or(|byte| is_end(*byte)) {
            return (inside, end);
        }
    }
    let end = line[from..].iter().position(|byte| is_end(*byte)).map_or(line.len(), |length| from + length);
    let mut last = end;
    while last > from && separator.pads(line[last - 1]) {
        last -= 1;
    }
    (Cow::Borrowed(&line[from..last]), end)
}

/// What stands between the quote at a place and the one that ends it, and the place behind that.
fn quoted(line: &[u8], from: usize) -> Option<(Cow<'_, [u8]>, usize)> {
    let mut doubled = false;
    let mut at = from + 1;
    loop {
        at += memchr::memchr(b'"', line.get(at..)?)?;
        if line.get(at + 1) == Some(&b'"') {
            doubled = true;
            at += 2;
            continue;
        }
        let inside = &line[from + 1..at];
        let inside = if doubled {
            let mut text = Vec::with_capacity(inside.len());
            let mut bytes = inside.iter();
            while let Some(byte) = bytes.next() {
                text.push(*byte);
                if *byte == b'"' {
                    bytes.next();
                }
            }
            Cow::Owned(text)
        } else {
            Cow::Borrowed(inside)
        };
        return Some((trimmed(inside), at + 1));
    }
}

fn trimmed(text: Cow<'_, [u8]>) -> Cow<'_, [u8]> {
    match text {
        Cow::Borrowed(text) => Cow::Borrowed(text.trim_ascii()),
        Cow::Owned(text) => Cow::Owned(text.trim_ascii().to_vec()),
    }
}

/// What a cell says that holds no digits: nothing, that it is not known, or that it is beyond all bounds.
pub(super) fn word(cell: &[u8]) -> Option<f64> {
    if cell.len() > 10 || cell.first().is_some_and(u8::is_ascii_digit) {
        // `1.#QNAN` begins with a digit, and is no number all the same.
        return cell
            .starts_with(b"1.#")
            .then(|| if cell.starts_with(b"1.#INF") { f64::INFINITY } else { f64::NAN });
    }
    let (sign, bare) = match cell {
        [b'-', bare @ ..] => (-1.0, bare),
        [b'+', bare @ ..] => (1.0, bare),
        bare => (1.0, bare),
    };
    let is = |words: &[&str]| words.iter().any(|word| bare.eq_ignore_ascii_case(word.as_bytes()));
    if is(&["inf", "infinity", "1.#INF", "1.#J"]) || bare == "∞".as_bytes() {
        return Some(sign * f64::INFINITY);
    }
    let unknown = [
        "", "nan", "na", "n/a", "#n/a", "null", "none", "nil", "-", "--", "#num!", "1.#IND", "1.#QNAN", "ol",
    ];
    is(&unknown).then_some(f64::NAN)
}

/// Bytes as a person reads them: UTF-8, or else Latin-1.
pub(crate) fn text(bytes: &[u8]) -> String {
    match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        Err(_) => bytes.iter().map(|byte| char::from(*byte)).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cut(line: &str, separator: Separator) -> Vec<String> {
        cells(line.as_bytes(), separator).iter().map(|cell| text(cell)).collect()
    }

    #[test]
    fn lines_are_cut_as_their_dialect_says() {
        for (line, separator, want) in [
            ("1,2,3", Separator::Comma, vec!["1", "2", "3"]),
            ("1, 2 ,3", Separator::Comma, vec!["1", "2", "3"]),
            ("1,,", Separator::Comma, vec!["1", "", ""]),
            ("", Separator::Comma, vec![""]),
            // RFC 4180, section 2, rules 5 to 7.
            ("\"a,b\",\"say \"\"so\"\"\", \"c\" ", Separator::Comma, vec!["a,b", "say \"so\"", "c"]),
            ("12\" disc,3", Separator::Comma, vec!["12\" disc", "3"]),
            ("\"open,3", Separator::Comma, vec!["\"open", "3"]),
            ("  1   2\t3  ", Separator::Blanks, vec!["1", "2", "3"]),
            ("1\t\t3", Separator::Tab, vec!["1", "", "3"]),
            ("", Separator::Blanks, vec![]),
            ("0,5;1,5", Separator::Semicolon, vec!["0,5", "1,5"]),
        ] {
            assert_eq!(cut(line, separator), want, "{line}");
        }
    }

    #[test]
    fn cells_are_told_apart() {
        for cell in ["", "NaN", "n/a", "-", "#N/A", "null", "1.#QNAN", "OL"] {
            assert_eq!(Cell::of(cell.as_bytes(), Mark::Point), Cell::Gap, "{cell}");
        }
        assert_eq!(Cell::of(b"-Inf", Mark::Point), Cell::Number(f64::NEG_INFINITY));
        assert_eq!(Cell::of(b"1.#INF", Mark::Point), Cell::Number(f64::INFINITY));
        assert_eq!(Cell::of(b"1,5", Mark::Comma), Cell::Number(1.5));
        assert_eq!(Cell::of(b"1,5", Mark::Point), Cell::Text);
        assert!(matches!(Cell::of(b"2024-05-01", Mark::Point), Cell::Stamp(_)));
    }
}

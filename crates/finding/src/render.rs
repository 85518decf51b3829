//! Findings as text for the terminal: the message, the lines of the file with a caret under the culprit, and
//! the ways out.

use crate::{Finding, Severity, SourceMap, Span, Trust};
use std::fmt::Write as _;

/// How findings are drawn.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Look {
    /// Columns that are there.
    pub width: usize,
    /// With escape codes for colour.
    pub colour: bool,
}

impl Default for Look {
    fn default() -> Self {
        Self { width: 100, colour: false }
    }
}

/// A finding with its lines, several lines long, ending in a line feed.
///
/// ```
/// use finding::{Finding, Harm, Severity, SourceMap, Span, render};
///
/// let mut sources = SourceMap::default();
/// sources.insert("bench.toml".into(), "[fuses.main]\nrating = \"6.3 V\"\n".into());
/// let at = Span { file: "bench.toml".into(), start: 23, end: 28 };
/// let finding = Finding {
///     id: "quantity-not-understood".to_owned(),
///     severity: Severity::Blocker,
///     harm: Harm::Function,
///     subject: "fuses.main.rating".to_owned(),
///     message: "a voltage stands where a current is due".to_owned(),
///     at: Some(at),
///     related: Vec::new(),
///     notes: Vec::new(),
///     figures: Vec::new(),
///     remedies: Vec::new(),
///     accepted: None,
///     decided: true,
/// };
/// let text = "\
/// blocker[quantity-not-understood]: a voltage stands where a current is due
///   --> bench.toml:2:11
/// 2 | rating = \"6.3 V\"
///   |           ^^^^^
/// ";
/// assert_eq!(render::long(&finding, &sources, render::Look::default()), text);
/// ```
pub fn long(finding: &Finding, sources: &SourceMap, look: Look) -> String {
    let mut pen = Pen { text: String::new(), look, gutter: gutter(finding, sources) };
    pen.title(finding);
    pen.lines(finding, sources);
    for note in &finding.notes {
        pen.remark("note", note);
    }
    for figure in &finding.figures {
        match figure.steps.last() {
            Some(step) => pen.remark("nominal", &step.text),
            None => pen.remark("nominal", &format!("{} {} = {}", figure.name, figure.symbol, figure.text)),
        }
    }
    for remedy in &finding.remedies {
        let word = match remedy.trust {
            Trust::Safe => "fix",
            Trust::Ask => "ask",
            Trust::Manual => "by hand",
        };
        pen.remark(word, &remedy.text);
        if let Some(edit) = &remedy.edit {
            pen.added(&edit.text);
        }
    }
    if let Some(reason) = &finding.accepted {
        pen.remark("accepted", reason);
    }
    pen.text
}

/// A finding on one line: `bench.toml:2:11: blocker[id]: message`.
pub fn short(finding: &Finding, sources: &SourceMap) -> String {
    let place = match &finding.at {
        Some(span) => match sources.place(span) {
            Some(place) => format!("{}:{}:{}: ", place.file, place.line, place.column),
            None => format!("{}: ", span.file),
        },
        None => String::new(),
    };
    let (word, standing) = (word(finding.severity), standing(finding));
    format!("{}{word}[{}]{standing}: {}", visible(&place), finding.id, visible(&finding.message))
}

/// What has to be known before the message is read: that it is accepted, or not decided.
pub fn standing(finding: &Finding) -> &'static str {
    match (&finding.accepted, finding.decided) {
        (Some(_), _) => " (accepted)",
        (None, false) => " (not decided)",
        (None, true) => "",
    }
}

/// The word for a severity.
pub fn word(severity: Severity) -> &'static str {
    match severity {
        Severity::Blocker => "blocker",
        Severity::Weakness => "weakness",
        Severity::Note => "note",
    }
}

/// Text with control characters made visible, so that a file cannot speak to the terminal.
pub fn visible(text: &str) -> String {
    text.chars().map(|c| if is_hidden(c) { '\u{fffd}' } else { c }).collect()
}

/// Text in which a number and its unit cannot be torn apart where lines are broken.
pub fn units_bound(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut chars = text.chars().peekable();
    let mut before = ' ';
    while let Some(c) = chars.next() {
        let unit = chars.peek().is_some_and(|next| UNITS_BEGIN.contains(*next));
        out.push(if c == ' ' && before.is_ascii_digit() && unit { '\u{a0}' } else { c });
        before = c;
    }
    out
}

/// What units after a number begin with.
const UNITS_BEGIN: &str = "AVWΩmkMµnsgNHFKr°%";

const RED: &str = "\u{1b}[1;31m";
const YELLOW: &str = "\u{1b}[1;33m";
const CYAN: &str = "\u{1b}[1;36m";
const BLUE: &str = "\u{1b}[1;34m";
const BOLD: &str = "\u{1b}[1m";
const PLAIN: &str = "\u{1b}[0m";

/// Columns between two stops of a tab.
const TAB: usize = 4;

struct Pen {
    text: String,
    look: Look,
    /// Digits of the largest line number.
    gutter: usize,
}

/// One line of a file with what is marked on it.
struct Marked<'a> {
    line: u32,
    text: &'a str,
    marks: Vec<Mark<'a>>,
}

struct Mark<'a> {
    /// Bytes of the line.
    start: usize,
    end: usize,
    main: bool,
    label: &'a str,
    /// The span goes on below the line.
    open: bool,
}

impl Pen {
    fn title(&mut self, finding: &Finding) {
        let colour = colour(finding.severity);
        let head = format!("{}[{}]", word(finding.severity), finding.id);
        let message = format!("{head}{}: {}", standing(finding), visible(&finding.message));
        let wrapped = wrap(&message, self.look.width, 4);
        for (i, line) in wrapped.iter().enumerate() {
            match (i, line.strip_prefix(&head)) {
                (0, Some(rest)) => {
                    self.paint(colour, &head);
                    self.paint(BOLD, rest);
                }
                _ => self.paint(BOLD, line),
            }
            self.text.push('\n');
        }
    }

    /// The lines of all files that take part, the file of the finding itself first.
    fn lines(&mut self, finding: &Finding, sources: &SourceMap) {
        let mut files: Vec<&str> = Vec::new();
        for span in finding.at.iter().chain(finding.related.iter().map(|(span, _)| span)) {
            if !files.contains(&&*span.file) {
                files.push(&span.file);
            }
        }
        for (i, file) in files.iter().enumerate() {
            let spans = finding.at.iter().map(|span| (span, "", true));
            let spans =
                spans.chain(finding.related.iter().map(|(span, label)| (span, label.as_str(), false)));
            let spans: Vec<_> = spans.filter(|(span, _, _)| &*span.file == *file).collect();
            let Some((first, _, _)) = spans.first() else { continue };
            let place = match sources.place(first) {
                Some(place) => format!("{}:{}:{}", place.file, place.line, place.column),
                None => (*file).to_owned(),
            };
            let pad = " ".repeat(self.gutter);
            let arrow = if i == 0 { "-->" } else { ":::" };
            self.paint(BLUE, &format!("{pad} {arrow}"));
            let _ = writeln!(self.text, " {}", visible(&place));
            let marked = marked(&spans, sources);
            let mut before = None;
            for line in &marked {
                if before.is_some_and(|before| line.line > before + 1) {
                    self.paint(BLUE, &format!("{pad}..."));
                    self.text.push('\n');
                }
                before = Some(line.line);
                self.line(line, colour(finding.severity));
            }
        }
    }

    fn line(&mut self, line: &Marked<'_>, colour: &str) {
        let cells = cells(line.text);
        let room = self.look.width.saturating_sub(self.gutter + 3).max(20);
        let number = format!("{:>width$} |", line.line, width = self.gutter);
        let blank = format!("{} |", " ".repeat(self.gutter));
        let mut shown: Option<Window> = None;
        for mark in &line.marks {
            let (from, to) =
                (column(&cells, mark.start), column(&cells, mark.end).max(column(&cells, mark.start) + 1));
            let window = match shown {
                Some(window) if from >= window.from && to.min(from + room / 2) <= window.to => window,
                _ => {
                    let window = Window::around(&cells, from, to, room);
                    self.paint(BLUE, &number);
                    let _ = writeln!(self.text, " {}", window.cut(&cells));
                    shown = Some(window);
                    window
                }
            };
            let ink = if mark.main { colour } else { BLUE };
            let sign = if mark.main { "^" } else { "-" };
            let (left, right) = (window.offset(from), window.offset(to.min(window.to).max(from + 1)));
            self.paint(BLUE, &blank);
            let _ = write!(self.text, " {}", " ".repeat(left));
            // The sign that the span goes on needs a column of its own.
            let most = room.saturating_sub(left + usize::from(mark.open));
            let mut under = sign.repeat(right.saturating_sub(left).min(most).max(1));
            if mark.open {
                under.push('…');
            }
            let label = visible(mark.label);
            let used = left + under.chars().count();
            if label.is_empty() {
                self.paint(ink, &under);
                self.text.push('\n');
            } else if used + 1 + width(&label) <= room {
                self.paint(ink, &format!("{under} {label}"));
                self.text.push('\n');
            } else {
                self.paint(ink, &under);
                self.text.push('\n');
                for piece in wrap(&label, room, 0) {
                    self.paint(BLUE, &blank);
                    let _ = write!(self.text, " ");
                    self.paint(ink, &piece);
                    self.text.push('\n');
                }
            }
        }
    }

    /// `   = ask: use A0 and A1`, wrapped under itself.
    fn remark(&mut self, word: &str, text: &str) {
        let pad = " ".repeat(self.gutter);
        let lead = format!("{pad} = ");
        let indent = lead.len() + word.len() + 2;
        let clean = visible(text);
        for (i, line) in wrap(&clean, self.look.width.saturating_sub(indent).max(20), 0).iter().enumerate() {
            if i == 0 {
                self.paint(BLUE, &lead);
                self.paint(BOLD, word);
                let _ = writeln!(self.text, ": {line}");
            } else {
                let _ = writeln!(self.text, "{}{line}", " ".repeat(indent));
            }
        }
    }

    /// New lines for a file, each as it is, to be copied; what goes into a line is said in the remark.
    fn added(&mut self, text: &str) {
        if text.trim_end().contains('\n') {
            for line in text.lines().filter(|line| !line.is_empty()) {
                let _ = writeln!(self.text, "{}{}", " ".repeat(self.gutter + 6), visible(line));
            }
        }
    }

    fn paint(&mut self, colour: &str, text: &str) {
        if self.look.colour && !text.is_empty() {
            self.text.extend([colour, text, PLAIN]);
        } else {
            self.text.push_str(text);
        }
    }
}

fn colour(severity: Severity) -> &'static str {
    match severity {
        Severity::Blocker => RED,
        Severity::Weakness => YELLOW,
        Severity::Note => CYAN,
    }
}

fn gutter(finding: &Finding, sources: &SourceMap) -> usize {
    let spans = finding.at.iter().chain(finding.related.iter().map(|(span, _)| span));
    let largest = spans.filter_map(|span| sources.line(span)).max().unwrap_or(1);
    largest.to_string().len()
}

/// The lines that spans stand on, in order, each with its marks.
fn marked<'a>(spans: &[(&'a Span, &'a str, bool)], sources: &'a SourceMap) -> Vec<Marked<'a>> {
    let mut lines: Vec<Marked<'a>> = Vec::new();
    for (span, label, main) in spans {
        let Some(line) = sources.line(span) else { continue };
        let Some((first, text)) = sources.line_text(&span.file, line) else { continue };
        let start = span.start.saturating_sub(first).min(text.len());
        let end = span.end.saturating_sub(first).max(start);
        let mark = Mark { start, end: end.min(text.len()), main: *main, label, open: end > text.len() + 1 };
        match lines.iter_mut().find(|known| known.line == line) {
            Some(known) => known.marks.push(mark),
            None => lines.push(Marked { line, text, marks: vec![mark] }),
        }
    }
    lines.sort_by_key(|line| line.line);
    for line in &mut lines {
        line.marks.sort_by_key(|mark| (mark.start, !mark.main));
    }
    lines
}

/// One character of a line as it is shown.
struct Cell {
    /// Byte of the line.
    byte: usize,
    /// First column.
    column: usize,
    width: usize,
    shown: char,
}

/// The characters of a line with their columns: tabs as spaces, control characters made visible.
fn cells(text: &str) -> Vec<Cell> {
    let mut cells = Vec::with_capacity(text.len());
    let mut column = 0;
    for (byte, c) in text.char_indices() {
        let (shown, width) = match c {
            '\t' => (' ', TAB - column % TAB),
            c if is_hidden(c) => ('\u{fffd}', 1),
            c => (c, char_width(c)),
        };
        cells.push(Cell { byte, column, width, shown });
        column += width;
    }
    cells
}

/// Column at which the character at a byte begins; the end of the line for a byte beyond it.
fn column(cells: &[Cell], byte: usize) -> usize {
    match cells.iter().find(|cell| cell.byte >= byte) {
        Some(cell) => cell.column,
        None => cells.last().map_or(0, |cell| cell.column + cell.width),
    }
}

/// The columns of a long line that are shown.
#[derive(Clone, Copy)]
struct Window {
    from: usize,
    to: usize,
    cut_left: bool,
    cut_right: bool,
}

impl Window {
    fn around(cells: &[Cell], from: usize, to: usize, room: usize) -> Self {
        let end = cells.last().map_or(0, |cell| cell.column + cell.width);
        if end.max(to) <= room {
            return Self { from: 0, to: end.max(to), cut_left: false, cut_right: false };
        }
        // The mark stands in the middle, its start in any case inside; two columns go to the dots.
        let inner = room - 2;
        let span = (to - from).min(inner / 2);
        let start = (from + span / 2).saturating_sub(inner / 2).min(from);
        let stop = (start + inner).min(end.max(to));
        let start = start.min(stop.saturating_sub(inner));
        Self { from: start, to: stop, cut_left: start > 0, cut_right: stop < end }
    }

    fn cut(self, cells: &[Cell]) -> String {
        let mut text = String::new();
        if self.cut_left {
            text.push('…');
        }
        for cell in cells.iter().filter(|c| c.column >= self.from && c.column + c.width <= self.to) {
            match cell.shown {
                ' ' => text.extend(std::iter::repeat_n(' ', cell.width)),
                shown => text.push(shown),
            }
        }
        if self.cut_right {
            text.push('…');
        }
        text.trim_end().to_owned()
    }

    /// Columns from the left edge to a column of the line.
    fn offset(self, column: usize) -> usize {
        column.saturating_sub(self.from) + usize::from(self.cut_left)
    }
}

/// Controls, and marks that turn the direction of writing.
fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200e}' | '\u{200f}' | '\u{feff}')
}

/// Columns that a text takes.
fn width(text: &str) -> usize {
    text.chars().map(char_width).sum()
}

/// Columns that a character takes: two for the wide ones of East Asian scripts and pictures, none for marks that
/// combine. Ranges after Unicode Standard Annex 11, from memory, by block.
fn char_width(c: char) -> usize {
    match u32::from(c) {
        0x0300..=0x036f
        | 0x0483..=0x0489
        | 0x200b..=0x200d
        | 0x20d0..=0x20ff
        | 0xfe00..=0xfe0f
        | 0xfe20..=0xfe2f => 0,
        0x1100..=0x115f
        | 0x2e80..=0x303e
        | 0x3041..=0xa4cf
        | 0xac00..=0xd7a3
        | 0xf900..=0xfaff
        | 0xfe30..=0xfe6f
        | 0xff00..=0xff60
        | 0xffe0..=0xffe6
        | 0x1f300..=0x1f64f
        | 0x1f680..=0x1f6ff
        | 0x1f900..=0x1f9ff
        | 0x20000..=0x3fffd => 2,
        _ => 1,
    }
}

/// Text in lines of at most `room` columns, broken at spaces, lines after the first indented. A word that is
/// longer than a line is broken inside.
fn wrap(text: &str, room: usize, indent: usize) -> Vec<String> {
    let room = room.max(indent + 10);
    let mut lines = Vec::new();
    let mut line = String::new();
    let mut used = 0;
    let mut fresh = true;
    for word in text.split(' ') {
        let mut word = word;
        let gap = usize::from(!fresh);
        if used + gap + width(word) > room && !fresh {
            lines.push(std::mem::take(&mut line));
            line.push_str(&" ".repeat(indent));
            used = indent;
            fresh = true;
        }
        if !fresh {
            line.push(' ');
            used += 1;
        }
        while used + width(word) > room {
            let mut taken = 0;
            let mut cut = 0;
            for (at, c) in word.char_indices() {
                if used + taken + char_width(c) > room {
                    break;
                }
                taken += char_width(c);
                cut = at + c.len_utf8();
            }
            line.push_str(&word[..cut]);
            word = &word[cut..];
            lines.push(std::mem::take(&mut line));
            line.push_str(&" ".repeat(indent));
            used = indent;
            if cut == 0 {
                break;
            }
        }
        line.push_str(word);
        used += width(word);
        fresh = false;
    }
    lines.push(line);
    lines
}

#[cfg(test)]
mod tests;

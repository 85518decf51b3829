//! From the first lines of a table to how it is laid out.

mod clock;
mod fit;

use super::dialect::{self, Encoding, Mark, Separator, text};
use super::error::{Unreadable, shown};
use super::form::{Form, Guess, Heading, Told};
use super::heading;
pub(super) use clock::since_1970;
use finding::words::count;
use fit::Fit;

/// Columns that a table may have.
pub(super) const MOST_COLUMNS: usize = 1000;
/// Lines that are looked at.
const MOST_LINES: usize = 2000;
/// Lines before the headings that are kept.
const MOST_PREAMBLE: usize = 100;

/// What was found in the first bytes.
#[derive(Debug)]
pub(super) struct Guessed {
    pub(super) form: Form,
    /// Where the first row begins.
    pub(super) rows_at: usize,
    /// Bytes of a row, on average.
    pub(super) row_bytes: f64,
}

/// A line with its number, from 1, without its end.
#[derive(Clone, Copy, Debug)]
pub(super) struct Line<'h> {
    number: u64,
    at: usize,
    bytes: &'h [u8],
}

impl Line<'_> {
    fn is_blank(&self) -> bool {
        self.bytes.trim_ascii().is_empty()
    }

    /// Whether it is a remark, or would be one among the rows.
    fn is_remark(&self) -> bool {
        self.bytes.trim_ascii_start().starts_with(b"#")
    }

    /// What it says, without the marks of a remark.
    fn said(&self) -> &[u8] {
        let mut said = self.bytes.trim_ascii_start();
        while let [b'#' | b'%', rest @ ..] = said {
            said = rest;
        }
        if said.len() == self.bytes.trim_ascii_start().len() { self.bytes } else { said.trim_ascii_start() }
    }
}

/// Guesses from the first bytes; `whole` says whether they are all of the file.
pub(super) fn guess(
    head: &[u8],
    whole: bool,
    told: &Told,
    encoding: Encoding,
    packed: bool,
) -> Result<Guessed, Unreadable> {
    let lines = lines(head, whole);
    if lines.iter().all(Line::is_blank) {
        return Err(Unreadable::Empty);
    }
    if [&b"$date"[..], b"$version", b"$timescale", b"$comment", b"$scope"]
        .iter()
        .any(|word| head.trim_ascii_start().starts_with(word))
    {
        return Err(Unreadable::IsDump);
    }
    let Some(fit) = fit::best(&lines, told)? else { return Err(nothing(&lines, whole, told)) };
    if fit.columns > MOST_COLUMNS {
        return Err(Unreadable::TooManyColumns {
            line: lines[fit.start].number,
            columns: fit.columns,
            most: MOST_COLUMNS,
        });
    }
    let names = names(&lines, &fit, told)?;
    unambiguous(&lines, &fit, &names, told)?;
    let columns = columns(&lines, &fit, &names);
    let before = names.headings.unwrap_or(fit.start);
    let preamble: Vec<String> = lines[..before]
        .iter()
        .filter(|line| !line.is_blank())
        .take(MOST_PREAMBLE)
        .map(|line| text(line.bytes.trim_ascii()))
        .collect();
    let first = &lines[fit.start];
    let mut form = Form {
        packed,
        encoding,
        separator: fit.separator,
        decimal: fit.mark,
        headings_line: names.headings.map(|k| lines[k].number),
        units_line: names.units.map(|k| lines[k].number),
        first_row: first.number,
        columns,
        clock: None,
        preamble,
        guesses: Vec::new(),
    };
    for (wanted, unit) in &told.units {
        let column = form.find(wanted)?;
        let scale = heading::known(unit).ok_or_else(|| Unreadable::Told {
            what: format!(
                "`{}` is no unit that is known, for column `{}`: write it as in `mA`, `rad/s`, `1/s`",
                shown(unit),
                shown(wanted)
            ),
        })?;
        let heading = &mut form.columns[column];
        heading.unit = unit.clone();
        heading.scale = Some(scale);
    }
    let rows = fit.rows(&lines);
    let (clock, clock_guess) = clock::guess(&form, &rows, told)?;
    form.guesses = guesses(&form, &fit, told, &lines, &names);
    form.guesses.extend(clock_guess);
    form.clock = clock;
    let end = lines.last().map_or(head.len(), |line| line.at + line.bytes.len() + 1);
    let row_bytes = (end - first.at) as f64 / (lines.len() - fit.start).max(1) as f64;
    Ok(Guessed { form, rows_at: first.at, row_bytes })
}

/// Lines of the head; a heading in quotes may go over several.
fn lines(head: &[u8], whole: bool) -> Vec<Line<'_>> {
    let mut lines: Vec<Line<'_>> = Vec::new();
    let (mut at, mut number, mut skip) = (0, 1, 0);
    while at < head.len() && lines.len() < MOST_LINES {
        let Some(length) = memchr::memchr(b'\n', &head[at..]).or_else(|| whole.then_some(head.len() - at))
        else {
            break;
        };
        let end = at + length;
        let bytes = head[at..end].strip_suffix(b"\r").unwrap_or(&head[at..end]);
        // A cell that was left open goes on in the next line, a few lines at most.
        let open = lines.last().is_some_and(|line| is_open(line.bytes)) && skip < 8;
        match lines.last_mut() {
            Some(line) if open => {
                line.bytes = &head[line.at..at + bytes.len()];
                skip += 1;
            }
            _ => {
                lines.push(Line { number, at, bytes });
                skip = 0;
            }
        }
        at = (end + 1).min(head.len());
        number += 1;
    }
    lines
}

/// Whether the last quote of a line begins a cell.
fn is_open(line: &[u8]) -> bool {
    let quotes = memchr::memchr_iter(b'"', line).count();
    let Some(last) = memchr::memrchr(b'"', line) else { return false };
    let before = line[..last].trim_ascii_end().last();
    quotes % 2 == 1 && before.is_none_or(|byte| matches!(byte, b',' | b';' | b'\t' | b'|'))
}

/// Why no rows were found.
fn nothing(lines: &[Line<'_>], whole: bool, told: &Told) -> Unreadable {
    let above =
        [told.first_row.map(|row| row - 1), told.headings_line, told.units_line].into_iter().flatten().max();
    if above.is_some() || told.last_row.is_some() {
        let up_to = told.last_row.map_or_else(String::new, |last| format!(" up to line {last}"));
        let what = format!(
            "no row of numbers lies below line {}{up_to}, as it was told: the log has {} lines in its first part",
            above.unwrap_or(0),
            lines.len()
        );
        return Unreadable::Told { what };
    }
    let last = lines.iter().rfind(|line| !line.is_blank());
    let (line, said) = last.map_or((1, &b""[..]), |line| (line.number, line.said()));
    let has_headings = Separator::ALL.iter().any(|separator| {
        let cells = dialect::cells(said, *separator);
        cells.len() > 1 && *separator != Separator::Blanks
    });
    if whole && has_headings {
        return Unreadable::NoRows { line };
    }
    Unreadable::NoNumbers { lines: lines.len() as u64, line, text: shown(&text(said.trim_ascii())) }
}

/// Which lines name the columns.
#[derive(Default, Debug)]
struct Names {
    headings: Option<usize>,
    units: Option<usize>,
}

/// Looks above the first row for headings and units.
fn names(lines: &[Line<'_>], fit: &Fit, told: &Told) -> Result<Names, Unreadable> {
    let told_line = |number: u64, what: &str| {
        lines[..fit.start].iter().position(|line| line.number == number).ok_or_else(|| Unreadable::Told {
            what: format!(
                "line {number} cannot hold the {what}: the first row is line {}, and they stand above it",
                lines[fit.start].number
            ),
        })
    };
    let mut above = (0..fit.start).rev().filter(|k| !lines[*k].is_blank());
    let told_names = Names {
        headings: told.headings_line.map(|number| told_line(number, "headings")).transpose()?,
        units: told.units_line.map(|number| told_line(number, "units")).transpose()?,
    };
    if told_names.headings.is_some() {
        return Ok(told_names);
    }
    let (first, second) = (above.next(), above.next());
    let fits = |k: Option<usize>| k.filter(|k| is_headings(&lines[*k], fit));
    if let Some(units) = told_names.units {
        return Ok(Names { headings: (0..units).rev().find(|k| is_headings(&lines[*k], fit)), ..told_names });
    }
    let units = first.filter(|k| is_units(&lines[*k], fit));
    Ok(match (units, fits(second)) {
        (Some(units), Some(headings)) => Names { headings: Some(headings), units: Some(units) },
        _ => Names { headings: fits(first), units: None },
    })
}

/// The cells of a line that may name columns. Lined-up headings may have blanks in them, so more than one way is tried.
fn name_cells(line: &Line<'_>, fit: &Fit) -> Vec<String> {
    let said = line.said();
    let plain: Vec<String> = dialect::cells(said, fit.separator).iter().map(|cell| text(cell)).collect();
    if fit.separator != Separator::Blanks || plain.len() == fit.columns {
        return plain;
    }
    let said = text(said);
    // Units belong to the name before them.
    let mut joined: Vec<String> = Vec::new();
    for cell in &plain {
        match joined.last_mut() {
            Some(name) if cell.starts_with(['[', '(']) => *name = format!("{name} {cell}"),
            _ => joined.push(cell.clone()),
        }
    }
    if joined.len() == fit.columns {
        return joined;
    }
    // Two blanks or a tab part names, one is within them.
    let parted: Vec<String> = said
        .replace('\t', "  ")
        .split("  ")
        .map(str::trim)
        .filter(|name| !name.is_empty())
        .map(str::to_owned)
        .collect();
    if parted.len() == fit.columns { parted } else { plain }
}

/// As many cells as the rows have; a line may end in separators too many or too few.
fn has_length(cells: &[String], fit: &Fit) -> bool {
    let filled = cells.iter().rposition(|cell| !cell.is_empty()).map_or(0, |last| last + 1);
    filled <= fit.columns && (cells.len() >= fit.columns || filled + 1 >= fit.columns && filled > 1)
}

fn is_headings(line: &Line<'_>, fit: &Fit) -> bool {
    let cells = name_cells(line, fit);
    let kinds = cells.iter().map(|cell| dialect::Cell::of(cell.as_bytes(), fit.mark));
    let numbers =
        kinds.filter(|kind| matches!(kind, dialect::Cell::Number(_) | dialect::Cell::Stamp(_))).count();
    let words = cells.iter().filter(|cell| cell.chars().any(|c| c.is_alphabetic() || c == '#')).count();
    // A name and its value, such as a rate before the rows, are no headings.
    has_length(&cells, fit) && words > numbers && (numbers == 0 || fit.columns > 2)
}

fn is_units(line: &Line<'_>, fit: &Fit) -> bool {
    let cells = name_cells(line, fit);
    let units =
        cells.iter().filter(|cell| heading::alone(cell).is_some_and(|unit| heading::known(unit).is_some()));
    let others = |cell: &&String| heading::alone(cell).is_none() && !matches!(&***cell, "" | "-");
    has_length(&cells, fit) && units.count() > 0 && !cells.iter().any(|cell| others(&cell))
}

/// Refuses what can be read in two ways: commas between whole numbers, which may be decimals.
fn unambiguous(lines: &[Line<'_>], fit: &Fit, names: &Names, told: &Told) -> Result<(), Unreadable> {
    let is_open = (fit.separator, fit.mark) == (Separator::Comma, Mark::Point)
        && told.separator.is_none()
        && told.decimal.is_none()
        && fit.columns.is_multiple_of(2);
    if !is_open {
        return Ok(());
    }
    // The part behind a decimal comma has digits and nothing else; pads with zeros show that it is such a part.
    let is_part = |cell: &[u8]| !cell.is_empty() && cell.iter().all(u8::is_ascii_digit);
    let mut all = fit.rows(lines).iter().all(|row| {
        let cells = dialect::cells(row.bytes, fit.separator);
        cells.len() == fit.columns
            && cells.chunks(2).all(|pair| is_part(pair[0].trim_ascii_start()) || pair[0].starts_with(b"-"))
            && cells.chunks(2).all(|pair| is_part(&pair[1]))
    });
    let headings = names.headings.map(|k| dialect::cells(lines[k].said(), Separator::Comma).len());
    all &= match headings {
        Some(count) => count < fit.columns,
        None => {
            let above = lines[..fit.start].iter().rfind(|line| !line.is_blank());
            let count = above.map(|line| dialect::cells(line.said(), Separator::Comma).len());
            fit.columns == 2 || count == Some(fit.columns / 2)
        }
    };
    if !all {
        return Ok(());
    }
    let half = fit.columns / 2;
    let line = &lines[fit.start];
    Err(Unreadable::Ambiguous {
        line: line.number,
        text: shown(&text(line.bytes)),
        one: format!("{} whole numbers separated by comma", fit.columns),
        other: format!("{} with decimal comma", count(half, "number", "numbers")),
    })
}

/// Headings of all columns.
fn columns(lines: &[Line<'_>], fit: &Fit, names: &Names) -> Vec<Heading> {
    let cells = |k: Option<usize>| k.map(|k| name_cells(&lines[k], fit)).unwrap_or_default();
    let (headings, units) = (cells(names.headings), cells(names.units));
    let one = |column: usize| {
        let heading = headings.get(column).map_or("", String::as_str);
        let heading = heading.split_whitespace().collect::<Vec<_>>().join(" ");
        let below = units.get(column).map(String::as_str).filter(|unit| !unit.is_empty() && *unit != "-");
        let below = below.map(|unit| heading::alone(unit).unwrap_or(unit));
        // What has neither a name nor values is left over from a separator too many.
        let is_numbers = fit.numeric[column] && (fit.filled[column] || !heading.is_empty());
        Heading::new(&heading, below, column + 1, is_numbers)
    };
    (0..fit.columns).map(one).collect()
}

/// How each thing was found, for a person.
fn guesses(form: &Form, fit: &Fit, told: &Told, lines: &[Line<'_>], names: &Names) -> Vec<Guess> {
    let mut all = Vec::new();
    let mut push = |what, value: String, from: String| all.push(Guess { what, value, from });
    let from = |is_told: bool, found: &str| if is_told { "told".to_owned() } else { found.to_owned() };
    if form.packed {
        push("packing", "gzip".to_owned(), "first bytes".to_owned());
    }
    push("characters", form.encoding.to_string(), from(told.encoding.is_some(), "first bytes"));
    let rows = fit.rows(lines).len();
    let fits = format!("{} cells in each of the first {rows} rows", fit.columns);
    push("separator", form.separator.to_string(), from(told.separator.is_some(), &fits));
    let decimals =
        if fit.has_decimals { "as the first rows have it" } else { "no cell of the first rows shows it" };
    push("decimal mark", form.decimal.to_string(), from(told.decimal.is_some(), decimals));
    let headings = names.headings.map_or("none".to_owned(), |k| format!("line {}", lines[k].number));
    let above = if names.headings.is_some() {
        "words above the first row"
    } else {
        "no line of words with as many cells"
    };
    push("headings", headings, from(told.headings_line.is_some(), above));
    if let Some(k) = names.units {
        push(
            "units",
            format!("line {}", lines[k].number),
            from(told.units_line.is_some(), "units below the headings"),
        );
    }
    push(
        "first row",
        format!("line {}", form.first_row),
        from(told.first_row.is_some(), "first line of numbers"),
    );
    push("lines before the headings", form.preamble.len().to_string(), "not blank".to_owned());
    for heading in form.columns.iter().filter(|heading| heading.is_numbers) {
        let is_told = told.units.iter().any(|(_, unit)| *unit == heading.unit);
        let (value, found) = match (&heading.scale, heading.unit.is_empty()) {
            (Some(unit), _) => (unit.to_string(), "stated in the file"),
            (None, true) => ("none".to_owned(), "none is stated: numbers as they stand"),
            (None, false) => (heading.unit.clone(), "not known: numbers as they stand"),
        };
        push(
            "unit",
            format!("{}: {value}", shown(&heading.text)),
            from(is_told && heading.scale.is_some(), found),
        );
    }
    all
}

//! The tables of `measured.toml`, one by one: which of them tell what is found again now, and whether the newest says the same.

use std::ops::Range;
use toml::{Table, Value};

/// The text without the tables that a test picks. Lines stay where they are, so that places in it are those of the file.
pub(super) fn without(text: &str, is_picked: impl Fn(&Table) -> bool) -> String {
    let mut kept = String::with_capacity(text.len());
    let mut end = 0;
    for range in ranges(text) {
        kept.push_str(&text[end..range.start]);
        end = range.end;
        match read(&text[range.clone()]).first() {
            Some(table) if is_picked(table) => {
                kept.extend(text[range].chars().filter(|c| *c == '\n'));
            }
            _ => kept.push_str(&text[range]),
        }
    }
    kept.push_str(&text[end..]);
    kept
}

/// Whether the newest table of the same axis or line says the same as this one.
pub(super) fn says_already(text: &str, entry: &str) -> bool {
    let (tables, new) = (read(text), read(entry));
    let Some(new) = new.first() else { return false };
    let newest =
        tables.iter().rev().find(|table| ["axis", "of"].iter().all(|key| table.get(*key) == new.get(*key)));
    newest == Some(new)
}

/// Whether a table tells figures of this axis, found from one of these logs.
pub(super) fn is_from(table: &Table, axis: &str, logs: &[String]) -> bool {
    let own = table.get("axis").and_then(Value::as_str) == Some(axis);
    let named = |value: &Value| value.as_str().is_some_and(|name| logs.iter().any(|log| log == name));
    own && match table.get("logs") {
        Some(Value::Array(names)) => names.iter().any(named),
        Some(name) => named(name),
        None => false,
    }
}

/// Whether a table tells a line by this calibration.
pub(super) fn is_by(table: &Table, of: &str, calibration: &str) -> bool {
    let says = |key: &str, name: &str| table.get(key).and_then(Value::as_str) == Some(name);
    says("of", of) && says("calibration", calibration)
}

/// Where the tables `[[measured]]` stand, each up to the next.
fn ranges(text: &str) -> Vec<Range<usize>> {
    let mut starts = Vec::new();
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        if line.trim_start().starts_with("[[measured]]") {
            starts.push(at);
        }
        at += line.len();
    }
    let ends = starts.iter().skip(1).copied().chain([text.len()]);
    starts.iter().copied().zip(ends).map(|(start, end)| start..end).collect()
}

/// The tables of a text, oldest first; none of one that does not read.
fn read(text: &str) -> Vec<Table> {
    let Ok(mut file) = text.parse::<Table>() else { return Vec::new() };
    match file.remove("measured") {
        Some(Value::Array(items)) => items
            .into_iter()
            .filter_map(|item| if let Value::Table(table) = item { Some(table) } else { None })
            .collect(),
        _ => Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FILE: &str = "# head\n\n[[measured]]\naxis = \"left\"\nlogs = [\"a\", \"b\"]\n[measured.motor]\nresistance = \"2 Ω\"\n\n\
                        [[measured]]\nof = \"board:A.current\"\ncalibration = \"c\"\nline = { zero = \"1 V\" }\n";

    #[test]
    fn tables_go_and_lines_stay() {
        let kept = without(FILE, |table| is_from(table, "left", &["b".to_owned()]));
        assert_eq!(kept.lines().count(), FILE.lines().count());
        assert!(!kept.contains("resistance") && kept.starts_with("# head"), "{kept}");
        assert_eq!(
            kept.lines().position(|l| l.starts_with("of")),
            FILE.lines().position(|l| l.starts_with("of"))
        );
        assert_eq!(without(FILE, |table| is_from(table, "left", &["c".to_owned()])), FILE);
        assert_eq!(without(FILE, |table| is_from(table, "right", &["a".to_owned()])), FILE);
        assert!(!without(FILE, |table| is_by(table, "board:A.current", "c")).contains("zero"));
        assert_eq!(without("[[measured]\n", |_| true), "[[measured]\n");
    }

    #[test]
    fn the_newest_of_its_own_counts() {
        // Written another way, it says the same.
        let same = "[[measured]]\nlogs = ['a', 'b']\naxis = \"left\"\nmotor.resistance = \"2 Ω\"\n";
        let other = same.replace('2', "3");
        assert!(says_already(FILE, same) && !says_already(FILE, &other));
        let newer = format!("{FILE}\n{other}");
        assert!(!says_already(&newer, same) && says_already(&newer, &other));
        assert!(!says_already("", same) && !says_already("[[measured]\n", same));
    }
}

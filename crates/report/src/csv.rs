//! Tables as comma-separated values (RFC 4180).

use finding::Table;

/// A table with its headings in the first line.
pub fn table(table: &Table) -> String {
    let mut out = String::new();
    line(&mut out, table.columns.iter().map(|c| c.heading.as_str()));
    for row in &table.rows {
        line(&mut out, row.iter().map(String::as_str));
    }
    out
}

fn line<'a>(out: &mut String, cells: impl Iterator<Item = &'a str>) {
    for (i, cell) in cells.enumerate() {
        if i > 0 {
            out.push(',');
        }
        out.push_str(&field(cell));
    }
    out.push_str("\r\n");
}

fn field(cell: &str) -> String {
    // A spreadsheet takes text that begins so for a formula and would run it; an apostrophe keeps it text.
    // Signed numbers are left alone.
    let formula = match cell.chars().next() {
        Some('=' | '@' | '\t' | '\r') => true,
        Some('+' | '-') => !is_signed_number(cell),
        _ => false,
    };
    let cell = if formula { format!("'{cell}") } else { cell.to_owned() };
    if cell.contains([',', '"', '\n', '\r']) { format!("\"{}\"", cell.replace('"', "\"\"")) } else { cell }
}

/// A number with its sign, perhaps followed by a unit: `-1.5`, `+0.3 A`.
fn is_signed_number(cell: &str) -> bool {
    let number = cell.split(' ').next().unwrap_or_default();
    number.parse::<f64>().is_ok_and(f64::is_finite) && !cell.contains(['|', '!', '(', '='])
}

#[cfg(test)]
mod tests {
    use super::*;
    use finding::sheet::Column;

    #[test]
    fn cells_are_quoted_as_the_standard_says() {
        let t = Table {
            columns: vec![
                Column { heading: "wire".into(), numeric: false },
                Column { heading: "note".into(), numeric: false },
            ],
            rows: vec![vec!["W1".into(), "red, 0.5 mm²".into()], vec!["a \"b\"".into(), "two\nlines".into()]],
            ..Table::default()
        };
        // RFC 4180, section 2, rules 2, 6 and 7.
        assert_eq!(table(&t), "wire,note\r\nW1,\"red, 0.5 mm²\"\r\n\"a \"\"b\"\"\",\"two\nlines\"\r\n");
    }

    #[test]
    fn cells_are_no_formulas() {
        assert_eq!(field("=1+1"), "'=1+1");
        assert_eq!(field("-cmd"), "'-cmd");
        assert_eq!(field("-1.5"), "-1.5");
        assert_eq!(field("+0.3 A"), "+0.3 A");
        assert_eq!(field("-2+cmd|' /C x'!A0"), "'-2+cmd|' /C x'!A0");
    }
}

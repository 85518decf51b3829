//! The tables of `docs/quantities.md`: units, and texts with what is read from them, made by reading them.

use std::fmt::Write as _;
use std::path::Path;
use worked::{Dimension, Quantity, Unit, format};

/// `FIRSTSPIN_WRITE=1` writes the tables anew.
#[test]
fn the_tables_of_the_page_about_quantities_are_up_to_date() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/quantities.md");
    let committed = std::fs::read_to_string(&path).expect("the page is there");
    let mut page = committed.clone();
    for (name, table) in [("texts", texts()), ("slips", slips()), ("units", units())] {
        page = with_table(&page, name, &table);
    }
    if std::env::var_os("FIRSTSPIN_WRITE").is_some() {
        std::fs::write(&path, &page).expect("the page can be written");
        return;
    }
    let differs = committed.lines().zip(page.lines()).position(|(a, b)| a != b).map(|line| line + 1);
    assert!(
        committed == page,
        "docs/quantities.md is stale from line {differs:?}: run with FIRSTSPIN_WRITE=1"
    );
}

/// The page with what stands between the marks of a table replaced.
fn with_table(page: &str, name: &str, table: &str) -> String {
    let (begin, end) = (format!("<!-- {name}: begin -->\n"), format!("<!-- {name}: end -->"));
    let from = page.find(&begin).expect("the mark of the table") + begin.len();
    let to = page.find(&end).expect("the mark of its end");
    format!("{}\n{table}\n{}", &page[..from], &page[to..])
}

/// Each named dimension with the units in which it is usually written.
fn units() -> String {
    let mut table = "| quantity | SI unit | usual units |\n| --- | --- | --- |\n".to_owned();
    for dimension in Dimension::named() {
        let name = dimension.name().unwrap_or_default();
        let si = Unit::si(dimension);
        let usual: Vec<String> = Unit::usual(dimension).iter().map(|unit| format!("`{unit}`")).collect();
        let si = if si.symbol().is_empty() { "1".to_owned() } else { si.symbol().to_owned() };
        // Writing to a `String` cannot fail.
        let _ = writeln!(table, "| {name} | {si} | {} |", usual.join(" "));
    }
    table
}

/// Texts, one of each way of writing.
fn texts() -> String {
    use Dimension as D;
    let rows: &[(&str, D, &str)] = &[
        ("24 V", D::VOLTAGE, "a number with its unit; the space may be left out"),
        ("4_700 Ω", D::RESISTANCE, "thousands marked"),
        ("4.7e3 Ω", D::RESISTANCE, "power of ten"),
        ("24 V ± 5 %", D::VOLTAGE, "tolerance in per cent of the value"),
        ("24 V ± 1 V", D::VOLTAGE, "tolerance in the unit"),
        ("24 +/- 1 V", D::VOLTAGE, "plain characters; one unit for both"),
        ("0.6 V +0.2/-0.1 V", D::VOLTAGE, "uneven tolerance"),
        ("8 .. 28 V", D::VOLTAGE, "range; the key says what it means"),
        ("0.62 mH", D::INDUCTANCE, "prefix"),
        ("330 uF", D::CAPACITANCE, "`u` or either sign for micro"),
        ("27 mN·m", D::TORQUE, "product with a dot"),
        ("27 mN*m", D::TORQUE, "product in plain characters"),
        ("0.35 kgf·cm", D::TORQUE, "units of the trade"),
        ("50 oz-in", D::TORQUE, "ounce-force times inch"),
        ("3.5 kg·cm", D::TORQUE, "kilogram-force, where a torque is due"),
        ("52 g·cm²", D::INERTIA, "power as superscript"),
        ("52 g*cm^2", D::INERTIA, "power in plain characters"),
        ("4.3 V/krpm", D::MACHINE_CONSTANT, "back-EMF constant"),
        ("41 mN·m/A", D::MACHINE_CONSTANT, "torque constant: the same dimension"),
        ("310 rpm", D::ANGULAR_SPEED, "speed of a shaft"),
        ("20 AWG", D::AREA, "wire gauge where an area is due"),
        ("25 °C", D::TEMPERATURE, "temperature level"),
        ("77 degF", D::TEMPERATURE, "the same level"),
        ("60 K", D::TEMPERATURE_DIFFERENCE, "temperature difference"),
        ("16 lines/rev", D::PER_ANGLE, "marks a turn"),
        ("80 %", D::NONE, "per cent is the number 0.01"),
        ("22 1/2", D::NONE, "an exact fraction"),
    ];
    let mut table = "| text | where this is due | from | value | to | what it shows |\n".to_owned();
    table.push_str("| --- | --- | --- | --- | --- | --- |\n");
    for (text, wanted, shows) in rows {
        let read = Quantity::parse(text, *wanted).unwrap_or_else(|error| panic!("{text}: {error}"));
        let unit = Unit::si(*wanted);
        let end = |si: Option<f64>| si.map_or("–".to_owned(), |si| format::plain(si, &unit));
        let name = if wanted.is_none() { "number".to_owned() } else { wanted.to_string() };
        let _ = writeln!(
            table,
            "| `{text}` | {name} | {} | {} | {} | {shows} |",
            end(read.low),
            end(read.nominal),
            end(read.high)
        );
    }
    table
}

/// Texts that are refused, with what is said.
fn slips() -> String {
    use Dimension as D;
    let rows = [
        ("24", D::VOLTAGE),
        ("0.5 mHz", D::INDUCTANCE),
        ("12 v", D::VOLTAGE),
        ("310 RPM", D::ANGULAR_SPEED),
        ("5 mNn", D::TORQUE),
        ("78 % ± 5 %", D::NONE),
        ("28 .. 8 V", D::VOLTAGE),
        ("1 000 Ω", D::RESISTANCE),
        ("1,5 A", D::CURRENT),
    ];
    let mut table =
        "| text | where this is due | what is said | way out |\n| --- | --- | --- | --- |\n".to_owned();
    for (text, wanted) in rows {
        let error = Quantity::parse(text, wanted).expect_err(text);
        let name = if wanted.is_none() { "number".to_owned() } else { wanted.to_string() };
        let fix = error.fix.as_ref().map(|fix| format!("`{fix}`"));
        let ways: Vec<String> = fix.into_iter().chain(error.help.clone()).collect();
        let _ = writeln!(table, "| `{text}` | {name} | {} | {} |", error.message, ways.join("; "));
    }
    table
}

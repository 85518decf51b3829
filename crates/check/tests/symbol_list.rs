//! The page `docs/symbols.md`: every symbol that a working can show, from the tables of fields and from running the
//! rules over the starters.

use bench::builtin::starters;
use bench::{Form, Quant};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::path::Path;
use worked::{Effort, Unit};

/// `FIRSTSPIN_WRITE=1` writes the page anew.
#[test]
fn the_list_of_symbols_is_up_to_date() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/symbols.md");
    let page = page();
    if std::env::var_os("FIRSTSPIN_WRITE").is_some() {
        std::fs::write(&path, &page).expect("the page can be written");
    }
    let committed = std::fs::read_to_string(&path).unwrap_or_default();
    let differs = committed.lines().zip(page.lines()).position(|(a, b)| a != b).map(|line| line + 1);
    assert!(committed == page, "docs/symbols.md is stale from line {differs:?}: run with FIRSTSPIN_WRITE=1");
}

const INTRODUCTION: &str = "\
# Symbols

<!-- Made by crates/check/tests/symbol_list.rs, which fails where this page is stale. -->

The symbols of workings. Where two devices share a symbol, the working adds the name of the device: `R_left`, `R_right`.

## In equations

What the equations of `drive` and the [models](models/README.md) are written in. Words in files and in the code, letters in
formulas.

| symbol | key | SI unit | always say |
| --- | --- | --- | --- |
| R, L | `resistance`, `inductance` | Ω, H | terminal to terminal; temperature of R |
| Ke, Kt | `back_emf_constant`, `torque_constant` | V·s/rad, N·m/A | one number in SI units; `speed_constant` is an input format only |
| J, b, τc | `inertia`, `viscous_friction`, `coulomb_friction` | kg·m², N·m·s/rad, N·m | which side of the gear |
| u, i, τ | `voltage`, `current`, `torque` | V, A, N·m | positive drives the shaft forward |
| θ, ω | `angle`, `speed` | rad, rad/s | which side of the gear |
| N | `ratio` | – | turns of the motor for one turn of the output |
| D | `duty_limit` | – | share of the period, 0 to 1 |
";

fn page() -> String {
    let mut text = INTRODUCTION.to_owned();
    text.push_str("\n## Given figures\n\nFigures that files state, by the table that they stand in.\n\n");
    text.push_str("| symbol | meaning | SI unit | table | key |\n| --- | --- | --- | --- | --- |\n");
    let mut rows = BTreeSet::new();
    for kind in bench::all_kinds() {
        for field in kind.fields {
            let (symbol, unit) = match &field.form {
                Form::Quantity(q) | Form::Window(q) | Form::Settings { quant: q, .. } => (q.symbol, unit(q)),
                Form::Whole { symbol, per_rev, .. } => {
                    (*symbol, if *per_rev { "1/rev" } else { "–" }.to_owned())
                }
                _ => continue,
            };
            rows.insert((symbol.to_lowercase(), symbol, field.text, unit, kind.name, field.key));
        }
    }
    for (_, symbol, meaning, unit, table, key) in &rows {
        // Writing to a `String` cannot fail.
        let _ = writeln!(text, "| {symbol} | {} | {unit} | {table} | `{key}` |", cell(meaning));
    }
    text.push_str("\n## Worked figures\n\nWhat the rules work out, seen over all starters.\n\n");
    text.push_str("| symbol | meaning |\n| --- | --- |\n");
    for (symbol, meaning) in worked_figures() {
        let _ = writeln!(text, "| {symbol} | {} |", cell(&meaning));
    }
    text
}

fn unit(quant: &Quant) -> String {
    let unit = Unit::si(quant.dimension);
    if unit.symbol().is_empty() { "–".to_owned() } else { unit.symbol().to_owned() }
}

fn cell(text: &str) -> String {
    text.replace('|', "\\|")
}

/// Named steps of all claims: symbol and meaning. Of several symbols for one meaning the shortest is the one without
/// the name of a device.
fn worked_figures() -> BTreeSet<(String, String)> {
    let mut symbols: BTreeMap<String, String> = BTreeMap::new();
    for starter in starters() {
        let bench = bench::load_from(&starter).value.expect("a starter loads");
        let judged = check::check(&bench).value.expect("a judgement");
        for claim in judged.cases.iter().filter_map(|case| case.claim.as_ref()) {
            for figure in [&claim.value, &claim.limit].map(|side| side.figure(Effort::FirstOrder)) {
                for step in figure.steps.into_iter().filter(|step| !step.name.is_empty()) {
                    let symbol = step.text.split(" = ").next().unwrap_or("").to_owned();
                    let known = symbols.entry(step.name).or_insert_with(|| symbol.clone());
                    if (symbol.len(), &symbol) < (known.len(), known) {
                        *known = symbol;
                    }
                }
            }
        }
    }
    symbols.into_iter().map(|(meaning, symbol)| (symbol, meaning)).collect()
}

//! The reference page of the files, from the tables of fields.

use crate::describe::{anchor, holds, otherwise};
use crate::file::{BenchFile, MeasuredFile};
use crate::kind::{Field, Form, Kind};
use crate::read::part_kinds;
use crate::record::Table;
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// The page `docs/bench-file.md`.
pub fn reference() -> String {
    let mut page = Page { text: INTRODUCTION.to_owned(), done: BTreeSet::new() };
    page.line("## The bench file\n");
    page.section(BenchFile::KIND, 2, true);
    page.line("## Part files\n");
    page.line("A part file says at its top what it describes: `kind = \"dc-motor\"`.\n");
    for kind in part_kinds() {
        page.section(kind, 3, false);
    }
    page.line("## What was measured\n");
    page.section(MeasuredFile::KIND, 2, true);
    page.text.truncate(page.text.trim_end().len());
    page.text.push('\n');
    page.text
}

const INTRODUCTION: &str = "\
# The files of a bench

<!-- Made from the tables of fields in crates/bench/src; a test fails where it is stale. -->

A bench is a folder with `bench.toml`, part files (by custom under `parts/`) and logs. All are TOML. A part is
named by the path of its file or as a built-in one (`\"builtin:motor-24\"`); a table
`{ file = \"parts/motor.toml\", resistance = \"2.7 Ω\" }` takes a part with some figures replaced.

## Quantities

A quantity is a text with a unit, and carries its tolerance: `\"24 V\"`, `\"24 V ± 5 %\"` (or `+/-`), `\"8 .. 28 V\"`,
`\"27 mN·m\"` or `\"27 mN*m\"`, `\"52 g·cm²\"` or `\"52 g*cm^2\"`, `\"20 AWG\"`. A pure number needs no quotation marks. The
long form is a table:

| key | meaning |
| --- | --- |
| `value` or `typ` | nominal value |
| `min`, `max` | limits |
| `u` | standard uncertainty |
| `at` | conditions: `{ temperature = \"25 °C\" }`; also `voltage`, `current`, `frequency`, `speed` |
| `how` | `datasheet`, `measured` or `assumed` |
| `from` | page, meter, date |

No stated tolerance never means exact: the last column says which band is taken then, and every result shows that it
was assumed (common practice, no source). What a range means depends on the key: by default one value that is not known
better; where the table says so, a variation in use or a window whose ends are limits.

## Names

`device.connector.pin` is a place, `device:signal` a signal: `board.host.3`, `controller.J1.3`, `left.motor`,
`board:A.pwm`. Where two devices of different kinds have the same name, say which: `supplies.latch`, `servos.latch`. An axis,
servo or load with `like = \"left\"` takes over every key of the other that it does not give itself.

## Colours of wires

The table `colours` is yours: it gives the wires that `firstspin wire` adds their colour, by what they carry. Nothing is taken
where it is silent; green-yellow is for the protective conductor only (IEC 60204-1).

```toml bench.toml
[colours]
ground = \"black\"                    # the common return
drive = \"red\"                       # a supply
5V = \"orange\"                       # a rail, whatever gives it
\"controller.3V3\" = \"violet\"       # a rail of the controller or of a board
pwm = \"white\"                       # signals of this role: the words of `role`, and of `measures` for sensors
\"board:A.pwm\" = \"white-blue\"      # one line
protective-conductor = \"green-yellow\"
```

Of several keys that fit, [the most specific one decides](wire.md#colours).

";

struct Page {
    text: String,
    done: BTreeSet<&'static str>,
}

impl Page {
    /// One kind with its table of keys, then the kinds that stand in it.
    fn section(&mut self, kind: &'static Kind, level: usize, top: bool) {
        if !self.done.insert(kind.name) {
            return;
        }
        if !top {
            self.line(&format!("{} {}\n", "#".repeat(level), kind.name));
            self.line(&format!("<a id=\"{}\"></a>\n", anchor(kind)));
        }
        self.line(&kind.text.trim().replace("\n ", "\n"));
        self.line("\n| key | meaning | holds | where it is silent |");
        self.line("| --- | --- | --- | --- |");
        for field in flattened(kind) {
            let meaning = match &field.form {
                Form::Quantity(quant) | Form::Window(quant) => {
                    format!("{} ({})", field.text, symbol(quant.symbol))
                }
                _ => field.text.to_owned(),
            };
            // Writing to a `String` cannot fail.
            let _ = writeln!(
                self.text,
                "| `{}` | {} | {} | {} |",
                field.key,
                cell(&meaning),
                cell(&holds(&field.form)),
                cell(&otherwise(field))
            );
        }
        self.line("");
        self.words(kind);
        for nested in nested(kind) {
            self.section(nested, (level + 1).min(5), false);
        }
    }

    /// What the words of each choice mean.
    fn words(&mut self, kind: &'static Kind) {
        for field in flattened(kind) {
            let Form::Choice { words, .. } = &field.form else { continue };
            self.line(&format!("`{}`:", field.key));
            for word in *words {
                self.line(&format!("- `{}`: {}", word.word, word.text));
            }
            self.line("");
        }
    }

    fn line(&mut self, line: &str) {
        self.text.push_str(line);
        self.text.push('\n');
    }
}

/// The fields of a kind, those of other kinds that stand directly in it in their place.
fn flattened(kind: &'static Kind) -> Vec<&'static Field> {
    let mut fields = Vec::new();
    for field in kind.fields {
        match field.form {
            Form::Flat(flat) => fields.extend(flattened(flat)),
            _ => fields.push(field),
        }
    }
    fields
}

/// Kinds of the tables in a table. Part kinds have sections of their own.
fn nested(kind: &'static Kind) -> Vec<&'static Kind> {
    let of = |field: &&'static Field| match &field.form {
        Form::Table(kind) | Form::Tables(kind) | Form::Named(kind) => Some(*kind),
        Form::Map { table, .. } => *table,
        _ => None,
    };
    flattened(kind).iter().filter_map(of).collect()
}

fn symbol(symbol: &str) -> String {
    format!("*{}*", symbol.replace('_', "\\_"))
}

fn cell(text: &str) -> String {
    text.replace('|', "\\|")
}

//! Colours in a plan: the table changes nothing but the colours of the wires to add.

use bench::builtin::starter;
use bench::{Bench, Files};
use proptest::prelude::*;
use wiring::{Options, State, Wiring};

/// The shuttle or the lead-screw stage without the wires of its bench file, with a table of colours.
fn unwired(name: &str, table: &[(&str, &str)]) -> Bench {
    let mut files = starter(name).expect("a starter").memory();
    let text = String::from_utf8(files.read("bench.toml").expect("the file")).expect("text");
    let mut kept = String::new();
    let mut in_wire = false;
    for line in text.lines() {
        in_wire = if line.starts_with('[') { line.starts_with("[[wires]]") } else { in_wire };
        if !in_wire {
            kept.push_str(line);
            kept.push('\n');
        }
    }
    kept.push_str("[colours]\n");
    for (key, colour) in table {
        kept.push_str(&format!("\"{key}\" = \"{colour}\"\n"));
    }
    files.insert("bench.toml", kept);
    let checked = bench::load_from(&files);
    checked.value.unwrap_or_else(|| panic!("{:?}", checked.findings))
}

fn plan(bench: &Bench) -> Wiring<'_> {
    let checked = wiring::wire(bench, &Options::default());
    checked.value.unwrap_or_else(|| panic!("{:?}", checked.findings))
}

/// What the table of these benches can say of each wire that a plan adds, the most specific first.
fn keys(carries: &str) -> &'static [&'static str] {
    match carries {
        "board:B.enc_a" => &["board:B.enc_a", "encoder-a"],
        "board:B.enc_b" => &["board:B.enc_b", "encoder-b"],
        "latch:pulse" => &["latch:pulse", "servo-pulse"],
        "ground" => &["ground"],
        "board:A.pwm1" => &["board:A.pwm1", "pwm"],
        "board:A.pwm2" => &["board:A.pwm2", "pwm"],
        "board:enable" => &["board:enable", "enable"],
        "board:fault" => &["board:fault", "fault"],
        "board:A.current" => &["board:A.current", "current"],
        "board:io" => &["board:io", "controller.3V3", "3V3"],
        "slide.encoder:a" => &["slide.encoder:a", "encoder-a"],
        "slide.encoder:b" => &["slide.encoder:b", "encoder-b"],
        "slide.encoder:index" => &["slide.encoder:index", "encoder-index"],
        other => panic!("a wire that carries {other}"),
    }
}

/// Keys of one or both benches; a key that means nothing on one of them is a weakness there and no more.
const KEYS: [&str; 24] = [
    "ground",
    "pwm",
    "enable",
    "fault",
    "current",
    "encoder-a",
    "encoder-b",
    "encoder-index",
    "servo-pulse",
    "3V3",
    "controller.3V3",
    "drive",
    "protective-conductor",
    "board:B.enc_a",
    "board:B.enc_b",
    "latch:pulse",
    "board:A.pwm1",
    "board:A.pwm2",
    "board:enable",
    "board:A.current",
    "board:io",
    "slide.encoder:a",
    "slide.encoder:index",
    "nothing of the kind",
];

const COLOURS: [&str; 5] = ["black", "white", "red-blue", "light blue", "grau \u{a7}"];

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_table_changes_no_pin_and_names_no_colour_of_its_own(
        table in prop::collection::btree_map(0..KEYS.len(), 0..COLOURS.len(), 0..KEYS.len()),
        stage in any::<bool>(),
    ) {
        let name = if stage { "lead-screw-stage" } else { "seed-tray-shuttle" };
        let table: Vec<(&str, &str)> = table.iter().map(|(key, colour)| (KEYS[*key], COLOURS[*colour])).collect();
        let (plain, coloured) = (unwired(name, &[]), unwired(name, &table));
        let (plain, coloured) = (plan(&plain), plan(&coloured));
        prop_assert_eq!(&plain.solved.plan, &coloured.solved.plan);
        prop_assert_eq!(&plain.price, &coloured.price);
        prop_assert_eq!(plain.wires.len(), coloured.wires.len());
        prop_assert!(!plain.wires.is_empty());
        for (before, after) in plain.wires.iter().zip(&coloured.wires) {
            prop_assert_eq!(
                (&before.id, &before.from, &before.to, &before.carries, before.state),
                (&after.id, &after.from, &after.to, &after.carries, after.state)
            );
            prop_assert_eq!(&before.colour, &None);
            let wanted = keys(&after.carries)
                .iter()
                .find_map(|key| table.iter().find(|(known, _)| known == key).map(|(_, colour)| *colour));
            prop_assert_eq!(after.colour.as_deref(), wanted, "{}", after.carries);
        }
    }
}

/// Wires of the file keep the colour that they have, or none.
#[test]
fn wires_of_the_file_keep_theirs() {
    let mut files = starter("seed-tray-shuttle").expect("a starter").memory();
    let text = String::from_utf8(files.read("bench.toml").expect("the file")).expect("text");
    let text =
        text.replacen("carries = \"board:B.enc_a\"", "carries = \"board:B.enc_a\"\ncolour = \"pink\"", 1);
    files.insert("bench.toml", format!("{text}\n[colours]\nencoder-a = \"grey\"\nencoder-b = \"grey\"\n"));
    let bench = bench::load_from(&files).value.expect("a bench");
    let wiring = plan(&bench);
    let colour = |carries: &str| {
        let wire = wiring.wires.iter().find(|wire| wire.carries == carries).expect("the wire");
        assert_eq!(wire.state, State::Stays);
        wire.colour.clone()
    };
    assert_eq!(colour("board:B.enc_a").as_deref(), Some("pink"));
    assert_eq!(colour("board:B.enc_b"), None);
}

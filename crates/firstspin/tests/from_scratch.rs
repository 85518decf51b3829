//! The page about a bench from scratch is true: its files are a bench, nothing of its parts is missing, and each kind of
//! load and motion needs what its row says and nothing else.

use bench::file::{Load, Motion};
use bench::{Memory, Table};
use check::{Case, Standing};
use std::collections::BTreeSet;
use worked::Outcome;

const PAGE: &str = include_str!("../../../docs/from-scratch.md");

/// What the bench of the page moves: the table that the others stand in for.
const LOAD: &str = "[loads.table]\nkind = \"disc\"\nmass = \"2 kg\"\nradius = \"150 mm\"\n";
const MOTION: &str = "[motions.index]\nkind = \"trapezoid\"\ndistance = \"90 deg\"\ntop_speed = \"90 deg/s\"\n\
                      acceleration = \"360 deg/s²\"\ndwell = \"2 s\"\n";

/// The files of the page: name and text.
fn files() -> Vec<(String, String)> {
    let fences = PAGE.split("\n```toml file=").skip(1);
    let file = |fence: &str| {
        let (name, text) = fence.split_once('\n')?;
        Some((name.to_owned(), text.split("```").next()?.to_owned()))
    };
    fences.filter_map(file).collect()
}

/// The cases of the bench of the page, with another load and motion.
fn cases(load: &str, motion: &str) -> Vec<Case> {
    let files = files().into_iter().map(|(name, text)| {
        assert!(name != "bench.toml" || (text.contains(LOAD) && text.contains(MOTION)), "{text}");
        (name, text.replace(LOAD, load).replace(MOTION, motion))
    });
    let files: Memory = files.collect();
    let loaded = bench::load_from(&files);
    assert!(loaded.findings.is_empty(), "{load}{motion}: {:#?}", loaded.findings);
    check::check(&loaded.value.expect("a bench")).value.expect("a judgement").cases
}

/// Paths of the data that are missing.
fn missing(cases: &[Case]) -> BTreeSet<String> {
    let outcomes = cases.iter().filter_map(|case| case.verdict.as_ref().map(|verdict| &verdict.outcome));
    let inputs = outcomes.filter_map(|outcome| match outcome {
        Outcome::Missing(inputs) => Some(inputs),
        _ => None,
    });
    inputs.flatten().map(|input| input.path.to_string()).collect()
}

/// Rows of the table under a heading: words in backticks of each cell.
fn rows(heading: &str) -> Vec<Vec<Vec<&'static str>>> {
    let (_, below) = PAGE.split_once(&format!("## {heading}\n")).expect("the heading");
    let lines = below.lines().skip(1).take_while(|line| !line.starts_with("## "));
    let words = |cell: &'static str| cell.split('`').skip(1).step_by(2).collect::<Vec<_>>();
    lines
        .filter(|line| line.starts_with("| `") && !line.starts_with("| `kind`"))
        .map(|line| line.split('|').skip(1).map(words).collect())
        .collect()
}

/// A value for a key of a load along a way, of a turn, or of a motion of either sort.
fn value(key: &str, turns: bool) -> &'static str {
    match (key, turns) {
        ("mass", _) => "1 kg",
        ("wheel_radius" | "pulley_radius" | "drum_radius" | "centre_of_mass", _) => "40 mm",
        ("lead", _) => "5 mm",
        ("inertia", _) => "20 kg·cm²",
        ("torque", _) => "0.1 N·m",
        ("distance" | "amplitude", true) => "90 deg",
        ("distance" | "amplitude", false) => "0.2 m",
        ("top_speed", true) => "90 deg/s",
        ("top_speed", false) => "20 mm/s",
        ("acceleration", true) => "360 deg/s²",
        ("acceleration", false) => "0.1 m/s²",
        ("jerk", _) => "3600 deg/s³",
        ("frequency", _) => "0.2 Hz",
        _ => panic!("a value for `{key}`"),
    }
}

fn table(head: &str, kind: &str, keys: &[&str], turns: bool) -> String {
    let lines: String = keys.iter().map(|key| format!("{key} = \"{}\"\n", value(key, turns))).collect();
    format!("[{head}]\nkind = \"{kind}\"\n{lines}")
}

#[test]
fn the_files_are_a_bench_whose_parts_lack_nothing() {
    assert_eq!(files().len(), 3);
    let cases = cases(LOAD, MOTION);
    let open = cases.iter().filter(|case| case.standing == Standing::Undecided);
    for finding in open.filter_map(|case| case.finding.as_ref()) {
        assert!(!finding.message.contains("(parts/"), "{}", finding.message);
    }
    assert!(cases.iter().filter(|case| case.standing == Standing::Holds).count() > 80);
}

#[test]
fn each_kind_of_load_needs_what_its_row_says() {
    let kinds = rows("Kinds of loads");
    assert_eq!(kinds.len(), 7);
    for row in kinds {
        let (kind, needed) = (row[0][0], &row[1]);
        let turns = ["arm", "disc", "constant"].contains(&kind);
        let keys = ["distance", "top_speed", "acceleration"];
        let motion = table("motions.index", "trapezoid", &keys, turns);
        let asked = |keys: &[&str]| missing(&cases(&table("loads.table", kind, keys, turns), &motion));
        let whole = asked(needed);
        let others = ["radial_force", "radial_force_at", "axial_force", "grip", "slope"];
        let left: Vec<&String> = whole
            .iter()
            .filter(|path| path.strip_prefix("loads.table.").is_some_and(|key| !others.contains(&key)))
            .collect();
        assert!(left.is_empty(), "`{kind}` needs more than its row says: {left:?}");
        for (k, key) in needed.iter().enumerate() {
            let mut fewer = needed.clone();
            fewer.remove(k);
            let without = asked(&fewer);
            assert!(without.contains(&format!("loads.table.{key}")), "`{kind}` without `{key}`");
        }
        let keys = bench_keys(Load::KIND);
        for word in row.iter().skip(1).flatten() {
            assert!(keys.contains(word), "`{word}` of `{kind}` is no key of a load");
        }
    }
}

#[test]
fn each_kind_of_motion_needs_what_its_row_says() {
    let kinds = rows("Kinds of motions");
    assert_eq!(kinds.len(), 6);
    for row in kinds {
        let needed = &row[1];
        for kind in &row[0] {
            let asked = |keys: &[&str]| missing(&cases(LOAD, &table("motions.index", kind, keys, true)));
            let whole = asked(needed);
            assert!(!whole.iter().any(|path| path.starts_with("motions.")), "`{kind}`: {whole:?}");
            for (k, key) in needed.iter().enumerate() {
                let mut fewer = needed.clone();
                fewer.remove(k);
                assert!(asked(&fewer).contains(&format!("motions.index.{key}")), "`{kind}` without `{key}`");
            }
        }
        let keys = bench_keys(Motion::KIND);
        for word in row.iter().skip(1).flatten() {
            assert!(keys.contains(word), "`{word}` is no key of a motion");
        }
    }
}

fn bench_keys(kind: &bench::Kind) -> Vec<&'static str> {
    kind.fields.iter().map(|field| field.key).collect()
}

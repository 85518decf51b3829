//! What is made from the tables of fields: the reference page and the schemas.

use bench::Form;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// `FIRSTSPIN_WRITE=1` writes the page anew.
#[test]
fn the_reference_page_is_up_to_date() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/bench-file.md");
    let page = bench::reference();
    if std::env::var_os("FIRSTSPIN_WRITE").is_some() {
        std::fs::write(&path, &page).expect("the page can be written");
    }
    let committed = std::fs::read_to_string(&path).unwrap_or_default();
    let differs = committed.lines().zip(page.lines()).position(|(a, b)| a != b);
    assert!(
        committed == page,
        "docs/bench-file.md is stale from line {differs:?}: run with FIRSTSPIN_WRITE=1"
    );
}

#[test]
fn kinds_and_keys_are_named_once() {
    let mut names: BTreeMap<&str, usize> = BTreeMap::new();
    for kind in bench::all_kinds() {
        *names.entry(kind.name).or_default() += 1;
        assert!(!kind.text.trim().is_empty(), "{}", kind.name);
        let mut keys = BTreeSet::new();
        for field in kind.fields {
            assert!(keys.insert(field.key), "{} has two keys `{}`", kind.name, field.key);
            assert!(!field.key.contains('#'), "{}", field.key);
            let first = field.text.chars().next().unwrap_or(' ');
            assert!(
                !field.text.ends_with('.') && first != ' ',
                "{}.{}: {}",
                kind.name,
                field.key,
                field.text
            );
        }
    }
    assert_eq!(names.iter().filter(|(_, n)| **n > 1).collect::<Vec<_>>(), []);
}

/// A band, a default or a physical range that contradict each other would make a default impossible.
#[test]
fn specifications_hang_together() {
    for kind in bench::all_kinds() {
        for field in kind.fields {
            let (Form::Quantity(quant) | Form::Window(quant) | Form::Settings { quant, .. }) = &field.form
            else {
                continue;
            };
            let (low, high) = quant.span;
            assert!(low < high, "{}.{}: {low} {high}", kind.name, field.key);
            if let Some(default) = quant.default {
                assert!(low <= default.si && default.si <= high, "{}.{}", kind.name, field.key);
            }
            if let Some((least, most)) = quant.setting {
                assert!(low <= least && least < most && most <= high, "{}.{}: setting", kind.name, field.key);
            }
            assert!(!quant.symbol.is_empty(), "{}.{}", kind.name, field.key);
        }
    }
}

#[test]
fn schemas_point_at_definitions_that_are_there() {
    for schema in [bench::bench_schema(), bench::part_schema()] {
        let text = schema.to_string();
        let defs = schema["$defs"].as_object().expect("definitions");
        let used: BTreeSet<&str> =
            text.split("#/$defs/").skip(1).filter_map(|rest| rest.split('"').next()).collect();
        for name in &used {
            assert!(defs.contains_key(*name), "{name}");
        }
        for name in defs.keys() {
            assert!(used.contains(name.as_str()), "`{name}` is not used");
        }
    }
}

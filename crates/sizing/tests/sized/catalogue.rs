//! Other parts: what is told of a combination is what the bench says with it, and none is ruled out that would have held.

use bench::{Files, Memory};
use finding::{Stopped, Watch};
use sizing::catalogue::{Alternatives, NoSearch, search};
use std::sync::atomic::AtomicBool;

fn starter() -> Memory {
    bench::builtin::starter("seed-tray-shuttle").expect("a starter of that name").memory()
}

/// A part file of the starter under another name, with some of its text replaced.
fn put(files: &mut Memory, from: &str, name: &str, changes: &[(&str, &str)]) {
    let text = String::from_utf8(files.read(from).expect("the part is there")).expect("text");
    let text = changes.iter().fold(text, |text, (old, new)| {
        assert!(text.contains(old), "{from} holds no `{old}`");
        text.replace(old, new)
    });
    files.insert(name, text);
}

fn found(files: &Memory) -> Alternatives {
    let bench = bench::load_from(files).value.expect("a usable bench");
    search(files, &bench, "left", Watch::none()).expect("there is something to search")
}

/// The bench with parts in the place of the present ones, by the keys of its file.
fn fits_with(files: &Memory, changes: &str) -> bool {
    let bench =
        bench::load_from(&bench::overlay(files, "bench.toml", changes)).value.expect("a usable bench");
    sizing::size(&bench, Some("left")).fits()
}

#[test]
fn a_stronger_motor_of_the_folder_is_found_and_a_hopeless_one_is_not() {
    let mut files = starter();
    let motor = "parts/motor-24.toml";
    // Twice the continuous current for the same money, and one that cannot turn the wheels at all.
    put(
        &mut files,
        motor,
        "parts/cool.toml",
        &[
            ("winding_case = \"3.5 K/W", "winding_case = \"0.9 K/W"),
            ("case_air = \"9.0 K/W", "case_air = \"2.0 K/W"),
        ],
    );
    put(
        &mut files,
        motor,
        "parts/hopeless.toml",
        &[
            ("back_emf_constant = \"4.03 V/krpm", "back_emf_constant = \"0.4 V/krpm"),
            ("torque_constant = \"38.5 mN·m/A", "torque_constant = \"3.85 mN·m/A"),
        ],
    );
    let found = found(&files);
    assert!(found.present.fits, "{}", found.present.said);
    let uses = |name: &str| found.front.iter().any(|one| one.changed[0].as_deref() == Some(name));
    assert!(uses("parts/cool.toml"), "{:?}", found.front);
    assert!(!uses("parts/hopeless.toml"));
    assert!(!fits_with(&files, "[axes.left]\nmotor = \"parts/hopeless.toml\"\n"));
    for one in &found.front {
        let [motor, gearbox, board, supply] = &one.changed;
        let line = |table: &str, key: &str, part: &Option<String>| {
            part.as_ref().map_or_else(String::new, |part| format!("[{table}]\n{key} = \"{part}\"\n"))
        };
        let axis = match (motor, gearbox) {
            (Some(motor), Some(gear)) => format!("[axes.left]\nmotor = \"{motor}\"\ngearbox = \"{gear}\"\n"),
            _ => line("axes.left", "motor", motor) + &line("axes.left", "gearbox", gearbox),
        };
        let change = axis + &line("drivers.board", "part", board) + &line("supplies.drive", "part", supply);
        assert_eq!(one.fits, fits_with(&files, &change), "{change}");
    }
}

/// A gearbox with which the bench fits is never lost by ruling out, and a hopeless one is not tried to the end.
#[test]
fn what_would_have_held_is_not_ruled_out() {
    let mut files = starter();
    let without = found(&files);
    let gear = "parts/planetary-27.toml";
    let ratios = ["3", "20", "24", "30", "35", "200"];
    for ratio in ratios {
        let change = ("ratio = \"27 1/25\"", format!("ratio = \"{ratio}\""));
        put(&mut files, gear, &format!("parts/gear-{ratio}.toml"), &[(change.0, &change.1)]);
    }
    let with = found(&files);
    let holds =
        |ratio: &&&str| fits_with(&files, &format!("[axes.left]\ngearbox = \"parts/gear-{ratio}.toml\"\n"));
    let held = ratios.iter().filter(holds).count();
    assert!((1..ratios.len()).contains(&held), "{held} of them hold");
    assert!(with.hold >= without.hold + held, "{held} hold, {} and {}", without.hold, with.hold);
    assert!(with.ruled_out > without.ruled_out);
    let [motors, gears, boards, supplies] = with.parts;
    assert_eq!(with.combinations, motors * gears * boards * supplies);
}

#[test]
fn parts_that_the_bench_cannot_be_used_with_are_named() {
    let mut files = starter();
    files.insert("parts/broken.toml", "kind = \"dc-motor\"\nresistance = \"five\"\n");
    let found = found(&files);
    assert!(
        found.unusable.iter().any(|(path, why)| path == "parts/broken.toml" && !why.is_empty()),
        "{:?}",
        found.unusable
    );
}

#[test]
fn an_axis_without_a_dc_motor_and_a_wish_to_stop_end_it() {
    let table = bench::builtin::starter("turntable").expect("a starter of that name");
    let bench = bench::load_from(&table).value.expect("a usable bench");
    let Err(NoSearch::Axis(why)) = search(&table, &bench, "table", Watch::none()) else {
        panic!("it was searched")
    };
    assert!(why.contains("no DC motor"), "{why}");
    let files = starter();
    let bench = bench::load_from(&files).value.expect("a usable bench");
    let raised = AtomicBool::new(true);
    let ended = search(&files, &bench, "left", Watch::new(&raised, &|_| ()));
    assert_eq!(ended.err(), Some(NoSearch::Stopped(Stopped)));
}

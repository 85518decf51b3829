//! `tune`: what it says, what it writes, and how it ends.

use super::run::{Own, Said, empty, program, run, run_in};
use serde_json::{Value, json};
use std::fs;

/// What somebody types for the lift arm: gains that are far too high for its encoder and delay.
const TOO_HIGH: [&str; 4] = ["--gain", "1 V·s/rad", "--integral-time", "5ms"];

#[test]
fn text_and_json_tell_the_same() {
    let own = Own::of("lift-arm");
    let (text, told) = (own.run(["tune"]), own.run(["tune", "--format", "json"]));
    text.done();
    assert_eq!((text.status, &*told.err), (told.status, ""));
    let value = told.json();
    let axis = &value["axes"][0];
    assert_eq!((&axis["axis"], &axis["does"]), (&json!("lift"), &json!(true)), "{axis:#}");
    assert!(text.out.contains("do what is wanted at every corner"), "{}", text.out);
    // What is proven is no more than what was met at a corner.
    for margin in axis["margins"].as_array().expect("margins") {
        let of = |key: &str| margin[key].as_f64().expect("a number");
        assert!(0.0 < of("proven") && of("proven") <= of("met") && of("met") <= of("nominal"), "{margin}");
    }
}

#[test]
fn gains_are_judged_and_written_only_where_they_do() {
    let own = Own::of("lift-arm");
    let bad =
        run_in(own.path(), ["tune", "--axis", "lift", "--out", "gains.toml"].into_iter().chain(TOO_HIGH));
    bad.done();
    assert_eq!(bad.status, Some(1));
    assert!(bad.out.contains("swings up") && bad.out.contains("gains.toml was not written"), "{}", bad.out);
    assert!(!own.path().join("gains.toml").exists());
    for name in ["gains.toml", "gains.json", "gains.csv"] {
        // Twice: earlier gains are replaced.
        for _ in 0..2 {
            run_in(own.path(), ["tune", "--axis", "lift", "--out", name]).done();
        }
    }
    let read = |name: &str| fs::read_to_string(own.path().join(name)).expect(name);
    let table: toml::Table = toml::from_str(&read("gains.toml")).expect("TOML");
    let value: Value = serde_json::from_str(&read("gains.json")).expect("JSON");
    let gain = table["axes"]["lift"]["gain"].as_float().expect("a gain");
    let all = value["axes"]["lift"].as_array().expect("gains");
    let same = all.iter().find(|one| one["key"] == "gain").expect("the gain");
    assert_eq!(same["value"], json!(gain));
    let row = format!("lift,gain,gain of the speed loop,K_p,{gain:?},V·s/rad,");
    assert!(read("gains.csv").contains(&row), "{row} in {}", read("gains.csv"));
    // The gains that were found are found good when they are given.
    let text = |key: &str| table["axes"]["lift"][key].as_float().expect(key).to_string();
    let again = own.run([
        "tune",
        "--axis",
        "lift",
        "--gain",
        &format!("{} V·s/rad", text("gain")),
        "--integral-time",
        &format!("{} s", text("integral_time")),
        "--weight",
        &text("weight"),
        "--window",
        &format!("{} s", text("window")),
        "--position-gain",
        &format!("{}/s", text("position_gain")),
        "--format",
        "json",
    ]);
    assert_eq!(again.json()["axes"][0]["does"], json!(true), "{}", again.out);
}

#[test]
fn another_file_is_left_as_it_is() {
    let own = Own::of("lift-arm");
    let place = own.path().join("mine.csv");
    fs::write(&place, "time,speed\n0,1\n").expect("it is written");
    own.run(["tune", "--out", "mine.csv"]).refused(&["mine.csv is there already and holds no gains"]);
    assert_eq!(fs::read_to_string(&place).expect("it is there"), "time,speed\n0,1\n");
    own.run(["tune", "--out", "gains.txt"]).refused(&["none of the endings", ".toml, .json, .csv"]);
}

#[test]
fn bad_input_is_told_with_what_to_change() {
    let own = Own::of("lift-arm");
    own.run(["tune", "--axis", "lfit"]).refused(&["no axis `lfit`", "lift"]);
    own.run(["tune", "--axis", "lift", "--gain", "fast"]).refused(&["--gain fast"]);
    own.run(["tune", "--axis", "lift", "--integral-time", "3 V"]).refused(&["--integral-time 3 V"]);
    for given in
        [["--gain", "0 V·s/rad"], ["--gain", "-1 V·s/rad"], ["--weight", "2"], ["--integral-time", "1 ms"]]
    {
        let said = own.run(["tune", "--axis", "lift"].into_iter().chain(given));
        assert_eq!(said.status, Some(1), "{said:?}");
        assert!(said.out.contains("axis `lift`: "), "{}", said.out);
    }
    Own::of("turntable").run(["tune"]).refused(&["no axis with a DC motor", "table"]);
    Own::of("turntable").run(["tune", "--axis", "table"]).refused(&["is driven by a stepper"]);
    run_in(empty().path(), ["tune", "nowhere"]).refused(&["nowhere"]);
}

#[test]
fn a_datum_that_is_missing_is_named() {
    let own = Own::of("lift-arm");
    own.change("bench.toml", "sample_time = \"1 ms\"", "");
    let said = own.run(["tune"]);
    said.done();
    assert_eq!(said.status, Some(1));
    let words = said.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("cannot be tuned without controller.loop.sample_time"), "{words}");
}

#[test]
fn what_cannot_be_reached_is_told_with_what_would_help() {
    let own = Own::of("lift-arm");
    own.change("bench.toml", "overshoot = \"5 %\"", "overshoot = \"5 %\"\nrise_time = \"20 ms\"");
    let said = own.run(["tune"]);
    assert_eq!(said.status, Some(1));
    let words = said.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("Not met: the rise time is"), "{words}");
    assert!(words.contains("in place of") || words.contains("Neither 32 times"), "{words}");
}

#[test]
fn no_line_is_wider_than_the_terminal() {
    for columns in [80, 100] {
        let own = Own::of("lead-screw-stage");
        let mut narrow = program(own.path());
        narrow.env("COLUMNS", columns.to_string()).arg("tune");
        Said::of(narrow.output().expect("it starts")).no_wider_than(columns);
    }
    assert!(run(["tune"]).out.starts_with("This is the built-in example"));
}

/// What is wanted of the axis is met in the switched simulation too, with the counts of its encoder; and the same gains are handed
/// over.
#[test]
fn gains_that_are_found_are_played_and_handed_over() {
    let own = Own::of("lead-screw-stage");
    let said = own.run(["predict", "move", "--tuned", "--builds", "0"]);
    assert_eq!(said.status, Some(0), "{said:?}");
    let words = said.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("of its motion, where 1 mm are allowed"), "{words}");
    assert_ne!(said.out, own.run(["predict", "move", "--builds", "0"]).out);
    let gain = |args: &[&str]| {
        let out = own.file("code");
        let folder = out.to_string_lossy().into_owned();
        let said = run_in(own.path(), [&["export", "--out", &folder], args].concat());
        assert_eq!(said.status, Some(0), "{said:?}");
        let text = own.read("code/gains.json");
        std::fs::remove_dir_all(&out).expect("removed");
        text
    };
    assert_ne!(gain(&["--tuned"]), gain(&[]));
    own.run(["predict", "spin-up", "--tuned"]).refused(&["does not take --tuned", "`move`"]);
    run(["export", "--tuned", "--out", "nowhere"])
        .refused(&["axis left has no gains that do", "firstspin tune"]);
}

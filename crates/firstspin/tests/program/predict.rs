//! `predict`: what it says, what it writes, and how it ends.

use super::run::{Own, empty, run, run_in, starters};
use serde_json::json;
use std::fs;

const HEADINGS: &str =
    "time [s],duty,supply voltage [V],motor voltage [V],current [A],speed [rad/s],angle [rad]";
const TRIALS: [&str; 4] = ["locked-rotor", "spin-up", "coast-down", "reversal"];

#[test]
fn text_and_json_tell_the_same_verdict() {
    for starter in starters() {
        let own = Own::of(starter.name());
        for trial in TRIALS {
            let (text, told) = (own.run(["predict", trial]), own.run(["predict", trial, "--format", "json"]));
            assert_eq!(text.status, told.status, "{} {trial}", starter.name());
            if text.status == Some(2) {
                assert!(text.out.is_empty() && text.err.starts_with("firstspin: "), "{text:?}");
                continue;
            }
            text.done();
            let value = told.json();
            assert_eq!(value["trial"], json!(trial));
            assert_eq!(value["offered"] == json!(false), text.out.contains("is refused"), "{}", text.out);
            assert_eq!(value["offered"] == json!(true), text.out.contains("Key figures"), "{}", text.out);
        }
    }
}

#[test]
fn the_example_says_that_it_is_the_example() {
    let said = run(["predict", "spin-up"]);
    said.done();
    assert!(said.out.starts_with("This is the built-in example"), "{}", said.out);
}

#[test]
fn no_line_of_it_is_wider_than_the_terminal() {
    let own = Own::new();
    for trial in TRIALS {
        for columns in [60, 80, 100] {
            let mut program = super::run::program(own.path());
            let output = program.args(["predict", trial]).env("COLUMNS", columns.to_string()).output();
            super::run::Said::of(output.expect("it runs")).no_wider_than(columns);
        }
    }
}

#[test]
fn what_is_not_there_is_named_with_what_is() {
    run(["predict", "spin"]).refused(&[
        "no trial `spin`",
        "did you mean `spin-up`?",
        "locked-rotor",
        "reversal",
    ]);
    run(["predict", "spin-up", "--axis", "middle"]).refused(&["no axis `middle`", "left, right"]);
    run(["predict", "spin-up", "no-such-bench"]).refused(&["no-such-bench does not exist"]);
    for duty in ["2", "-1.5", "0", "nan", "inf"] {
        run(["predict", "spin-up", "--duty", duty]).refused(&["duty", "must be from -1 to 1"]);
    }
    let table = Own::of("turntable");
    table.run(["predict", "spin-up"]).refused(&["no axis with a DC motor", "table"]);
    table.run(["predict", "spin-up", "--axis", "table"]).refused(&["axis `table`", "stepper"]);
    let lift = Own::of("lift-arm");
    lift.run(["predict", "spin-up"]).refused(&["carries an arm", "--free"]);
    assert_eq!(lift.run(["predict", "spin-up", "--free"]).status, Some(0));
}

#[test]
fn the_log_is_whole_and_reads_as_numbers() {
    let folder = empty();
    let said = run_in(folder.path(), ["predict", "coast-down", "--out", "coast.csv"]);
    said.done();
    let text = fs::read_to_string(folder.path().join("coast.csv")).expect("the log");
    let mut lines = text.split("\r\n");
    assert_eq!(lines.next(), Some(HEADINGS));
    assert!(text.ends_with("\r\n"));
    let rows: Vec<Vec<f64>> = lines
        .filter(|line| !line.is_empty())
        .map(|line| line.split(',').map(|cell| cell.parse().expect("a number")).collect())
        .collect();
    assert!(said.out.contains(&format!("{} rows are in coast.csv", rows.len())), "{}", said.out);
    assert!(rows.len() > 1000 && rows.len() < 2100, "{}", rows.len());
    assert!(rows.iter().all(|row| row.len() == 7 && row.iter().all(|cell| cell.is_finite())));
    assert!(rows.windows(2).all(|pair| pair[0][0] < pair[1][0]));
    // Speed is the slope of the angle, to the bend of one row while it breaks away: 1500 rad/s² over 0.5 ms.
    for pair in rows.windows(2) {
        let (span, mean) = (pair[1][0] - pair[0][0], 0.5 * (pair[1][5] + pair[0][5]));
        assert!((pair[1][6] - pair[0][6] - mean * span).abs() < 1e-4 + 1e-3 * mean.abs() * span, "{pair:?}");
    }
    let last = rows.last().expect("rows");
    assert_eq!((last[4], last[5]), (0.0, 0.0), "it rests");
    let names: Vec<_> =
        fs::read_dir(folder.path()).expect("listed").map(|e| e.expect("an entry").file_name()).collect();
    assert_eq!(names, ["coast.csv"], "nothing else is left behind");
}

#[test]
fn only_a_log_is_replaced() {
    let folder = empty();
    let path = folder.path().join("log.csv");
    let asked = ["predict", "locked-rotor", "--out", "log.csv"];
    fs::write(&path, "my own notes\r\n").expect("written");
    run_in(folder.path(), asked).refused(&["log.csv is there already", "no log of a trial"]);
    assert_eq!(fs::read_to_string(&path).expect("there"), "my own notes\r\n");
    fs::write(&path, format!("{HEADINGS}\r\n0,0,0,0,0,0,0\r\n")).expect("written");
    run_in(folder.path(), asked).done();
    let first = fs::read(&path).expect("there");
    assert!(first.len() > 1000);
    run_in(folder.path(), asked).done();
    assert_eq!(fs::read(&path).expect("there"), first, "the same bench gives the same bytes");
    for out in ["no-such-folder/log.csv", "."] {
        run_in(folder.path(), ["predict", "spin-up", "--out", out]).refused(&[out]);
    }
}

#[test]
fn a_refused_trial_writes_no_log() {
    let folder = empty();
    let said = run_in(folder.path(), ["predict", "spin-up", "--duty", "0.9", "--out", "log.csv"]);
    assert_eq!(said.status, Some(1), "{said:?}");
    for piece in ["is refused", "A.chop", "log.csv was not written"] {
        assert!(said.out.contains(piece), "{piece}: {}", said.out);
    }
    assert_eq!(fs::read_dir(folder.path()).expect("listed").count(), 0);
}

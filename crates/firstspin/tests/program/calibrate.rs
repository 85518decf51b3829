//! Calibrations in `identify`: zero and scale of a line, what they change, what is written, and what is refused.

use super::run::{Own, Said, content, program, run_in};
use std::fs;

/// The shuttle with a calibration of the current of its left axis.
fn with(points: &str) -> Own {
    let own = Own::new();
    add(&own, points);
    own
}

fn add(own: &Own, points: &str) {
    let table = format!(
        "\n[calibrations.left-current]\nof = \"board:A.current\"\ndate = \"2026-11-10\"\npoints = [\n{points}]\n"
    );
    own.write("bench.toml", own.read("bench.toml") + &table);
}

/// Codes of a line with 1.6612 V at zero and 305.2 mV/A, at a converter of 3.3 V and 4096 codes, rounded to a tenth.
const TYPED: &str = "  { reference = \"0 A\", code = \"2061.9 ± 0.3\" },
  { reference = \"1.000 A ± 0.4 %\", code = \"2440.7 ± 0.3\" },
  { reference = \"-1.500 A ± 0.4 %\", code = \"1493.7 ± 0.3\" },
  { reference = { value = \"2.000 A\", u = \"5 mA\" }, code = \"2819.5 ± 0.3\" },
";

fn words(said: &Said) -> String {
    said.out.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn number(value: &serde_json::Value) -> f64 {
    value.as_f64().unwrap_or(f64::NAN)
}

#[test]
fn typed_points_tell_zero_and_scale() {
    let own = with(TYPED);
    let told = own.run(["identify", "--format", "json"]);
    assert_eq!(told.status, Some(0), "{told:?}");
    let json = told.json();
    assert!(json["axes"].as_array().unwrap().is_empty() && json["usable"] == true);
    let one = &json["calibrations"][0];
    assert!(one["name"] == "left-current" && one["of"] == "board:A.current" && one["used"] == true, "{one}");
    for (figure, want, unit) in [("zero", 1.6612, "V"), ("scale", 0.3052, "V/A")] {
        let found = &one[figure];
        assert_eq!(found["unit"], unit);
        let (value, u) = (number(&found["value"]), number(&found["u"]));
        assert!((value - want).abs() < 3.0 * u && u < 5e-3 * want, "{figure}: {value}, u {u}");
        let [sampling, systematic] = ["u_sampling", "u_systematic"].map(|part| number(&found[part]));
        let squares = sampling * sampling + systematic * systematic;
        assert!((squares / (u * u) - 1.0).abs() < 1e-9, "{found}");
    }
    assert_eq!(one["is_line"], true);
    // ± is a limit: the deviation of a rectangle is its half over √3.
    let second = &one["points"][1];
    assert!((number(&second["u_reference"]) - 4e-3 / 3.0_f64.sqrt()).abs() < 1e-8, "{second}");
    assert!((number(&second["u_mean"]) - 0.3 / 3.0_f64.sqrt() * 3.3 / 4096.0).abs() < 1e-8, "{second}");
}

#[test]
fn what_a_person_reads() {
    let own = with(TYPED);
    for columns in [60, 80, 100] {
        let output = program(own.path()).arg("identify").env("COLUMNS", columns.to_string()).output();
        let said = Said::of(output.expect("it runs"));
        said.no_wider_than(columns);
        if columns > 60 {
            insta::assert_snapshot!(format!("calibration_at_{columns}"), said.out);
        }
    }
}

/// A stretch of a log gives its mean; a log of the bench file says which column it is.
#[test]
fn logs_are_points() {
    let own = Own::new();
    let rows = |mean: f64| {
        let row = |k: i32| {
            format!("{},{},{}\n", k as f64 * 1e-3, if k < 20 { 5.0 } else { mean + f64::from(k % 5 - 2) }, k)
        };
        "t [s],AI2,other\n".to_owned() + &(0..120).map(row).collect::<String>()
    };
    own.write("logs/zero.csv", rows(2062.0));
    own.write("logs/one.csv", rows(2441.0));
    let log = "\n[logs.zero]\nfile = \"logs/zero.csv\"\n\
               columns = { current = { column = \"AI2\", of = \"board:A.current\", as = \"code\" } }\n";
    own.write("bench.toml", own.read("bench.toml") + log);
    add(
        &own,
        "  { reference = \"0 A\", log = \"zero\", from = \"20 ms\", to = \"119 ms\" },
  { reference = \"1.000 A ± 0.4 %\", log = \"logs/one.csv\", column = \"AI2\", as = \"code\", from = \"20 ms\" },\n",
    );
    let told = own.run(["identify", "--format", "json"]);
    assert_eq!(told.status, Some(0), "{told:?}");
    let points = told.json()["calibrations"][0]["points"].clone();
    for (k, code) in [(0, 2062.0), (1, 2441.0)] {
        assert!((number(&points[k]["mean"]) - code * 3.3 / 4096.0).abs() < 1e-9, "{points}");
    }
}

#[test]
fn what_was_found_is_written_once_and_taken_by_all() {
    let own = with(TYPED);
    let write = ["identify", "--write"];
    let said = run_in(own.path(), write);
    said.done();
    assert!(words(&said).contains("zero and scale of board:A.current were added"), "{}", said.out);
    let first = own.read("measured.toml");
    assert!(first.contains("how = \"measured\"") && first.contains("2026-11-10"), "{first}");
    let again = run_in(own.path(), write);
    assert!(words(&again).contains("is already there"), "{}", again.out);
    assert_eq!(own.read("measured.toml"), first);
    // Beside the sheet, not beside itself.
    assert!(again.out.contains("300.7"), "{}", again.out);
    let bench = bench::load(own.path()).checked.value.unwrap();
    let line = |name: &str| bench.sensed().into_iter().find(|line| line.name == name).unwrap().scale.value();
    assert!((line("board:A.current") - 0.3052).abs() < 1e-3 && line("board:B.current") == 0.31);
    // Other points are another calibration: what stood there stays.
    own.change("bench.toml", "2440.7", "2441.0");
    run_in(own.path(), write).done();
    let second = own.read("measured.toml");
    assert!(second.starts_with(&first) && second.len() > first.len(), "{second}");
}

/// The line of the bench is off by 4 %, as a first `measured.toml` says that predicts the log. Without that, the log alone makes
/// the constants wrong; with the calibration they come back.
#[test]
fn logs_of_the_run_are_scaled_by_it() {
    let own = Own::new();
    let truth = "[[measured]]\nof = \"board:A.current\"\n[measured.line]\nzero = \"1.6612 V ± 0 %\"\nscale = \"322.4 mV/A ± 0 %\"\n";
    own.write("measured.toml", truth);
    let trial = "\n[trials.short]\naxis = \"left\"\nshaft = \"locked\"\nsample_rate = \"1.8 kHz\"\n\
                 input = { kind = \"staircase\", duty = 0.12, steps = 2, hold = \"60 ms\", both_ways = true }\n\
                 [logs.short]\nfile = \"short.csv\"\ntrial = \"short\"\ntemperature = \"20 °C\"\n\
                 columns = { current = { column = \"current code\", of = \"board:A.current\", as = \"code\" } }\n";
    own.write("bench.toml", own.read("bench.toml") + trial);
    let predict = ["predict", "short", "--builds", "0", "--out", "short.csv"];
    assert_eq!(run_in(own.path(), predict).status, Some(0));
    fs::remove_file(own.file("measured.toml")).unwrap();
    let resistance = |said: &Said| {
        let json = said.json();
        let all = json["axes"][0]["parameters"].as_array().unwrap().clone();
        let found = all.into_iter().find(|p| p["name"] == "resistance").unwrap();
        (number(&found["value"]), number(&found["u_systematic"]))
    };
    let without = own.run(["identify", "--format", "json"]);
    without.done();
    add(
        &own,
        "  { reference = \"0 A\", code = \"2061.90 ± 0.02\" },
  { reference = \"1 A ± 0.1 %\", code = \"2462.07 ± 0.02\" },
  { reference = \"-1 A ± 0.1 %\", code = \"1661.74 ± 0.02\" },\n",
    );
    let with = own.run(["identify", "--format", "json"]);
    with.done();
    let ((off, wide), (right, narrow)) = (resistance(&without), resistance(&with));
    assert!((off / right * 322.4 / 310.0 - 1.0).abs() < 0.01, "{off} {right}");
    // The ± 3 % of the sheet, as a rectangle, was that part of the resistance.
    let gone = (wide * wide - narrow * narrow).sqrt() / right;
    assert!((gone / (0.03 / 3.0_f64.sqrt()) - 1.0).abs() < 0.1, "{narrow} {wide} {gone}");
    let said = own.run(["identify"]);
    assert!(
        words(&said).contains(
            "Zero and scale of board:A.current are those that were measured (calibration left-current,"
        ),
        "{}",
        said.out
    );
}

#[test]
fn the_report_has_a_page_for_each() {
    let own = with(TYPED);
    run_in(own.path(), ["report", "--out", "pages"]).done();
    let page = own.read("pages/calibrated-left-current.html");
    for piece in ["1661.20", "305.2", "Error of board:A.current", "tolerance of the bench", "fitted line"] {
        assert!(page.contains(piece), "{piece}");
    }
    // What cannot be used stands there with its reason, and stops no report.
    own.change("bench.toml", "code = \"2440.7 ± 0.3\"", "log = \"no.csv\", column = \"AI2\", as = \"code\"");
    run_in(own.path(), ["report", "--out", "pages"]).done();
    assert!(own.read("pages/calibrated.html").contains("no.csv cannot be read"));
}

/// Of two calibrations of one line the later counts, and it alone is written.
#[test]
fn the_later_of_two_counts() {
    let own = with(TYPED);
    let later = TYPED.replace("2061.9", "2065.9");
    own.write(
        "bench.toml",
        own.read("bench.toml")
            + &format!(
                "\n[calibrations.again]\nof = \"board:A.current\"\npoints = [\n{}]\n",
                shifted(&later)
            ),
    );
    let said = run_in(own.path(), ["identify", "--write"]);
    said.done();
    assert!(words(&said).contains("calibration again of the same line stands later"), "{}", said.out);
    let written = own.read("measured.toml");
    assert!(written.contains("again") && !written.contains("left-current"), "{written}");
    let used = |name: &str| {
        let json = own.run(["identify", "--format", "json"]).json();
        json["calibrations"].as_array().unwrap().iter().find(|one| one["name"] == name).unwrap()["used"]
            .clone()
    };
    assert!(used("again") == true && used("left-current") == false);
}

/// The typed points with a zero that is four codes higher.
fn shifted(points: &str) -> String {
    points.replace("2440.7", "2444.7").replace("1493.7", "1497.7").replace("2819.5", "2823.5")
}

#[test]
fn a_divider_in_the_line_is_shown_and_not_written() {
    let own = with(TYPED);
    let divider = "\n[adapters.half]\non = \"board:A.current\"\nkind = \"divider\"\nresistance = \"100 Ω\"\nlower_resistance = \"47 kΩ\"\n";
    own.write("bench.toml", own.read("bench.toml") + divider);
    let before = content(own.path());
    let said = run_in(own.path(), ["identify", "--write"]);
    said.done();
    assert!(words(&said).contains("a divider sits in the line"), "{}", said.out);
    assert_eq!(content(own.path()), before);
}

#[test]
fn what_does_not_hold_is_not_used() {
    // The third point is off by 0.1 A.
    let own = with(&TYPED.replace("1493.7", "1531.6"));
    let said = own.run(["identify"]);
    assert_eq!(said.status, Some(1), "{said:?}");
    assert!(words(&said).contains("It is not used: the points lie on no line"), "{}", said.out);
    let before = content(own.path());
    run_in(own.path(), ["identify", "--write"]).done();
    assert_eq!(content(own.path()), before);
    let falls =
        with(&TYPED.replace("2440.7", "1683.1").replace("1493.7", "2630.1").replace("2819.5", "1304.3"));
    let said = falls.run(["identify"]);
    assert_eq!(said.status, Some(1), "{said:?}");
    assert!(words(&said).contains("moves the other way"), "{}", said.out);
}

#[test]
fn what_cannot_be_read_is_told_at_its_place() {
    let zero = "  { reference = \"0 A\", code = 2062 },\n";
    for (point, at, pieces) in [
        (
            "log = \"no.csv\", column = \"AI2\", as = \"code\"",
            "\"no.csv\"",
            ["no.csv cannot be read", "record it there"],
        ),
        ("log = \"a.csv\", column = \"AI9\", as = \"code\"", "\"AI9\"", ["no column `AI9`", "`AI2`"]),
        ("log = \"a.csv\"", "\"a.csv\"", ["nothing says which column", "`AI2`"]),
        ("log = \"a.csv\", column = \"I\"", "\"I\"", ["is in A", "log codes"]),
        ("log = \"a.csv\", column = \"AI2\"", "\"AI2\"", ["has no unit", "as = \"code\""]),
        (
            "log = \"a.csv\", column = \"note\", as = \"code\"",
            "\"a.csv\"",
            ["line 2, column 4", "is no number"],
        ),
        (
            "log = \"a.csv\", column = \"AI2\", as = \"code\", from = \"9 s\"",
            "\"9 s\"",
            ["no row lies in", "0 s to 0.002 s"],
        ),
        (
            "log = \"gaps.csv\", column = \"AI2\", as = \"code\"",
            "\"gaps.csv\"",
            ["1 readings and 2 empty", "`to`"],
        ),
        ("log = \"empty.csv\", column = \"AI2\", as = \"code\"", "\"empty.csv\"", ["the log is empty", ""]),
        ("log = \"one.csv\", column = \"AI2\", as = \"code\"", "\"one.csv\"", ["a single row", ""]),
        (
            "log = \"end.csv\", column = \"AI2\", as = \"code\"",
            "\"end.csv\"",
            ["4095 is an end", "inside of the range"],
        ),
        (
            "log = \"huge.csv\", column = \"AI2\", as = \"code\"",
            "\"huge.csv\"",
            ["lies beyond the converter", "0 to 4095"],
        ),
        ("code = 5123", "5123", ["code 5123 lies beyond", "codes of this line"]),
        ("reads = \"1.9 V ± 1 mV\"", "\"1.9 V", ["codes and another in volts", "in one way"]),
        ("code = 2062", "[\n  { reference = \"0 A\"", ["no reading that follows", "far enough apart"]),
    ] {
        let own = Own::new();
        let head = "t [s],AI2,I [A],note\n";
        own.write("a.csv", format!("{head}0,2440,1,on\n0.001,2441,1,on\n0.002,2440,1,on\n"));
        own.write("gaps.csv", format!("{head}0,2440,1,on\n0.001,,1,on\n0.002,,1,on\n"));
        own.write("empty.csv", "");
        own.write("one.csv", format!("{head}0,2440,1,on\n"));
        own.write("end.csv", format!("{head}0,2440,1,on\n0.001,4095,1,on\n"));
        own.write("huge.csv", format!("{head}0,2440,1,on\n0.001,1e300,1,on\n"));
        add(&own, &format!("{zero}  {{ reference = \"1.0 A ± 1 %\", {point} }},\n"));
        let place = own.place("bench.toml", at);
        own.run(["identify"]).refused(&[&pieces[..], &[&place]].concat());
        // Programs are told the same.
        let json = own.run(["identify", "--format", "json"]).json();
        assert_eq!(json["usable"], false, "{point}");
        assert!(!json["findings"].as_array().unwrap().is_empty());
    }
    // What the file alone shows is told by every verb.
    let own = with("  { reference = \"0 A\", code = 2062 },\n");
    own.run(["check"]).refused(&["one point", "two at least"]);
}

#[test]
fn a_line_without_a_scale_is_calibrated_all_the_same() {
    let own = with(TYPED);
    own.change("parts/twin-bridge.toml", "scale = \"310 mV/A ± 3 %\"\n", "scale = \"0 mV/A\"\n");
    let said = own.run(["identify"]);
    said.done();
    assert!(words(&said).contains("its scale 305."), "{}", said.out);
    own.change("parts/twin-bridge.toml", "scale = \"0 mV/A\"\n", "");
    let said = own.run(["identify"]);
    said.done();
    assert!(words(&said).contains("its scale 305."), "{}", said.out);
}

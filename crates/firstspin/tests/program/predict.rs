//! `predict`: what it says, what it writes, and how it ends.

use super::run::{Own, content, empty, program, run, run_in, skip, starters};
use serde_json::json;
use std::fs;

const HEADINGS: &str = "time [s],duty,supply voltage [V],motor voltage [V],current [A],speed [rad/s],angle [rad],supply current [A],load speed [rad/s],load angle [rad],current sense [V],current code,voltage sense [V],voltage code,count,chopping,tripped,locked out,clamping,supply off";
const TRIALS: [&str; 6] = ["locked-rotor", "spin-up", "staircase", "coast-down", "reversal", "stop"];

#[test]
fn text_and_json_tell_the_same_verdict() {
    for starter in starters() {
        let own = Own::of(starter.name());
        for trial in TRIALS {
            let text = own.run(["predict", trial, "--builds", "0"]);
            let told = own.run(["predict", trial, "--builds", "0", "--format", "json"]);
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
        "Trials of the bench file: left-locked, left-spin-up,",
        "locked-rotor",
        "reversal",
    ]);
    run(["predict", "left-spin"]).refused(&["did you mean `left-spin-up`?"]);
    run(["predict", "spin-up", "--axis", "middle"]).refused(&["no axis `middle`", "left, right"]);
    run(["predict", "spin-up", "no-such-bench"]).refused(&["no-such-bench does not exist"]);
    for duty in ["2", "-1.5", "0", "nan", "inf"] {
        run(["predict", "spin-up", "--duty", duty]).refused(&["duty", "must be from -1 to 1"]);
    }
    run(["predict", "step-rate"]).refused(&["no axis with a stepper", "left, right"]);
    run(["predict", "sweep", "--axis", "left"]).refused(&["no servo `left`", "latch"]);
    run(["predict", "sweep", "--duty", "0.2"]).refused(&["`sweep` does not take --duty"]);
    run(["predict", "spin-up", "--rate", "20"]).refused(&["`spin-up` does not take --rate"]);
    run(["predict", "swep"]).refused(&["did you mean `sweep`?"]);
    let table = Own::of("turntable");
    table.run(["predict", "sweep"]).refused(&["the bench has no servo"]);
    table.run(["predict", "step-rate", "--rate", "-5"]).refused(&["rate is -5", "above zero"]);
    table.run(["predict", "spin-up"]).refused(&["no axis with a DC motor", "table"]);
    table.run(["predict", "spin-up", "--axis", "table"]).refused(&["axis `table`", "stepper"]);
    let lift = Own::of("lift-arm");
    assert_eq!(lift.run(["predict", "spin-up"]).status, Some(0));
    assert_eq!(lift.run(["predict", "spin-up", "--free"]).status, Some(0));
}

/// The cells of a row; what a line that the axis lacks would tell is left empty, and no number.
fn numbers(line: &str) -> Vec<f64> {
    let number = |cell: &str| match cell {
        "" => f64::NAN,
        "true" => 1.0,
        "false" => 0.0,
        cell => cell.parse().unwrap_or_else(|_| panic!("{cell} is no number")),
    };
    line.split(',').map(number).collect()
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
    let rows: Vec<Vec<f64>> = lines.filter(|line| !line.is_empty()).map(numbers).collect();
    assert!(said.out.contains(&format!("{} rows are in coast.csv", rows.len())), "{}", said.out);
    assert!(rows.len() > 1000 && rows.len() < 2100, "{}", rows.len());
    assert!(rows.iter().all(|row| row.len() == 20 && row[..10].iter().all(|cell| cell.is_finite())));
    assert!(rows.windows(2).all(|pair| pair[0][0] < pair[1][0]));
    // Speed is the slope of the angle, to the bend of one row while it breaks away: 1500 rad/s² over 0.5 ms.
    for pair in rows.windows(2) {
        let (span, mean) = (pair[1][0] - pair[0][0], 0.5 * (pair[1][5] + pair[0][5]));
        assert!((pair[1][6] - pair[0][6] - mean * span).abs() < 1e-4 + 1e-3 * mean.abs() * span, "{pair:?}");
    }
    let last = rows.last().expect("rows");
    assert_eq!((last[4], last[5]), (0.0, 0.0), "it rests");
    let mut names: Vec<_> =
        fs::read_dir(folder.path()).expect("listed").map(|e| e.expect("an entry").file_name()).collect();
    names.sort();
    assert_eq!(names, ["coast.csv", "coast.trial.json"], "nothing else is left behind");
}

/// The description beside a log says the same as the program, and is replaced only where it is one.
#[test]
fn a_log_has_its_verdict_beside_it() {
    let folder = empty();
    let asked = ["predict", "coast-down", "--out", "coast.csv", "--format", "json"];
    let told = run_in(folder.path(), asked).json();
    let path = folder.path().join("coast.trial.json");
    let text = fs::read_to_string(&path).expect("beside the log");
    let beside: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    assert_eq!(beside["describes"], json!("coast.csv"));
    for field in ["trial", "of_file", "axis", "verdict", "offered", "rows", "bench", "sheet"] {
        assert_eq!(beside[field], told[field], "{field}");
    }
    assert!(beside["verdict"].as_str().expect("text").contains("checks hold"));
    run_in(folder.path(), asked).json();
    assert_eq!(fs::read_to_string(&path).expect("there"), text, "the same bench gives the same bytes");
    fs::write(&path, "{}").expect("written");
    run_in(folder.path(), asked).refused(&["coast.trial.json is there already"]);
    assert_eq!(fs::read_to_string(&path).expect("there"), "{}");
}

#[test]
fn steps_and_sweeps_are_told_and_logged_as_well() {
    let cases = [
        ("turntable", "step-rate", "table", "time [s],commanded,current a [A]"),
        ("seed-tray-shuttle", "sweep", "latch", "time [s],pulse [rad],angle [rad]"),
        ("lift-arm", "sweep", "tilt", "time [s],pulse [rad],angle [rad]"),
    ];
    for (starter, trial, mover, headings) in cases {
        let own = Own::of(starter);
        let (folder, bench) = (empty(), own.path().display().to_string());
        let asked = ["predict", trial, &bench, "--out", "log.csv"];
        let said = run_in(folder.path(), asked);
        said.done();
        assert!(said.out.contains("Key figures") && said.out.contains("rows are in log.csv"), "{}", said.out);
        assert!(said.out.contains("A prediction is no permission."), "{}", said.out);
        let log = fs::read_to_string(folder.path().join("log.csv")).expect("a log");
        assert!(log.starts_with(headings), "{log}");
        let columns = log.lines().next().expect("headings").split(',').count();
        let mut before = -1.0;
        for line in log.lines().skip(1) {
            let numbers: Vec<f64> = line.split(',').map(|cell| cell.parse().expect("a number")).collect();
            assert!(numbers.len() == columns && numbers[0] > before, "{line}");
            before = numbers[0];
        }
        // An earlier log of any kind gives way.
        run_in(folder.path(), asked).done();
        let value = own.run(["predict", trial, "--axis", mover, "--format", "json"]).json();
        assert_eq!(value["axis"], json!(mover));
        assert_eq!(value["offered"], json!(true));
        for columns in [60, 100] {
            let mut program = super::run::program(own.path());
            let output = program.args(["predict", trial]).env("COLUMNS", columns.to_string()).output();
            super::run::Said::of(output.expect("it runs")).no_wider_than(columns);
        }
    }
}

#[test]
fn a_step_rate_of_the_file_is_played() {
    let own =
        with_trial("turntable", "axis = \"table\"\ninput = { kind = \"step-rate\", rate = \"300 Hz\" }");
    let said = own.run(["predict", "mine"]);
    said.done();
    assert!(said.out.contains("300 Hz"), "{}", said.out);
    let value = own.run(["predict", "mine", "--format", "json"]).json();
    assert_eq!((&value["trial"], &value["of_file"]), (&json!("mine"), &json!(true)));
}

#[test]
fn only_a_log_is_replaced() {
    let folder = empty();
    let path = folder.path().join("log.csv");
    let asked = ["predict", "locked-rotor", "--out", "log.csv"];
    fs::write(&path, "my own notes\r\n").expect("written");
    run_in(folder.path(), asked).refused(&["log.csv is there already", "no log of a trial"]);
    assert_eq!(fs::read_to_string(&path).expect("there"), "my own notes\r\n");
    fs::write(&path, format!("{HEADINGS}\r\n")).expect("written");
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
    let said = run_in(folder.path(), ["predict", "reversal", "--duty", "0.9", "--out", "log.csv"]);
    assert_eq!(said.status, Some(1), "{said:?}");
    for piece in ["is refused", "highest current of the channel", "log.csv was not written"] {
        assert!(said.out.contains(piece), "{piece}: {}", said.out);
    }
    assert_eq!(fs::read_dir(folder.path()).expect("listed").count(), 0);
}

/// A copy of a starter with one more trial of axis `left`, or whatever axis it has.
fn with_trial(starter: &str, text: &str) -> Own {
    let own = Own::of(starter);
    let path = own.path().join("bench.toml");
    let bench = fs::read_to_string(&path).expect("text");
    fs::write(&path, format!("{bench}\n[trials.mine]\n{text}\n")).expect("written");
    own
}

#[test]
fn every_trial_of_a_starter_may_be_done() {
    for starter in starters().into_iter().filter(|starter| starter.name() != "draft-bench") {
        let own = Own::of(starter.name());
        let bench = fs::read_to_string(own.path().join("bench.toml")).expect("text");
        let names: Vec<&str> =
            bench.lines().filter_map(|line| line.strip_prefix("[trials.")?.split(']').next()).collect();
        assert!(!names.is_empty(), "{}", starter.name());
        for name in names {
            let said = own.run(["predict", name, "--format", "json"]);
            said.done();
            let value = said.json();
            assert_eq!((&value["trial"], &value["of_file"]), (&json!(name), &json!(true)));
        }
    }
}

#[test]
fn a_trial_of_the_file_wins_and_says_so() {
    let own = Own::new();
    let path = own.path().join("bench.toml");
    let bench = fs::read_to_string(&path).expect("text");
    fs::write(&path, bench.replace("[trials.left-spin-up]", "[trials.spin-up]")).expect("written");
    let said = own.run(["predict", "spin-up", "--format", "json"]);
    assert_eq!(said.json()["of_file"], json!(true));
    assert!(said.out.contains("`spin-up` is the trial of the bench file"), "{}", said.out);
    assert!(said.out.contains("800 ms"), "its own duration: {}", said.out);
    let plan = Own::new().run(["predict", "spin-up", "--format", "json"]);
    assert_eq!(plan.json()["of_file"], json!(false));
    assert!(!plan.out.contains("is the trial of the bench file"), "{}", plan.out);
}

/// Rows and stages are those that the file asks for, to a PWM period (18 kHz) and, of the sample rate, to a whole number
/// of them.
#[test]
fn times_and_samples_are_those_of_the_file() {
    let own = with_trial(
        "seed-tray-shuttle",
        "axis = \"left\"\ninput = { kind = \"pulse\", duty = 0.1, start = \"0.1 s\", width = \"0.2 s\" }\n\
         shaft = \"free\"\nduration = \"0.5 s\"\nsample_rate = \"2 kHz\"",
    );
    let folder = empty();
    let bench = own.path().to_str().expect("text");
    run_in(folder.path(), ["predict", "mine", bench, "--out", "mine.csv"]).done();
    let text = fs::read_to_string(folder.path().join("mine.csv")).expect("the log");
    let rows: Vec<Vec<f64>> =
        text.split("\r\n").skip(1).filter(|line| !line.is_empty()).map(numbers).collect();
    assert_eq!(rows.len(), 1001);
    assert!((rows.last().expect("rows")[0] - 0.5).abs() < 1e-9);
    for row in &rows {
        let driven = row[0] > 0.1 + 1e-9 && row[0] < 0.3 + 1e-9;
        assert_eq!(row[1], if driven { 0.1 } else { 0.0 }, "{row:?}");
    }
}

#[test]
fn what_a_trial_of_the_file_asks_for_and_cannot_have_is_told() {
    let step = |more: &str| format!("axis = \"left\"\ninput = {{ kind = \"step\", duty = 0.1 }}\n{more}");
    let input = |input: &str| format!("axis = \"left\"\nduration = \"1 s\"\ninput = {{ {input} }}");
    let cases = [
        (step(""), "give its `duration`"),
        (step("duration = \"1 s\"\nsample_rate = \"1 GHz\""), "one row in a PWM period at most"),
        (step("duration = \"20000 s\"\nsample_rate = \"18 kHz\""), "its log would have 3.6e8 rows"),
        (step("duration = \"1 s\"\nshaft = \"known disc\""), "trials.mine.added_inertia"),
        (input("kind = \"step\""), "trials.mine.input.duty"),
        (input("kind = \"step\", duty = 0"), "its largest duty is 0"),
        (input("kind = \"step\", speed = \"100 rpm\""), "control loop"),
        (input("kind = \"step\", voltage = \"30 V\""), "its largest duty is 1.25"),
        (input("kind = \"profile\""), "make `duration` longer"),
        (input("kind = \"step-rate\", rate = \"20 Hz\""), "stepper"),
        (input("kind = \"pulse\", duty = 0.1"), "trials.mine.input.width"),
        (input("kind = \"pulse\", duty = 0.1, width = \"2 s\""), "longer than its `duration`"),
        (input("kind = \"step\", duty = 0.1, hold = \"1 s\", ends = \"open\""), "no time for its end"),
        (input("kind = \"step\", duty = 0.1, hold = \"0 s\", ends = \"open\""), "is zero"),
        (
            input("kind = \"step\", duty = 0.1, hold = \"0.1 s\", ends = \"ramp\""),
            "trials.mine.input.end_time",
        ),
        (input("kind = \"staircase\", duty = 0.1"), "trials.mine.input.hold"),
        (
            input("kind = \"chirp\", duty = 0.1, frequency_from = \"1 Hz\", frequency_to = \"5 kHz\""),
            "its sine goes up to 5000 Hz",
        ),
        ("axis = \"latch\"\ninput = { kind = \"step\", duty = 0.1 }".to_owned(), "moves servo `latch`"),
    ];
    for (text, piece) in cases {
        with_trial("seed-tray-shuttle", &text).run(["predict", "mine"]).refused(&[piece]);
    }
}

#[test]
fn a_name_that_ends_so_gives_a_dump_of_signals() {
    let folder = empty();
    let asked = ["predict", "coast-down", "--out", "coast.vcd"];
    let said = run_in(folder.path(), asked);
    said.done();
    let path = folder.path().join("coast.vcd");
    let text = fs::read_to_string(&path).expect("the dump");
    assert!(
        text.starts_with("$version Firstspin log $end\n$comment coast-down of axis left"),
        "{}",
        &text[..200]
    );
    for piece in
        ["$scope module board $end", "$scope module left $end", " pwm $end", " current_A $end", " count $end"]
    {
        assert!(text.contains(piece), "{piece}");
    }
    let changes = text.split_once("$end\n#").map_or("", |(_, rest)| rest);
    let lines = changes.lines().filter(|line| line.starts_with(['0', '1', 'b', 'r'])).count();
    // The values at the start are no changes: eleven of the drive, three of its encoder; and the first time is cut off.
    assert!(said.out.contains(&format!("{} changes are in coast.vcd", lines - 15)), "{lines}: {}", said.out);
    // The same bench gives the same bytes, and an earlier log is replaced by one of either kind.
    run_in(folder.path(), asked).done();
    assert_eq!(fs::read_to_string(&path).expect("there"), text);
    fs::rename(&path, folder.path().join("log.csv")).expect("moved");
    let told = run_in(folder.path(), ["predict", "spin-up", "--out", "log.csv", "--format", "json"]).json();
    assert!(told["rows"].as_u64().is_some_and(|rows| rows > 1000) && told["changes"].is_null());
    let told = run_in(folder.path(), ["predict", "spin-up", "--out", "log.vcd", "--format", "json"]).json();
    assert!(told["changes"].as_u64().is_some_and(|changes| changes > 10_000) && told["rows"].is_null());
}

#[test]
fn a_dump_has_the_date_of_the_bench_and_no_other() {
    let own = Own::new();
    let head = |out: &str| {
        run_in(own.path(), ["predict", "spin-up", "--out", out]).done();
        own.read(out).lines().take(3).map(str::to_owned).collect::<Vec<_>>()
    };
    let without = head("a.vcd");
    assert!(!without.iter().any(|line| line.contains("$date")), "{without:?}");
    own.change("bench.toml", "[bench]\n", "[bench]\ndate = \"2027-03-01\"\n");
    assert_eq!(head("b.vcd")[1], "$date 2027-03-01 $end");
}

/// Ended in the middle of its work, the program leaves the folder as it was.
#[cfg(unix)]
#[test]
fn an_interrupted_log_leaves_nothing_behind() {
    use rustix::process::{Pid, Signal, kill_process};
    use std::process::Stdio;
    // A load so heavy that writing takes a while.
    let own = Own::new();
    own.change("bench.toml", "mass = \"12 kg ± 5 %\"", "mass = \"900 kg ± 5 %\"");
    own.change("bench.toml", "slope = \"1 deg\"", "slope = \"0 deg\"");
    let folder = own.path();
    for (signal, status) in [(Signal::INT, 130), (Signal::TERM, 143)] {
        own.write("log.vcd", "$version Firstspin log $end\n");
        let before = content(folder);
        let mut asked = program(folder);
        asked.args(["predict", "spin-up", "--duty", "0.05", "--out", "log.vcd"]);
        let mut child = asked.stdout(Stdio::null()).stderr(Stdio::piped()).spawn().expect("it starts");
        while content(folder).len() == before.len() {
            assert!(child.try_wait().expect("known").is_none(), "it ended before it could be interrupted");
        }
        kill_process(Pid::from_child(&child), signal).expect("told");
        let said = child.wait_with_output().expect("it ends");
        let words = String::from_utf8_lossy(&said.stderr).into_owned();
        assert_eq!(said.status.code(), Some(status), "{words}");
        assert_eq!(words, "firstspin: interrupted while writing log.vcd; nothing was changed there\n");
        assert_eq!(content(folder), before);
    }
}

/// The same while it plays, before anything is written.
#[cfg(unix)]
#[test]
fn a_trial_that_is_interrupted_says_so() {
    use rustix::process::{Pid, Signal, kill_process};
    use std::process::Stdio;
    use std::thread::sleep;
    use std::time::Duration;
    let own = Own::new();
    own.change("bench.toml", "mass = \"12 kg ± 5 %\"", "mass = \"900 kg ± 5 %\"");
    own.change("bench.toml", "slope = \"1 deg\"", "slope = \"0 deg\"");
    let before = content(own.path());
    // Before it listens, a signal ends it as any program; how long that takes nobody knows.
    for wait in [50, 100, 200, 400, 800, 1600] {
        let mut asked = program(own.path());
        asked.args(["predict", "spin-up", "--duty", "0.05", "--builds", "0", "--out", "log.csv"]);
        let child = asked.stdout(Stdio::null()).stderr(Stdio::piped()).spawn().expect("it starts");
        sleep(Duration::from_millis(wait));
        let _ = kill_process(Pid::from_child(&child), Signal::INT);
        let said = child.wait_with_output().expect("it ends");
        let words = String::from_utf8_lossy(&said.stderr).into_owned();
        if said.status.code() == Some(130) && words.contains("playing") {
            assert_eq!(words, "firstspin: interrupted while playing spin-up; nothing was written\n");
            assert_eq!(content(own.path()), before);
            return;
        }
        let _ = fs::remove_file(own.path().join("log.csv"));
        let _ = fs::remove_file(own.path().join("log.trial.json"));
    }
    panic!("it was never interrupted in time");
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_leaves_the_earlier_log() {
    let Some(disk) = super::report_folder::small_disk(64) else {
        return skip("a small disk can be mounted by root only");
    };
    fs::write(disk.path().join("log.vcd"), "$version Firstspin log $end\n").expect("written");
    let before = content(disk.path());
    for out in ["log.vcd", "new.csv"] {
        run_in(disk.path(), ["predict", "spin-up", "--out", out]).refused(&["cannot write", "No space left"]);
        assert_eq!(content(disk.path()), before);
    }
}

/// A motion under its loops: by its own name and as a trial of the file, with its log in both forms.
#[test]
fn an_axis_does_its_motion_and_writes_its_log() {
    let own = with_trial("lead-screw-stage", "axis = \"slide\"\ninput = { kind = \"profile\" }");
    let told = run_in(own.path(), ["predict", "move", "--out", "move.csv", "--format", "json"]).json();
    assert_eq!(
        (&told["offered"], &told["of_file"], &told["axis"]),
        (&true.into(), &false.into(), &"slide".into())
    );
    let csv = own.read("move.csv");
    assert_eq!(told["rows"].as_u64(), Some(csv.lines().count() as u64 - 1));
    // It ends where the motion does: 80 mm of a screw of 2 mm are 40 turns.
    let heading: Vec<&str> = csv.lines().next().expect("a heading").split(',').collect();
    let angle = heading.iter().position(|name| name.contains("load angle")).expect("a column");
    let last = csv.lines().last().expect("rows").split(',').nth(angle).expect("a cell");
    let turns = last.parse::<f64>().expect("a number") / std::f64::consts::TAU;
    assert!((turns - 40.0).abs() < 0.05, "{turns}");
    let told = run_in(own.path(), ["predict", "mine", "--out", "move.vcd", "--format", "json"]).json();
    assert_eq!((&told["offered"], &told["of_file"]), (&true.into(), &true.into()));
    assert!(told["changes"].as_u64().is_some_and(|changes| changes > 10_000));
    own.run(["predict", "move", "--duty", "0.2"]).refused(&["does not take --duty"]);
    own.run(["predict", "move", "--fault", "stall@9s"]).refused(&["`stall@9s`", "before the trial ends"]);
    let faulty = "axis = \"slide\"\ninput = { kind = \"profile\" }\nfaults = [\"stall@0.1s\"]";
    let told = with_trial("lead-screw-stage", faulty).run(["predict", "mine", "--format", "json"]).json();
    assert_eq!(told["faults"][0]["kind"], "stall");
}

/// How refusals and errors read: wording only, the numbers are tested elsewhere.
#[test]
fn refusals_read_well() {
    let input = |input: &str| format!("axis = \"left\"\nduration = \"1 s\"\ninput = {{ {input} }}");
    let cases = [
        ("too-fast", input("kind = \"step\", duty = 0.6, hold = \"0.5 s\", ends = \"reversal\"")),
        ("too-long", "axis = \"left\"\nshaft = \"locked\"\nduration = \"20 s\"\ninput = { kind = \"step\", duty = 0.2 }".to_owned()),
        ("no-duration", "axis = \"left\"\ninput = { kind = \"step\", duty = 0.1 }".to_owned()),
        ("past-its-duration", input("kind = \"pulse\", duty = 0.1, width = \"2 s\"")),
        ("loop", input("kind = \"step\", speed = \"100 rpm\"")),
    ];
    for (name, text) in cases {
        let said = with_trial("seed-tray-shuttle", &text).run(["predict", "mine"]);
        let verdict: Vec<&str> = said.out.lines().skip(2).take_while(|line| !line.is_empty()).collect();
        insta::assert_snapshot!(format!("predict-{name}"), format!("{}{}", verdict.join("\n"), said.err));
    }
    let stall = run(["predict", "stall-until-trip"]);
    let verdict: Vec<&str> = stall.out.lines().skip(5).take_while(|line| !line.is_empty()).collect();
    insta::assert_snapshot!("predict-stall", verdict.join("\n"));
}

/// An hour is there at once, with all that a short trial has but the edges of its PWM.
#[test]
fn an_hour_is_played_by_its_means() {
    let hour =
        "axis = \"left\"\nshaft = \"locked\"\nduration = \"1 h\"\ninput = { kind = \"step\", duty = 0.08 }";
    let own = with_trial("seed-tray-shuttle", hour);
    let (folder, bench) = (empty(), own.path().to_str().expect("a path"));
    let said = run_in(folder.path(), ["predict", "mine", bench, "--out", "hour.csv"]);
    said.done();
    let words = flowed(&said.out);
    for piece in ["Played by its means over the PWM period", "highest temperature of the winding"] {
        assert!(words.contains(piece), "{piece}: {words}");
    }
    let csv = fs::read_to_string(folder.path().join("hour.csv")).expect("a log");
    let last: Vec<&str> = csv.lines().last().expect("rows").split(',').collect();
    assert_eq!(last[0], "3600");
    // What the lines read is there too.
    let head: Vec<&str> = csv.lines().next().expect("a head").split(',').collect();
    let sense = head.iter().position(|name| *name == "current sense [V]").expect("a column");
    assert!(last[sense].parse::<f64>().is_ok_and(|volts| volts > 1.0), "{last:?}");
    let beside = fs::read_to_string(folder.path().join("hour.trial.json")).expect("beside it");
    let told: serde_json::Value = serde_json::from_str(&beside).expect("JSON");
    assert_eq!(told["course"], json!("averaged"));
    let dump = run_in(folder.path(), ["predict", "mine", bench, "--out", "hour.vcd"]);
    dump.refused(&["every edge of the PWM", "name a table (.csv)"]);
    assert!(!folder.path().join("hour.vcd").exists());
    // One way or another only where an axis with a DC motor is played.
    let course = |asked: &[&str]| {
        own.run([&["predict"], asked, &["--format", "json"]].concat()).json()["course"].clone()
    };
    assert_eq!(course(&["spin-up"]), json!("switched"));
    assert_eq!(course(&["reversal", "--duty", "0.9"]), json!(null));
}

/// Fields are added, not renamed.
#[test]
fn the_fields_of_the_json_stay() {
    let value = run(["predict", "spin-up", "--format", "json"]).json();
    let fields: Vec<&str> = value.as_object().expect("an object").keys().map(String::as_str).collect();
    for field in [
        "notice",
        "is_example",
        "bench",
        "usable",
        "trial",
        "of_file",
        "axis",
        "verdict",
        "offered",
        "course",
        "rows",
        "findings",
        "sheet",
    ] {
        assert!(fields.contains(&field), "{field}: {fields:?}");
    }
    let tables: Vec<&str> = value["sheet"]["blocks"]
        .as_array()
        .expect("blocks")
        .iter()
        .filter(|block| block["kind"] == json!("table"))
        .map(|block| block["id"].as_str().expect("an id"))
        .collect();
    assert_eq!(tables, ["stages", "checks", "key-figures"]);
}

/// Lowest and highest stand in the table as in the JSON, and hold the nominal value. Of a spin-up those builds that go
/// farthest are played with everything, of a locked rotor all.
#[test]
fn builds_stand_beside_the_nominal_one() {
    let said = run(["predict", "spin-up"]);
    said.done();
    for piece in [
        "from .. to",
        "lowest and highest that were met, sampled and no bound.",
        "64 drawn with seed 1",
        "With everything were played the",
    ] {
        assert!(flowed(&said.out).contains(piece), "{piece}: {}", said.out);
    }
    let json = |trial: &str, more: &[&str]| {
        let mut asked = vec!["predict", trial, "--format", "json"];
        asked.extend(more);
        run(asked).json()
    };
    let told = json("spin-up", &[]);
    let builds = &told["builds"];
    assert_eq!(
        (&builds["drawn"], &builds["seed"], &builds["why_not"]),
        (&json!(64), &json!(1), &json!(null))
    );
    assert_eq!(builds["depth"], json!("farthest"));
    assert!(builds["plain"].as_u64() > Some(64) && builds["played"].as_u64() > Some(16), "{builds}");
    let figures = builds["figures"].as_array().expect("figures");
    let of = |name: &str| figures.iter().find(|figure| figure["key_figure"] == name).expect("it is there");
    for (name, unit) in
        [("peak_current", "A"), ("speed", "rad/s"), ("rise_time", "s"), ("way", "m"), ("shaft_torque", "N·m")]
    {
        let (figure, number) = (of(name), |key: &str| of(name)[key].as_f64().expect("a number"));
        assert_eq!(figure["unit"], json!(unit));
        assert!(number("low") < number("high"), "{figure}");
    }
    let held = json("locked-rotor", &[]);
    assert_eq!((&held["builds"]["depth"], &held["builds"]["plain"]), (&json!("whole"), &json!(null)));
    assert!(held["builds"]["played"].as_u64() > Some(64), "{held}");
    assert_eq!(json("locked-rotor", &[])["builds"], held["builds"], "the same seed gives the same builds");
    let other = json("locked-rotor", &["--seed", "2"]);
    assert_eq!(other["builds"]["seed"], json!(2));
    assert_eq!(json("locked-rotor", &["--builds", "5"])["builds"]["drawn"], json!(5));
    let none = run(["predict", "locked-rotor", "--builds", "0"]);
    none.done();
    assert!(!none.out.contains("from .. to"), "{}", none.out);
    assert_eq!(json("locked-rotor", &["--builds", "0"])["builds"], json!(null));
}

#[test]
fn builds_that_are_none_are_refused() {
    for none in ["few", "-1", "1e3", "99999999999999999999"] {
        run(["predict", "spin-up", &format!("--builds={none}")]).refused(&["--builds"]);
    }
}

/// The log shows what the fault does, the verdict is that without it, and the sheet says so first.
#[test]
fn a_fault_shows_in_the_log_and_the_verdict_stays() {
    let folder = empty();
    let asked = ["predict", "left-spin-up", "--fault", "stall@0.3s", "--out", "stalled.csv"];
    let said = run_in(folder.path(), asked);
    said.done();
    let flowed = flowed(&said.out);
    for piece in [
        "Put in on purpose: the shaft of the motor is held after 300 ms.",
        "Never make such a fault on a real axis.",
        "6 checks hold at the worst corner.",
        "with the fault",
        "What test points show, with the fault",
    ] {
        assert!(flowed.contains(piece), "{piece}: {}", said.out);
    }
    let put = flowed.find("Put in on purpose").expect("there");
    assert!(put < flowed.find("6 checks hold").expect("there"), "it stands first");
    let text = fs::read_to_string(folder.path().join("stalled.csv")).expect("the log");
    let rows: Vec<Vec<f64>> =
        text.split("\r\n").skip(1).filter(|line| !line.is_empty()).map(numbers).collect();
    assert!(rows.iter().all(|row| row[0] <= 0.3 + 1e-9 || row[5] == 0.0), "held from then on");
    assert!(rows.iter().any(|row| row[0] < 0.3 && row[5] > 80.0), "turning before");
    let beside = fs::read_to_string(folder.path().join("stalled.trial.json")).expect("beside the log");
    let beside: serde_json::Value = serde_json::from_str(&beside).expect("JSON");
    let fault = json!({ "kind": "stall", "at": 0.3, "value": null, "unit": null });
    assert_eq!(beside["faults"], json!([fault]));
    assert_eq!(beside["offered"], json!(true));
}

#[test]
fn several_faults_are_told_in_their_order() {
    let asked = [
        "predict",
        "left-spin-up",
        "--fault",
        "channel-lost=B@0.4s",
        "--fault",
        "supply-voltage=18V@200ms",
        "--format",
        "json",
    ];
    let told = run(asked).json();
    assert_eq!(
        told["faults"],
        json!([
            { "kind": "supply-voltage", "at": 0.2, "value": 18.0, "unit": "V" },
            { "kind": "channel-lost", "at": 0.4, "value": "B", "unit": null },
        ])
    );
    assert_eq!(run(["predict", "left-spin-up", "--format", "json"]).json()["faults"], json!([]));
}

#[test]
fn what_is_no_fault_ends_with_what_to_write() {
    for (fault, piece) in [
        ("stal@1s", "did you mean `stall`?"),
        ("stall", "say when it comes"),
        ("stall@9s", "before the trial ends, from 0 s up to 800 ms"),
        ("supply-voltage=18A@0.1s", "measures current"),
        ("supply-voltage@0.1s", "it takes a value"),
    ] {
        run(["predict", "left-spin-up", "--fault", fault]).refused(&[&format!("fault `{fault}`"), piece]);
    }
    run(["predict", "sweep", "--fault", "lead-open@1s"])
        .refused(&["fault `lead-open@1s`", "a servo cannot have it"]);
}

#[test]
fn faults_of_the_file_are_put_in_as_well() {
    let step =
        "axis = \"left\"\nshaft = \"free\"\nduration = \"0.5 s\"\ninput = { kind = \"step\", duty = 0.1 }\n";
    let own = with_trial("seed-tray-shuttle", &format!("{step}faults = [\"stall@0.2 s\"]"));
    let told = own.run(["predict", "mine", "--fault", "warm=60 °C@0.1 s", "--format", "json"]).json();
    let kinds: Vec<&serde_json::Value> =
        told["faults"].as_array().expect("faults").iter().map(|fault| &fault["kind"]).collect();
    assert_eq!(kinds, ["warm", "stall"]);
    let own = with_trial("seed-tray-shuttle", &format!("{step}faults = [\"stall@5 s\"]"));
    own.run(["predict", "mine"]).refused(&["trial `mine`", "fault `stall@5 s`", "before the trial ends"]);
}

/// Text as it flows, without the breaks of its lines.
fn flowed(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

//! `identify`: from logs to parameters, by names of the bench file and by files; what it writes, and how it ends.

use super::run::{Own, Said, content, run, run_in};
use std::fs;

/// A bench with logs of its trials, as `predict` writes them.
fn logged(trials: &[&str]) -> Own {
    let own = Own::new();
    fs::create_dir_all(own.file("logs")).unwrap();
    for trial in trials {
        let out = format!("logs/{trial}.csv");
        let said = run_in(own.path(), ["predict", trial, "--builds", "0", "--out", &out]);
        assert_eq!(said.status, Some(0), "{said:?}");
    }
    own
}

fn identified(own: &Own, args: &[&str]) -> Said {
    own.run(["identify"].iter().chain(args))
}

fn number(value: &serde_json::Value) -> f64 {
    value.as_f64().unwrap_or(f64::NAN)
}

/// The figure of a part file in SI, by its name among the parameters.
pub(crate) const PUT_IN: [(&str, f64); 7] = [
    ("resistance", 3.9),
    ("inductance", 1.6e-3),
    ("torque_constant", 0.0384),
    ("inertia", 6.8e-6),
    ("coulomb_friction", 3.8e-3),
    ("viscous_friction", 2.0e-6),
    ("brush_drop", 0.6),
];

#[test]
fn what_the_bench_has_comes_back_from_its_predictions() {
    let own = logged(&["left-locked", "left-levels", "left-spin-up"]);
    let logs = ["logs/left-locked.csv", "logs/left-levels.csv", "logs/left-spin-up.csv"];
    let json = ["--temperature", "20°C", "--format", "json"];
    let told = identified(&own, &[&logs[..], &json[..]].concat());
    assert_eq!(told.status, Some(0), "{told:?}");
    let axis = &told.json()["axes"][0];
    assert_eq!(axis["axis"], "left");
    for (name, want) in PUT_IN {
        let all = axis["parameters"].as_array().unwrap();
        let found = all.iter().find(|p| p["name"] == name).unwrap_or_else(|| panic!("{name} in {all:?}"));
        let (value, low, high) = (number(&found["value"]), number(&found["low"]), number(&found["high"]));
        assert!(low < want && want < high, "{name}: {low} .. {high}, put in {want}");
        assert!((value / want - 1.0).abs() < 0.03, "{name}: {value}, put in {want}");
        assert_eq!(found["carried"], true);
    }
    let text = identified(&own, &[&logs[..], &["--temperature", "20°C"]].concat());
    assert!(
        text.out.contains("torque constant K") && text.out.contains("calibrate the sensors"),
        "{}",
        text.out
    );
}

#[test]
fn no_line_of_it_is_wider_than_the_terminal() {
    let own = logged(&["left-spin-up"]);
    for columns in [60, 80, 100] {
        let mut program = super::run::program(own.path());
        let output =
            program.args(["identify", "logs/left-spin-up.csv"]).env("COLUMNS", columns.to_string()).output();
        Said::of(output.expect("it runs")).no_wider_than(columns);
    }
}

#[test]
fn what_was_found_goes_before_the_sheet_and_is_only_ever_added_to() {
    let own = logged(&["left-locked"]);
    let write = ["identify", "logs/left-locked.csv", "--write", "--date", "2026-11-14"];
    let said = run_in(own.path(), write);
    said.done();
    assert!(said.out.contains("measured.toml: 3 figures"), "{}", said.out);
    let first = own.read("measured.toml");
    assert!(first.contains("axis = \"left\"") && first.contains("2026-11-14"), "{first}");
    // The next stage takes it, and says where it comes from.
    let check = own.run(["check", "--format", "json"]);
    assert!(check.out.contains("measured.toml"), "a figure that was measured is not in {}", check.out);
    // The same logs tell the same again: what they told before is left out, and nothing is added twice.
    let again = run_in(own.path(), write);
    again.done();
    assert!(again.out.contains("already there"), "{}", again.out);
    assert_eq!(own.read("measured.toml"), first);
    // Another date is another table, after what the user wrote there himself.
    own.write("measured.toml", format!("{first}\n# kept\n"));
    run_in(own.path(), [&write[..4], &["2026-11-15"]].concat()).done();
    let second = own.read("measured.toml");
    assert!(
        second.starts_with(&first) && second.contains("# kept") && second.len() > first.len() + 10,
        "{second}"
    );
    // A file that does not read stands in the way of every verb, and is left as it is.
    own.write("measured.toml", "[[measured]]\naxis = \"lefty\"\n");
    own.run(["check"]).refused(&["lefty", "measured.toml:2"]);
    own.run(write).refused(&["lefty"]);
    // One that is no text is not written over.
    own.write("measured.toml", [0xff, 0xfe, 0x00]);
    assert_eq!(own.run(write).status, Some(2));
}

/// A log as a controller writes it: other headings, codes, no motor voltage, a duty in percent, a counter of 16 bits that soon
/// begins anew, tabs and a decimal comma.
fn raw(own: &Own, trial: &str) {
    let text = own.read(&format!("logs/{trial}.csv"));
    let mut lines = text.lines().map(|line| line.split(',').collect::<Vec<_>>());
    let head = lines.next().unwrap();
    let at = |name: &str| head.iter().position(|heading| *heading == name).unwrap();
    let wanted = ["time [s]", "duty", "supply voltage [V]", "current code", "count"].map(at);
    let mut raw = "t/s\tU1\tU2\tAI2\tENC\n".to_owned();
    for cells in lines {
        let mut row: Vec<String> = wanted.iter().map(|k| cells[*k].to_owned()).collect();
        let number = |cell: &str| cell.parse::<f64>().unwrap();
        row[1] = (100.0 * number(&row[1])).to_string();
        row[4] = (number(&row[4]) + 65_530.0).rem_euclid(65_536.0).to_string();
        let row: Vec<String> = row.iter().map(|cell| cell.replace('.', ",")).collect();
        raw.push_str(&row.join("\t"));
        raw.push('\n');
    }
    own.write("logs/raw.txt", raw);
    let table = format!(
        "\n[logs.raw]\nfile = \"logs/raw.txt\"\ntrial = \"{trial}\"\ntemperature = \"20 °C\"\n\
         columns = {{ duty = \"U1\", supply_voltage = \"U2\", count = \"ENC\", \
         current = {{ column = \"AI2\", of = \"board:A.current\", as = \"code\" }} }}\n"
    );
    own.write("bench.toml", own.read("bench.toml") + &table);
}

#[test]
fn a_log_of_the_bench_file_says_what_its_columns_are() {
    let own = logged(&["left-locked"]);
    raw(&own, "left-locked");
    let said = identified(&own, &["raw"]);
    said.done();
    for piece in ["codes of board:A.current", "as told", "duty times the voltage of the bus"] {
        assert!(
            said.out.split_whitespace().collect::<Vec<_>>().join(" ").contains(piece),
            "{piece}: {}",
            said.out
        );
    }
    // Without a name all logs of the bench file are meant.
    assert_eq!(identified(&own, &[]).out, said.out);
}

/// A predicted log says how warm its winding began, by the trial as it was then, whatever became of the bench file, and a fault
/// is none of it. What is said of the log itself, and an option, go before.
#[test]
fn a_predicted_log_is_identified_with_the_temperature_of_its_trial() {
    let own = Own::new();
    let bench = own.read("bench.toml");
    let trial = |temperature: &str| {
        format!(
            "\n[trials.warm]\naxis = \"left\"\nshaft = \"locked\"\n{temperature}sample_rate = \"10 kHz\"\n\
             input = {{ kind = \"staircase\", duty = 0.2, steps = 3, hold = \"20 ms\", both_ways = true }}\n"
        )
    };
    own.write("bench.toml", format!("{bench}{}", trial("temperature = \"70 °C\"\n")));
    fs::create_dir_all(own.file("logs")).unwrap();
    let predict = ["predict", "warm", "--builds", "0", "--out"];
    run_in(own.path(), predict.iter().chain(&["logs/warm.csv"])).done();
    run_in(own.path(), predict.iter().chain(&["logs/faulty.csv", "--fault", "warm=120°C@1ms"])).done();
    let beside: serde_json::Value = serde_json::from_str(&own.read("logs/warm.trial.json")).unwrap();
    assert_eq!(beside["winding_temperature"]["unit"], "K");
    assert!((number(&beside["winding_temperature"]["value"]) - 343.15).abs() < 1e-9, "{beside}");

    // The trial says no temperature any more, and the log names it, or is named as a file.
    let named = "\n[logs.named]\nfile = \"logs/warm.csv\"\ntrial = \"warm\"\n\
                 \n[logs.told]\nfile = \"logs/warm.csv\"\ntrial = \"warm\"\ntemperature = \"50 °C\"\n";
    own.write("bench.toml", format!("{bench}{}{named}", trial("")));
    let resistance = |log: &str, option: Option<&str>| {
        let option = option.map_or_else(Vec::new, |option| vec!["--temperature", option]);
        let told = identified(&own, &[&[log, "--format", "json"], &option[..]].concat());
        told.done();
        let axis = &told.json()["axes"][0];
        assert_eq!(axis["temperature"]["stated"], true, "{log}: {axis}");
        let all = axis["parameters"].as_array().unwrap();
        let found = all.iter().find(|p| p["name"] == "resistance").unwrap_or_else(|| panic!("{all:?}"));
        number(&found["value"])
    };
    // Carried to 20 °C: copper has 0.393 % for a kelvin more resistance than there.
    let warm = resistance("logs/warm.csv", None);
    assert!((warm / 3.9 - 1.0).abs() < 0.05, "{warm} Ω");
    for (log, option, at) in [
        ("logs/warm.csv", Some("70°C"), 70.0),
        ("named", None, 70.0),
        ("told", None, 50.0),
        ("logs/warm.csv", Some("30°C"), 30.0),
    ] {
        let factor = |celsius: f64| 1.0 + 3.93e-3 * (celsius - 20.0);
        let (found, due) = (resistance(log, option), warm * factor(70.0) / factor(at));
        assert!((found / due - 1.0).abs() < 0.01, "{log} {option:?}: {found} Ω for {due} Ω");
    }
    // Its winding is 120 °C warm nearly from the start, and its description says what the trial was planned with.
    let (faulty, due) = (resistance("logs/faulty.csv", None), 3.9 * (1.0 + 0.393) / (1.0 + 0.1965));
    assert!((faulty / due - 1.0).abs() < 0.05, "{faulty} Ω for {due} Ω");
    // A description of another log is none of this one.
    fs::rename(own.file("logs/warm.csv"), own.file("logs/other.csv")).unwrap();
    fs::rename(own.file("logs/warm.trial.json"), own.file("logs/other.trial.json")).unwrap();
    let told = identified(&own, &["logs/other.csv", "--shaft", "locked", "--format", "json"]);
    assert_eq!(told.json()["axes"][0]["temperature"]["stated"], false, "{told:?}");
}

/// Codes of the converter, behind the filter of the line and within the ripple, and a duty with dead time: played through the
/// simulation, they tell what was put in.
#[test]
fn codes_of_a_controller_tell_the_parameters() {
    let own = Own::new();
    let trial = "\n[trials.short]\naxis = \"left\"\nshaft = \"free\"\nsample_rate = \"1.8 kHz\"\n\
                 input = { kind = \"staircase\", duty = 0.24, steps = 2, hold = \"60 ms\", both_ways = true }\n";
    own.write("bench.toml", own.read("bench.toml") + trial);
    fs::create_dir_all(own.file("logs")).unwrap();
    let predict = ["predict", "short", "--builds", "0", "--out", "logs/short.csv"];
    assert_eq!(run_in(own.path(), predict).status, Some(0));
    raw(&own, "short");
    let told = identified(&own, &["raw", "--format", "json"]);
    told.done();
    let value = told.json();
    let all = value["axes"][0]["parameters"].as_array().unwrap();
    for (name, want) in PUT_IN.iter().filter(|(name, _)| *name != "resistance") {
        let found = all.iter().find(|p| p["name"] == *name).unwrap_or_else(|| panic!("{name} in {all:?}"));
        let (low, high) = (number(&found["low"]), number(&found["high"]));
        // Four standard uncertainties.
        let (middle, reach) = (0.5 * (low + high), high - low);
        assert!((middle - want).abs() < reach, "{name}: {low} .. {high}, put in {want}");
    }
    let text = identified(&own, &["raw"]);
    assert!(text.out.contains("played period by period"), "{}", text.out);
}

#[test]
fn what_cannot_be_used_is_told_with_its_place() {
    let own = logged(&["left-spin-up"]);
    identified(&own, &[]).refused(&["the bench file names no logs", "[logs.NAME]"]);
    run(["identify"]).refused(&["names no logs"]);
    identified(&own, &["no-such"]).refused(&["no log `no-such`", "neither in the bench file nor as a file"]);
    identified(&own, &["bench.toml"]).refused(&["bench.toml"]);
    let log = "logs/left-spin-up.csv";
    identified(&own, &[log, "--column", "curent=current"])
        .refused(&["`curent` is no quantity of a log", "supply_voltage"]);
    identified(&own, &[log, "--column", "current"]).refused(&["QUANTITY=HEADING"]);
    identified(&own, &[log, "--column", "current=AI2"]).refused(&["left-spin-up.csv", "`AI2`", "`duty`"]);
    identified(&own, &[log, "--column", "current=motor voltage"]).refused(&["is in V", "pin volts"]);
    identified(&own, &[log, "--temperature", "cold"]).refused(&["--temperature cold", "24°C"]);
    identified(&own, &[log, "--trial", "left-spinup"]).refused(&["no trial `left-spinup`", "left-spin-up"]);
    fs::remove_file(own.file("logs/left-spin-up.trial.json")).unwrap();
    identified(&own, &[log, "--axis", "middle"]).refused(&["`middle`"]);
    for (name, bytes) in [
        ("empty.csv", &b""[..]),
        ("one.csv", b"time [s],duty\n0,0.5\n"),
        ("still.csv", b"time [s],duty\n0,0.5\n0,0.5\n0,0.5\n"),
        ("binary.csv", b"\x7fELF\x00\x01\x02\x03\x00\x00\x00"),
        ("nan.csv", b"time [s],duty,current [A]\n0,nan,nan\n1,nan,nan\n2,nan,nan\n"),
        ("words.csv", b"time [s],duty,current [A]\n0,0.5,0.1\n1,half,0.2\n"),
        ("no-answer.csv", b"time [s],duty\n0,0.5\n1,0.5\n2,0.5\n"),
        ("short.csv", b"time [s],duty,current [A]\n0,0.5,0.1\n1,0.5,0.2\n2,0.5,0.3\n"),
    ] {
        own.write(name, bytes);
        let before = content(own.path());
        let said = run_in(own.path(), ["identify", name]);
        said.refused(&[]);
        assert!(said.err.contains(name) || said.err.contains("logs cannot be used"), "{said:?}");
        assert_eq!(content(own.path()), before);
    }
    run(["identify", "--write"]).refused(&["no bench of yours"]);
    identified(&own, &[log, log]).refused(&["named twice"]);
    identified(&own, &["logs"]).refused(&["logs is a folder"]);
    // What is left out is told with its reason.
    let renamed = own.read(log).replace("current [A]", "current [V]");
    own.write("volts.csv", renamed);
    let said = identified(&own, &["volts.csv", "--shaft", "free"]);
    said.done();
    assert!(said.out.contains("`current [V]` was not taken: V is no unit of current"), "{}", said.out);
}

#[test]
fn a_gear_that_is_wound_up_tells_its_stiffness_play_and_loss() {
    let own = Own::new();
    own.change("parts/encoder-16.toml", "lines_per_rev = 16", "lines_per_rev = 256");
    let bench = own.read("bench.toml");
    let trial = "
[trials.wind-up]
axis = \"left\"
input = { kind = \"chirp\", duty = 0.15, frequency_from = \"0.2 Hz\", frequency_to = \"0.2 Hz\", hold = \"10 s\" }
shaft = \"output held\"
duration = \"10 s\"
sample_rate = \"2 kHz\"
";
    own.write("bench.toml", format!("{bench}{trial}"));
    let said = run_in(own.path(), ["predict", "wind-up", "--builds", "0", "--out", "wind-up.csv"]);
    assert_eq!(said.status, Some(0), "{said:?}");
    assert!(said.out.contains("must be held by something that bears the whole torque"), "{}", said.out);
    assert!(said.out.contains("current at which the gearbox is at its peak"), "{}", said.out);
    let args = ["wind-up.csv", "--column", "current=current code as code", "--format", "json"];
    let told = identified(&own, &args).json();
    let figures = told["axes"][0]["by_single_logs"].as_array().unwrap().clone();
    // Of gear and coupling in a row: 45 and 2000 N·m/rad; the play of the gear; the sheets of motor and gear.
    let put_in = [
        ("stiffness", 1.0 / (1.0 / 45.0 + 1.0 / 2000.0)),
        ("play", 1.2_f64.to_radians()),
        ("dry friction", 3.8e-3),
        ("efficiency", 0.78),
    ];
    for (name, want) in put_in {
        let all = figures.iter().filter(|f| f["way"] == "winding up");
        let mut named = all.filter(|f| f["name"].as_str().is_some_and(|text| text.starts_with(name)));
        let found = named.next().unwrap_or_else(|| panic!("{name} in {figures:?}"));
        let (low, high) = (number(&found["low"]), number(&found["high"]));
        assert!(low < want && want < high, "{name}: {low} .. {high}, put in {want}");
    }
    // A gear that gives way nowhere has nothing to wind up.
    let part = own.read("parts/planetary-27.toml");
    let stiff: Vec<&str> = part.lines().filter(|line| !line.starts_with("stiffness")).collect();
    own.write("parts/planetary-27.toml", stiff.join("\n"));
    let bench = own.read("bench.toml");
    let stiff: Vec<&str> = bench.lines().filter(|line| !line.contains("stiffness =")).collect();
    own.write("bench.toml", stiff.join("\n"));
    own.run(["predict", "wind-up"]).refused(&["stiffness", "shaft = \"locked\""]);
}

#[test]
fn a_line_that_falls_with_the_current_is_predicted_and_read_so() {
    let own = Own::new();
    own.change("parts/twin-bridge.toml", "scale = \"310 mV/A ± 3 %\"", "scale = \"-310 mV/A ± 3 %\"");
    let said = run_in(own.path(), ["predict", "left-locked", "--builds", "0", "--out", "locked.csv"]);
    assert_eq!(said.status, Some(0), "{said:?}");
    let table = own.read("locked.csv");
    let mut rows = table.lines().map(|line| line.split(',').collect::<Vec<_>>());
    let headings = rows.next().unwrap();
    let column = |name: &str| headings.iter().position(|heading| *heading == name).unwrap();
    let (code, current) = (column("current code"), column("current [A]"));
    let most = rows.max_by(|a, b| a[current].parse::<f64>().unwrap().total_cmp(&b[current].parse().unwrap()));
    let most = most.unwrap();
    let (code, current): (f64, f64) = (most[code].parse().unwrap(), most[current].parse().unwrap());
    // 1.65 V at no current, 12 bits over 3.3 V; the sample lies in the middle of the on-time, a part of the ripple beside.
    let want = (1.65 - 0.31 * current) / 3.3 * 4096.0;
    assert!(current > 0.1 && (code - want).abs() < 25.0, "{code} at {current} A, not {want}");
    let args = ["locked.csv", "--column", "current=current code as code", "--format", "json"];
    let told = identified(&own, &args).json();
    let parameters = told["axes"][0]["parameters"].as_array().unwrap().clone();
    let r = parameters.iter().find(|p| p["name"] == "resistance").unwrap();
    assert!(number(&r["low"]) < 3.9 && 3.9 < number(&r["high"]), "{r}");
}

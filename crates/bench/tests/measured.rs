//! Figures that were measured on the bench go before those of the parts, in their own axis alone.

use bench::Bench;
use finding::Checked;
use worked::Effort;

const LONG: &str = r#"
resistance = { value = "2.0 Ω", min = "1.5 Ω", max = "2.5 Ω" }
inertia = "50 g·cm²"
"#;

/// A starter whose motors give their resistance with limits, and what was measured on it.
fn checked(measured: &str) -> Checked<Bench> {
    let starter = bench::builtin::starter("seed-tray-shuttle").unwrap();
    let sheet = bench::overlay(&starter, "parts/motor-24.toml", LONG);
    bench::load_from(&sheet.and("measured.toml", measured))
}

fn loaded(measured: &str) -> Bench {
    let checked = checked(measured);
    checked.value.unwrap_or_else(|| panic!("{:?}", checked.findings))
}

fn problems(measured: &str) -> Vec<(String, String)> {
    checked(measured).findings.into_iter().map(|f| (f.id, f.message)).collect()
}

const MEASURED: &str = r#"
[[measured]]
axis = "left"
date = "2026-11-12"
logs = ["locked-1"]
[measured.motor]
resistance = { value = "2.20 Ω", u = "0.02 Ω", at = { temperature = "20 °C" }, how = "measured", from = "locked-1" }
inertia = { value = "61 g·cm²", u = "1 g·cm²", how = "measured" }

[[measured]]
axis = "left"
[measured.motor]
resistance = { value = "2.31 Ω", u = "0.01 Ω", how = "measured", from = "locked-2" }
"#;

#[test]
fn they_replace_the_figures_of_their_axis_and_no_other() {
    let bench = loaded(MEASURED);
    let motor = |axis: &str| bench.axis(axis).and_then(|axis| axis.motor()).unwrap();
    // The later table counts, and the earlier one where that is silent.
    assert_eq!(motor("left").resistance().value(), 2.31);
    assert!((motor("left").inertia().value() - 61e-7).abs() < 1e-18);
    assert_eq!(motor("right").resistance().value(), 2.0);
    // What was not measured stays as the sheet has it.
    assert_eq!(motor("left").inductance().value(), motor("right").inductance().value());
    // Limits of the sheet do not hold for what was measured.
    let figure = motor("left").resistance().figure(Effort::FirstOrder);
    assert!((figure.u.unwrap() - 0.01).abs() < 1e-9, "{figure:?}");
    let source = &figure.sources[0];
    assert_eq!(source.path, "axes.left.motor.resistance");
    assert_eq!(source.origin, "change of measured.toml:13, measured, locked-2");
    let origin = &motor("right").resistance().figure(Effort::FirstOrder).sources[0].origin.clone();
    assert!(origin.starts_with("change of parts/motor-24.toml:2"), "{origin}");
}

#[test]
fn what_cannot_be_laid_over_is_told_once_with_its_place() {
    let of = |text: &str| {
        let told = problems(text);
        assert_eq!(told.len(), 1, "{told:?}");
        told.into_iter().next().unwrap()
    };
    let (id, message) = of("[[measured]]\naxis = \"lefty\"\n");
    assert_eq!(id, "name-unknown");
    assert!(message.contains("lefty"), "{message}");
    let (id, _) = of("[[measured]]\naxis = \"left\"\nmotor = { resistence = \"2 Ω\" }\n");
    assert_eq!(id, "key-unknown");
    let (id, _) = of("[[measured]]\naxis = \"left\"\nmotor = { resistance = \"2 mH\" }\n");
    assert_eq!(id, "quantity-not-understood");
    let (id, _) = of("[[measured]]\nmotor = { resistance = \"2 Ω\" }\n");
    assert_eq!(id, "key-missing");
    assert!(problems("[[measured]\n").iter().any(|(id, _)| id == "notation"));
    let (id, _) = of("measured = 3\n");
    assert_eq!(id, "wrong-type");
}

/// Two boards of one part file, and what was measured of a line of one of them.
const LINES: &str = r#"
[[measured]]
of = "board:A.current"
calibration = "left-current"
[measured.line]
zero = { value = "1.660 V", u = "0.5 mV", how = "measured", from = "left-current" }
scale = { value = "305 mV/A", u = "1 mV/A", how = "measured", from = "left-current" }

[[measured]]
of = "board:A.current"
[measured.line]
zero = { value = "1.662 V", u = "0.5 mV", how = "measured" }
"#;

#[test]
fn what_was_measured_of_a_line_is_that_of_its_channel_alone() {
    let bench = loaded(LINES);
    let line = |name: &str| bench.sensed().into_iter().find(|line| line.name == name).unwrap();
    let own = line("board:A.current");
    assert!((own.zero.value() - 1.662).abs() < 1e-12 && (own.scale.value() - 0.305).abs() < 1e-12);
    assert!((own.scale.uncertainty().unwrap().u - 1e-3).abs() < 1e-9);
    let other = line("board:B.current");
    assert!((other.zero.value() - 1.65).abs() < 1e-12 && (other.scale.value() - 0.31).abs() < 1e-12);
    // The rest of the line stays as the part file has it.
    let signal = bench.board("board").unwrap().signal("A.current").unwrap();
    assert!((signal.source_resistance().value() - 1e3).abs() < 1e-9 && signal.positive().is_some());
}

#[test]
fn a_sensor_besides_takes_what_was_measured_of_it() {
    let sensor = "[sensors.probe]\nmeasures = \"current\"\nof = \"axes.left\"\nzero = \"2.5 V\"\nscale = \"0.1 V/A\"\n";
    let measured =
        "[[measured]]\nof = \"probe:signal\"\nline = { scale = { value = \"0.098 V/A\", u = \"1 mV/A\" } }\n";
    let starter = bench::builtin::starter("seed-tray-shuttle").unwrap();
    let with = bench::overlay(&starter, "bench.toml", sensor);
    let checked = bench::load_from(&with.and("measured.toml", measured));
    let bench = checked.value.unwrap_or_else(|| panic!("{:?}", checked.findings));
    let line = bench.sensed().into_iter().find(|line| line.name == "probe:signal").unwrap();
    assert!((line.scale.value() - 0.098).abs() < 1e-12 && (line.zero.value() - 2.5).abs() < 1e-12);
}

#[test]
fn a_line_that_nobody_knows_is_told_once() {
    for (text, id, piece) in [
        (
            "[[measured]]\nof = \"board:A.curent\"\nline = { zero = \"1.6 V\" }\n",
            "name-unknown",
            "board:A.curent",
        ),
        (
            "[[measured]]\nof = \"bord:A.current\"\nline = { zero = \"1.6 V\" }\n",
            "name-unknown",
            "bord:A.current",
        ),
        ("[[measured]]\naxis = \"left\"\nline = { zero = \"1.6 V\" }\n", "key-missing", "`of`"),
        (
            "[[measured]]\nof = \"board:A.current\"\nmotor = { resistance = \"2 Ω\" }\n",
            "key-missing",
            "`axis`",
        ),
        (
            "[[measured]]\nof = \"board:A.current\"\nline = { zero = \"1.6 A\" }\n",
            "quantity-not-understood",
            "zero",
        ),
        ("[[measured]]\ndate = \"today\"\n", "key-missing", "`axis`"),
    ] {
        let told = problems(text);
        assert_eq!(told.len(), 1, "{text}: {told:?}");
        assert!(told[0].0 == id && told[0].1.contains(piece), "{told:?}");
    }
}

#[test]
fn columns_of_a_log_are_known_words() {
    let log = "[logs.one]\nfile = \"one.csv\"\naxis = \"left\"\ncolumns = { curent = \"AI2\" }\n";
    let starter = bench::builtin::starter("seed-tray-shuttle").unwrap();
    let findings = bench::load_from(&bench::overlay(&starter, "bench.toml", log)).findings;
    let finding = findings.iter().find(|f| f.subject.contains("columns")).unwrap();
    assert!(finding.message.contains("curent"), "{}", finding.message);
}

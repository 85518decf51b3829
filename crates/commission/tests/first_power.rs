//! The first-power sheet of the shuttle against hand computations from the figures in its files.

use bench::builtin::starter;
use finding::Sheet;
use finding::sheet::{Block, Table};
use wiring::Options;

fn sheet(name: &str) -> Sheet {
    changed(name, &[])
}

/// The sheet of a starter with pieces of its files changed.
fn changed(name: &str, changes: &[(&str, &str, &str)]) -> Sheet {
    let mut files = starter(name).expect("a starter").memory();
    for (path, old, new) in changes {
        let before = String::from_utf8(bench::Files::read(&files, path).expect("the file is there"));
        let before = before.expect("text");
        assert!(before.contains(old), "{path} holds {old}");
        files.insert(path, before.replace(old, new));
    }
    let bench = bench::load_from(&files).value.expect("a bench");
    let wiring = wiring::wire(&bench, &Options::default()).value.expect("a plan");
    commission::FirstPower::of(&wiring).sheet()
}

fn tables(sheet: &Sheet) -> Vec<&Table> {
    let mut tables = Vec::new();
    for block in &sheet.blocks {
        if let Block::Table(table) = block {
            tables.push(table);
        }
    }
    tables
}

/// Expected value and band of the first reading in a step whose words hold all of these.
fn reading(sheet: &Sheet, step: &str, words: &[&str]) -> (String, String) {
    let table = tables(sheet)
        .into_iter()
        .find(|table| table.title == step)
        .unwrap_or_else(|| panic!("no step {step}"));
    let row = table.rows.iter().find(|row| words.iter().all(|word| row[1].contains(word)));
    let row = row.unwrap_or_else(|| panic!("{step} has no {words:?}: {:?}", table.rows));
    (row[2].clone(), row[3].clone())
}

fn number(text: &str) -> f64 {
    let number = text.split(' ').next().unwrap_or_default().replace('−', "-");
    number.parse().unwrap_or_else(|_| panic!("{text} begins with no number"))
}

#[track_caller]
fn close(said: &str, theory: f64) {
    let value = number(said);
    assert!((value - theory).abs() <= 0.005 * theory.abs(), "{said} against {theory}");
}

#[test]
fn zeros_stand_in_volts_and_codes() {
    let sheet = sheet("seed-tray-shuttle");
    let step = "Zeros of the sense lines";
    // 1.65 V ± 2 % at a converter of 12 bits and 3.3 V ± 1 %.
    assert_eq!(reading(&sheet, step, &["A.current"]).0, "1.65 V");
    let (code, band) = reading(&sheet, step, &["A.current", "code"]);
    assert_eq!(code, "2048");
    let ends: Vec<f64> = band.split(" .. ").map(number).collect();
    let theory: [f64; 2] = [1.65 * 0.98 / (3.3 * 1.01) * 4096.0, 1.65 * 1.02 / (3.3 * 0.99) * 4096.0];
    assert_eq!(ends, [theory[0].floor(), theory[1].ceil()]);
}

#[test]
fn ten_turns_count_lines_times_four() {
    let sheet = sheet("seed-tray-shuttle");
    // 16 lines on the motor shaft, a gearbox of 27 1/25; a mark is met to 10°, which is a third of a per cent.
    let (motor, band) = reading(&sheet, "Encoders by hand", &["left", "turns of the motor"]);
    assert_eq!(motor, "640");
    assert_eq!(band, "638 .. 642");
    let (load, _) = reading(&sheet, "Encoders by hand", &["left", "shaft at the load"]);
    assert_eq!(load, format!("{:.0}", 16.0 * 4.0 * 10.0 * 27.04));
    assert!(reading(&sheet, "Encoders by hand", &["right", "forward"]).0.contains("mirrored"));
}

#[test]
fn the_first_turn_is_that_of_the_armature_equation() {
    let sheet = sheet("seed-tray-shuttle");
    // I = M/K, U = R·I + U_b: rotor 3.2 mN·m, gear 0.6 mN·m, 38.5 mN·m/A; winding, both switches, 0.6 m of 0.5 mm² out
    // and back with copper of 0.0172 Ω·mm²/m.
    let resistance = 3.9 + 0.31 + 2.0 * 0.6 * 0.0172 / 0.5;
    let free = (3.2e-3 + 0.6e-3) / 38.5e-3;
    let step = "First turn, shaft free";
    close(&reading(&sheet, step, &["left", "motor lead"]).0, free * 1e3);
    close(&reading(&sheet, step, &["left", "mean voltage"]).0, resistance * free + 0.6);
    close(&reading(&sheet, step, &["left", "duty"]).0, (resistance * free + 0.6) / 24.0);
    // The sense line says 1.65 V + 310 mV/A.
    let code = (1.65 + 0.31 * free) / 3.3 * 4096.0;
    close(&reading(&sheet, step, &["A.current", "code"]).0, code);
    // Half of 12 kg on a slope of 1°, rolling at 0.02, wheels of 45 mm, behind the gear at 78 %.
    let weight = 6.0 * 9.80665;
    let slope = 1.0_f64.to_radians();
    let wheel = weight * (libm::sin(slope) + 0.02 * libm::cos(slope)) * 0.045;
    let coupled = (3.2e-3 + 0.6e-3 + wheel / (27.04 * 0.78)) / 38.5e-3;
    close(&reading(&sheet, "First turn, load coupled", &["left", "motor lead"]).0, coupled * 1e3);
}

#[test]
fn rails_currents_and_flags_are_listed() {
    let sheet = sheet("seed-tray-shuttle");
    let logic = "Logic on, motor supplies off";
    assert_eq!(reading(&sheet, logic, &["rails.5V"]), ("5 V".to_owned(), "4.85 V .. 5.15 V".to_owned()));
    // The servo rests at 8 mA, stalled it would draw 0.9 A; no other supply has one.
    assert_eq!(reading(&sheet, logic, &["current out of latch", "servos at rest"]).0, "8 mA");
    assert_eq!(tables(&sheet)[1].rows.iter().filter(|row| row[1].contains("servos at rest")).count(), 1);
    let motor = "Motor supplies on, motors unplugged";
    assert_eq!(reading(&sheet, motor, &["current out of supplies.drive"]).0, "20 mA");
    assert!(reading(&sheet, motor, &["power_good"]).0.contains("green indicator on"));
    assert!(reading(&sheet, motor, &["fault"]).0.contains("red indicator off"));
    // 4.7 kΩ discharges 330 µF from 24 V to 1 V.
    close(&reading(&sheet, "The stop", &["bleed"]).0, 4.7e3 * 330e-6 * libm::log(24.0));
}

/// The pin opposite in the plug pulls on a line that a wire leads to another pin: 45 kΩ up from 3.3 V against 10 kΩ
/// down on the board.
#[test]
fn a_line_led_elsewhere_is_still_pulled_by_the_pin_opposite() {
    let sheet = changed(
        "seed-tray-shuttle",
        &[
            ("parts/two-port-controller.toml", "\"J2.3\" = \"up\"", "\"J2.3\" = \"up\", \"J1.16\" = \"up\""),
            ("bench.toml", "supply = \"logic\"\n", "supply = \"logic\"\nkeep_free = [\"J1.16\"]\n"),
        ],
    );
    close(&reading(&sheet, "Levels that nobody drives", &["board:enable"]).0, 3.3 * 10.0 / 55.0);
}

/// A supply is measured at TP1 and a rail at TP4, in whichever step; a flag says the pin of the controller.
#[test]
fn a_place_has_one_test_point() {
    for name in ["seed-tray-shuttle", "lead-screw-stage", "turntable", "lift-arm"] {
        let sheet = sheet(name);
        for row in tables(&sheet).into_iter().flat_map(|table| &table.rows) {
            let (point, what) = (row[0].as_str(), row[1].as_str());
            if what.contains("rails.") && !what.starts_with("rail of") {
                assert_eq!(point, "TP4", "{what}");
            } else if what.contains("supplies.") && !what.starts_with("rail of") {
                assert_eq!(point, "TP1", "{what}");
            }
            assert!(point != "TP3" || what.contains(" at "), "{what}");
        }
    }
}

/// What is said beside the figures of a device keeps that it is not decided.
#[test]
fn a_finding_beside_a_device_keeps_its_standing() {
    let bench =
        bench::load_from(&starter("draft-bench").expect("a starter").memory()).value.expect("a bench");
    let mut findings = check::check(&bench).findings;
    findings.retain(|finding| !finding.decided);
    let beside = commission::beside(&bench, None, &findings);
    let said: Vec<&String> = beside
        .values()
        .flatten()
        .filter_map(|block| if let Block::List(lines) = block { Some(lines) } else { None })
        .flatten()
        .collect();
    assert!(!said.is_empty() && said.iter().all(|line| line.contains(" (not decided): ")), "{said:?}");
}

/// Cautions stand before the step that they belong to, and the axis is not turned before the stop is tried.
#[test]
fn steps_come_in_a_safe_order() {
    for name in ["seed-tray-shuttle", "lead-screw-stage", "turntable", "lift-arm"] {
        let sheet = sheet(name);
        let headings: Vec<String> = sheet
            .blocks
            .iter()
            .filter_map(|block| match block {
                Block::Heading(text) => {
                    Some(text.split_once(". ").map_or(text.as_str(), |(_, title)| title).to_owned())
                }
                _ => None,
            })
            .collect();
        let at = |title: &str| headings.iter().position(|heading| heading == title);
        assert_eq!(at("Everything off"), Some(0), "{name}");
        for turning in ["First turn, shaft free", "First turn, load coupled"] {
            assert!(at(turning).is_none() || at(turning) > at("The stop"), "{name}: {headings:?}");
        }
        assert!(matches!(sheet.blocks[0], Block::Caution(_)));
        for (heading, next) in sheet.blocks.iter().zip(&sheet.blocks[1..]) {
            let coupled = matches!(heading, Block::Heading(text) if text.contains("First turn"));
            assert!(!coupled || matches!(next, Block::Caution(_)), "{name}");
        }
        for table in tables(&sheet) {
            for row in &table.rows {
                assert!(
                    !row[2].is_empty()
                        && !row.iter().any(|cell| cell.contains("NaN") || cell.contains("inf ")),
                    "{row:?}"
                );
            }
        }
    }
}

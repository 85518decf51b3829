//! Dumps of signals: the lines say what the bridge was told and where the shaft went.

use drive::bridge::OffState;
use finding::{Stopped, Watch};
use logs::quadrature::{Decoder, Decoding, Levels, Marks};
use logs::{Csv, Refused};
use simulate::{
    About, Board, Command, Curved, EncoderLine, Ended, Rows, SetUp, Simulation, Stage, Waves, columns,
};
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};

/// Time that stages take, s.
fn length(drive: &SetUp, stages: &[Stage]) -> f64 {
    stages.iter().map(|stage| stage.periods as f64).sum::<f64>() / drive.frequency
}

/// A small motor with a light load.
fn drive(off_state: OffState) -> SetUp {
    SetUp {
        supply_voltage: 24.0,
        supply_resistance: 0.1,
        frequency: 20e3,
        off_state,
        diode_drop: 0.8,
        resistance: 4.0,
        winding_resistance: 3.5,
        inductance: 1.8e-3,
        constant: 0.05,
        brush_drop: 0.3,
        inertia: 6e-6,
        friction: 2e-3,
        viscous_friction: 1e-6,
        ratio: 1.0,
        efficiency: 1.0,
        back_efficiency: 1.0,
        load_inertia: 0.0,
        load_friction: 0.0,
        load_viscous: 0.0,
        load_torque: 0.0,
        locked: false,
        bus: None,
        board: Board::NONE,
        twist: None,
        curved: Curved::NONE,
    }
}

const PERIOD: u64 = 50_000;

fn stages() -> Vec<Stage> {
    let stage = |command, periods| Stage { command, periods };
    vec![
        stage(Command::Duty(0.4), 600),
        stage(Command::Duty(-0.7), 900),
        stage(Command::Open, 300),
        stage(Command::Duty(1.0), 5),
    ]
}

fn about() -> About {
    About {
        channel: "board.A".to_owned(),
        axis: "left".to_owned(),
        encoder: Some(EncoderLine {
            lines: 100.0,
            marks: Marks::TRUE,
            bits: 32,
            swapped: false,
            stuck: None,
        }),
        faults: Vec::new(),
        comment: "a reversal".to_owned(),
        date: None,
    }
}

/// Changes of each signal by its name: time in ns, value as it stands.
fn dump(drive: &SetUp, stages: &[Stage]) -> (BTreeMap<String, Vec<(u64, String)>>, f64) {
    let mut waves =
        Waves::new(Vec::new(), drive, length(drive, stages), &about(), Watch::none()).expect("begun");
    let mut simulation = Simulation::new(*drive).expect("a drive");
    let mut angle = 0.0;
    for stage in stages {
        angle = simulation.play(stage, 1, &mut waves).expect("played").angle;
    }
    let text = String::from_utf8(waves.end().expect("an end")).expect("text");
    assert!(text.contains("$timescale 1 ns $end"), "{}", &text[..300]);
    let mut names = BTreeMap::new();
    let mut found: BTreeMap<String, Vec<(u64, String)>> = BTreeMap::new();
    let mut time = 0;
    for line in text.lines() {
        let words: Vec<&str> = line.split(' ').collect();
        match words[..] {
            ["$var", _, _, code, name, "$end"] => drop(names.insert(code.to_owned(), name.to_owned())),
            [value, code] if names.contains_key(code) && value.starts_with(['r', 'b']) => {
                found.entry(names[code].clone()).or_default().push((time, value[1..].to_owned()));
            }
            [word] if word.starts_with('#') => time = word[1..].parse().expect("a time"),
            [word] if word.starts_with(['0', '1']) => {
                let name = &names[&word[1..]];
                found.entry(name.clone()).or_default().push((time, word[..1].to_owned()));
            }
            _ => {}
        }
    }
    (found, angle)
}

/// How long a line is high between two times, ns.
fn high(changes: &[(u64, String)], from: u64, to: u64) -> u64 {
    let ends = changes.iter().skip(1).map(|(time, _)| *time).chain([u64::MAX]);
    changes
        .iter()
        .zip(ends)
        .filter(|((_, value), _)| value == "1")
        .map(|((start, _), end)| end.min(to).saturating_sub((*start).max(from)))
        .sum()
}

fn at(changes: &[(u64, String)], time: u64) -> &str {
    &changes.iter().rev().find(|(since, _)| *since <= time).expect("a value").1
}

#[test]
fn the_lines_of_the_bridge_are_as_told() {
    let (found, _) = dump(&drive(OffState::Brake), &stages());
    let pwm = &found["pwm"];
    for (period, duty, direction, enable) in [
        (0, 0.4, "1", "1"),
        (599, 0.4, "1", "1"),
        (600, 0.7, "0", "1"),
        (1499, 0.7, "0", "1"),
        (1700, 0.0, "0", "0"),
        (1802, 1.0, "1", "1"),
    ] {
        let start = period * PERIOD;
        let share = high(pwm, start, start + PERIOD) as f64 / PERIOD as f64;
        assert!((share - duty).abs() <= 2.0 / PERIOD as f64, "period {period}: {share}");
        assert_eq!(at(&found["direction"], start + 1), direction, "period {period}");
        assert_eq!(at(&found["enable"], start + 1), enable, "period {period}");
    }
    // The on-time lies in the middle: of a duty of 0.4 from 15 to 35 µs.
    assert_eq!(pwm.iter().take(3).map(|(time, _)| *time).collect::<Vec<_>>(), [0, 15_000, 35_000]);
    // Whole on-time: no edge between the periods.
    assert_eq!(pwm.last(), Some(&(1800 * PERIOD, "1".to_owned())));
}

#[test]
fn a_locked_anti_phase_bridge_tells_the_sense_by_its_duty() {
    let (found, _) = dump(&drive(OffState::Reverse), &[Stage { command: Command::Duty(-0.5), periods: 10 }]);
    // A mean of −½ of the supply: on for a quarter.
    assert_eq!(high(&found["pwm"], 0, 10 * PERIOD), 10 * PERIOD / 4);
}

#[test]
fn the_encoder_counts_to_where_the_shaft_is() {
    let (found, angle) = dump(&drive(OffState::Brake), &stages());
    let mut edges: Vec<(u64, char, bool)> = ["A", "B"]
        .iter()
        .flat_map(|line| {
            found[*line].iter().map(|(time, value)| (*time, line.chars().next().unwrap(), value == "1"))
        })
        .collect();
    edges.sort_by_key(|(time, ..)| *time);
    let (start, later) = edges.split_at(2);
    let mut levels = Levels { a: start[0].2, b: start[1].2 };
    let mut decoder = Decoder::new(Decoding::X4, levels);
    for (_, line, level) in later {
        if *line == 'A' {
            levels.a = *level
        } else {
            levels.b = *level
        }
        decoder.take(levels);
    }
    let counts = angle * 400.0 / std::f64::consts::TAU;
    assert!(counts.abs() > 100.0, "it moved: {counts}");
    assert!((decoder.count() as f64 - counts).abs() <= 1.0, "{} against {counts}", decoder.count());
    assert_eq!(decoder.illegal(), 0);
    let told = found["count"].last().map(|(_, bits)| u32::from_str_radix(bits, 2).expect("bits") as i32);
    assert_eq!(told.map(i64::from), Some(decoder.count()));
}

#[test]
fn a_raised_flag_ends_both_kinds_of_log() {
    let (drive, stages) = (drive(OffState::Brake), stages());
    let stop = AtomicBool::new(false);
    let told = |done: f64| stop.store(done > 0.5, Ordering::Relaxed);
    let watch = Watch::new(&stop, &told);
    let csv = Csv::new(Vec::new(), &columns()).expect("headings");
    let mut rows = Rows::new(csv, length(&drive, &stages), watch);
    let mut waves = Waves::new(Vec::new(), &drive, length(&drive, &stages), &about(), watch).expect("begun");
    let ended = |ended: Ended<Refused>| matches!(ended, Ended::Sink(Refused::Stopped(Stopped)));
    let mut simulation = Simulation::new(drive).expect("a drive");
    assert!(
        stages.iter().try_for_each(|stage| simulation.play(stage, 5, &mut rows).map(drop)).is_err_and(ended)
    );
    stop.store(false, Ordering::Relaxed);
    let mut simulation = Simulation::new(drive).expect("a drive");
    assert!(
        stages.iter().try_for_each(|stage| simulation.play(stage, 1, &mut waves).map(drop)).is_err_and(ended)
    );
    // All 1805 periods in steps of 5, up to the first beyond the half.
    assert_eq!(rows.into_log().rows(), 181);
}

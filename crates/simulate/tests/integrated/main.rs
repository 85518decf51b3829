//! Against a general integrator: the samples that `recompute.py` wrote, of drives that meet every kind of event.
//!
//! They agree within 1e-9 of full scale, most to 1e-12. A board that waits for a time after a threshold hands an error of
//! that instant on, no more. A chopper can make it grow: where the current falls faster than it rises, the next instant
//! is off by the ratio of the two slopes (the usual reason why such choppers wander), so that in coast, on a bus with
//! capacitors, a difference of 1e-12 comes to 1e-7 of full scale in 25 ms and is a different course after 40 ms. That
//! case is therefore looked at for 12 ms.

#[path = "../cases/rows.rs"]
mod rows;

use drive::bridge::OffState;
use rows::Rows;
use serde_json::Value;
use simulate::{
    Acts, Board, Bus, Clamp, Command, Curved, Energy, Limit, Lockout, Row, Sees, SetUp, Simulation, Stage,
    SupplyLimit, SupplyOff, Twist, total,
};

/// Part of full scale by which the two may differ.
const AGREES: f64 = 1e-9;

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("{key}"))
}

fn word<'v>(value: &'v Value, key: &str) -> &'v str {
    value[key].as_str().unwrap_or_else(|| panic!("{key}"))
}

/// None where there is none.
fn part<T>(value: &Value, key: &str, read: impl Fn(&Value) -> T) -> Option<T> {
    let part = &value[key];
    (!part.is_null()).then(|| read(part))
}

fn limit(value: &Value) -> Limit {
    let time = value["time"].as_f64();
    Limit {
        threshold: number(value, "threshold"),
        sees: match word(value, "sees") {
            "motor" => Sees::Motor,
            "low leg" => Sees::LowLeg,
            "supply" => Sees::Supply,
            other => panic!("{other}"),
        },
        timer: number(value, "timer"),
        blanking: number(value, "blanking"),
        acts: match word(value, "acts") {
            "chop" => Acts::Chop(time),
            "latch" => Acts::Latch,
            "retry" => Acts::Retry(time.expect("a time")),
            "fold" => Acts::FoldBack(time.expect("a current")),
            other => panic!("{other}"),
        },
    }
}

fn bus(value: &Value) -> Bus {
    let mut clamps = value["clamps"].as_array().expect("clamps").iter().map(clamp);
    Bus {
        capacitance: number(value, "capacitance"),
        bleed: number(value, "bleed"),
        quiescent: number(value, "quiescent"),
        sinks: value["sinks"].as_bool().expect("sinks"),
        limit: part(value, "limit", |limit| SupplyLimit {
            current: number(limit, "current"),
            short_current: number(limit, "short_current"),
            off: part(limit, "off", |off| SupplyOff {
                timer: number(off, "timer"),
                retry_after: off["retry_after"].as_f64().unwrap_or(f64::INFINITY),
            }),
        }),
        clamps: std::array::from_fn(|_| clamps.next()),
    }
}

fn clamp(value: &Value) -> Clamp {
    Clamp {
        threshold: number(value, "threshold"),
        release: number(value, "release"),
        resistance: number(value, "resistance"),
    }
}

fn set_up(value: &Value) -> SetUp {
    let of = |key: &str| number(value, key);
    let mut limits = value["limits"].as_array().expect("limits").iter().map(limit);
    SetUp {
        supply_voltage: of("supply_voltage"),
        supply_resistance: of("supply_resistance"),
        frequency: of("frequency"),
        off_state: match word(value, "off_state") {
            "brake" => OffState::Brake,
            "diode" => OffState::Diode,
            "coast" => OffState::Coast,
            "reverse" => OffState::Reverse,
            other => panic!("{other}"),
        },
        diode_drop: of("diode_drop"),
        resistance: of("resistance"),
        winding_resistance: of("winding_resistance"),
        inductance: of("inductance"),
        constant: of("constant"),
        brush_drop: of("brush_drop"),
        inertia: of("inertia"),
        friction: of("friction"),
        viscous_friction: of("viscous_friction"),
        ratio: of("ratio"),
        efficiency: of("efficiency"),
        back_efficiency: of("back_efficiency"),
        load_inertia: of("load_inertia"),
        load_friction: of("load_friction"),
        load_viscous: of("load_viscous"),
        load_torque: of("load_torque"),
        locked: value["locked"].as_bool().expect("locked"),
        bus: part(value, "bus", bus),
        board: Board {
            dead_time: of("dead_time"),
            limits: std::array::from_fn(|_| limits.next()),
            lockout: part(value, "lockout", |lockout| Lockout {
                off: number(lockout, "off"),
                on: number(lockout, "on"),
                over: lockout["over"].as_f64().unwrap_or(f64::INFINITY),
            }),
        },
        twist: part(value, "twist", |twist| Twist {
            stiffness: number(twist, "stiffness"),
            backlash: number(twist, "backlash"),
            damping: number(twist, "damping"),
        }),
        curved: Curved::NONE,
    }
}

/// Samples of the other program hold: time, current, speed, angle, voltage of the bus, speed and angle of the load.
fn states(row: &Row) -> [f64; 6] {
    [row.current, row.speed, row.angle, row.supply_voltage, row.load_speed, row.load_angle]
}

/// Its sums: of the current either way, of the current out of the bus, and the energies.
fn sums(energy: &Energy) -> [f64; 5] {
    [energy.charge, energy.supply_charge, energy.supply, energy.winding, energy.gear]
}

/// What a case is there for has to happen in it.
fn happens(name: &str, case: &Value, gaps: u64, lowest: f64) {
    let is_there = |word: &str| name.contains(word);
    let (chops, lockouts) =
        (case["chops"].as_u64().expect("chops"), case["lockouts"].as_u64().expect("lockouts"));
    let tripped = !case["trip"].is_null();
    assert!(!is_there("gaps in") || gaps > 100, "{name}: {gaps} gaps");
    assert!(!is_there("chopper") || chops > 50, "{name}: {chops} chops");
    assert!(!(is_there("latch") || is_there("retry") || is_there("limit on")) || tripped, "{name}");
    let count = |key: &str| case[key].as_u64().expect("a count");
    assert!(!is_there("folds back") || is_there("supply that") || count("folds") > 0, "{name}");
    assert!(!is_there("again") || is_there("retry") || count("supply_offs") > 2, "{name}");
    assert!(!is_there("stays off") || count("supply_offs") == 1, "{name}");
    assert!(!is_there("empty") || lowest.abs() < 1e-9, "{name}: {lowest} V");
    assert!(!is_there("lockout") || lockouts > 3, "{name}: {lockouts} lockouts");
    assert!(!is_there("stop above") || lockouts > 1, "{name}: {lockouts} stops");
}

#[test]
fn courses_are_those_of_a_general_integrator() {
    let cases: Value = serde_json::from_str(include_str!("integrated.json")).expect("JSON");
    let cases = cases.as_array().expect("cases");
    assert!(cases.len() >= 33);
    let mut off = Vec::new();
    for case in cases {
        let (name, drive) = (word(case, "name"), set_up(&case["set_up"]));
        let every = case["every"].as_u64().expect("every");
        let mut simulation = Simulation::new(drive).expect("usable");
        let (mut rows, mut kept) = (Rows(Vec::new()), Vec::new());
        let mut worst_sum = 0.0f64;
        let due_sums: Vec<Vec<f64>> = serde_json::from_value(case["sums"].clone()).expect("sums");
        let last = due_sums.last().expect("sums of each stage").clone();
        for (stage, due) in case["stages"].as_array().expect("stages").iter().zip(&due_sums) {
            let command = stage[0].as_f64().map_or(Command::Open, Command::Duty);
            let periods = stage[1].as_u64().expect("periods");
            kept.push(simulation.play(&Stage { command, periods }, every, &mut rows).expect("it plays"));
            let is = sums(&total(&kept));
            for (k, (is, due)) in is.iter().zip(due).enumerate() {
                // Charge against charge, energies against the largest of them.
                let full = if k < 2 { last[0] } else { last[2..].iter().fold(0.0f64, |a, b| a.max(b.abs())) };
                worst_sum = worst_sum.max((is - due).abs() / full);
            }
        }
        let samples = case["samples"].as_array().expect("samples");
        let at_samples: Vec<&Row> = rows.0[1..].iter().collect();
        assert_eq!(at_samples.len(), samples.len(), "{name}");
        let full_speed = drive.supply_voltage / drive.constant;
        let largest = |of: fn(&Row) -> f64| rows.0.iter().map(|row| of(row).abs()).fold(0.0, f64::max);
        let full = [
            drive.supply_voltage / drive.resistance,
            full_speed,
            largest(|row| row.angle),
            drive.supply_voltage,
            full_speed / drive.ratio,
            largest(|row| row.load_angle),
        ];
        let mut worst = [0.0f64; 6];
        for (row, sample) in at_samples.iter().zip(samples) {
            let due: Vec<f64> = serde_json::from_value(sample.clone()).expect("numbers");
            assert!((row.time - due[0]).abs() < 1e-12, "{name}");
            for (k, is) in states(row).into_iter().enumerate() {
                // On a stiff bus a row holds a mean of its voltage, and a sample none.
                if k != 3 || drive.bus.is_some() {
                    worst[k] = worst[k].max((is - due[k + 1]).abs() / full[k]);
                }
            }
        }
        let chops: u64 = kept.iter().map(|kept| kept.chops).sum();
        let lockouts: u64 = kept.iter().map(|kept| kept.lockouts).sum();
        let folds: u64 = kept.iter().map(|kept| kept.folds).sum();
        let supply_offs: u64 = kept.iter().map(|kept| kept.supply_offs).sum();
        let gaps: u64 = kept.iter().map(|kept| kept.gaps).sum();
        let trip = kept.iter().find_map(|kept| kept.tripped);
        println!(
            "{name}: states {}, sums {worst_sum:.1e}; {chops} chops, trip {trip:?}, {lockouts} lockouts, {gaps} gaps",
            worst.map(|off| format!("{off:.1e}")).join(" ")
        );
        let due_trip: Option<(f64, usize)> = serde_json::from_value(case["trip"].clone()).expect("a trip");
        let trips_agree = match (trip, due_trip) {
            (Some((at, number)), Some((due, due_number))) => (at - due).abs() < 1e-9 && number == due_number,
            (is, due) => is.is_none() && due.is_none(),
        };
        let counts_agree = trips_agree
            && case["chops"] == chops
            && case["lockouts"] == lockouts
            && case["folds"] == folds
            && case["supply_offs"] == supply_offs;
        if !worst.iter().chain([&worst_sum]).all(|off| *off < AGREES) || !counts_agree {
            off.push(format!(
                "{name}: {worst:?} {worst_sum:e}, {chops} chops, {trip:?}, {lockouts} lockouts, {folds} folds, \
                 {supply_offs} times off"
            ));
        }
        let lowest = kept.iter().map(|kept| kept.bus.0).fold(f64::INFINITY, f64::min);
        happens(name, case, gaps, lowest);
    }
    assert!(off.is_empty(), "{}", off.join("\n"));
}

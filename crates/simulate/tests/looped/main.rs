//! Against a general integrator: a drive under a sampled loop with a counting encoder, up to the first count that differs.

#[path = "../cases/plain.rs"]
mod plain;
#[path = "../cases/rows.rs"]
mod rows;

use controller::{Controller, Reading};
use logs::quadrature::Marks;
use plain::PLAIN;
use rows::Rows;
use serde_json::Value;
use simulate::{Clock, Delay, EncoderLine, Sampling, Sensing, SetUp, Simulation};
use std::f64::consts::TAU;

/// Part of full scale by which the two may differ before the first count that does.
const AGREES: f64 = 1e-9;

/// The law of `recompute_loop.py`, in the same order of operations.
struct Law {
    loop_: Value,
    count: i64,
    integral: f64,
    counts: Vec<i64>,
}

impl Controller for Law {
    fn tick(&mut self, reading: &Reading) -> Option<f64> {
        let of = |key: &str| number(&self.loop_, key);
        let width = 1i64 << of("bits") as i64;
        let moved = (reading.count - self.count + width / 2).rem_euclid(width) - width / 2;
        self.count = reading.count;
        self.counts.push(reading.count);
        let error = of("reference") - moved as f64 * TAU / (4.0 * of("lines")) * of("rate");
        let grown = self.integral + of("integral") / of("rate") * error;
        let voltage = of("proportional") * error + grown;
        if voltage.abs() <= 24.0 {
            self.integral = grown;
        }
        Some((voltage / 24.0).clamp(-1.0, 1.0))
    }
}

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("{key}"))
}

#[test]
fn a_loop_on_counts_is_that_of_a_general_integrator_up_to_the_first_count_that_differs() {
    let case: Value = serde_json::from_str(include_str!("looped.json")).expect("JSON");
    let (figures, loop_) = (&case["set_up"], &case["loop"]);
    let of = |key: &str| number(figures, key);
    let drive = SetUp {
        supply_voltage: of("supply_voltage"),
        supply_resistance: of("supply_resistance"),
        frequency: of("frequency"),
        diode_drop: of("diode_drop"),
        resistance: of("resistance"),
        winding_resistance: of("winding_resistance"),
        inductance: of("inductance"),
        constant: of("constant"),
        brush_drop: of("brush_drop"),
        inertia: of("inertia"),
        friction: of("friction"),
        viscous_friction: of("viscous_friction"),
        ..PLAIN
    };
    let encoder = EncoderLine {
        lines: number(loop_, "lines"),
        marks: Marks::TRUE,
        bits: number(loop_, "bits") as u32,
        swapped: false,
        stuck: None,
    };
    let sensing =
        Sensing { current: None, voltage: None, encoder: Some(encoder), sampling: Sampling::AtRows, seed: 1 };
    let clock = Clock {
        rate: number(loop_, "rate"),
        delay: Delay::OneSample,
        duty_counts: Some(number(loop_, "duty_counts")),
    };
    let mut law = Law { loop_: loop_.clone(), count: 0, integral: 0.0, counts: Vec::new() };
    let mut simulation = Simulation::new(drive).expect("usable").sensed_by(sensing).expect("usable");
    let samples = case["samples"].as_array().expect("samples");
    let each = (drive.frequency / clock.rate) as u64;
    let mut rows = Rows(Vec::new());
    simulation.play_loop(&mut law, &clock, samples.len() as u64, each, &mut rows).expect("it plays");
    let (mut met, mut worst) = (0, 0.0f64);
    for ((row, count), due) in rows.0.iter().zip(&law.counts).zip(samples) {
        let due: Vec<f64> = serde_json::from_value(due.clone()).expect("numbers");
        if *count as f64 != due[1] {
            break;
        }
        met += 1;
        worst = worst.max((row.current - due[2]).abs() / (drive.supply_voltage / drive.resistance));
        worst = worst.max((row.speed - due[3]).abs() / (drive.supply_voltage / drive.constant));
    }
    println!("{met} samples of {} agree, worst {worst:.1e}", samples.len());
    assert!(worst < AGREES, "{worst}");
    // A count may differ in the end, where an edge falls on a sample to the last bits; not from the beginning on.
    assert!(met > samples.len() / 2, "{met}");
}

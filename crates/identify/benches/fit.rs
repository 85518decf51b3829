//! How long parameters take: all six of an axis from one record of so many rows in memory (10 kHz: voltage, current with
//! 20 mA of noise, 1024 counts a turn), the gate before it, one short pulse, and the outlook of one more record.
//!
//! What the fit of a million rows is off by is printed first, beside what a compiled fit in Python is off by on like data
//! (`docs/benchmarks.md`).

#![allow(clippy::print_stdout)]

#[path = "../tests/drives/mod.rs"]
mod drives;

use drives::{Columns, MIDDLING, Reading, axis};
use identify::gate::{self, Known, Observed};
use identify::output_error::fit;
use identify::pulse::Band;
use identify::{Ask, Parameter as P, Sensor, Sensors, Time, outlook};
use std::f64::consts::TAU;
use worked::Stream;

const READING: Reading = Reading { rate: 10e3, noise: 0.02, counts: 1024.0, seed: 4 };
const SIX: [P; 6] =
    [P::Resistance, P::Inductance, P::Constant, P::Inertia, P::CoulombFriction, P::ViscousFriction];

fn main() {
    let columns = record(1_000_000);
    let records = [columns.record()];
    let found = fit(&axis(&records, READING.noise), &ask()).expect("a fit");
    let truth = [
        MIDDLING.resistance,
        MIDDLING.inductance,
        MIDDLING.constant,
        MIDDLING.inertia,
        MIDDLING.coulomb,
        MIDDLING.viscous,
    ];
    for (parameter, truth) in SIX.iter().zip(truth) {
        let value = found.get(*parameter).map_or(f64::NAN, |estimate| estimate.value);
        println!("{:4} off by {:+.4} %", parameter.symbol(), 100.0 * (value / truth - 1.0));
    }
    divan::main();
}

fn ask() -> Ask<'static> {
    Ask { wanted: &SIX, ..Ask::default() }
}

/// Levels of 50 ms up to 22 V, with smaller ones of 2 ms on top.
fn record(rows: usize) -> Columns {
    let (coarse, fine) = (Stream::new(4, "coarse"), Stream::new(4, "fine"));
    let level = |stream: &Stream, at: usize, most: f64| most * (2.0 * stream.uniform(at as u64) - 1.0);
    let duties: Vec<f64> = (0..rows)
        .map(|row| (level(&coarse, row / 500, 22.0) + level(&fine, row / 20, 2.0)) / MIDDLING.supply)
        .collect();
    MIDDLING.play(&duties, false, &READING)
}

#[divan::bench(args = [10_000, 100_000, 1_000_000])]
fn all_parameters(bencher: divan::Bencher<'_, '_>, rows: usize) {
    let columns = record(rows);
    bencher.bench_local(|| {
        let records = [columns.record()];
        fit(&axis(&records, READING.noise), &ask())
    });
}

#[divan::bench(args = [10_000, 100_000, 1_000_000])]
fn gate_before_it(bencher: divan::Bencher<'_, '_>, rows: usize) {
    let columns = record(rows);
    let counts: Vec<f64> = columns.angle.iter().map(|angle| angle / columns.resolution).collect();
    let known = Known {
        resistance: Some(Band::around(MIDDLING.resistance, 0.1)),
        inductance: Some(Band::around(MIDDLING.inductance, 0.2)),
        constant: Some(Band::around(MIDDLING.constant, 0.1)),
        counts_per_turn: Some(TAU / columns.resolution),
        sensors: Sensors {
            current: Sensor { gain: 0.01, offset: 0.01, noise: Some(READING.noise) },
            ..Sensors::default()
        },
        ..Known::NOTHING
    };
    let observed = Observed {
        motor_voltage: Some(&columns.voltage),
        current: Some(&columns.current),
        counts: Some(&counts),
        ..Observed::at(Time::Even(columns.step))
    };
    bencher.bench_local(|| gate::judge(&observed, &known));
}

#[divan::bench(args = [10_000, 100_000])]
fn outlook_of_one_more(bencher: divan::Bencher<'_, '_>, rows: usize) {
    let columns = record(rows);
    let records = [columns.record()];
    let axis = axis(&records, READING.noise);
    let found = fit(&axis, &ask()).expect("a fit");
    bencher.bench_local(|| outlook(&found, &[], &axis));
}

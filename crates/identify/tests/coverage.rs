//! Whether intervals of 95 % hold the truth in 95 % of the cases.
//!
//! Each run draws another course, noise and place of the counts. In every other part the sensors are off as well, by gains
//! and zeros drawn from what is said of them. The few runs of every day are judged by what chance allows; two thousand by 93 to
//! 97 %: `cargo test --release -p firstspin-identify --test coverage -- --ignored --nocapture`.

// The long run shows its figures.
#![allow(clippy::print_stdout)]

mod drives;

use drives::{MIDDLING, Reading, Truth, drawn_levels};
use identify::output_error::fit;
use identify::{Ask, Axis, Drive, Parameter as P, Record, Sensor, Sensors, Warmth};
use rayon::prelude::*;
use worked::Stream;

const SIX: [P; 6] =
    [P::Resistance, P::Inductance, P::Constant, P::Inertia, P::CoulombFriction, P::ViscousFriction];

const fn values(truth: &Truth) -> [f64; 6] {
    [truth.resistance, truth.inductance, truth.constant, truth.inertia, truth.coulomb, truth.viscous]
}

/// Which kind of runs.
#[derive(Clone, Copy, Debug)]
struct Kind {
    rows: usize,
    counts: f64,
    noise: f64,
    /// Uncertainties of gains and zeros.
    sensors: Sensors,
}

fn sensors(gain: f64, offset: f64, noise: f64) -> Sensors {
    let sensor = |noise: Option<f64>| Sensor { gain, offset, noise };
    Sensors { current: sensor(Some(noise)), voltage: sensor(None), ..Sensors::default() }
}

/// How often each interval holds the truth.
fn hits(kind: Kind, runs: u64) -> [f64; 6] {
    let each = |run: u64| -> [bool; 6] {
        let duties = drawn_levels(run, kind.rows, 100, 0.95);
        let reading = Reading { rate: 4e3, noise: kind.noise, counts: kind.counts, seed: run };
        let columns = MIDDLING.play(&duties, false, &reading);
        let off = Stream::new(run, "sensors");
        let read = |values: &[f64], sensor: Sensor, first: u64| -> Vec<f64> {
            let (gain, zero) = (sensor.gain * off.normal(first), sensor.offset * off.normal(first + 1));
            values.iter().map(|x| (1.0 + gain) * x + zero).collect()
        };
        let current = read(&columns.current, kind.sensors.current, 0);
        let voltage = read(&columns.voltage, kind.sensors.voltage, 2);
        let record = Record { current: Some(&current), drive: Drive::Voltage(&voltage), ..columns.record() };
        let axis = Axis { records: &[record], sensors: kind.sensors, warmth: Warmth::COPPER_AND_FERRITE };
        let found = fit(&axis, &Ask { wanted: &SIX, ..Ask::default() }).unwrap();
        std::array::from_fn(|k| {
            let estimate = &found.estimates[k];
            (estimate.value - values(&MIDDLING)[k]).abs() <= estimate.half_width(0.95)
        })
    };
    let all: Vec<[bool; 6]> = (0..runs).into_par_iter().map(each).collect();
    std::array::from_fn(|k| all.iter().filter(|hit| hit[k]).count() as f64 / runs as f64)
}

/// Noise in the currents decides, then counts, then gains and zeros.
fn kinds() -> [Kind; 3] {
    let kind = |counts: f64, noise: f64, off: f64| Kind {
        rows: 2_000,
        counts,
        noise,
        sensors: sensors(off, off, noise),
    };
    [kind(1e5, 0.05, 0.0), kind(400.0, 0.01, 0.0), kind(4096.0, 0.02, 0.01)]
}

#[test]
fn intervals_hold_the_truth_as_often_as_they_say() {
    for kind in kinds() {
        for (parameter, share) in SIX.iter().zip(hits(kind, 120)) {
            // Three and a half deviations of 120 draws of 95 %, and up to all of them.
            assert!(share >= 0.88, "{parameter:?}: {share} of {kind:?}");
        }
    }
}

#[test]
#[ignore = "two thousand runs of three kinds take a minute"]
fn two_thousand_runs() {
    for kind in kinds() {
        let shares = hits(kind, 2000);
        println!("{kind:?}");
        for (parameter, share) in SIX.iter().zip(shares) {
            println!("  {:18} {:.2} %", parameter.name(), 100.0 * share);
        }
        for (parameter, share) in SIX.iter().zip(shares) {
            assert!((0.93..=0.97).contains(&share), "{parameter:?}: {share} of {kind:?}");
        }
    }
}

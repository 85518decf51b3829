//! Shafts that twist, played by the switched simulation with its flanks and play.

mod drives;

use drives::MIDDLING;
use identify::two_mass::{Shaken, Twisted, Winding, play, two_mass};
use simulate::{Command, Row, SetUp, Simulation, Sink, Stage, Twist};
use std::convert::Infallible;
use std::f64::consts::TAU;
use worked::Stream;

struct Rows(Vec<Row>);

impl Sink for Rows {
    type Failure = Infallible;

    fn take(&mut self, row: &Row) -> Result<(), Infallible> {
        self.0.push(*row);
        Ok(())
    }
}

const FREQUENCY: f64 = 20e3;
const PERIODS: u64 = 10;
const STEP: f64 = PERIODS as f64 / FREQUENCY;

/// A load of three times the motor's inertia behind a gear of 4 and a shaft of 3 N·m/rad at the output.
fn drive(twist: Twist) -> SetUp {
    SetUp {
        twist: Some(twist),
        ratio: 4.0,
        load_inertia: 3.0 * MIDDLING.inertia * 16.0,
        ..MIDDLING.set_up(FREQUENCY, false)
    }
}

fn taken(set_up: SetUp, duties: &[f64]) -> Vec<Row> {
    let mut simulation = Simulation::new(set_up).unwrap();
    let mut rows = Rows(Vec::new());
    for duty in duties {
        simulation
            .play(&Stage { command: Command::Duty(*duty), periods: PERIODS }, PERIODS, &mut rows)
            .unwrap();
    }
    rows.0.truncate(duties.len());
    rows.0
}

/// Pseudo-random levels about a steady speed.
fn shaken(set_up: SetUp, counts: f64) -> Twisted {
    let level = Stream::new(3, "levels");
    let duties: Vec<f64> = (0..30_000u64).map(|k| 0.5 + 0.3 * (2.0 * level.uniform(k / 2) - 1.0)).collect();
    let rows = taken(set_up, &duties);
    let noise = Stream::new(3, "noise");
    // The run-up is left out.
    let rows = &rows[4_000..];
    let current: Vec<f64> = (0u64..).zip(rows).map(|(k, row)| row.current + 0.01 * noise.normal(k)).collect();
    let count = TAU / counts;
    let angle: Vec<f64> = rows.iter().map(|row| (row.angle / count).floor() * count).collect();
    two_mass(&Shaken {
        current: &current,
        angle: &angle,
        step: STEP,
        constant: MIDDLING.constant,
        torque_gain: 0.01,
        segment: 1024,
        band: (5.0, 400.0),
    })
    .unwrap()
}

#[test]
fn two_masses_come_back_with_their_resonances() {
    let found = shaken(drive(Twist { stiffness: 3.0, backlash: 0.0, damping: 2e-3 }), 20_000.0);
    println!("{:?} {:#?} {:?} coh {}", found.criteria, found.masses, found.inertia, found.coherence);
    let masses = found.masses.expect("a shaft that twists");
    let j = MIDDLING.inertia;
    let k = 3.0 / 16.0;
    for (told, want) in [
        (masses.anti_resonance, (k / (3.0 * j)).sqrt() / TAU),
        (masses.resonance, (k * (1.0 / (3.0 * j) + 1.0 / j)).sqrt() / TAU),
        (masses.motor, j),
        (masses.load, 3.0 * j),
        (masses.stiffness, k),
        (found.inertia, 4.0 * j),
    ] {
        let off = (told.value - want).abs();
        assert!(off < 4.0 * told.sampling + 0.02 * want && told.sampling < 0.1 * want, "{told:?} for {want}");
    }
}

#[test]
fn a_shaft_that_does_not_twist_in_the_band_is_told_as_rigid() {
    let found = shaken(drive(Twist { stiffness: 3e3, backlash: 0.0, damping: 0.1 }), 20_000.0);
    println!("{:?} {:?} {:?}", found.criteria, found.masses, found.inertia);
    assert!(found.masses.is_none_or(|m| !m.stiffness.is_carried()), "{found:?}");
    assert!((found.inertia.value / (4.0 * MIDDLING.inertia) - 1.0).abs() < 0.05, "{:?}", found.inertia);
}

#[test]
fn play_and_stiffness_come_from_winding_up_against_a_held_output() {
    let set_up =
        SetUp { load_inertia: 1e4, ..drive(Twist { stiffness: 3.0, backlash: 0.02, damping: 2e-2 }) };
    // Five slow triangles: a second each.
    let duties: Vec<f64> = (0..10_000)
        .map(|row| {
            let phase = f64::from(row % 2000) / 2000.0;
            0.35 * (if phase < 0.25 {
                4.0 * phase
            } else if phase < 0.75 {
                2.0 - 4.0 * phase
            } else {
                4.0 * phase - 4.0
            })
        })
        .collect();
    let rows = taken(set_up, &duties);
    let noise = Stream::new(5, "noise");
    let current: Vec<f64> =
        (0u64..).zip(&rows).map(|(k, row)| row.current + 0.01 * noise.normal(k)).collect();
    let count = TAU / 20_000.0;
    let motor: Vec<f64> = rows.iter().map(|row| (row.angle / count).floor() * count).collect();
    let found = play(&Winding {
        current: &current,
        motor: &motor,
        resolution: count,
        output: None,
        ratio: 4.0,
        constant: MIDDLING.constant,
        torque_gain: 0.01,
    })
    .unwrap();
    println!("{found:#?}");
    for (told, want) in [(found.stiffness, 3.0), (found.backlash, 0.02), (found.friction, MIDDLING.coulomb)] {
        let off = (told.value - want).abs();
        assert!(off < 4.0 * told.sampling + 0.02 * want && told.is_carried(), "{told:?} for {want}");
    }
}

//! Shafts that twist, played by the switched simulation with its flanks and play.

mod drives;

use drives::{MIDDLING, Rows};
use identify::two_mass::{Shaken, Twisted, Winding, play, two_mass};
use simulate::{Command, Row, SetUp, Simulation, Stage, Twist};
use std::f64::consts::TAU;
use worked::Stream;

const FREQUENCY: f64 = 20e3;
const PERIODS: u64 = 2;
const STEP: f64 = PERIODS as f64 / FREQUENCY;

/// A load of three times the motor's inertia behind a gear of 4, and a torque that keeps one flank bearing.
fn drive(twist: Twist) -> SetUp {
    SetUp {
        twist: Some(twist),
        ratio: 4.0,
        load_inertia: 3.0 * MIDDLING.inertia * 16.0,
        load_torque: 0.5,
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

/// Pseudo-random levels of a millisecond about a steady speed.
fn shaken(set_up: SetUp, segment: usize, seed: u64) -> Twisted {
    let level = Stream::new(seed, "levels");
    let duties: Vec<f64> =
        (0..120_000u64).map(|k| 0.7 + 0.25 * (2.0 * level.uniform(k / 10) - 1.0)).collect();
    let rows = taken(set_up, &duties);
    let noise = Stream::new(seed, "noise");
    // The run-up is left out.
    let rows = &rows[20_000..];
    let current: Vec<f64> = (0u64..).zip(rows).map(|(k, row)| row.current + 0.01 * noise.normal(k)).collect();
    let count = TAU / 20_000.0;
    let angle: Vec<f64> = rows.iter().map(|row| (row.angle / count).floor() * count).collect();
    two_mass(&Shaken {
        current: &current,
        angle: &angle,
        step: STEP,
        constant: MIDDLING.constant,
        torque_gain: 0.01,
        segment,
        band: (4.0, 200.0),
    })
    .unwrap()
}

/// 0.2 % are left to what current is between rows, 2 % of the damping to leakage: a bin of 1.2 Hz in a width of 5.4 Hz is
/// 1.7 %.
#[test]
fn two_masses_come_back_with_their_resonances() {
    for seed in 0..3 {
        let found = shaken(drive(Twist { stiffness: 12.0, backlash: 0.0, damping: 1e-2 }), 8192, seed);
        let masses = found.masses.expect("a shaft that twists");
        let j = MIDDLING.inertia;
        let k = 12.0 / 16.0;
        for (told, want, part) in [
            (masses.anti_resonance, (k / (3.0 * j)).sqrt() / TAU, 2e-3),
            (masses.resonance, (k * (1.0 / (3.0 * j) + 1.0 / j)).sqrt() / TAU, 2e-3),
            (masses.motor, j, 2e-3),
            (masses.load, 3.0 * j, 2e-3),
            (masses.stiffness, k, 2e-3),
            (masses.damping, 1e-2 / 16.0, 2e-2),
            (found.inertia, 4.0 * j, 2e-3),
        ] {
            let off = (told.value - want).abs();
            assert!(off < 4.0 * told.sampling + part * want && told.is_carried(), "{told:?} for {want}");
            assert!(told.sampling < 0.03 * want, "{told:?}");
        }
        let leakage = {
            let part = 1e4 / 8192.0 / 5.44;
            part * part / 3.0
        };
        let said = masses.damping.systematic / masses.damping.value;
        assert!((said - libm::hypot(0.01, leakage)).abs() < 2e-3, "{said}");
    }
}

/// Bins of 10 Hz cannot show a width of 5 Hz.
#[test]
fn short_segments_blur_and_carry_nothing() {
    let found = shaken(drive(Twist { stiffness: 12.0, backlash: 0.0, damping: 1e-2 }), 1024, 3);
    assert!(found.blurred);
    let masses = found.masses.expect("a shaft that twists");
    assert!(!masses.stiffness.is_carried() && !masses.load.is_carried() && !found.inertia.is_carried());
}

#[test]
fn a_shaft_that_does_not_twist_in_the_band_is_told_as_rigid() {
    let found = shaken(drive(Twist { stiffness: 3e5, backlash: 0.0, damping: 0.1 }), 8192, 3);
    assert!(found.masses.is_none() && !found.blurred);
    let off = (found.inertia.value - 4.0 * MIDDLING.inertia).abs();
    assert!(off < 4.0 * found.inertia.sampling + 2e-3 * found.inertia.value, "{:?}", found.inertia);
}

/// Stiffness, play, friction and efficiency of a gear that was wound up slowly against a held output, five swings of a second,
/// and what was put in.
fn wound(efficiency: f64) -> [(identify::Told, f64); 4] {
    let set_up = SetUp {
        load_inertia: 1e4,
        load_torque: 0.0,
        efficiency,
        back_efficiency: 2.0 - 1.0 / efficiency,
        ..drive(Twist { stiffness: 3.0, backlash: 0.02, damping: 1e-3 })
    };
    let duties: Vec<f64> = (0..50_000)
        .map(|row| {
            let phase = f64::from(row % 10_000) / 10_000.0;
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
    let put_in = [3.0, 0.02, MIDDLING.coulomb, efficiency];
    let told = [found.stiffness, found.backlash, found.friction, found.efficiency];
    std::array::from_fn(|k| (told[k], put_in[k]))
}

#[test]
fn play_and_stiffness_come_from_winding_up_against_a_held_output() {
    for efficiency in [1.0, 0.78] {
        for (told, want) in wound(efficiency) {
            let off = (told.value - want).abs();
            assert!(off < told.half_width(0.95) && told.is_carried(), "{told:?} for {want}");
        }
    }
}

#[test]
fn a_gear_that_is_wound_up_too_fast_is_refused() {
    // Wide play before a stiff gear: the blow of the motor still rings where the current turns.
    let set_up = SetUp {
        load_inertia: 1e4,
        load_torque: 0.0,
        ..drive(Twist { stiffness: 3.0, backlash: 0.3, damping: 1e-3 })
    };
    let swing = |row: i32| 0.35 * libm::sin(TAU * f64::from(row) / 2_000.0);
    let rows = taken(set_up, &(0..30_000).map(swing).collect::<Vec<f64>>());
    let (current, motor): (Vec<f64>, Vec<f64>) = rows.iter().map(|row| (row.current, row.angle)).unzip();
    let winding = Winding {
        current: &current,
        motor: &motor,
        resolution: 1e-4,
        output: None,
        ratio: 4.0,
        constant: MIDDLING.constant,
        torque_gain: 0.01,
    };
    let why = play(&winding).unwrap_err().to_string();
    assert!(why.contains("so slowly that the blow after its play is over"), "{why}");
}

#[test]
fn what_cannot_be_shaken_is_said() {
    let rows = [0.0; 64];
    let shaken = Shaken {
        current: &rows,
        angle: &rows,
        step: 1e-3,
        constant: 0.04,
        torque_gain: 0.0,
        segment: 16,
        band: (50.0, 400.0),
    };
    let why = |shaken: Shaken<'_>| two_mass(&shaken).unwrap_err().to_string();
    assert_eq!(
        why(shaken),
        "no record has a dozen of frequencies in the band at which the speed follows the torque"
    );
    assert_eq!(why(Shaken { angle: &rows[1..], ..shaken }), "record 1: the angle has 63 rows, the record 64");
    assert_eq!(why(Shaken { segment: 64, ..shaken }), "record 1 has 64 rows, and 66 are needed at least");
    assert_eq!(
        why(Shaken { band: (400.0, 50.0), ..shaken }),
        "the width of the band is -350, and must be above zero"
    );
    assert!(why(Shaken { segment: 15, ..shaken }).contains("power of two"));
    let still = Winding {
        current: &rows,
        motor: &rows,
        resolution: 1e-3,
        output: None,
        ratio: 4.0,
        constant: 0.04,
        torque_gain: 0.0,
    };
    assert_eq!(
        play(&still).unwrap_err().to_string(),
        "0 counts of the encoder from flank to flank are usable, and 30 are needed at least"
    );
}

//! The gear that twists and has play.

use crate::{PLAIN, play, rows};
use simulate::{Command, Row, SetUp, Twist};

const TWIST: Twist = Twist { stiffness: 2.0, backlash: 0.0, damping: 0.0 };

/// Two masses, nothing lost.
const TWO: SetUp =
    SetUp { ratio: 5.0, load_inertia: 3e-4, twist: Some(TWIST), inertia: 1e-5, friction: 0.0, ..PLAIN };

/// By how much the output of the gear is ahead of the load.
fn lead(row: &Row) -> f64 {
    row.angle / 5.0 - row.load_angle
}

/// Angular frequency of what swings about zero: `x(t+h) + x(t−h) = 2·cos(ω·h)·x(t)` of a sine, as least squares.
fn frequency(values: &[f64], step: f64) -> f64 {
    let (mut with, mut square) = (0.0, 0.0);
    for three in values.windows(3) {
        with += (three[0] + three[2]) * three[1];
        square += three[1] * three[1];
    }
    libm::acos(0.5 * with / square) / step
}

/// A free course swings at √(k·(1/J_L + 1/(N²·J_m))).
#[test]
fn two_masses_swing_at_their_resonance() {
    let rows = rows(TWO, &[(Command::Duty(0.5), 40), (Command::Open, 4_000)]);
    let free: Vec<f64> = rows.iter().skip_while(|row| row.time < 4e-3).map(lead).step_by(10).collect();
    let due = (2.0f64 * (1.0 / 3e-4 + 1.0 / (25.0 * 1e-5))).sqrt();
    let found = frequency(&free, 10.0 / 20e3);
    assert!(free.iter().any(|lead| lead.abs() > 1e-4));
    assert!((found - due).abs() < 1e-9 * due, "{found} for {due}");
}

/// With the motor held by a gear that locks itself, the load swings at √(k/J_L): the frequency at which the motor does not
/// feel it.
#[test]
fn a_load_swings_at_its_antiresonance_where_the_motor_holds() {
    let drive = SetUp { back_efficiency: 0.0, friction: 5e-3, ..TWO };
    let rows = rows(drive, &[(Command::Duty(0.5), 200), (Command::Duty(0.0), 400), (Command::Open, 4_000)]);
    let swinging: Vec<&Row> = rows.iter().filter(|row| row.time > 0.06).collect();
    assert!(swinging.iter().all(|row| row.speed == 0.0 && row.current == 0.0));
    let speeds: Vec<f64> = swinging.iter().map(|row| row.load_speed).step_by(10).collect();
    let due = (2.0f64 / 3e-4).sqrt();
    let found = frequency(&speeds, 10.0 / 20e3);
    assert!(speeds.iter().any(|speed| speed.abs() > 0.1));
    assert!((found - due).abs() < 1e-9 * due, "{found} for {due}");
}

/// Without a loss the masses fly across the play at a constant difference of speed v and bounce off the flanks for half a
/// swing each: all again after 2·b/v + 2·π/ω_r. In flight neither is accelerated.
#[test]
fn play_is_crossed_at_constant_speed() {
    let backlash = 0.02;
    let drive = SetUp { twist: Some(Twist { backlash, ..TWIST }), ..TWO };
    let rows = rows(drive, &[(Command::Duty(0.5), 40), (Command::Open, 40_000)]);
    let rows: Vec<Row> = rows.into_iter().skip_while(|row| row.time < 4e-3).collect();
    let half = 0.5 * backlash;
    let (mut crossings, mut speed) = (Vec::new(), None);
    for pair in rows.windows(2) {
        let (a, b) = (lead(&pair[0]), lead(&pair[1]));
        if a.abs() < half && b.abs() < half {
            let difference = pair[0].speed / 5.0 - pair[0].load_speed;
            let moved = pair[1].speed / 5.0 - pair[1].load_speed - difference;
            assert!(moved.abs() < 1e-12, "it flies: {pair:?}");
            let known = *speed.get_or_insert(difference.abs());
            assert!((difference.abs() - known).abs() < 1e-9 * known, "{difference} for {known}");
            if a < 0.0 && b >= 0.0 {
                crossings.push(pair[0].time - a / difference);
            }
        }
    }
    let resonance = (2.0f64 * (1.0 / 3e-4 + 1.0 / (25.0 * 1e-5))).sqrt();
    let due = 2.0 * backlash / speed.expect("it flies") + 2.0 * std::f64::consts::PI / resonance;
    let count = crossings.len() - 1;
    let found = (crossings[count] - crossings[0]) / count as f64;
    assert!(count > 20 && (found - due).abs() < 1e-9 * due, "{count}: {found} for {due}");
}

/// A weight on the flank twists the gear by M/k while the motor holds, and the torque in the gear is M.
#[test]
fn a_weight_twists_the_gear_that_holds_it() {
    let twist = Twist { backlash: 0.02, ..TWIST };
    let drive = SetUp { twist: Some(twist), back_efficiency: 0.0, load_torque: 0.3, friction: 1e-3, ..TWO };
    let kept = play(drive, &[(Command::Open, 2_000)]);
    assert_eq!((kept[0].speed, kept[0].angle), (0.0, 0.0));
    assert!((kept[0].peak_shaft_torque - 0.3).abs() < 1e-12, "{}", kept[0].peak_shaft_torque);
    let rows = rows(drive, &[(Command::Open, 2_000)]);
    assert!(rows.iter().all(|row| row.load_angle.abs() < 1e-12 && row.load_speed.abs() < 1e-9));
}

/// A motor that flies across the play strikes a resting load with `v·√(k·µ)`, µ of both inertias at the output as of two
/// masses that meet: `J_L·N²·J_m/(J_L + N²·J_m)`.
#[test]
fn a_motor_strikes_its_load_with_the_torque_of_two_masses() {
    let drive = SetUp { twist: Some(Twist { backlash: 0.05, ..TWIST }), ..TWO };
    let kept = play(drive, &[(Command::Duty(0.5), 20), (Command::Open, 100), (Command::Open, 2_000)]);
    assert_eq!((kept[1].current, kept[1].peak_shaft_torque), (0.0, 0.0), "it flies: {:?}", kept[1]);
    let (load, motor): (f64, f64) = (3e-4, 25.0 * 1e-5);
    let due = kept[1].speed / 5.0 * (2.0 * load * motor / (load + motor)).sqrt();
    let struck = kept[2].peak_shaft_torque.abs();
    // Looked at in steps of 50 µs of a swing of 50 ms.
    assert!(struck <= due * (1.0 + 1e-12) && struck > due * (1.0 - 1e-4), "{struck} for {due}");
}

/// A weight that drives a braked motor comes to rest of forces whatever the twist: `K²·ω/R = η_b·(M − M_f)/N − M_m`.
#[test]
fn a_weight_sinks_at_the_speed_of_its_balance() {
    let lossy = SetUp {
        efficiency: 0.7,
        back_efficiency: 0.5,
        friction: 2e-3,
        load_friction: 0.02,
        load_torque: 0.3,
        ..TWO
    };
    let due = -(0.5 * (0.3 - 0.02) / 5.0 - 2e-3) * 2.0 / (0.03 * 0.03);
    for twist in [None, Some(TWIST), Some(Twist { stiffness: 50.0, backlash: 0.01, damping: 0.02 })] {
        let kept = play(SetUp { twist, ..lossy }, &[(Command::Duty(0.0), 40_000)]);
        // Some of its swing is left after two seconds.
        assert!((kept[0].speed - due).abs() < 1e-6 * due.abs(), "{twist:?}: {} for {due}", kept[0].speed);
    }
}

/// As the gear grows stiff the course becomes that of one that turns as one. Of a gear with loss only while the motor
/// drives: the loss of its swing, which a rigid gear does not have, brakes it in every swing.
#[test]
fn a_stiff_gear_turns_as_one() {
    let rigid = SetUp { twist: None, friction: 2e-3, load_friction: 0.02, load_torque: 0.03, ..TWO };
    let lossy = SetUp { efficiency: 0.7, back_efficiency: 0.5, ..rigid };
    let stages = [(Command::Duty(0.6), 2_000), (Command::Duty(-0.3), 1_500), (Command::Open, 1_500)];
    for (rigid, stages) in [(rigid, &stages[..]), (lossy, &stages[..1])] {
        let due = play(rigid, stages);
        // The swing that a step of torque leaves goes with the root of the softness.
        for (stiffness, within) in [(1e2, 3e-2), (1e4, 3e-3), (1e6, 3e-4)] {
            let twist = Some(Twist { stiffness, ..TWIST });
            let kept = play(SetUp { twist, ..rigid }, stages);
            for (is, due) in kept.iter().zip(&due) {
                let speed = (is.speed - due.speed) / (12.0 / 0.03);
                assert!(speed.abs() < within, "{stiffness}: {} {}", is.speed, due.speed);
                assert!((is.angle - due.angle).abs() < within * 10.0, "{stiffness}: {is:?} {due:?}");
            }
        }
    }
}

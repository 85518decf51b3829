//! Resonance and the rate at which it starts at once.

use super::motor;
use finding::Watch;
use simulate::stepper::{Feed, Ramp, SetUp, Stepping, resonance, run, start_stop};
use std::convert::Infallible;
use std::f64::consts::SQRT_2;

#[test]
fn it_swings_as_the_stiffness_of_its_step_says() {
    // m_stepper: 50 teeth, 0.4 N·m, 5e-6 kg·m² swing at 318.31 Hz.
    let swings = resonance(&motor()).expect("usable").expect("it swings");
    assert!((swings - 318.309886184).abs() < 0.02, "{swings} Hz");
    // Detent torque rests where one phase is on, so with both on it takes from the stiffness.
    let with_detent = SetUp { detent_torque: 0.02, ..motor() };
    let swings = resonance(&with_detent).expect("usable").expect("it swings");
    let stiffness = drive::stepper::stiffness_both_on(50.0, 0.4, 0.02);
    assert!((swings - drive::stepper::swing(stiffness, 5e-6)).abs() < 0.02, "{swings} Hz");
    assert!(swings < 290.0);
    // A sine-weighted pair of this peak holds 1/√2 of both at their peak.
    let micro = SetUp { stepping: Stepping::Micro(16), ..motor() };
    let swings = resonance(&micro).expect("usable").expect("it swings");
    assert!((swings - 318.309886184 / SQRT_2.sqrt()).abs() < 0.02, "{swings} Hz");
}

#[test]
fn a_winding_at_a_constant_voltage_damps_its_swing() {
    // Slow winding: the current hardly follows, the swing stays that of constant currents but for the magnetic spring that
    // the winding adds. Fast winding: the swing dies.
    let voltage = |inductance: f64, resistance: f64| SetUp {
        voltage: 1.2 * resistance,
        feed: Feed::Voltage,
        inductance,
        resistance,
        ..motor()
    };
    let dead = resonance(&voltage(1e-4, 0.05)).expect("usable");
    assert_eq!(dead, None);
}

#[test]
fn what_the_search_finds_holds_when_it_is_tried() {
    let tried = |set_up: &SetUp, rate: f64| {
        let ramp = Ramp { rate, acceleration: f64::INFINITY, hold: 48.0 };
        run(set_up, &ramp, &mut |_| Ok::<(), Infallible>(())).expect("usable").is_held()
    };
    // Well damped: no resonance below.
    let damped = SetUp { viscous_friction: 3e-3, ..motor() };
    let found = start_stop(&damped, Watch::none()).expect("usable");
    let highest = found.highest.expect("some rate is held");
    assert!(found.is_bounded && found.lost_below.is_none());
    assert!(tried(&damped, highest) && !tried(&damped, 1.005 * highest));
    assert!([0.1, 0.3, 0.5, 0.8].into_iter().all(|part| tried(&damped, part * highest)));
    // Hardly damped: it rings from step to step and falls out around its resonance, and holds again beyond.
    let found = start_stop(&motor(), Watch::none()).expect("usable");
    let (from, to) = found.lost_below.expect("it rings");
    let swings = 318.3;
    assert!(from < swings && to > 0.8 * swings && found.highest.expect("held beyond") > 2.0 * swings);
    assert!(!tried(&motor(), from));
}

#[test]
fn more_inertia_starts_slower() {
    let damped = SetUp { viscous_friction: 3e-3, ..motor() };
    let heavy = SetUp { inertia: 4.0 * motor().inertia, ..damped };
    let highest = |set_up: &SetUp| start_stop(set_up, Watch::none()).expect("usable").highest.expect("held");
    assert!(highest(&heavy) < 0.8 * highest(&damped));
}

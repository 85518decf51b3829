//! The stepper in time: closed forms, energy, and the same runs by a general integrator.

mod integrated;
mod scan;

use proptest::prelude::*;
use simulate::stepper::{Feed, Ramp, Run, SetUp, Stepping, run};
use std::convert::Infallible;
use std::f64::consts::{FRAC_PI_2, SQRT_2};

/// A motor of 50 teeth that holds 0.4 N·m with both phases at 1.2 A.
pub(crate) fn motor() -> SetUp {
    SetUp {
        voltage: 24.0,
        feed: Feed::Chopped { current: 1.2, settling: 5e-5 },
        stepping: Stepping::Full,
        resistance: 2.4,
        inductance: 3.2e-3,
        constant: 0.4 / (SQRT_2 * 1.2),
        teeth: 50.0,
        detent_torque: 0.0,
        inertia: 5e-6,
        friction: 4e-3,
        full_friction_speed: 1.0,
        viscous_friction: 1e-4,
        load_torque: 0.0,
    }
}

fn played(set_up: &SetUp, rate: f64, acceleration: f64, hold: f64) -> Run {
    run(set_up, &Ramp { rate, acceleration, hold }, &mut |_| Ok::<(), Infallible>(())).expect("usable")
}

/// Damped so that it creeps from step to step.
fn slow_and_damped(load: f64) -> Run {
    let set_up = SetUp { viscous_friction: 0.02, friction: 0.0, load_torque: load, ..motor() };
    played(&set_up, 10.0, f64::INFINITY, 8.0)
}

#[test]
fn at_rest_it_stands_the_load_angle_behind() {
    // m_stepper: half of the holding torque at 50 teeth is 0.6°.
    let stands = slow_and_damped(0.2);
    assert!(stands.is_held());
    let behind = stands.lead_at_rest * FRAC_PI_2 / 50.0;
    assert!((behind.to_degrees() - 0.6).abs() < 1e-6, "{}°", behind.to_degrees());
    assert!((behind - drive::stepper::load_angle(0.2, 0.4, 50.0)).abs() < 1e-8);
}

#[test]
fn the_largest_load_that_can_be_stepped_slowly_is_where_two_steps_cross() {
    // m_stepper: sin 45° of the holding torque, whichever number of phases is on.
    assert!(slow_and_damped(0.4 * 0.69).is_held());
    assert!(!slow_and_damped(0.4 * 0.72).is_held());
}

#[test]
fn what_holds_no_load_is_refused() {
    let set_up = SetUp { load_torque: 0.41, ..motor() };
    let refused =
        run(&set_up, &Ramp { rate: 10.0, acceleration: 10.0, hold: 1.0 }, &mut |_| Ok::<(), Infallible>(()));
    assert!(refused.expect_err("nothing holds it").to_string().contains("torque of the load"));
    let set_up = SetUp { inductance: 0.0, ..motor() };
    let refused =
        run(&set_up, &Ramp { rate: 10.0, acceleration: 10.0, hold: 1.0 }, &mut |_| Ok::<(), Infallible>(()));
    assert!(refused.expect_err("no winding").to_string().contains("inductance"));
}

#[test]
fn a_ramp_goes_where_a_start_at_once_does_not() {
    let damped = SetUp { viscous_friction: 3e-3, ..motor() };
    let at_once = played(&damped, 2500.0, f64::INFINITY, 100.0);
    assert!(!at_once.is_held() && at_once.lost > 0.0);
    let ramped = played(&damped, 2500.0, 10_000.0, 100.0);
    assert!(ramped.is_held(), "{ramped:?}");
    // m_stepper: a ramp takes v²/2a steps; here 312.5 up and down with 100 between.
    assert_eq!(ramped.commanded, 725.0);
    assert!((ramped.turned - 725.0 * FRAC_PI_2 / 50.0).abs() < 1e-3);
}

#[test]
fn a_constant_voltage_drives_its_current_and_no_more_than_that_at_standstill() {
    let set_up = SetUp { voltage: 3.6, feed: Feed::Voltage, viscous_friction: 2e-3, ..motor() };
    let slow = played(&set_up, 20.0, f64::INFINITY, 10.0);
    assert!(slow.is_held());
    // At rest 3.6 V/2.4 Ω; while it swings the back-EMF adds and takes.
    assert!(slow.peak_current >= 1.5 && slow.peak_current < 2.0, "{} A", slow.peak_current);
}

#[test]
fn at_a_held_rate_the_field_leads_by_what_friction_takes() {
    // 64 micro-steps: the field turns evenly, K·I·sin(lead) is friction and load.
    let set_up =
        SetUp { stepping: Stepping::Micro(64), load_torque: 0.05, viscous_friction: 1e-3, ..motor() };
    let run = played(&set_up, 400.0, 2000.0, 400.0);
    let speed = 400.0 * FRAC_PI_2 / 50.0;
    let torque = 0.05 + 4e-3 + 1e-3 * speed;
    let lead = libm::asin(torque / (set_up.constant * 1.2)) / FRAC_PI_2;
    // The current of a chopper comes its settling time late.
    let late = 400.0 * 5e-5;
    assert!((run.mean_lead - lead - late).abs() < 2e-3, "{} against {}", run.mean_lead, lead + late);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn energy_is_counted_and_lost_steps_come_in_fours(
        rate in 20.0f64..3000.0,
        acceleration in 500.0f64..20_000.0,
        load in -0.1f64..0.1,
        detent in 0.0f64..0.02,
        parts in 1u32..9,
        chopped in any::<bool>(),
    ) {
        let feed = if chopped { motor().feed } else { Feed::Voltage };
        let voltage = if chopped { 24.0 } else { 4.0 };
        let stepping = match parts { 1 => Stepping::Full, 2 => Stepping::Half, parts => Stepping::Micro(parts) };
        let set_up = SetUp { feed, voltage, stepping, load_torque: load, detent_torque: detent, ..motor() };
        let run = played(&set_up, rate, acceleration, 40.0);
        let energy = run.energy;
        let spent = energy.winding + energy.friction + energy.held;
        let scale = energy.winding + energy.friction;
        prop_assert!((energy.supply - spent).abs() < 1e-5 * scale, "{energy:?}");
        prop_assert_eq!(run.lost % 4.0, 0.0);
        prop_assert!(energy.friction >= 0.0);
    }
}

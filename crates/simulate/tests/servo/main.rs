//! The servo in time: closed forms, and the same sweeps by a general integrator.

use proptest::prelude::*;
use serde_json::Value;
use simulate::servo::{Done, Leg, SetUp, run};
use std::convert::Infallible;

/// A servo of 180 mN·m, 0.9 A stalled and 0.15 A moving, 400°/s at 5 V.
fn servo() -> SetUp {
    let (voltage, stall, moving, speed) = (5.0, 0.9, 0.15, 400f64.to_radians());
    let k = drive::servo::torque_per_current(0.18, stall, moving);
    SetUp {
        open_voltage: voltage,
        line_resistance: 0.0,
        resistance: drive::servo::resistance(voltage, stall),
        back_emf_constant: drive::servo::back_emf_constant(voltage, speed, stall, moving),
        torque_per_current: k,
        idle_current: 0.008,
        friction: drive::servo::friction(k, moving),
        inertia: 5e-4,
        load_torque: 0.0,
        dead_band: 0.36f64.to_radians(),
        full_drive: 3f64.to_radians(),
        end: 45f64.to_radians(),
        frame: 0.02,
    }
}

fn to(target: f64, frames: u32) -> Leg {
    Leg { target, pulse: 1.5e-3, frames }
}

fn swept(set_up: &SetUp, legs: &[Leg]) -> Vec<Done> {
    run(set_up, 0.0, legs, &mut |_| Ok::<(), Infallible>(())).expect("usable")
}

/// Steady speed on a long way, from two samples in its middle.
fn cruising(set_up: &SetUp) -> f64 {
    let mut rows = Vec::new();
    run(&SetUp { end: 100.0, ..*set_up }, 0.0, &[to(50.0, 60)], &mut |row| {
        rows.push(*row);
        Ok::<(), Infallible>(())
    })
    .expect("usable");
    (rows[50].angle - rows[40].angle) / (rows[50].time - rows[40].time)
}

#[test]
fn it_has_the_speed_and_the_torque_of_its_sheet() {
    let speed = cruising(&servo());
    assert!((speed - 400f64.to_radians()).abs() < 1e-4 * speed, "free: {speed} rad/s");
    // At half of its torque the current is half way between that of free motion and that of the stall.
    let loaded = SetUp { load_torque: 0.09, ..servo() };
    let current = drive::servo::current(0.09, servo().friction, servo().torque_per_current);
    assert!((current - 0.525).abs() < 1e-12);
    let closed = drive::servo::speed_at(5.0, servo().resistance, current, servo().back_emf_constant);
    assert!((cruising(&loaded) - closed).abs() < 1e-4 * closed);
    // Just below its stall torque it moves, just above it only creeps as friction is modelled.
    assert!(cruising(&SetUp { load_torque: 0.178, ..servo() }) > 0.05);
    assert!(cruising(&SetUp { load_torque: 0.182, ..servo() }).abs() < 1e-3);
}

#[test]
fn it_starts_with_the_stall_current_and_the_rail_dips_by_the_line() {
    let set_up = SetUp { line_resistance: 0.4, idle_current: 0.0, ..servo() };
    let done = swept(&set_up, &[to(0.6, 30)]);
    let start = drive::servo::starting_current(5.0, 0.4, set_up.resistance);
    assert!((done[0].peak_current - start).abs() < 1e-9, "{} A", done[0].peak_current);
    let dip = drive::servo::rail_dip(start, 0.4);
    assert!((5.0 - done[0].lowest_rail - dip).abs() < 1e-9);
}

#[test]
fn a_sweep_takes_its_way_at_its_speed_and_ends_in_the_dead_band() {
    let done = swept(&servo(), &[to(0.6, 40), to(-0.6, 40), to(0.0, 40)]);
    for (leg, way) in done.iter().zip([0.6, 1.2, 0.6]) {
        let arrives = leg.arrives;
        assert!(leg.is_inside);
        let least = way / 400f64.to_radians();
        // Pulse, start and the last degrees cost some time constants.
        assert!(arrives > least && arrives < least + 0.15, "{arrives} s for at least {least} s");
        assert!((leg.ended - leg.target).abs() <= servo().dead_band);
        // A loop that is just damped does not swing over.
        assert!(leg.overshoot < servo().dead_band && !leg.met_end);
    }
}

#[test]
fn a_change_inside_the_dead_band_moves_nothing() {
    let done = swept(&servo(), &[to(0.85 * servo().dead_band, 20)]);
    assert!(done[0].ended.abs() < 1e-9);
    assert_eq!(done[0].peak_current, 0.008);
    let beyond = swept(&servo(), &[to(8.0 * servo().dead_band, 20)]);
    assert!(beyond[0].ended > 4.0 * servo().dead_band);
}

#[test]
fn a_load_beyond_its_friction_holds_it_off_its_place_by_the_slope_of_its_loop() {
    let set_up = SetUp { load_torque: 0.09, ..servo() };
    let done = swept(&set_up, &[to(0.3, 60)]);
    assert!(!done[0].is_inside);
    // Coming from below, friction is against it too: k·s·U/R = M_L + M_f at the moment that it stops.
    let share = (0.09 + set_up.friction) / set_up.torque_per_current * set_up.resistance / 5.0;
    // What friction takes, and a fifth more, the loop gives from the edge of the dead band on.
    let least = 1.2 * set_up.friction / (set_up.torque_per_current * 5.0 / set_up.resistance);
    let off = set_up.dead_band + (share - least) * set_up.full_drive;
    assert!((0.3 - done[0].ended - off).abs() < 0.05 * off, "{} against {off}", 0.3 - done[0].ended);
}

#[test]
fn against_an_end_it_draws_its_stall_current() {
    let done = swept(&servo(), &[to(1.2, 60)]);
    assert!(done[0].met_end && !done[0].is_inside);
    assert!((done[0].end_current - 0.908).abs() < 1e-3, "{} A", done[0].end_current);
    assert!((done[0].ended - servo().end) < 0.02);
}

#[test]
fn figures_that_no_servo_can_have_are_refused() {
    let refused =
        run(&SetUp { inertia: 0.0, ..servo() }, 0.0, &[to(0.1, 1)], &mut |_| Ok::<(), Infallible>(()));
    assert!(refused.expect_err("nothing to move").to_string().contains("inertia"));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(16))]

    #[test]
    fn the_mirrored_sweep_is_the_mirror(target in 0.05f64..0.7, load in -0.1f64..0.1, line in 0.0f64..1.0) {
        let set_up = SetUp { load_torque: load, line_resistance: line, ..servo() };
        let mirrored = SetUp { load_torque: -load, ..set_up };
        let (one, other) = (swept(&set_up, &[to(target, 20)]), swept(&mirrored, &[to(-target, 20)]));
        prop_assert_eq!(one[0].ended, -other[0].ended);
        prop_assert_eq!(one[0].arrives, other[0].arrives);
        prop_assert_eq!(one[0].peak_current, other[0].peak_current);
    }
}

#[test]
fn a_general_integrator_agrees() {
    let cases: Value = serde_json::from_str(include_str!("integrated.json")).expect("JSON");
    let cases = cases.as_array().expect("a list");
    assert_eq!(cases.len(), 3);
    for case in cases {
        let p = |key: &str| case["set_up"][key].as_f64().unwrap_or_else(|| panic!("`{key}` is a number"));
        let set_up = SetUp {
            open_voltage: p("open_voltage"),
            line_resistance: p("line_resistance"),
            resistance: p("resistance"),
            back_emf_constant: p("back_emf_constant"),
            torque_per_current: p("torque_per_current"),
            idle_current: p("idle_current"),
            friction: p("friction"),
            inertia: p("inertia"),
            load_torque: p("load_torque"),
            dead_band: p("dead_band"),
            full_drive: p("full_drive"),
            end: p("end"),
            frame: p("frame"),
        };
        let pulse = case["pulse"].as_f64().expect("a number");
        let legs: Vec<Leg> = case["legs"]
            .as_array()
            .expect("a list")
            .iter()
            .map(|leg| Leg {
                target: leg[0].as_f64().expect("a number"),
                pulse,
                frames: leg[1].as_u64().expect("a whole number") as u32,
            })
            .collect();
        let mut rows = Vec::new();
        let done = run(&set_up, 0.0, &legs, &mut |row| {
            rows.push(*row);
            Ok::<(), Infallible>(())
        })
        .expect("usable");
        let samples = case["samples"].as_array().expect("a list");
        assert_eq!(samples.len(), rows.len() - 1);
        for (sample, row) in samples.iter().zip(&rows[1..]) {
            let of = |k: usize| sample[k].as_f64().expect("a number");
            let name = &case["name"];
            assert!((row.time - of(0)).abs() < 1e-9, "{name}");
            assert!((row.angle - of(1)).abs() < 1e-6, "{name} at {}: {} {}", row.time, row.angle, of(1));
            assert!((row.speed - of(2)).abs() < 1e-4, "{name} at {}: {} {}", row.time, row.speed, of(2));
        }
        let charge: f64 = done.iter().map(|leg| leg.charge).sum();
        let last = samples.last().expect("samples")[3].as_f64().expect("a number");
        assert!((charge - last).abs() < 1e-5 * last, "{charge} against {last}");
    }
}

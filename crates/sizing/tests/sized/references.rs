//! Factors of motions and of duty from the reference file `h_motion_and_duty.toml` beside the project, which names their
//! sources; without it the tests say so.

// A skipped check has to say so.
#![allow(clippy::print_stdout)]

use crate::benches::{IDEAL_MOTOR, course, disc, figure, sized};
use std::path::Path;

const STARTER: &str = "lead-screw-stage";
const MOTOR: &str = "parts/motor-24.toml";

/// A value of the reference file by its id; `None` where the file is not there.
fn reference(id: &str) -> Option<f64> {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared/references/h_motion_and_duty.toml");
    let Ok(text) = std::fs::read_to_string(&path) else {
        println!("skipped: no reference file at {}", path.display());
        return None;
    };
    let table: toml::Table = text.parse().expect("the reference file is TOML");
    let mut checks = table["check"].as_array().expect("checks").iter();
    let check = checks.find(|check| check["id"].as_str() == Some(id));
    check.and_then(|check| check["value"].as_float()).or_else(|| panic!("no check `{id}`"))
}

fn near(value: f64, expected: f64, part: f64, what: &str) {
    assert!((value / expected - 1.0).abs() < part, "{what}: {value} and {expected}");
}

/// The effective torque over a cycle without rest, as a multiple of J·d/T².
fn rms_factor(motion: &str, distance: f64, time: f64) -> f64 {
    let (rotor, load) = (50e-7, 150e-7);
    let bench = disc("inertia = \"150 g·cm²\"", motion);
    let sizing = sized(STARTER, &[("bench.toml", &bench), (MOTOR, IDEAL_MOTOR)]);
    figure(course(&sizing), "cycle_torque") / ((rotor + load) * distance / (time * time))
}

#[test]
fn the_effective_torque_of_thirds_and_of_a_triangle_is_that_of_the_source() {
    // 60 rad in 3 s: a third each, so 30 rad/s by 30 rad/s²; a triangle of 40 rad/s by 80/3 rad/s².
    let thirds = "kind = \"trapezoid\"\ndistance = \"60 rad\"\ntop_speed = \"30 rad/s\"\nacceleration = \"30 rad/s²\"\nthen = \"again\"";
    let triangle = "kind = \"trapezoid\"\ndistance = \"60 rad\"\ntop_speed = \"500 rad/s\"\nacceleration = \"26.66666666667 rad/s²\"\nthen = \"again\"";
    if let Some(expected) = reference("prof.third.rms") {
        near(rms_factor(thirds, 60.0, 3.0), expected, 1e-6, "thirds");
    }
    if let Some(expected) = reference("prof.tri.rms") {
        near(rms_factor(triangle, 60.0, 3.0), expected, 1e-6, "triangle");
    }
}

/// A winding as one body: its case held at the air by a heat capacity and a conductance without end.
fn one_body(time: f64, limit: f64) -> String {
    format!(
        "{IDEAL_MOTOR}thermal_resistance_winding_case = \"5 K/W\"\nthermal_resistance_case_air = \"0.001 K/W\"\n\
         thermal_time_winding = \"{time} s\"\nthermal_time_case = \"1e6 s\"\nmax_winding_temperature = \"{limit} °C\"\n"
    )
}

#[test]
fn a_winding_that_is_loaded_and_rests_gets_as_warm_as_the_factor_of_s3_says() {
    let Some(expected) = reference("duty.loss_factor") else { return };
    // 120 s at 10 rad/s with ramps of 10 ms, then 180 s of rest; 20 mN·m of friction and hardly any inertia.
    let bench = disc(
        "inertia = \"0.01 g·cm²\"\nfriction_torque = \"20 mN·m\"",
        "kind = \"trapezoid\"\ndistance = \"1199.9 rad\"\ntop_speed = \"10 rad/s\"\nacceleration = \"1000 rad/s²\"\n\
         dwell = \"180 s\"\nthen = \"again\"",
    );
    let motor = one_body(600.0, 300.0);
    let sizing = sized(STARTER, &[("bench.toml", &bench), (MOTOR, &motor)]);
    let course = course(&sizing);
    let current = 20e-3 / 0.05;
    let for_ever = 5.0 * 5.0 * current * current;
    let rise = figure(course, "winding_hottest") - 298.15;
    near(for_ever / rise, expected, 1e-3, "loss factor");
    assert_eq!(course.duty.name, "S3");
    if let Some(part) = reference("duty.s3.cdf") {
        near(100.0 * course.duty.loaded.expect("a cycle"), part, 1e-3, "cyclic duration factor");
    }
}

#[test]
fn the_time_from_cold_to_the_limit_is_that_of_one_body() {
    let Some(expected) = reference("duty.time_to_limit") else { return };
    // 180 K in the end: 36 W through 5 K/W, which is √(36 W/5 Ω) = 2.6833 A, or 0.134164 N·m of friction.
    let bench = disc(
        "inertia = \"0.01 g·cm²\"\nfriction_torque = \"0.1341640786 N·m\"",
        "kind = \"constant speed\"\ntop_speed = \"10 rad/s\"",
    );
    let motor = one_body(300.0, 125.0);
    let sizing = sized(STARTER, &[("bench.toml", &bench), (MOTOR, &motor)]);
    let course = course(&sizing);
    let [cold, warm] = course.times_to_limit.expect("it is too much for ever");
    near(cold, expected, 1e-4, "time to the limit");
    assert!(warm < cold, "{warm} from warm, {cold} from cold");
    assert_eq!(course.duty.name, "S1");
}

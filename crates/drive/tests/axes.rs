//! Figures of whole axes, gathered from starters with changes, against figures worked by hand.

use bench::{Bench, overlay};
use drive::assembly::StepperAxis;
use drive::assembly::copper::both_ways;
use drive::assembly::encoder::{counts_at_load, counts_at_motor};
use std::f64::consts::TAU;

/// A starter with changes of its files.
fn changed(starter: &str, changes: &[(&str, &str)]) -> Bench {
    let files = bench::builtin::starter(starter).expect("a starter");
    let none = overlay(&files, "bench.toml", "");
    let files = changes.iter().fold(none, |files, (file, change)| files.and(file, change));
    let loaded = bench::load_from(&files);
    loaded.value.unwrap_or_else(|| panic!("it does not load: {:?}", loaded.findings))
}

/// The seed-tray shuttle with a change of its bench file, and one of its encoders.
fn shuttle(change: &str, encoders: &str) -> Bench {
    changed("seed-tray-shuttle", &[("bench.toml", change), ("parts/encoder-16.toml", encoders)])
}

fn close(what: &str, got: f64, want: f64) {
    assert!((got - want).abs() <= 1e-9 * want.abs(), "{what}: {got}, {want} expected");
}

#[test]
fn a_move_with_limited_jerk_takes_longer_than_a_trapezoid() {
    let cycle = |change: &str| {
        let bench = shuttle(change, "");
        drive::assembly::cycle_time(bench.axis("left").expect("an axis")).expect("a cycle").value()
    };
    // 1.8 m at 0.5 m/s, 0.7 m/s², 2 s of rest: s/v + v/a + t_d.
    close("trapezoid", cycle(""), 1.8 / 0.5 + 0.5 / 0.7 + 2.0);
    // With 1.4 m/s³ the acceleration is reached, as v·j > a²: each ramp takes v/a + a/j at half the speed on average.
    let s_curve = "[motions.shuttle]\nkind = \"s-curve\"\njerk = \"1.4 m/s³\"";
    close("s-curve", cycle(s_curve), 1.8 / 0.5 + 0.5 / 0.7 + 0.7 / 1.4 + 2.0);
}

#[test]
fn counts_follow_the_gears_between_their_shaft_and_the_one_asked() {
    // 16 lines are 64 counts a turn; a gearbox of 676/25 and a stage of 3 : 1 behind it.
    let box_ratio = 676.0 / 25.0;
    for (shaft, at_motor, at_load) in [
        ("motor", 64.0, 64.0 * box_ratio * 3.0),
        ("output", 64.0 / box_ratio, 64.0 * 3.0),
        ("load", 64.0 / box_ratio / 3.0, 64.0),
    ] {
        let bench = shuttle("[axes.left]\nstage = { ratio = 3 }", &format!("shaft = \"{shaft}\""));
        let axis = bench.axis("left").expect("an axis");
        let encoder = axis.encoder.as_ref().expect("an encoder");
        close(shaft, counts_at_motor(axis, encoder).value() * TAU, at_motor);
        close(shaft, counts_at_load(axis, encoder).value() * TAU, at_load);
    }
}

#[test]
fn an_encoder_with_lines_and_edges_counts_by_its_lines() {
    let bench = shuttle("", "edges_per_rev = 32");
    let axis = bench.axis("left").expect("an axis");
    let encoder = axis.encoder.as_ref().expect("an encoder");
    close("counts", counts_at_motor(axis, encoder).value() * TAU, 64.0);
}

#[test]
fn each_phase_of_a_stepper_is_held_by_the_limits_of_its_own_bridge() {
    let largest = |change: &str| {
        let bench = changed("turntable", &[("parts/twin-bridge.toml", change)]);
        let axis = bench.axis("table").expect("an axis");
        let stepper = StepperAxis::of(&bench, axis).expect("a stepper");
        stepper.phases.iter().map(|phase| phase.largest_current.value()).collect::<Vec<_>>()
    };
    assert_eq!(largest(""), [1.2, 1.2], "both choppers as set");
    // 24 V through 2.1 Ω, 0.31 Ω of the switches, and 0.5 m of 0.5 mm² copper out and back at 22.5 °C, the middle of the
    // air, where no chopper sees it.
    let leads = 2.0 * 0.5 / (58.0 * 0.5) * (1.0 + 0.00393 * 2.5);
    let blind = largest("[[limits]]\nname = \"A.chop\"\nsenses = \"supply input\"");
    close("unheld", blind[0], 24.0 / (2.1 + 0.31 + leads));
    assert_eq!(blind[1], 1.2, "the other is held by its own");
}

#[test]
fn the_copper_of_a_cable_is_anything_from_the_coldest_air_to_what_its_insulation_bears() {
    let ends = |change: &str, limit: &str| {
        let part = format!("kind = \"cable\"\narea = \"0.5 mm² ± 0 %\"\ncurrent_rating = \"4 A\"\n{limit}");
        let cable = "[cables.left]\npart = \"parts/lead.toml\"\nlength = \"2.5 m ± 0 %\"";
        let change = format!("{change}\n{cable}");
        let bench = changed("seed-tray-shuttle", &[("bench.toml", &change), ("parts/lead.toml", &part)]);
        let run = bench.axis("left").and_then(|axis| axis.motor_cable.clone()).expect("a cable");
        let resistance = both_ways(&bench, &run);
        let lowest = resistance.clone().must_stay_above(0.0.into()).judge().value_there;
        let highest = resistance.must_stay_below(0.0.into()).judge().value_there;
        (lowest, highest)
    };
    // R = R_20·(1 + 0.00393·ΔT), R_20 = 2·l/(κ·A) with 58 m/(Ω·mm²).
    let at = |celsius: f64| 2.0 * 2.5 / (58.0 * 0.5) * (1.0 + 0.00393 * (celsius - 20.0));
    for (air, limit, low, high) in [
        ("8 .. 35 °C", "max_temperature = \"90 °C\"", 8.0, 90.0),
        ("-10 .. 35 °C", "", -10.0, 70.0),
        ("20 .. 80 °C", "max_temperature = \"60 °C\"", 20.0, 80.0),
    ] {
        let (lowest, highest) = ends(&format!("[bench]\nambient = \"{air}\""), limit);
        close(air, lowest, at(low));
        close(air, highest, at(high));
    }
}

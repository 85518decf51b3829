//! The power along the way from supply to load: what goes in comes out again, less what is lost.

use bench::builtin::starter;
use drive::assembly::{DcAxis, flow};
use std::collections::BTreeMap;

fn watts(name: &str) -> BTreeMap<String, f64> {
    let bench = bench::load_from(&starter(name).expect("a starter").memory()).value.expect("a bench");
    let axes: Vec<_> = bench.axes().iter().map(|axis| (axis, DcAxis::of(&bench, axis))).collect();
    flow::at_full_acceleration(&bench, &axes).into_iter().map(|(path, power)| (path, power.value())).collect()
}

#[test]
fn each_stage_gives_less_than_it_takes() {
    for (name, axis, channel) in
        [("seed-tray-shuttle", "left", "A"), ("lead-screw-stage", "slide", "A"), ("lift-arm", "lift", "A")]
    {
        let all = watts(name);
        let path = |what: &str| format!("axes.{axis}.{what}");
        let chain = [format!("drivers.board.{channel}"), path("motor"), path("gearbox"), path("load")]
            .map(|path| all[&path]);
        // Without a gearbox the load gets what is before it, the rotor aside.
        let losing = if name == "lead-screw-stage" { &chain[..3] } else { &chain[..] };
        assert!(losing.windows(2).all(|pair| pair[0] > pair[1]), "{name}: {chain:?}");
        assert!(chain[3] <= chain[2], "{name}: {chain:?}");
        assert!(chain[3] > 0.0, "{name}: {chain:?}");
    }
}

/// Both axes of the shuttle hang on one supply; load power is force times speed: 12 kg at 0.7 m/s², rolling at 0.02
/// and up 1°, with wheels of 1.2 kg·cm² each, at 0.5 m/s.
#[test]
fn the_supply_gives_the_sum_and_the_load_takes_force_times_speed() {
    let all = watts("seed-tray-shuttle");
    assert!((all["drivers.board.motor"] - all["supplies.drive"]).abs() < 1e-9);
    assert!(all["supplies.drive"] > all["drivers.board.A"] + all["drivers.board.B"] - 1e-9);
    let slope = 1.0_f64.to_radians();
    let inertia = 12.0 * 0.7 + 12.0 * 9.80665 * (libm::sin(slope) + 0.02 * libm::cos(slope));
    let wheels = 1.2e-4 / (0.045 * 0.045) * 0.7;
    let load = (inertia / 2.0 + wheels) * 0.5;
    assert!((all["axes.left.load"] - load).abs() < 0.01 * load, "{} against {load}", all["axes.left.load"]);
    // Into the gear: the load through 78 % and 27.04, its drag of 0.6 mN·m, its inertia of 6 g·cm²; not the rotor's.
    let ratio = 27.04;
    let (speed, acceleration) = (0.5 / 0.045 * ratio, 0.7 / 0.045 * ratio);
    let through = load / (0.5 / 0.045) / (ratio * 0.78);
    let gear = (through + 0.6e-3 + 6e-7 * acceleration) * speed;
    assert!(
        (all["axes.left.gearbox"] - gear).abs() < 0.01 * gear,
        "{} against {gear}",
        all["axes.left.gearbox"]
    );
    // The supply feeds the board as well, with 20 mA at 24 V.
    let bridges = all["drivers.board.A"] + all["drivers.board.B"];
    assert!(all["supplies.drive"] > bridges + 0.99 * 0.02 * 24.0, "{} and {bridges}", all["supplies.drive"]);
    // The servo moves freely, on a supply of its own.
    assert!((all["servos.latch"] - all["supplies.latch"]).abs() < 1e-12);
}

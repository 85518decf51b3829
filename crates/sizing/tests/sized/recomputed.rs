//! The cycle of a starter against SciPy: `recompute.py` writes the model anew and plays it until it repeats itself.

use crate::benches::{course, figure, sized};

#[test]
fn the_cycle_of_the_shuttle_is_what_a_general_integrator_finds() {
    let known: serde_json::Value =
        serde_json::from_str(include_str!("recomputed.json")).expect("the script writes JSON");
    let sizing = sized("seed-tray-shuttle", &[]);
    let course = course(&sizing);
    // A stretch of the cycle has one current here, and a dozen such stretches make a ramp.
    for (key, part) in [("cycle_current", 1e-4), ("drawn_energy", 1e-4), ("returned_energy", 2e-3)] {
        let expected = known[key].as_f64().expect("a number");
        let found = figure(course, key);
        assert!((found - expected).abs() < part * expected, "{key}: {found} and {expected}");
    }
    let hottest = figure(course, "winding_hottest") - 273.15;
    let expected = known["winding_hottest"].as_f64().expect("a number");
    assert!((hottest - expected).abs() < 0.02, "{hottest} °C and {expected} °C");
}

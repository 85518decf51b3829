//! Discretisation, margins and steps against python-control and SciPy, which go by the physical state of the drive: `recompute.py`.

use control::law::{Law, Loop};
use control::margins::Grid;
use control::plant::Figures;
use serde_json::Value;

/// Samples of the steps that were recomputed.
const SAMPLES: usize = 600;

fn number(of: &Value, key: &str) -> f64 {
    of[key].as_f64().unwrap_or(f64::INFINITY)
}

#[test]
fn two_hundred_and_forty_loops_are_those_of_another_program() {
    let text = include_str!("designs.json");
    let all: Vec<Value> = serde_json::from_str(text).expect("designs.json");
    assert_eq!(all.len(), 240);
    let grid = Grid::new();
    let mut with_position = 0;
    for one in &all {
        let (d, due) = (&one["design"], &one["found"]);
        let figures = Figures {
            resistance: number(d, "resistance"),
            inductance: number(d, "inductance"),
            constant: number(d, "constant"),
            inertia: number(d, "inertia"),
            viscous_friction: number(d, "viscous_friction"),
            voltage_factor: number(d, "voltage_factor"),
        };
        let window = number(d, "window") as usize;
        let law = Law {
            sample_time: number(d, "sample_time"),
            gain: number(d, "gain"),
            integral_time: number(d, "integral_time"),
            weight: number(d, "weight"),
            forward: number(d, "forward"),
            window: (window > 0).then_some(window),
            position_gain: number(d, "position_gain"),
        };
        with_position += usize::from(law.position_gain > 0.0);
        let of = Loop::new(law, &figures.speed());
        assert!(of.is_stable(), "{law:?}");
        let margins = grid.distances(&of);
        let near = |is: f64, key: &str, tolerance: f64| {
            let due = number(due, key);
            let same = is == due || (is - due).abs() <= tolerance * due.abs();
            assert!(same, "{key}: {is} for {due}\n{law:?}\n{figures:?}");
        };
        near(margins.gain, "gain", 1e-8);
        near(margins.phase, "phase", 1e-8);
        near(margins.delay, "delay", 1e-8);
        near(1.0 / margins.sensitivity, "distance", 1e-8);
        let (step, load) = (of.step(SAMPLES), of.dip(figures.load_step(number(d, "torque")), SAMPLES));
        near(step.rise, "rise", 1e-8);
        near(step.settling, "settling", 1e-8);
        near(load.depth, "depth", 1e-8);
        assert!((step.overshoot - number(due, "overshoot")).abs() < 1e-9, "{law:?}");
        let courses = [
            ("step", of.step_response(SAMPLES)),
            ("load", of.load_response(figures.load_step(number(d, "torque")), SAMPLES)),
        ];
        for (name, course) in courses {
            let size = course.iter().fold(0.0f64, |most, y| most.max(y.abs()));
            for (k, at) in [5, 50, 200, 599].into_iter().enumerate() {
                let due = due[name][k].as_f64().expect("a number");
                assert!((course[at] - due).abs() < 1e-8 * size, "{name} {at}: {} for {due}", course[at]);
            }
        }
    }
    assert!(with_position > 50, "{with_position} with a position loop");
}

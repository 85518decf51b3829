//! The runs of `recompute.py`.

use serde_json::Value;
use simulate::stepper::{Feed, Ramp, SetUp, Stepping, run};
use std::convert::Infallible;

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("`{key}` is a number"))
}

#[test]
fn a_general_integrator_agrees() {
    let cases: Value = serde_json::from_str(include_str!("integrated.json")).expect("JSON");
    let cases = cases.as_array().expect("a list");
    assert_eq!(cases.len(), 4);
    for case in cases {
        let p = &case["set_up"];
        let parts = p["parts"].as_u64().expect("a whole number") as u32;
        let set_up = SetUp {
            voltage: number(p, "voltage"),
            feed: match p["chopped_current"].as_f64() {
                Some(current) => Feed::Chopped { current, settling: number(p, "settling") },
                None => Feed::Voltage,
            },
            stepping: match (parts, p["sine"].as_bool()) {
                (parts, Some(true)) => Stepping::Micro(parts),
                (1, _) => Stepping::Full,
                _ => Stepping::Half,
            },
            resistance: number(p, "resistance"),
            inductance: number(p, "inductance"),
            constant: number(p, "constant"),
            teeth: number(p, "teeth"),
            detent_torque: number(p, "detent_torque"),
            inertia: number(p, "inertia"),
            friction: number(p, "friction"),
            full_friction_speed: number(p, "full_friction_speed"),
            viscous_friction: number(p, "viscous_friction"),
            load_torque: number(p, "load_torque"),
        };
        let ramp = &case["ramp"];
        let ramp = Ramp {
            rate: number(ramp, "rate"),
            acceleration: number(ramp, "acceleration"),
            hold: number(ramp, "hold"),
        };
        let mut rows = Vec::new();
        let outcome = run(&set_up, &ramp, &mut |row| {
            rows.push(*row);
            Ok::<(), Infallible>(())
        })
        .expect("usable");
        assert_eq!(outcome.commanded, number(case, "commanded"));
        let every = case["every"].as_u64().expect("a whole number") as usize;
        let samples = case["samples"].as_array().expect("a list");
        let full = samples.iter().map(|s| s[3].as_f64().expect("speed").abs()).fold(0.0, f64::max);
        for (sample, row) in samples.iter().zip(rows.iter().step_by(every).skip(1)) {
            let of = |k: usize| sample[k].as_f64().expect("a number");
            let pairs = [
                ("time", row.time, of(0), 1e-10),
                ("current a", row.current_a, of(1), 1e-5),
                ("current b", row.current_b, of(2), 1e-5),
                ("speed", row.speed, of(3), 1e-5 * full),
                ("angle", row.angle, of(4), 1e-6),
            ];
            for (what, ours, theirs, allowed) in pairs {
                let name = &case["name"];
                assert!(
                    (ours - theirs).abs() <= allowed,
                    "{name} at {}: {what} {ours} against {theirs}",
                    row.time
                );
            }
        }
    }
}

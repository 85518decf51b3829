//! Means against a general integrator: the samples that `recompute.py` wrote, averaged courses and speed loops.

#[path = "../cases/rows.rs"]
mod rows;

use drive::bridge::OffState;
use drive::heat::body::TwoBody;
use drive::heat::{Heat, Thermal};
use rows::Rows;
use serde_json::Value;
use simulate::{
    Averaged, Board, Command, Curved, Kept, Response, SetUp, SpeedLoop, Stage, Stribeck, Swing, Warmth,
};

/// Part of full scale by which the two may differ: the other program's kinks in the brushes cost it digits.
const AGREES: f64 = 1e-8;

fn read() -> Value {
    serde_json::from_str(include_str!("means.json")).expect("JSON")
}

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("{key}"))
}

fn list<'a>(value: &'a Value, key: &str) -> &'a [Value] {
    value[key].as_array().unwrap_or_else(|| panic!("{key}"))
}

fn set_up(case: &Value) -> SetUp {
    let value = &case["set_up"];
    let of = |key: &str| number(value, key);
    SetUp {
        supply_voltage: of("supply_voltage"),
        supply_resistance: of("supply_resistance"),
        frequency: of("frequency"),
        off_state: match value["off_state"].as_str() {
            Some("brake") => OffState::Brake,
            Some("reverse") => OffState::Reverse,
            other => panic!("{other:?}"),
        },
        diode_drop: of("diode_drop"),
        resistance: of("resistance"),
        winding_resistance: of("winding_resistance"),
        inductance: of("inductance"),
        constant: of("constant"),
        brush_drop: of("brush_drop"),
        inertia: of("inertia"),
        friction: of("friction"),
        viscous_friction: of("viscous_friction"),
        ratio: of("ratio"),
        efficiency: of("efficiency"),
        back_efficiency: of("back_efficiency"),
        load_inertia: of("load_inertia"),
        load_friction: of("load_friction"),
        load_viscous: of("load_viscous"),
        load_torque: of("load_torque"),
        locked: value["locked"].as_bool().expect("locked"),
        bus: None,
        board: Board::NONE,
        twist: None,
        curved: Curved::NONE,
    }
}

#[test]
fn current_speed_and_angle_are_those_of_a_general_integrator() {
    let all = read();
    let cases = list(&all, "courses");
    assert!(cases.len() >= 4);
    for case in cases {
        let (name, drive) = (&case["name"], set_up(case));
        let every = case["every"].as_u64().expect("every");
        let mut simulation = Averaged::new(drive).expect("averaged");
        let (mut rows, mut kept, mut ripple_heat) = (Rows(Vec::new()), Vec::<Kept>::new(), 0.0);
        for stage in list(case, "stages") {
            let command = stage[0].as_f64().map_or(Command::Open, Command::Duty);
            let periods = stage[1].as_u64().expect("periods");
            let one = simulation.play(&Stage { command, periods }, every, &mut rows).expect("it plays");
            let on = stage[0].as_f64().map_or(0.0, |duty| match drive.off_state {
                OffState::Reverse => 0.5 * (1.0 + duty),
                _ => duty.abs(),
            });
            ripple_heat += variance(&drive, on) * periods as f64 / drive.frequency;
            kept.push(one);
        }
        let samples = list(case, "samples");
        assert_eq!(rows.0.len(), samples.len() + 1, "{name}");
        let full_current = drive.supply_voltage / drive.resistance;
        let full_speed = drive.supply_voltage / drive.constant;
        let full_angle = rows.0.iter().map(|row| row.angle.abs()).fold(0.0, f64::max);
        let due = |sample: &Value, k: usize| sample[k].as_f64().expect("a number");
        for (row, sample) in rows.0[1..].iter().zip(samples) {
            assert!((row.time - due(sample, 0)).abs() < 1e-12, "{name}");
            let found = [(row.current, full_current), (row.speed, full_speed), (row.angle, full_angle)];
            for (k, (is, full)) in found.into_iter().enumerate() {
                let due = due(sample, k + 1);
                assert!((is - due).abs() < AGREES * full, "{name}: {is} for {due} in {row:?}");
            }
        }
        let squared: f64 = kept.iter().map(|kept| kept.energy.current_squared).sum();
        let due = samples.last().map(|sample| due(sample, 4)).expect("samples") + ripple_heat;
        assert!((squared - due).abs() < 1e-7 * due, "{name}: {squared} A²·s for {due}");
    }
}

/// What bends is continuous there, and goes in steps here: what is left is far less than what the run says that each step
/// was off by, as these are of both signs or follow one another closely.
#[test]
fn what_bends_is_followed_as_by_a_general_integrator() {
    let all = read();
    let cases = list(&all, "bends");
    assert!(cases.len() >= 4);
    for case in cases {
        let (name, plain) = (&case["name"], set_up(case));
        let pair =
            |key: &str| case[key].as_array().map(|pair| [0, 1].map(|k| pair[k].as_f64().expect("a number")));
        let heat = case["heat"].as_object().map(|_| &case["heat"]);
        let curved = Curved {
            warmth: heat.map(|heat| warmth(heat, plain.winding_resistance)),
            swing: pair("arm").map(|[torque, angle]| Swing { torque, angle }),
            stribeck: pair("falling").map(|[extra, speed]| Stribeck { extra, speed }),
            shutdown: None,
        };
        let drive = SetUp { curved, ..plain };
        let mut simulation = Averaged::new(drive).expect("averaged");
        let mut rows = Rows(Vec::new());
        let whole = |key: &str| case[key].as_u64().expect("periods");
        let stage = Stage { command: Command::Duty(number(case, "duty")), periods: whole("periods") };
        let kept = simulation.play(&stage, whole("every"), &mut rows).expect("it plays");
        let samples = list(case, "samples");
        assert_eq!(rows.0.len(), samples.len() + 1, "{name}");
        // Falling friction is straight between its knots.
        let falling = curved.stribeck.map_or(0.0, |stribeck| {
            let torque = stribeck.off_up_to(kept.peak_speed) * stribeck.extra;
            torque * drive.resistance / (drive.constant * drive.supply_voltage)
        });
        let within = 1e-7 + 0.5 * kept.bent.winding.off + 0.05 * kept.bent.arm.off + falling;
        let full_current = drive.supply_voltage / drive.resistance;
        let full_speed = drive.supply_voltage / drive.constant;
        let due = |sample: &Value, k: usize| sample[k].as_f64().expect("a number");
        for (row, sample) in rows.0[1..].iter().zip(samples) {
            for (k, (is, full)) in
                [(row.current, full_current), (row.speed, full_speed)].into_iter().enumerate()
            {
                let due = due(sample, k + 1);
                assert!(
                    (is - due).abs() < within * full,
                    "{name}: {is} for {due} within {within} in {row:?}"
                );
            }
        }
        let last = samples.last().expect("samples");
        if let Some(warmth) = curved.warmth {
            let hottest = samples.iter().map(|sample| due(sample, 5)).fold(0.0, f64::max);
            let (is, due) = (kept.hottest_winding.expect("it warms"), hottest);
            assert!((is - due).abs() < 1e-3 * (due - warmth.ambient), "{name}: {is} K for {due} K");
        }
        let squared = due(last, 4);
        let of_current = 2.0 * within * full_current * (squared * due(last, 0)).sqrt();
        let off = (kept.energy.current_squared - squared).abs();
        assert!(off < 1e-6 * squared + of_current, "{name}: off by {off} of {squared}");
    }
}

fn warmth(heat: &Value, resistance: f64) -> Warmth {
    let of = |key: &str| number(heat, key);
    let (ambient, reference, coefficient) = (of("ambient"), of("reference"), of("coefficient"));
    let thermal = Thermal {
        winding_to_case: of("winding_to_case"),
        case_to_air: of("case_to_air"),
        winding_time: of("winding_time"),
        case_time: of("case_time"),
        limit: 500.0,
    };
    let heat = Heat {
        resistance: resistance / (1.0 + coefficient * (ambient - reference)),
        reference_temperature: reference,
        resistance_coefficient: coefficient,
        drop: 0.0,
        thermal,
    };
    let constant_coefficient = of("constant_coefficient");
    Warmth { heat, ambient, start: TwoBody::at_rest(ambient), constant_coefficient }
}

/// Δ²/12 of a triangle, from the balance of a period.
fn variance(drive: &SetUp, on: f64) -> f64 {
    let (swing, share) = match drive.off_state {
        OffState::Reverse => (2.0 * drive.supply_voltage, 1.0),
        _ => (drive.supply_voltage, on),
    };
    let resistance = drive.resistance + share * drive.supply_resistance;
    let decayed = |part: f64| 1.0 - libm::exp(-part * resistance / (drive.inductance * drive.frequency));
    let ripple = swing / resistance * decayed(on) * decayed(1.0 - on) / decayed(1.0);
    ripple * ripple / 12.0
}

#[test]
fn loops_come_to_those_of_a_general_integrator_as_sub_steps_shorten() {
    let all = read();
    let cases = list(&all, "loops");
    assert!(cases.len() >= 5);
    for case in cases {
        let (name, drive, settings) = (&case["name"], set_up(case), &case["loop"]);
        let play = |sub_steps: u32| -> Response {
            let course = SpeedLoop {
                rate: number(settings, "rate"),
                sub_steps,
                proportional: number(settings, "proportional"),
                integral: number(settings, "integral"),
                reference: number(settings, "reference"),
                load_torque: number(settings, "load_torque"),
                load_time: number(settings, "load_time"),
                duration: number(settings, "duration"),
                assumed_voltage: None,
            };
            course.play(&[drive]).expect("it plays")[0]
        };
        let due = |key: &str| number(&case["response"], key);
        for sub_steps in [4, 16, 64, 1024] {
            // The bounds of `docs/builds.md`: they go with the length of a sub-step.
            let (found, part) = (play(sub_steps), 4.0 / f64::from(sub_steps));
            let near = |is: f64, key: &str, within: f64| {
                let due = due(key);
                assert!((is - due).abs() <= within * part, "{name} {sub_steps}: {key} {is} for {due}");
            };
            let reference = number(settings, "reference");
            near(found.peak_current, "peak_current", 0.01 * due("peak_current"));
            near(found.overshoot, "overshoot", 1e-3);
            near(found.dip, "dip", 1e-3 * reference);
            let ticks = (found.settling_time - due("settling_time")) * number(settings, "rate");
            assert!(ticks.abs() < 1.5, "{name} {sub_steps}: {} s", found.settling_time);
        }
    }
}

//! What linear regression finds, and what it refuses.

mod drives;

use drives::{MIDDLING, Reading, axis, drawn_levels};
use identify::linear::{Balance, Coefficient, Regression, regress};
use identify::{Acts, Angle, Carries, Drive, Parameter, Record, Refusal, Time, Trial};
use worked::Stream;

const READING: Reading = Reading { rate: 10e3, noise: 0.02, counts: 1024.0, seed: 3 };

fn find(regression: &Regression, parameter: Parameter) -> &Coefficient {
    regression.coefficients.iter().find(|c| c.parameter == parameter).expect("asked for")
}

/// Within a share of the truth, and that within four of its own deviations or a bias of the method.
fn assert_close(regression: &Regression, parameter: Parameter, truth: f64, share: f64) {
    let found = find(regression, parameter);
    assert_eq!(found.refused, None, "{found:?}");
    let off = found.value / truth - 1.0;
    assert!(off.abs() <= share, "{parameter:?}: {} off {truth} by {off}", found.value);
}

#[test]
fn a_lively_record_carries_all_six() {
    let columns = MIDDLING.play(&drawn_levels(1, 100_000, 500, 0.95), false, &READING);
    let records = [columns.record()];
    let axis = axis(&records, READING.noise);
    use Parameter as P;
    let wanted = [P::Resistance, P::Inductance, P::Constant];
    let electrical = regress(&axis, Balance::Voltages, &wanted, None).unwrap();
    assert_close(&electrical, P::Resistance, MIDDLING.resistance, 5e-4);
    // Known to 0.07 %; what is left of taking the current as straight is less.
    assert_close(&electrical, P::Inductance, MIDDLING.inductance, 2e-3);
    assert_close(&electrical, P::Constant, MIDDLING.constant, 2e-4);
    let wanted = [P::Inertia, P::ViscousFriction, P::CoulombFriction];
    let mechanical = regress(&axis, Balance::Torques(MIDDLING.constant), &wanted, None).unwrap();
    assert_close(&mechanical, P::Inertia, MIDDLING.inertia, 2e-3);
    assert_close(&mechanical, P::ViscousFriction, MIDDLING.viscous, 0.1);
    assert_close(&mechanical, P::CoulombFriction, MIDDLING.coulomb, 1e-2);
    assert!(mechanical.condition > electrical.condition);
}

/// Steady levels of an invented 18 V motor, as rows of their own: no transient tells anything.
struct Levels {
    voltage: Vec<f64>,
    current: Vec<f64>,
    angle: Vec<f64>,
    usable: Vec<bool>,
}

const LEVEL_ROWS: usize = 100;
const STEP: f64 = 5e-3;

/// Eight speeds of both senses at each of these load torques: u = R·i + K·ω + U_b·sgn i.
fn levels(loads: &[f64]) -> Levels {
    let (r, k, drop, coulomb, viscous) = (2.6, 0.0265, 0.25, 2.5e-3, 1.5e-6);
    let noise = Stream::new(5, "levels");
    let mut levels = Levels { voltage: Vec::new(), current: Vec::new(), angle: vec![], usable: Vec::new() };
    let mut at = 0.0;
    for &load in loads {
        for level in [-8, -7, -6, -5, -4, -3, -2, -1, 1, 2, 3, 4, 5, 6, 7, 8] {
            let speed = 75.0 * f64::from(level);
            let sense = speed.signum();
            let current = ((coulomb + load) * sense + viscous * speed) / k;
            for row in 0..LEVEL_ROWS {
                let n = levels.voltage.len() as u64;
                levels.voltage.push(r * current + k * speed + drop * sense);
                levels.current.push(current + 0.01 * noise.normal(n));
                levels.angle.push(at);
                // The last row belongs to the change to the next level.
                levels.usable.push(row + 1 < LEVEL_ROWS);
                at += speed * STEP;
            }
        }
    }
    levels
}

fn regress_levels(loads: &[f64]) -> Regression {
    let levels = levels(loads);
    let record = Record {
        time: Time::Even(STEP),
        drive: Drive::Voltage(&levels.voltage),
        acts: Acts::UntilNext,
        current: Some(&levels.current),
        angle: Some(Angle { values: &levels.angle, resolution: 0.0 }),
        usable: Some(&levels.usable),
        trial: Trial::FREE,
    };
    let records = [record];
    let wanted = [Parameter::Resistance, Parameter::Constant, Parameter::BrushDrop];
    regress(&axis(&records, 0.01), Balance::Voltages, &wanted, Some(90)).unwrap()
}

/// Without load the current is a sum of what the sense and the speed give: friction. So nothing but noise tells the
/// resistance, which comes out near zero with a small uncertainty, while the constant is good to a percent.
#[test]
fn resistance_from_a_sweep_without_load_is_refused() {
    let without = regress_levels(&[0.0]);
    let resistance = find(&without, Parameter::Resistance);
    assert!(resistance.value.abs() < 0.6, "{resistance:?}");
    let Some(Refusal::Drowned(share)) = resistance.refused else { panic!("{resistance:?}") };
    assert!(share > 0.5, "{share}");
    assert_eq!(Parameter::Resistance.carried_by(), Carries::LockedLevels);
    let constant = find(&without, Parameter::Constant).value;
    assert!((constant / 0.0265 - 1.0).abs() < 0.012, "{constant}");
}

/// The same at three loads: the classic way out.
#[test]
fn resistance_from_three_loads_is_carried() {
    let with = regress_levels(&[0.0, 15e-3, 40e-3]);
    assert_close(&with, Parameter::Resistance, 2.6, 4e-3);
    assert_close(&with, Parameter::Constant, 0.0265, 1e-3);
    assert_close(&with, Parameter::BrushDrop, 0.25, 0.05);
    assert!(with.condition < 0.5 * regress_levels(&[0.0]).condition);
}

/// With few counts in a turn the speed drowns in short windows: longer ones are taken by themselves.
#[test]
fn windows_are_as_long_as_the_noise_asks() {
    let wanted = [Parameter::Inertia, Parameter::CoulombFriction];
    let window = |counts: f64| {
        let columns =
            MIDDLING.play(&drawn_levels(1, 50_000, 500, 0.95), false, &Reading { counts, ..READING });
        let records = [columns.record()];
        let regression = regress(&axis(&records, 0.02), Balance::Torques(0.0382), &wanted, None).unwrap();
        assert_close(&regression, Parameter::Inertia, MIDDLING.inertia, 0.02);
        regression.window
    };
    let (coarse, fine) = (window(128.0), window(8192.0));
    assert!(coarse >= 2 * fine, "{coarse} and {fine} rows");
}

/// Ten rows in a millisecond, but an electrical time constant of six microseconds: the inductance is not told.
#[test]
fn an_inductance_that_settles_within_a_row_is_refused() {
    let quick = drives::Truth { inductance: 2e-5, ..MIDDLING };
    let columns = quick.play(&drawn_levels(1, 20_000, 50, 0.95), false, &READING);
    let records = [columns.record()];
    let wanted = [Parameter::Resistance, Parameter::Inductance, Parameter::Constant];
    let regression = regress(&axis(&records, 0.02), Balance::Voltages, &wanted, None).unwrap();
    let inductance = find(&regression, Parameter::Inductance);
    assert!(matches!(inductance.refused, Some(Refusal::TooSparse(rows)) if rows < 0.5), "{inductance:?}");
    assert_close(&regression, Parameter::Constant, MIDDLING.constant, 5e-3);
}

#[test]
fn a_held_shaft_tells_resistance_and_inductance_without_angles() {
    let columns = MIDDLING.play(&drawn_levels(2, 20_000, 100, 0.3), true, &READING);
    let records = [columns.record()];
    let wanted = [Parameter::Resistance, Parameter::Inductance, Parameter::Constant];
    let regression = regress(&axis(&records, 0.02), Balance::Voltages, &wanted, None).unwrap();
    // Nothing turns, so the constant has no column.
    assert_eq!(regression.coefficients.len(), 2);
    assert_close(&regression, Parameter::Resistance, MIDDLING.resistance, 1e-3);
    assert_close(&regression, Parameter::Inductance, MIDDLING.inductance, 5e-3);
    let missing = regress(&axis(&records, 0.02), Balance::Torques(0.04), &[Parameter::Inertia], None);
    assert_eq!(
        missing.unwrap_err().to_string(),
        "no record has a stretch with current and an angle that moves"
    );
}

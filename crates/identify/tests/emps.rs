//! A measured axis from outside: the EMPS benchmark.
//!
//! A. Janot, M. Gautier, M. Brunot, *Data Set and Reference Models of EMPS*, Workshop on Nonlinear System Identification
//! Benchmarks, Eindhoven 2019: a linear axis by a DC motor and a ball screw, force and position at 1 kHz. The data are read
//! from a copy of the reference files beside the project; without it the test says so.

// A skipped check has to say so.
#![allow(clippy::print_stdout)]

use identify::linear::{Balance, regress};
use identify::{Acts, Angle, Axis, Drive, Parameter, Record, Sensors, Time, Trial, Warmth};
use std::path::Path;

/// Force for a volt of the controller, N/V.
const FORCE: f64 = 35.150_651_882_5;

/// Published values and standard deviations, section 3.4: mass, viscous and dry friction, offset.
const PUBLISHED: [(Parameter, f64, f64); 4] = [
    (Parameter::Inertia, 95.1089, 0.1085),
    (Parameter::ViscousFriction, 203.5034, 1.146),
    (Parameter::CoulombFriction, 20.3935, 0.1012),
    (Parameter::Imbalance, -3.1648, 0.0444),
];

#[test]
fn published_figures_are_met_within_their_deviations() {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared/references/emps/emps_identification.csv");
    let Ok(text) = std::fs::read_to_string(&path) else {
        println!("skipped: no reference file at {}", path.display());
        return;
    };
    let rows: Vec<Vec<f64>> = text
        .lines()
        .skip(1)
        .map(|line| line.split(',').map(|v| v.trim().parse().unwrap()).collect())
        .collect();
    let position: Vec<f64> = rows.iter().map(|row| row[0]).collect();
    let force: Vec<f64> = rows.iter().map(|row| FORCE * row[2]).collect();
    assert_eq!(rows.len(), 24841);
    // A force is a current through a constant of one; metres stand for radians.
    let record = Record {
        time: Time::Even(1e-3),
        drive: Drive::Voltage(&force),
        acts: Acts::UntilNext,
        current: Some(&force),
        angle: Some(Angle { values: &position, resolution: 5e-8 }),
        usable: None,
        trial: Trial::FREE,
    };
    let axis = Axis { records: &[record], sensors: Sensors::default(), warmth: Warmth::COPPER_AND_FERRITE };
    let wanted = PUBLISHED.map(|(parameter, _, _)| parameter);
    let fit = regress(&axis, Balance::Torques(1.0), &wanted, None).unwrap();
    println!("{fit:#?}");
    for (coefficient, (parameter, published, deviation)) in fit.coefficients.iter().zip(PUBLISHED) {
        assert_eq!(coefficient.parameter, parameter);
        println!(
            "{}: {:.4} ± {:.4}, published {published} ± {deviation}",
            parameter.name(),
            coefficient.value,
            coefficient.uncertainty
        );
        assert!((coefficient.value - published).abs() <= deviation, "{parameter:?}: {}", coefficient.value);
    }
}

//! What trials carry, and what they are refused to.

use crate::drives::{self, Columns, MIDDLING, axis};
use identify::gate::{Refused, excitation};
use identify::{Carries, Parameter as P, Record};

const NOISE: f64 = 0.02;

fn reading(rate: f64) -> drives::Reading {
    drives::Reading { rate, noise: NOISE, counts: 2000.0, seed: 3 }
}

fn held(levels: &[f64], rows: usize) -> Vec<f64> {
    levels.iter().flat_map(|level| vec![*level; rows]).collect()
}

fn refused(columns: &[&Columns], wanted: &[P]) -> Vec<Refused> {
    let records: Vec<Record<'_>> = columns.iter().map(|columns| columns.record()).collect();
    excitation(&axis(&records, NOISE), wanted, None).unwrap()
}

fn names(refused: &[Refused]) -> Vec<P> {
    refused.iter().map(|refused| refused.parameter).collect()
}

/// Slow ramps of a free motor: friction makes hardly more than the sign of a current, and that is what a drop of the brushes
/// looks like. A held shaft with several levels tells both.
#[test]
fn resistance_is_not_told_by_a_sweep_without_load() {
    let ramp: Vec<f64> = (0..20_000).map(|k| 0.9 * (f64::from(k) / 20_000.0)).collect();
    let sweep = MIDDLING.play(&ramp, false, &reading(2000.0));
    let found = refused(&[&sweep], &[P::Resistance, P::Constant]);
    assert_eq!(names(&found), [P::Resistance]);
    assert_eq!(found[0].carried_by, Carries::LockedLevels);
    assert!(found[0].remedy.contains("hold the shaft"), "{}", found[0].remedy);
    assert!(found[0].says.contains("no current is above"), "{}", found[0].says);
    let locked = MIDDLING.play(&held(&[0.1, 0.3, -0.2, -0.3], 500), true, &reading(2000.0));
    assert_eq!(names(&refused(&[&sweep, &locked], &[P::Resistance, P::Constant])), []);
    assert_eq!(names(&refused(&[&locked], &[P::Resistance])), []);
}

/// L/R is 0.34 ms: steps in rows of 0.1 ms tell it, in rows of 5 ms nothing does.
#[test]
fn inductance_needs_rows_in_its_time_constant() {
    let steps =
        |rate: f64| MIDDLING.play(&held(&[0.1, 0.3, -0.2, -0.3, 0.2, 0.0], 200), true, &reading(rate));
    assert_eq!(names(&refused(&[&steps(10_000.0)], &[P::Inductance])), []);
    let found = refused(&[&steps(200.0)], &[P::Inductance]);
    assert_eq!(names(&found), [P::Inductance]);
    assert_eq!(found[0].carried_by, Carries::LockedSteps);
}

/// One speed of one sense: the friction of that speed is known, and not what of it grows with speed. Its inertia is not
/// either where the record begins on the way.
#[test]
fn friction_and_inertia_need_speeds_that_differ() {
    let wanted = [P::Inertia, P::CoulombFriction, P::ViscousFriction];
    let constant = Some(MIDDLING.constant);
    let whole = MIDDLING.play(&held(&[0.6], 8000), false, &reading(2000.0));
    let steady = Columns {
        voltage: whole.voltage[1000..].to_vec(),
        current: whole.current[1000..].to_vec(),
        angle: whole.angle[1000..].to_vec(),
        ..whole.clone()
    };
    let records = [steady.record()];
    let found = excitation(&axis(&records, NOISE), &wanted, constant).unwrap();
    assert_eq!(names(&found), wanted);
    assert_eq!(found[0].carried_by, Carries::SpeedSteps);
    assert_eq!(found[2].carried_by, Carries::SpeedLevels);
    assert!(found[2].condition > 30.0 && found[2].says.contains("speeds lie between"), "{}", found[2].says);
    let levels = MIDDLING.play(&held(&[0.3, 0.9, -0.3, -0.9, 0.5, -0.6], 2000), false, &reading(2000.0));
    let records = [levels.record()];
    assert_eq!(names(&excitation(&axis(&records, NOISE), &wanted, constant).unwrap()), []);
}

#[test]
fn what_no_record_has_is_refused() {
    let locked = MIDDLING.play(&held(&[0.1, 0.3, -0.2, -0.3], 500), true, &reading(2000.0));
    let found = refused(&[&locked], &[P::Constant, P::Inertia, P::LoadInertia, P::StaticExtra]);
    assert_eq!(names(&found), [P::Constant, P::Inertia, P::LoadInertia]);
    assert!(found[0].says.contains("turns in no record"), "{}", found[0].says);
    assert_eq!(found[2].carried_by, Carries::CoupledSteps);
}

//! What the model does in the records, to be laid over them.

use crate::estimate::Identified;
use crate::model::plant::{Plant, Slopes, Values};
use crate::model::walk::Walk;
use crate::parameter::Parameter;
use crate::prepared::Prepared;
use crate::record::{Axis, Unusable};
use pulp::Scalar;

/// The course of the model in one record, row by row; NaN in rows that are no use.
#[derive(Clone, PartialEq, Debug)]
pub struct Replay {
    /// Current as its sensor would show it, A.
    pub current: Vec<f64>,
    /// Speed of the motor shaft, rad/s.
    pub speed: Vec<f64>,
}

/// Plays the records with what was found, and with what was known beforehand. A run of rows that does not begin at rest
/// begins as it was read.
///
/// # Errors
/// Records that cannot be used, or figures that the model cannot take.
pub fn replay(
    axis: &Axis<'_>,
    found: &Identified,
    known: &[(Parameter, f64)],
) -> Result<Vec<Replay>, Unusable> {
    axis.check()?;
    let mut values = Values::none();
    // What nobody asked for does not act: the shaft was held.
    [Parameter::Constant, Parameter::Inertia].into_iter().for_each(|parameter| values.set(parameter, 1.0));
    known.iter().for_each(|(parameter, value)| values.set(*parameter, *value));
    found.estimates.iter().for_each(|estimate| values.set(estimate.parameter, estimate.value));
    Prepared::all(axis).iter().map(|prepared| of_record(prepared, &values)).collect()
}

fn of_record(prepared: &Prepared<'_>, values: &Values) -> Result<Replay, Unusable> {
    let plant = Plant::of(prepared, values);
    if !plant.is_possible() {
        let what = "set of figures that were found";
        return Err(Unusable::Figure { what, value: f64::NAN, must: "one that a drive can have" });
    }
    let rows = prepared.record.rows();
    let mut replay = Replay { current: vec![f64::NAN; rows], speed: vec![f64::NAN; rows] };
    let lanes = [Slopes::default()];
    let window =
        (0.5 * plant.slow_time() / prepared.usual_step()).clamp(1.0, (rows / 50).max(1) as f64) as usize;
    for run in &prepared.runs {
        let rests = prepared.record.trial.from_rest && run.start == 0;
        let start =
            if rests { (0.0, 0.0) } else { prepared.state_about(run.start, window, plant.current_offset) };
        let mut walk = Walk::<1>::new(&plant, &lanes, prepared.usual_step(), start);
        for row in run.start..=run.end {
            replay.current[row] = walk.state.current + plant.current_offset;
            replay.speed[row] = walk.state.speed;
            if row < run.end {
                let duty = prepared.duty.as_deref().map_or(0.0, |duty| duty[row]);
                let (voltage, step) = (prepared.voltage[row], prepared.step(row));
                match plant.bends() {
                    true => walk.go::<Scalar, true>(Scalar::new(), voltage, duty, step),
                    false => walk.go::<Scalar, false>(Scalar::new(), voltage, duty, step),
                }
            }
        }
    }
    Ok(replay)
}

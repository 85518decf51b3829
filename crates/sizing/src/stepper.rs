//! What is asked of an axis with a stepper: the torque of its motion against pull-out, and what its gearbox carries.

use crate::axis::SizedAxis;
use crate::question::Question;
use bench::Bench;
use bench::model::Axis;
use drive::assembly::{Mechanism, StepperAxis};
use worked::Worked;

/// An axis with a stepper; `None` where it has none.
pub(crate) fn sized(bench: &Bench, axis: &Axis) -> Option<SizedAxis> {
    let stepper = StepperAxis::of(bench, axis)?;
    let (mut questions, mut not_stated) = (Vec::new(), Vec::new());
    let put = |id, what: &str, value: Worked, limit: Worked, advice| {
        Question::of(id, &axis.name, what, value.must_stay_below(limit), advice)
    };
    match (stepper.torque_needed(), stepper.step_rate()) {
        (Some(needed), Some(rate)) => {
            let advice =
                "ramp more gently, run slower, raise the current or the voltage, or take a larger motor";
            let what = "torque at top speed against pull-out";
            questions.push(match stepper.pull_out_torque(&rate) {
                Some(pulls) => put("torque", what, needed, pulls, advice),
                None => {
                    let path = stepper.part.path_of("pull_out");
                    Question::without("torque", &axis.name, what, path, advice)
                }
            });
        }
        _ => {
            let key = if axis.load.is_none() { "load" } else { "moves" };
            let path = axis.entry.path_of(key);
            let what = "a motion and a load to size for";
            questions.push(Question::without("motion", &axis.name, what, path, "plan a motion"));
        }
    }
    let mechanism = Mechanism::of(axis);
    if let (Some(gearbox), Some(rms)) = (&axis.gearbox, mechanism.rms_gearbox_torque()) {
        let rating = gearbox.continuous_torque();
        if rating.is_missing() {
            not_stated.push(format!("gearbox over the cycle (`{}`)", gearbox.path_of("continuous_torque")));
        } else {
            let advice = "accelerate less, rest longer, or take a stronger gearbox";
            questions.push(put("gear-cycle", "gearbox over the cycle, rms", rms, rating, advice));
        }
    }
    Some(SizedAxis {
        name: axis.name.to_string(),
        motion: axis.motion.as_ref().map(|(name, _)| name.to_string()),
        questions,
        not_stated,
        course: Err(
            "a stepper takes its set current whatever it moves, so there is no course of its current"
                .to_owned(),
        ),
        dc: None,
    })
}

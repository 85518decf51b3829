//! What the bench wants of an axis, at the motor shaft.

use crate::axis::{CannotTune, Seen};
use crate::design::Wanted;
use bench::model::Axis;
use drive::load::{Load, shaft_angle};
use std::f64::consts::TAU;
use worked::Dimension;

impl Wanted {
    /// The requirements of an axis that concern its loops.
    ///
    /// # Errors
    /// Where one cannot be brought to the motor shaft, or what it speaks of is missing.
    pub fn of(axis: &Axis, seen: &Seen) -> Result<Self, CannotTune> {
        let asked = axis.requirements();
        let of = |key: &str, figure: worked::Worked| asked.has(key).then(|| figure.value());
        let missing = |what: String| CannotTune::Missing { axis: seen.name.clone(), what };
        let following = match asked.has("following_error") {
            false => None,
            true => {
                let Some(motion) = &seen.dc.motion else {
                    return Err(missing(format!(
                        "{} (a motion: the following error is asked for, and no motion says of what)",
                        axis.entry.path_of("moves")
                    )));
                };
                let error = asked.following_error();
                let travel = seen.dc.load.as_ref().and_then(Load::travel);
                let angle = match (error.dimension(), travel) {
                    (Dimension::ANGLE, _) => error,
                    (_, Some(travel)) => shaft_angle(error, travel),
                    _ => {
                        return Err(missing(format!(
                            "{} as an angle: its load goes along no way",
                            asked.path_of("following_error")
                        )));
                    }
                };
                let (angle, rate) = (angle.value() * seen.ratio, motion.acceleration.value() * seen.ratio);
                if !(angle.is_finite() && rate.is_finite()) {
                    return Err(missing(format!("the acceleration of its motion, `{}`", motion_path(axis))));
                }
                Some((angle, rate))
            }
        };
        let ratio = seen.ratio;
        Ok(Self {
            rise: of("rise_time", asked.rise_time()),
            overshoot: of("overshoot", asked.overshoot()),
            settling: of("settling_time", asked.settling_time()),
            bandwidth: of("bandwidth", asked.bandwidth()).map(|frequency| TAU * frequency),
            following,
            // A torque of the load is smaller at the motor, and its angle is larger there.
            stiffness: of("stiffness", asked.stiffness()).map(|stiffness| stiffness / (ratio * ratio)),
        })
    }
}

fn motion_path(axis: &Axis) -> String {
    axis.motion.as_ref().map_or_else(|| "motions".to_owned(), |(name, _)| format!("motions.{name}"))
}

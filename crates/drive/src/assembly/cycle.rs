//! The cycle that an axis repeats: its motion there, the rest, and back where it goes back.

use super::load::MotionAtShaft;
use super::load::at_shaft;
use crate::load::{Load, shaft_acceleration, shaft_speed};
use crate::motion::{Phase, SCurve, Sine, Trapezoid};
use bench::file::{self, LoadKind, MotionKind, Then};
use bench::model::Axis;
use worked::{Number, Origin, Worked};

/// In which sense a stretch of the cycle runs.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Sense {
    /// The sense that counts as positive.
    Forward,
    /// The other one.
    Back,
    /// It stands.
    Rest,
}

/// A stretch of the cycle at the shaft that drives the load, counted in the sense in which it runs.
#[derive(Clone, Debug)]
pub struct Stretch {
    /// Sense.
    pub sense: Sense,
    /// Acceleration, speeds and time.
    pub phase: Phase<Worked>,
}

/// The cycle of an axis; empty where no motion is planned. Motions by points count as full acceleration at top
/// speed all the time, which is an upper bound for whatever is worked from them.
pub(super) fn cycle(
    axis: &Axis,
    load: Option<&Load<Worked>>,
    at_shaft_figures: Option<&MotionAtShaft>,
) -> Vec<Stretch> {
    let Some((_, motion)) = axis.motion.as_ref() else { return Vec::new() };
    let phases = match motion.kind().value {
        Some(MotionKind::Trapezoid) => trapezoid(motion).phases().to_vec(),
        Some(MotionKind::SCurve) => s_curve(motion).phases().to_vec(),
        Some(MotionKind::Sine) => sine(motion).phases().to_vec(),
        Some(MotionKind::Hold) => return vec![rest(for_ever())],
        Some(MotionKind::Constant | MotionKind::Points | MotionKind::File) | None => {
            let Some(figures) = at_shaft_figures else { return Vec::new() };
            vec![Phase {
                acceleration: figures.acceleration.clone(),
                from: figures.speed.clone(),
                to: figures.speed.clone(),
                time: for_ever(),
            }]
        }
    };
    let travel = load.and_then(Load::travel);
    let phases: Vec<Phase<Worked>> = phases
        .into_iter()
        .map(|phase| Phase {
            acceleration: at_shaft(phase.acceleration, travel.as_ref(), shaft_acceleration),
            from: at_shaft(phase.from, travel.as_ref(), shaft_speed),
            to: at_shaft(phase.to, travel.as_ref(), shaft_speed),
            time: phase.time,
        })
        .collect();
    let mut cycle = Vec::new();
    let mut run = |sense| {
        cycle.extend(phases.iter().map(|phase| Stretch { sense, phase: phase.clone() }));
        if motion.has("dwell") {
            cycle.push(rest(motion.dwell()));
        }
    };
    run(Sense::Forward);
    // Without anything that acts one way the way back is the same again, and changes no effective value.
    if goes_back(motion) && axis.load.as_ref().is_some_and(|carried| acts_one_way(&carried.load)) {
        run(Sense::Back);
    }
    cycle
}

/// Time from the start of one move of an axis to the start of the next; `None` where the motion has no such time.
pub fn cycle_time(axis: &Axis) -> Option<Worked> {
    let (_, motion) = axis.motion.as_ref()?;
    Some(match motion.kind().value? {
        MotionKind::Trapezoid => trapezoid(motion).cycle_time(),
        MotionKind::SCurve => s_curve(motion).cycle_time(),
        MotionKind::Sine => sine(motion).cycle_time(),
        _ => return None,
    })
}

/// Whether a motion runs in both senses.
pub fn goes_back(motion: &file::Motion) -> bool {
    match motion.kind().value {
        Some(MotionKind::Sine) => true,
        Some(MotionKind::Constant | MotionKind::Hold) => false,
        _ => motion.then().is(Then::Back),
    }
}

/// Whether anything of a load acts in one sense whatever the motion: gravity, a working force, a weight.
pub fn acts_one_way(load: &file::Load) -> bool {
    match load.kind().value {
        Some(LoadKind::Arm | LoadKind::Drum) => true,
        Some(LoadKind::Wheels | LoadKind::Screw | LoadKind::Belt) => {
            load.has("slope") || load.has("working_force")
        }
        Some(LoadKind::Disc) => load.has("unbalance"),
        Some(LoadKind::Constant) | None => load.acts().is(file::ConstantWay::OneWay),
    }
}

fn trapezoid(motion: &file::Motion) -> Trapezoid<Worked> {
    Trapezoid {
        distance: motion.distance(),
        top_speed: motion.top_speed(),
        acceleration: motion.acceleration(),
        deceleration: if motion.has("deceleration") { motion.deceleration() } else { motion.acceleration() },
        dwell: super::or_zero(motion, "dwell", "s"),
    }
}

fn s_curve(motion: &file::Motion) -> SCurve<Worked> {
    SCurve {
        distance: motion.distance(),
        top_speed: motion.top_speed(),
        acceleration: motion.acceleration(),
        jerk: motion.jerk(),
        dwell: super::or_zero(motion, "dwell", "s"),
    }
}

fn sine(motion: &file::Motion) -> Sine<Worked> {
    Sine { amplitude: motion.amplitude(), frequency: motion.frequency() }
}

fn rest(time: Worked) -> Stretch {
    let still = || crate::constants::zero::<Worked>("rad/s");
    let phase = Phase { acceleration: crate::constants::zero("rad/s²"), from: still(), to: still(), time };
    Stretch { sense: Sense::Rest, phase }
}

/// Time of the only stretch of a cycle: it cancels.
fn for_ever() -> Worked {
    Worked::known(1.0, "s", "t", "time of the only stretch", Origin::standard("definition"))
}

//! Load and motion of an axis, at the shaft that drives them.

use super::course::{course, measures};
use super::or_zero;
use crate::gear::estimated_back_efficiency;
use crate::load::{Arm, Load, Turning, Way, disc_inertia, shaft_acceleration, shaft_speed};
use crate::motion::course::Course;
use bench::file::{self, LoadKind, MotionKind};
use bench::model::{Axis, Carried};
use worked::{Dimension, Input, Number, Origin, Worked};

/// Largest inertia of a load over that of rotor and gear that a loop still holds well.
pub fn largest_inertia_ratio() -> Worked {
    let origin = Origin::common_practice("3 to 5 for crisp loops");
    Worked::known(10.0, "", "λ_max", "largest inertia ratio", origin)
}

/// A motion as the shaft that drives the load sees it.
#[derive(Clone, Debug)]
pub struct MotionAtShaft {
    /// Highest speed, rad/s.
    pub speed: Worked,
    /// Largest acceleration, rad/s².
    pub acceleration: Worked,
    /// Largest deceleration, rad/s².
    pub deceleration: Worked,
    /// Time of the stop from the highest speed, s.
    pub stop_time: Worked,
}

/// The share of a load that one axis carries.
pub fn load(carried: &Carried) -> Load<Worked> {
    let whole = whole(&carried.load);
    if carried.shared_by > 1 { whole.shared(Worked::from(carried.shared_by as f64)) } else { whole }
}

fn whole(load: &file::Load) -> Load<Worked> {
    let way = |travel: Worked, inertia: Worked| way(load, travel, inertia);
    match load.kind().value {
        Some(LoadKind::Wheels) => {
            let wheels = if load.has("driven_wheels") { load.driven_wheels() } else { 1.0.into() };
            let wheels = wheels * or_zero(load, "wheel_inertia", "kg·m²/rad²");
            Load::Wheels(way(load.wheel_radius(), wheels))
        }
        Some(LoadKind::Screw) => Load::Screw(way(load.lead(), or_zero(load, "screw_inertia", "kg·m²/rad²"))),
        Some(LoadKind::Belt) => {
            Load::Belt(way(load.pulley_radius(), or_zero(load, "pulley_inertia", "kg·m²/rad²")))
        }
        Some(LoadKind::Drum) => {
            Load::Drum(way(load.drum_radius(), or_zero(load, "pulley_inertia", "kg·m²/rad²")))
        }
        Some(LoadKind::Arm) => {
            let arm = load.mass() * load.centre_of_mass().squared();
            let inertia = if load.has("inertia") {
                load.inertia()
            } else {
                arm.called("inertia about the pivot", "J_L")
            };
            Load::Arm(Arm {
                counterbalance: or_zero(load, "counterbalance", "N·m"),
                friction_torque: or_zero(load, "friction_torque", "N·m"),
                viscous_friction: or_zero(load, "viscous_friction", "N·m·s/rad"),
                ..Arm::new(load.mass(), load.centre_of_mass(), inertia)
            })
        }
        Some(LoadKind::Disc) => {
            Load::Disc(Turning { torque: or_zero(load, "unbalance", "N·m"), ..turning(load) })
        }
        Some(LoadKind::Constant) | None => Load::Constant(constant(load)),
    }
}

fn way(load: &file::Load, travel: Worked, own_inertia: Worked) -> Way<Worked> {
    let efficiency = if load.has("efficiency") { load.efficiency() } else { 1.0.into() };
    let back_efficiency = match (load.has("back_efficiency"), load.has("efficiency")) {
        (true, _) => load.back_efficiency(),
        (false, true) => estimated_back_efficiency(load.efficiency()),
        (false, false) => 1.0.into(),
    };
    let drag = or_zero(load, "friction_torque", "N·m");
    let preload = or_zero(load, "preload_torque", "N·m");
    Way {
        slope: slope(load),
        rolling_resistance: or_zero(load, "rolling_resistance", ""),
        friction_force: or_zero(load, "friction_force", "N"),
        working_force: or_zero(load, "working_force", "N"),
        inertia: own_inertia + or_zero(load, "inertia", "kg·m²/rad²"),
        friction_torque: drag + preload,
        viscous_friction: or_zero(load, "viscous_friction", "N·m·s/rad"),
        efficiency,
        back_efficiency,
        ..Way::new(travel, load.mass())
    }
}

/// Slope of the way; a drum lifts straight up where nothing else is said.
fn slope(load: &file::Load) -> Worked {
    if load.has("slope") {
        load.slope()
    } else if load.kind().is(LoadKind::Drum) {
        crate::constants::turn::<Worked>() / 4.0
    } else {
        crate::constants::zero("rad")
    }
}

fn turning(load: &file::Load) -> Turning<Worked> {
    let even_disc = load.has("radius") && load.has("mass");
    let inertia = match (load.has("inertia"), even_disc) {
        (true, true) => load.inertia() + even(load),
        (false, true) => even(load),
        _ => load.inertia(),
    };
    Turning {
        friction_torque: or_zero(load, "friction_torque", "N·m"),
        viscous_friction: or_zero(load, "viscous_friction", "N·m·s/rad"),
        ..Turning::new(inertia)
    }
}

/// Inertia of an even disc; its radius is a length in the file and stands here for an angle.
fn even(load: &file::Load) -> Worked {
    disc_inertia(load.mass(), load.radius() / crate::constants::radian::<Worked>())
}

fn constant(load: &file::Load) -> Turning<Worked> {
    let mut turning = Turning {
        friction_torque: or_zero(load, "friction_torque", "N·m"),
        viscous_friction: or_zero(load, "viscous_friction", "N·m·s/rad"),
        ..Turning::new(or_zero(load, "inertia", "kg·m²/rad²"))
    };
    if load.acts().is(file::ConstantWay::OneWay) {
        turning.torque = load.torque();
    } else {
        turning.friction_torque = turning.friction_torque + load.torque();
    }
    turning
}

/// The motion of an axis at the shaft that drives its load. `None` where none is planned, or where its top
/// speed and acceleration do not follow from its figures.
pub fn motion_at_shaft(axis: &Axis) -> Option<MotionAtShaft> {
    let (_, motion) = axis.motion.as_ref()?;
    let travel = axis.load.as_ref().map(load).and_then(|l| l.travel());
    let (speed, acceleration, deceleration) = match motion.kind().value? {
        MotionKind::Sine => sine(motion),
        MotionKind::Constant => (motion.top_speed(), None, None),
        MotionKind::Hold => return None,
        MotionKind::Points => through_points(motion),
        MotionKind::Trapezoid | MotionKind::SCurve | MotionKind::File => {
            let acceleration = motion.acceleration();
            let deceleration = motion.has("deceleration").then(|| motion.deceleration());
            (motion.top_speed(), Some(acceleration), deceleration)
        }
    };
    let speed = at_shaft(speed, travel.as_ref(), shaft_speed);
    let still = || crate::constants::zero::<Worked>("rad/s²");
    let acceleration = acceleration.map_or_else(still, |a| at_shaft(a, travel.as_ref(), shaft_acceleration));
    let deceleration = deceleration
        .map_or_else(|| acceleration.clone(), |a| at_shaft(a, travel.as_ref(), shaft_acceleration));
    let stop_time = (&speed / &deceleration).called("time of the stop", "t_stop");
    Some(MotionAtShaft { speed, acceleration, deceleration, stop_time })
}

/// What the file gives of a motion by points; where it gives no top speed or acceleration, the highest that the smooth
/// curve through its points has, at their nominal values.
fn through_points(motion: &file::Motion) -> (Worked, Option<Worked>, Option<Worked>) {
    let peaks = match course(motion, Worked::value) {
        Ok(Course::Points(curve)) => Some(curve.peaks()),
        _ => None,
    };
    let figure = |key: &str, stated: Worked, peak: Option<f64>| match (stated.as_input(), peak) {
        (Some(input), Some(peak)) if !motion.has(key) && peak.is_finite() => {
            let dimension = match (measures(motion), key) {
                (Dimension::LENGTH, "top_speed") => Dimension::SPEED,
                (Dimension::LENGTH, _) => Dimension::ACCELERATION,
                (_, "top_speed") => Dimension::ANGULAR_SPEED,
                (_, _) => Dimension::ANGULAR_ACCELERATION,
            };
            Input::new(&input.path, &input.name, &input.symbol, dimension)
                .value(peak)
                .origin(Origin::computed("the smooth curve through the points, at their nominal values"))
                .worked()
        }
        _ => stated,
    };
    let speed = figure("top_speed", motion.top_speed(), peaks.map(|peaks| peaks.0));
    let acceleration = figure("acceleration", motion.acceleration(), peaks.map(|peaks| peaks.1));
    (speed, Some(acceleration), motion.has("deceleration").then(|| motion.deceleration()))
}

fn sine(motion: &file::Motion) -> (Worked, Option<Worked>, Option<Worked>) {
    // 2π·f of the swing is a rate of its phase; the phase is no angle of the shaft, so it counts as a number.
    let rate = std::f64::consts::TAU * motion.frequency();
    let amplitude = motion.amplitude();
    let speed = (&amplitude * &rate).called("highest speed of the swing", "v");
    let acceleration = (amplitude * rate.squared()).called("largest acceleration of the swing", "a");
    (speed, Some(acceleration), None)
}

/// A figure along the way as one of the shaft; one that is an angle already stays.
pub(super) fn at_shaft(
    figure: Worked,
    travel: Option<&Worked>,
    convert: fn(Worked, Worked) -> Worked,
) -> Worked {
    let along_a_way = matches!(figure.dimension(), Dimension::SPEED | Dimension::ACCELERATION);
    match travel {
        Some(travel) if along_a_way => convert(figure, travel.clone()),
        // A way without a mechanism that turns it into an angle: the datum that is missing is the travel.
        None if along_a_way => {
            let travel = Input::new(
                "loads.travel",
                "travel for an angle of the driving shaft",
                "r",
                Dimension::TRAVEL_PER_ANGLE,
            );
            convert(figure, travel.missing(1e-5, 10.0).worked())
        }
        _ => figure,
    }
}

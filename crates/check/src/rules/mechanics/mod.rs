//! Rules of the group `Group::Mechanics`, in the order of the trade's list.

mod backlash;
mod end_stop_against_gear;
mod end_stop_energy;
mod exact_ratio;
mod gear_continuous_torque;
mod gear_input_speed;
mod gear_peak_torque;
mod inertia_ratio;
mod motor_top_speed;
mod resolution;
mod resonance;
mod shaft_axial_load;
mod shaft_joint;
mod shaft_joint_form;
mod shaft_joint_mark;
mod shaft_radial_load;
mod speed_margin;
mod torque_margin;
mod unpowered_hold;
mod wheel_grip;

use crate::rule::Rule;
use crate::ruling::Ruling;
use bench::file::Controls;
use bench::model::Axis;
use bench::part::Shaft;
use drive::assembly::Mechanism;
use drive::load::Load;
use finding::Harm;
use worked::{Dimension, Worked};

pub(super) const RULES: &[Rule] = &[
    gear_peak_torque::RULE,
    gear_continuous_torque::RULE,
    gear_input_speed::RULE,
    motor_top_speed::RULE,
    shaft_radial_load::RULE,
    shaft_axial_load::RULE,
    torque_margin::RULE,
    wheel_grip::RULE,
    speed_margin::RULE,
    inertia_ratio::RULE,
    unpowered_hold::RULE,
    end_stop_energy::RULE,
    end_stop_against_gear::RULE,
    resolution::RULE,
    backlash::RULE,
    exact_ratio::RULE,
    shaft_joint::RULE,
    shaft_joint_form::RULE,
    shaft_joint_mark::RULE,
    resonance::RULE,
];

/// The shaft that the load sits on: that of the gearbox, or of the motor where there is none.
fn output_shaft(axis: &Axis) -> Option<(&'static str, Shaft)> {
    if let Some(gearbox) = &axis.gearbox {
        return Some(("gearbox", gearbox.shaft()));
    }
    let motor = axis.motor().map(|motor| ("motor", motor.shaft()));
    motor.or_else(|| axis.stepper().map(|stepper| ("stepper", stepper.shaft())))
}

/// What is asked of the place of the load, with the key that asks it: the tolerance, or the following error where
/// only that is given. `None` where no place is asked for.
fn place_asked(axis: &Axis) -> Option<(&'static str, Worked)> {
    let asked = axis.requirements();
    if asked.has("tolerance") {
        Some(("tolerance", asked.tolerance()))
    } else if asked.has("following_error") {
        Some(("following_error", asked.following_error()))
    } else if axis.entry.controls().is(Controls::Position) {
        Some(("tolerance", asked.tolerance()))
    } else {
        None
    }
}

/// An angle of the load's shaft in the kind that a requirement is given in: a way where that is a length. `None`
/// where the load has no way to convert with.
fn as_asked(angle: Worked, asked: &Worked, mechanism: &Mechanism) -> Option<Worked> {
    match (asked.dimension(), mechanism.load.as_ref().and_then(Load::travel)) {
        (Dimension::ANGLE, _) => Some(angle),
        (_, Some(travel)) => Some(angle * travel),
        _ => None,
    }
}

/// Says that a requirement is a length where the load only turns.
fn not_an_angle(axis: &Axis, key: &str, ruling: &mut Ruling<'_>) {
    ruling
        .fact(axis.path(), false)
        .blocker(Harm::Function)
        .says(format!(
            "axis `{}`: `{key}` is a length, but its load only turns; give it as an angle, such as `0.5 deg`",
            axis.name
        ))
        .at(axis.requirements().path_of(key))
        .done();
}

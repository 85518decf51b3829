//! The step that acceptance uses stays clear of the limits of voltage and current.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::wanted::wanted_gain;
use drive::control::{largest_linear_step, step_headroom};
use drive::load::shaft_speed;
use finding::Harm;
use worked::{Dimension, Number};

rule!("acceptance-step-stays-linear", row "Linear range", Control, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let (Some(gain), Some(motion)) = (wanted_gain(axis, dc), &dc.motion) else { continue };
        let Some(limit) = axis.limits().into_iter().map(|limit| limit.threshold).reduce(Number::at_most)
        else {
            continue;
        };
        let (name, wanted) = (&axis.name, axis.requirements());
        // A step is tried around half of the top speed.
        let armature = dc.armature();
        let speed = (dc.gear.input_speed(motion.speed.clone()) / 2.0)
            .called("speed around which the step is tried", "ω_½");
        let current = armature.current(0.0.into(), speed.clone());
        let taken = armature.voltage(current.clone(), speed);
        let bus = &dc.duty_limit * &dc.power.open_voltage;
        let headroom = step_headroom(bus, taken, armature.resistance.clone(), limit, current);
        let largest = dc.gear.output_speed(largest_linear_step(headroom, gain));
        if !wanted.has("step") {
            ruling
                .fact(axis.path(), false)
                .note(Harm::Function)
                .says(format!("axis `{name}`: no step is stated for acceptance; up to {} at the load shaft stays clear of the limits", largest.text()))
                .at(wanted.path_of("step"))
                .with(largest)
                .or_do(format!("state a smaller one: [{}.requirements] step = \"…\"", axis.path()))
                .done();
            continue;
        }
        let step = wanted.step();
        let at_shaft = match (step.dimension(), dc.load.as_ref().and_then(|load| load.travel())) {
            (Dimension::SPEED, Some(travel)) => shaft_speed(step, travel),
            (Dimension::ANGULAR_SPEED, _) => step,
            // A step of the position is no step of the speed loop.
            _ => continue,
        };
        ruling
            .judge(axis.path(), at_shaft.must_stay_below(largest))
            .note(Harm::Function)
            .says(format!("axis `{name}`: the step for acceptance, {{value}} at the load shaft, runs into a limit; {{limit}} stays clear"))
            .at(wanted.path_of("step"))
            .because("a step that saturates measures the limit and not the loop")
            .or_do("state a smaller step for acceptance")
            .done();
    }
}

//! A stepper must not dwell at the step rate that excites its resonance.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::stepper::detuning;
use finding::Harm;
use worked::{Dimension, Input, Number, Origin, Worked};

rule!("stepper-off-resonance", row "Resonance crossing", SteppersAndServos, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, stepper) in view.steppers() {
        let Some(rate) = stepper.step_rate() else {
            ruling.missing(axis.path(), &[&axis.entry.path_of("moves")]).weakness(Harm::Function).done();
            continue;
        };
        // Small steps leave little of the swing that a full step makes.
        let fine = Worked::known(
            8.0,
            "",
            "µ_min",
            "micro-steps that calm the resonance",
            Origin::common_practice(""),
        );
        let steps = if axis.entry.has("microsteps") { axis.entry.microsteps() } else { one(axis) };
        let apart = Worked::known(
            0.2,
            "",
            "k_res",
            "distance to keep from the resonance",
            Origin::common_practice("20 %"),
        );
        // What fine micro-steps calm may be passed at any rate.
        let needed =
            Number::when_below(steps, fine, apart, Worked::from(0.0)).called("distance to keep", "k_res");
        let resonance = stepper.resonance();
        let name = &axis.name;
        ruling
            .judge(axis.path(), detuning(rate.clone(), resonance.clone()).shown_in("%").must_stay_above(needed))
            .weakness(Harm::Function)
            .says(format!(
                "axis `{name}`: its top speed lies {{value}} of the resonance away from it; {{limit}} is wanted in full and coarse steps"
            ))
            .because("at the resonance the rotor swings more with each step until it falls out")
            .with(rate)
            .with(resonance)
            .or_do("run faster or slower, use 8 micro-steps or more, or fit a damper")
            .done();
    }
}

fn one(axis: &bench::model::Axis) -> Worked {
    Input::new(&axis.entry.path_of("microsteps"), "micro-steps for one full step", "µ", Dimension::NONE)
        .value(1.0)
        .origin(Origin::assumed("full steps, as none are given"))
        .worked()
}

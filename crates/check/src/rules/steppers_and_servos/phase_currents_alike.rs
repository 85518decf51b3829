//! Both phases of a stepper must be held at the same current.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::stepper::{mismatch, mismatch_angle, teeth};
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("phase-currents-alike", row "Phase current vs bridges", SteppersAndServos, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, stepper) in view.steppers() {
        let name = &axis.name;
        let [a, b] = stepper.phases.as_slice() else {
            ruling
                .fact(axis.path(), false)
                .blocker(Harm::Function)
                .says(format!(
                    "axis `{name}`: a stepper has two phases, and {} bridges drive it",
                    stepper.phases.len()
                ))
                .at(axis.entry.path_of("phases"))
                .or_do("name a channel for each phase: `phases = { a = \"…\", b = \"…\" }`")
                .done();
            continue;
        };
        let most = Worked::known(
            0.05,
            "",
            "ε_ph",
            "difference of the phase currents that goes",
            Origin::common_practice("5 %"),
        );
        let (in_a, in_b) = (a.standstill_current.clone(), b.standstill_current.clone());
        let turn = drive::constants::turn::<Worked>();
        let angle = mismatch_angle(in_a.clone(), in_b.clone(), teeth(stepper.part.steps_per_rev() * turn));
        ruling
            .judge(axis.path(), mismatch(in_a, in_b).shown_in("%").must_stay_below(most))
            .blocker(Harm::Function)
            .says(format!(
                "axis `{name}`: the currents that `{}` and `{}` let through its phases differ by {{value}}; {{limit}} goes",
                a.used.channel.name(),
                b.used.channel.name()
            ))
            .because("unequal phases make uneven steps: every second one is short")
            .with(angle)
            .or_do("give both bridges the same setting, and check it with a meter in each phase")
            .done();
    }
}

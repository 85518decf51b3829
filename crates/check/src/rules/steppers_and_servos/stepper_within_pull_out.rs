//! The torque that a motion asks of a stepper must stay within half of its pull-out torque.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("stepper-within-pull-out", row "Pull-out", SteppersAndServos, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, stepper) in view.steppers() {
        let name = &axis.name;
        let (Some(needed), Some(rate)) = (stepper.torque_needed(), stepper.step_rate()) else {
            let key = if axis.load.is_none() { "load" } else { "moves" };
            ruling.missing(axis.path(), &[&axis.entry.path_of(key)]).blocker(Harm::Function).done();
            continue;
        };
        let Some(torque) = stepper.pull_out_torque(&rate) else {
            ruling.missing(axis.path(), &[&stepper.part.path_of("pull_out")]).blocker(Harm::Function).done();
            continue;
        };
        let part = Worked::known(
            0.5,
            "",
            "k_po",
            "part of the pull-out torque that is used",
            Origin::common_practice("half"),
        );
        ruling
            .judge(axis.path(), needed.must_stay_below((part * torque).called("torque that may be used", "k_po·M_po")))
            .blocker(Harm::Function)
            .says(format!(
                "axis `{name}`: accelerating at top speed takes {{value}} at the motor; half of its pull-out torque there is {{limit}}"
            ))
            .at(stepper.part.path_of("pull_out"))
            .because("beyond the pull-out torque it falls out of step, stands and hums, and the count goes on")
            .with(rate)
            .or_do("ramp more gently, run slower, raise the current or the voltage, or take a larger motor")
            .done();
    }
}

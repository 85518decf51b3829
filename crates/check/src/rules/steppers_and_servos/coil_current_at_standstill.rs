//! At standstill no coil may carry more than it is made for.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;

rule!("coil-current-at-standstill", row "Constant-voltage drive", SteppersAndServos, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, stepper) in view.steppers() {
        let name = &axis.name;
        for phase in &stepper.phases {
            let channel = phase.used.channel.name();
            let how = if phase.chopper.is_some() {
                "its chopper lets"
            } else {
                "no chopper holds it, so the voltage drives"
            };
            ruling
                .judge(axis.path(), phase.standstill_current.clone().must_stay_below(stepper.part.phase_current()))
                .blocker(Harm::Parts)
                .says(format!(
                    "axis `{name}`: at standstill {{value}} flow in the phase on bridge `{channel}` ({how} that through); the coil is made for {{limit}}"
                ))
                .because("the coil burns at standstill, while everything looks at rest")
                .or_do("set the chopper to the rated current, or use a supply of no more than current times resistance")
                .done();
        }
    }
}

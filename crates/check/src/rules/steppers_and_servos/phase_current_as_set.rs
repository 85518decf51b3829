//! Each bridge of a stepper must be set to the current that is wanted in its phase.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::stepper::mismatch;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("phase-current-as-set", row "Phase current vs bridges", SteppersAndServos, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, stepper) in view.steppers() {
        let name = &axis.name;
        for phase in &stepper.phases {
            let channel = phase.used.channel.name();
            // Without a chopper the voltage sets the current, which is a rule of its own.
            let Some(chopper) = &phase.chopper else { continue };
            let most = Worked::known(
                0.05,
                "",
                "ε_set",
                "deviation of a phase current that goes",
                Origin::common_practice("5 %"),
            );
            let off = mismatch(stepper.set_current.clone(), chopper.threshold.clone()).shown_in("%");
            ruling
                .judge(axis.path(), off.must_stay_below(most))
                .blocker(Harm::Function)
                .says(format!(
                    "axis `{name}`: limit `{}` of bridge `{channel}` is off the wanted phase current by {{value}}; {{limit}} goes",
                    chopper.limit.name()
                ))
                .at(axis.entry.path_of("phase_current"))
                .see(chopper.limit.path(), "the limit")
                .because("too little current loses torque with nothing to see; too much heats the coils")
                .with(chopper.threshold.clone())
                .with(stepper.set_current.clone())
                .or_do("choose the setting of the limit that goes with it, or another `phase_current`")
                .done();
        }
    }
}

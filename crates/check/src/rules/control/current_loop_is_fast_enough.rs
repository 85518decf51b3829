//! A current loop has to sample much faster than the winding changes its current.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::{Sampling, Structure};
use drive::control::longest_sample;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("current-loop-is-fast-enough", row "Current loop feasible", Control, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let Some(controller) = view.bench.controller() else { return };
    let r#loop = controller.entry.r#loop();
    for (axis, dc) in view.dc_axes().filter(|(axis, _)| axis.entry.structure().is(Structure::Current)) {
        let name = &axis.name;
        let parts = Worked::known(
            5.0,
            "",
            "n_τ",
            "samples in an electrical time constant",
            Origin::common_practice("T_s ≤ τ_e/5"),
        );
        let longest = longest_sample(dc.armature().electrical_time(), parts);
        ruling
            .judge(axis.path(), r#loop.sample_time().called("sample time of the loop", "T_s").must_stay_below(longest))
            .blocker(Harm::Function)
            .says(format!("axis `{name}`: a current loop that samples every {{value}} is too slow for this winding, which asks for {{limit}}"))
            .at("controller.loop.sample_time")
            .because("the current has settled before the loop looks again: it cannot limit what it does not see")
            .or_do("control the voltage and clamp it instead: `structure = \"voltage\"`")
            .done();
        ruling
            .fact(axis.path(), !r#loop.adc().is(Sampling::FreeRunning) && r#loop.adc().value.is_some())
            .blocker(Harm::Function)
            .says(format!("axis `{name}`: a current loop needs samples at a fixed point of the PWM period"))
            .at("controller.loop.adc")
            .because("free-running samples see the ripple as a slow wave, and the loop drives against it")
            .or_do("start the converter from the PWM timer, in the centre of the on-time")
            .done();
    }
}

//! The passes of the loop come evenly.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use worked::{Number, Origin, Worked};

rule!("loop-jitter-is-small", row "Loop jitter", Control, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let Some(controller) = view.bench.controller().filter(|_| view.dc_axes().next().is_some()) else {
        return;
    };
    let r#loop = controller.entry.r#loop();
    let part = Worked::known(
        0.1,
        "",
        "k_j",
        "part of the sample time left to jitter",
        Origin::common_practice("5 to 10 %"),
    );
    let allowed = (part * r#loop.sample_time()).called("jitter allowed", "t_j,max");
    ruling
        .judge(
            "controller.loop",
            r#loop.jitter().called("jitter of the loop", "t_j").must_stay_below(allowed),
        )
        .says("the passes of the loop come up to {value} too early or too late; {limit} is allowed")
        .at("controller.loop.jitter")
        .because("uneven passes read as uneven speed, and the loop answers to it")
        .or_do("run the loop in a timer interrupt, or in logic beside the processor")
        .done();
    ruling
        .fact("controller.loop", r#loop.counts_overruns().is(true))
        .says("nothing counts the passes of the loop that come too late")
        .at("controller.loop")
        .or_do("count them in the firmware, and write `counts_overruns = true` under [controller.loop]")
        .done();
}

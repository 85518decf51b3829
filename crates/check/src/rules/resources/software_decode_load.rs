//! Edges that are counted by software must leave the processor its time.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::Decoding;
use drive::assembly::encoder::counts_at_motor;
use drive::encoder::{edge_rate, interrupt_load};
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("software-decode-load", row "Software decode load", Resources, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let Some(controller) = view.bench.controller() else { return };
    let counted = view.dc_axes().filter(|(axis, _)| axis.entry.decoding().is(Decoding::Software));
    let mut names = Vec::new();
    let mut loads = Vec::new();
    for (axis, dc) in counted {
        let Some(encoder) = &axis.encoder else { continue };
        let counts = counts_at_motor(axis, encoder);
        names.push(format!("`{}`", axis.name));
        loads.push(interrupt_load(edge_rate(counts, dc.top_speed()), controller.part.interrupt_time()));
    }
    let Some(load) = loads.into_iter().reduce(|a, b| a + b) else { return };
    let most = Worked::known(
        0.2,
        "",
        "u_max",
        "part of the processor for counting edges",
        Origin::common_practice(""),
    );
    ruling
        .judge(
            "controller",
            load.called("part of the processor for all edges", "u_cpu").must_stay_below(most),
        )
        .weakness(Harm::Function)
        .says(format!(
            "counting the edges of {} by software takes {{value}} of the processor; {{limit}} is the most",
            names.join(" and ")
        ))
        .at("controller.interrupt_time")
        .because(
            "the load comes in bursts at top speed, just when the loop is needed; edges that wait are lost",
        )
        .or_do("use a counter, or an encoder with fewer lines")
        .done();
}

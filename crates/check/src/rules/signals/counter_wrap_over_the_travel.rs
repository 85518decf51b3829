//! The travel of a position axis must fit into its counter, or software extends it.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::Controls;
use drive::assembly::encoder::{Counted, Travel, travel};
use drive::encoder::half_range;
use finding::Harm;

rule!("counter-wrap-over-the-travel", row "Counter wrap", Signals, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let Some(controller) = view.bench.controller() else { return };
    let r#loop = controller.entry.r#loop();
    for (axis, path) in view.encoders() {
        let Counted::Counter(counter) = &path.counted else { continue };
        if !axis.entry.controls().is(Controls::Position) {
            continue;
        }
        if r#loop.extends_counters().is(true) {
            ruling.fact(axis.path(), true).done();
            continue;
        }
        let name = &axis.name;
        let remedy = "extend the count in software by signed differences, and write `extends_counters = true` in [controller.loop]";
        let because = "at the wrap the position jumps by the whole range, and the loop drives there";
        match travel(axis) {
            Travel::Angle(angle) => {
                let counts = path.counts_in(axis, angle);
                ruling
                    .judge(axis.path(), counts.must_stay_below(half_range(counter.bits())))
                    .blocker(Harm::Function)
                    .says(format!(
                        "axis `{name}`: its travel makes {{value}} counts; half of the range of counter `{}` is {{limit}}",
                        counter.name()
                    ))
                    .see(counter.path_of("bits"), "width of the counter")
                    .because(because)
                    .or_do(remedy)
                    .done();
            }
            Travel::Endless => ruling
                .fact(axis.path(), false)
                .blocker(Harm::Function)
                .says(format!(
                    "axis `{name}`: it runs on in one sense, so counter `{}` wraps sooner or later",
                    counter.name()
                ))
                .at(axis.entry.path_of("moves"))
                .because(because)
                .or_do(remedy)
                .done(),
            Travel::Unknown => {
                let moves = axis.entry.path_of("moves");
                ruling.missing(axis.path(), &[&moves, "end_stops"]).blocker(Harm::Function).done();
            }
        }
    }
}

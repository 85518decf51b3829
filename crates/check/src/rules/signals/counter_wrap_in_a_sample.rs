//! Between two passes of the loop a counter must not go half of its range.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::encoder::Counted;
use drive::encoder::{counts_per_sample, half_range};
use finding::Harm;

rule!("counter-wrap-in-a-sample", row "Counter wrap", Signals, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let Some(controller) = view.bench.controller() else { return };
    let sample_time = controller.entry.r#loop().sample_time();
    for (axis, path) in view.encoders() {
        let Counted::Counter(counter) = &path.counted else { continue };
        let counts = counts_per_sample(path.counts.clone(), path.speed.clone(), sample_time.clone());
        let name = &axis.name;
        ruling
            .judge(axis.path(), counts.must_stay_below(half_range(counter.bits())))
            .blocker(Harm::Function)
            .says(format!(
                "axis `{name}`: at full speed its encoder makes {{value}} counts from one pass of the loop to the next; half of the range of counter `{}` is {{limit}}",
                counter.name()
            ))
            .see(counter.path_of("bits"), "width of the counter")
            .because("a difference of more than half the range reads as motion in the other sense")
            .or_do("read the counter more often")
            .done();
    }
}

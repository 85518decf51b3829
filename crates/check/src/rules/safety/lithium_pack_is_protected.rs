//! A lithium pack has its fuse and cut-off, and nothing charges it when full.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::part::SupplyClass;
use finding::Harm;

rule!("lithium-pack-is-protected", row "Lithium pack", Safety, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for supply in view.bench.supplies() {
        if !supply.part.class().is(SupplyClass::Lithium) {
            continue;
        }
        let (subject, name, pack) = (supply.entry.path(), &supply.name, supply.part.pack());
        for (key, choice, what) in
            [("fused", pack.fused(), "a fuse"), ("cut_off", pack.cut_off(), "a protection that cuts it off")]
        {
            let at = pack.path_of(key);
            if choice.value.is_none() {
                ruling.missing(subject, &[&at]).blocker(Harm::People).done();
            } else {
                ruling
                    .fact(subject, choice.is(true))
                    .blocker(Harm::People)
                    .says(format!("pack `{name}` has no {}", what.trim_start_matches("a ")))
                    .at(at)
                    .because("a shorted or over-discharged lithium cell burns, and cannot be put out")
                    .or_do(format!("use a pack with {what}"))
                    .done();
            }
        }
        ruling
            .fact(subject, view.bench.declarations().lithium().is_given())
            .blocker(Harm::People)
            .says(format!("nobody vouches for what happens with returned energy when pack `{name}` is full or its protection opens"))
            .at("declarations.lithium")
            .because("braking charges the pack; when its protection opens in the middle of a stop, nothing clamps the bus")
            .or_do("fit a clamp on the bus, start with a pack that is not full, and write [declarations] lithium = \"…\"")
            .done();
    }
}

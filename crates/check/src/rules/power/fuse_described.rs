//! What is not asked of a supply that has no fuse.

use super::{fuse_at_source, fuse_breaks_voltage, fuse_carries_current, listed};
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::{Device, Feed, SupplyUnit};
use finding::Harm;

rule!("fuse-described", row "Cable/fuse", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for supply in view.bench.supplies() {
        let feed = Feed::Supply(supply.name.clone());
        // A supply that limits itself and moves nothing needs none.
        if !view.drawn().moves_something(&feed) && !supply.limit().is_missing() {
            continue;
        }
        let name = &supply.name;
        let kinds = [fuse_carries_current::RULE.id, fuse_breaks_voltage::RULE.id, fuse_at_source::RULE.id];
        ruling
            .fact(supply.entry.path(), has_fuse(view, supply))
            .note(Harm::Parts)
            .says(format!(
                "supply `{name}` has no fuse in this bench, so {} were not asked of its line",
                listed(kinds)
            ))
            .because("behind a supply without a fuse a short carries all that it gives, for as long as it gives it")
            .or_do("describe the fuse under [fuses] in the bench file: `on` the supply, `rating`, `style`, `dc_voltage`; or put one in")
            .done();
    }
}

/// A fuse on the supply, or on a cable that begins or ends there.
fn has_fuse(view: &View<'_>, supply: &SupplyUnit) -> bool {
    let device = Device::Supply(supply.name.clone());
    let mut own = view.bench.cables().iter().filter(|run| run.from.is_on(&device) || run.to.is_on(&device));
    !view.bench.fuses_on(&Feed::Supply(supply.name.clone())).is_empty()
        || own.any(|run| !view.bench.fuses_on_cable(&run.name).is_empty())
}

//! A fuse must be able to break the highest direct voltage of its line.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::power::feed_voltage;
use finding::Harm;

rule!("fuse-breaks-voltage", row "Cable/fuse", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (name, fuse) in view.bench.fuses() {
        let Some(feed) = fuse.on().and_then(|text| view.bench.feed_named(text)) else { continue };
        let highest = feed_voltage(view.bench, &feed);
        ruling
            .judge(fuse.path(), fuse.dc_voltage().must_stay_above(highest))
            .blocker(Harm::Parts)
            .says(format!(
                "fuse `{name}` breaks {{value}} of direct voltage, and {{limit}} can stand on its line"
            ))
            .at(fuse.path_of("dc_voltage"))
            .because("direct current has no zero: above its rating the arc in the fuse burns on")
            .or_do("use a fuse with a rating for direct voltage")
            .done();
    }
}

//! A fuse must carry the effective current of the motion.

use super::customary;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::current::together;
use drive::assembly::drawn::Over;
use drive::limit::fuse_needed;
use finding::Harm;

rule!("fuse-carries-current", row "Cable/fuse", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (name, fuse) in view.bench.fuses() {
        let Some(feed) = fuse.on().and_then(|text| view.bench.feed_named(text)) else { continue };
        let drawn = view.drawn().on_feed(&feed, Over::Cycle);
        if drawn.is_empty() {
            continue;
        }
        let needed = fuse_needed(
            together(drawn, "effective current through the fuse"),
            customary(1.25, "", "k_F", "fuse rating over the effective current"),
        );
        ruling
            .judge(fuse.path(), fuse.rating().must_stay_above(needed))
            .blocker(Harm::Function)
            .says(format!("fuse `{name}` is rated {{value}}; the currents behind it ask for {{limit}}"))
            .because("a fuse near its rating warms, ages and opens on an ordinary day")
            .or_do("use a larger fuse as far as the cable allows, or a longer rest between moves")
            .done();
    }
}

//! The stop reaches every supply that moves something.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::Feed;
use finding::Harm;
use std::collections::BTreeMap;

rule!("stop-cuts-every-mover", row "Independent stop", Safety, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let stop = view.bench.stop();
    if !stop.is_given() {
        return;
    }
    let cuts = stop.cuts();
    for (supply, movers) in movers_by_supply(view) {
        ruling
            .fact(&format!("supplies.{supply}"), cuts.contains(&&*supply))
            .blocker(Harm::People)
            .says(format!("the stop does not cut supply `{supply}`, which moves {}", movers.join(", ")))
            .at("stop.cuts")
            .because("whoever presses the stop expects everything to stand still")
            .or_do(format!("lead supply `{supply}` through the stop too, and add it to `cuts`"))
            .done();
    }
}

/// What moves, by the supply behind it.
fn movers_by_supply(view: &View<'_>) -> BTreeMap<String, Vec<String>> {
    let mut movers: BTreeMap<String, Vec<String>> = BTreeMap::new();
    let mut add = |feed: Option<&Feed>, mover: String| {
        if let Some(supply) = feed.and_then(|feed| view.bench.supply_behind(feed)) {
            movers.entry(supply.name.to_string()).or_default().push(mover);
        }
    };
    for axis in view.axes() {
        add(axis.feed(), format!("axis `{}`", axis.name));
    }
    for servo in view.bench.servos() {
        add(servo.feed.as_ref(), format!("servo `{}`", servo.name));
    }
    movers
}

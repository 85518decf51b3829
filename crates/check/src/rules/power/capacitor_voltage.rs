//! Capacitors need a voltage rating above what braking makes of the bus.

use super::customary;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::Feed;
use drive::assembly::power::feed_voltage;
use finding::Harm;
use worked::{Number, Worked};

rule!("capacitor-voltage", row "Capacitor voltage", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let mut judge = |path: &str, key: &str, rating: Worked, highest: Worked| {
        let asked =
            customary(1.25, "", "k_C", "room of a capacitor's rating above the voltage on it") * highest;
        ruling
            .judge(path, rating.must_stay_above(asked.called("rating that the bus asks for", "U_C,need")))
            .blocker(Harm::Parts)
            .says(format!("the capacitor of `{path}` is rated {{value}}; the bus asks for {{limit}}"))
            .at(format!("{path}.{key}"))
            .because("an electrolytic capacitor above its rating vents; what braking returns counts")
            .or_do("use a capacitor of a higher voltage, or hold the bus lower")
            .done();
    };
    for board in view.bench.boards() {
        for fed in board.inputs.iter().filter(|fed| fed.input.has("capacitance")) {
            let Some(feed) = &fed.feed else { continue };
            let bus = view
                .buses()
                .iter()
                .find(|bus| bus.inputs.iter().any(|input| input.path() == fed.input.path()));
            let highest = bus.map_or_else(|| feed_voltage(view.bench, feed), |bus| bus.highest_voltage());
            judge(fed.input.path(), "capacitor_voltage", fed.input.capacitor_voltage(), highest);
        }
    }
    for (_, capacitor) in view.bench.capacitors() {
        let Some(feed): Option<Feed> = capacitor.on().and_then(|text| view.bench.feed_named(text)) else {
            continue;
        };
        let bus = view.buses().iter().find(|bus| !bus.blocked && bus.feed == feed);
        let highest = bus.map_or_else(|| feed_voltage(view.bench, &feed), |bus| bus.highest_voltage());
        judge(capacitor.path(), "voltage", capacitor.voltage(), highest);
    }
}

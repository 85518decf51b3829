//! All that hangs on one supply, at its worst together.

use super::customary;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::Feed;
use drive::assembly::drawn::{Over, at_once};
use finding::Harm;

rule!("shared-supply-sum", row "Shared supply sum", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for supply in view.bench.supplies() {
        let drawn = view.drawn().on_feed(&Feed::Supply(supply.name.clone()), Over::Moment);
        if drawn.is_empty() {
            continue;
        }
        let count = drawn.len();
        let sum = at_once(supply, drawn, "worst currents of all consumers together");
        let rated =
            customary(0.8, "", "k_sup'", "part of a supply's rating that is used") * supply.part.current();
        ruling
            .judge(supply.entry.path(), sum.must_stay_below(rated))
            .weakness(Harm::Function)
            .says(format!("supply `{}`: its {count} consumers can draw {{value}} together; {{limit}} of its rating should be used", supply.name))
            .because("an axis without a limit counts with its locked motor, a servo with its stall")
            .or_do("let the axes start one after another, or justify a `diversity` below 1 under the supply")
            .done();
    }
}

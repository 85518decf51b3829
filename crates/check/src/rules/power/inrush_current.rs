//! Charging the capacitors at switch-on must stay within what the supply gives.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::Feed;
use bench::part::LimitStyle;
use drive::bus::inrush;
use finding::Harm;
use worked::{Number, Worked};

rule!("inrush-current", row "Inrush", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for supply in view.bench.supplies() {
        let feed = Feed::Supply(supply.name.clone());
        let all = view.bench.boards().iter().flat_map(|board| &board.inputs);
        let inputs: Vec<_> =
            all.filter(|fed| fed.feed.as_ref() == Some(&feed)).map(|fed| &fed.input).collect();
        let mut parts: Vec<Worked> =
            inputs.iter().filter(|i| i.has("capacitance")).map(|i| i.capacitance()).collect();
        parts.extend(view.bench.capacitors_on(&feed).iter().map(|(_, capacitor)| capacitor.capacitance()));
        if parts.is_empty() || supply.part.limit_style().is(LimitStyle::None) {
            continue;
        }
        let capacitance = parts.into_iter().sum::<Worked>().called("capacitance to charge", "C_Σ");
        let rates: Vec<Worked> =
            inputs.iter().filter(|i| i.has("rise_rate")).map(|i| i.rise_rate()).collect();
        let rate = rates
            .into_iter()
            .reduce(Number::at_least)
            .unwrap_or_else(|| supply.voltage() / supply.part.rise_time());
        ruling
            .judge(supply.entry.path(), inrush(capacitance, rate.called("rise of the voltage", "dU/dt")).must_stay_below(supply.limit()))
            .blocker(Harm::Function)
            .says(format!("supply `{}`: charging the capacitors at switch-on takes {{value}}, and it limits at {{limit}}", supply.name))
            .because("it hangs at a low voltage, or switches off and tries again for ever")
            .or_do("fit a soft start or a pre-charge resistor, or use a supply that rises more slowly")
            .done();
    }
}

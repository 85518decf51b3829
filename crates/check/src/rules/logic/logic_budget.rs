//! What hangs on a rail must stay well below what it gives.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::Feed;
use drive::assembly::budget::{loads, rating};
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("logic-budget", row "Logic budget", Logic, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for feed in view.bench.feeds() {
        // A supply of motors is the matter of a rule about power.
        if matches!(feed, Feed::Supply(_)) && !view.bench.axes_on(&feed).is_empty() {
            continue;
        }
        let drawn = loads(view.bench, &feed);
        let (Some(gives), false) = (rating(view.bench, &feed), drawn.is_empty()) else { continue };
        let list: Vec<String> =
            drawn.iter().map(|(name, current)| format!("{name} {}", current.text())).collect();
        let Some(sum) = drawn.into_iter().map(|(_, current)| current).reduce(|a, b| a + b) else { continue };
        let sum = sum.called("sum of the loads", "ΣI");
        let part = Worked::known(
            0.8,
            "",
            "k_I",
            "part of a rail that is used",
            Origin::common_practice("reserve for start and ageing"),
        );
        ruling
            .judge(&feed.to_string(), sum.must_stay_below(part * gives.clone()))
            .blocker(Harm::Function)
            .says(format!(
                "`{feed}` gives {}; {{value}} is drawn and {{limit}} should be the most: {}",
                gives.text(),
                list.join(", ")
            ))
            .because("a rail in its limit falls, and everything that hangs on it restarts together")
            .or_do("feed the largest load from a supply of its own")
            .done();
    }
}

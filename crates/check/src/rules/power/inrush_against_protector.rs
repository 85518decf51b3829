//! A protector in a supply input must survive the charging of the capacitors behind it.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::Feed;
use drive::assembly::copper::both_ways;
use drive::assembly::power::feed_voltage;
use drive::bus::{inrush, inrush_through};
use finding::Harm;
use worked::{Number, Worked};

rule!("inrush-against-protector", row "Inrush", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for board in view.bench.boards() {
        for fed in &board.inputs {
            let input = &fed.input;
            let Some(feed @ Feed::Supply(name)) = &fed.feed else { continue };
            if !input.has("inrush_withstand") {
                continue;
            }
            let current = if input.has("rise_rate") {
                inrush(input.capacitance(), input.rise_rate())
            } else {
                let mut way: Vec<Worked> = Vec::new();
                let cable = view.bench.cable_to_input(&board.name, input.name());
                way.extend(cable.map(|run| both_ways(view.bench, run)));
                way.extend(
                    view.bench
                        .supply(name)
                        .filter(|s| s.part.has("source_resistance"))
                        .map(|s| s.part.source_resistance()),
                );
                way.extend(input.has("series_resistance").then(|| input.series_resistance()));
                way.push(input.capacitor_resistance());
                let resistance =
                    way.into_iter().sum::<Worked>().called("resistance of the charging loop", "R_chg");
                inrush_through(feed_voltage(view.bench, feed), resistance)
            };
            ruling
                .judge(input.path(), current.must_stay_below(input.inrush_withstand()))
                .blocker(Harm::Parts)
                .says(format!(
                    "plugged into a supply that is on already, {{value}} charge the capacitors of `{}`; its protector survives {{limit}}",
                    input.path()
                ))
                .because("a stop that cuts the feed behind the supply makes every release such an event")
                .or_do("fit a soft start or a pre-charge resistor, or switch the supply on its mains side")
                .done();
        }
    }
}

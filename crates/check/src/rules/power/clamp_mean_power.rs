//! The resistor of a clamp must take one stop after the other.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::cycle_time;
use drive::bus::mean_power;
use finding::Harm;
use worked::{Number, Worked};

rule!("clamp-mean-power", row "Brake resistor", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for bus in view.buses() {
        for (name, clamp) in &bus.clamps {
            let mean = bus.returned.iter().filter_map(|(axis, returned)| {
                Some(mean_power(returned.whole(), cycle_time(view.bench.axis(axis)?)?))
            });
            let parts: Vec<Worked> = mean.collect();
            if parts.is_empty() {
                continue;
            }
            let mean =
                parts.into_iter().sum::<Worked>().called("mean power returned over the cycles", "P_mean");
            ruling
                .judge(clamp.path(), mean.must_stay_below(clamp.power()))
                .weakness(Harm::Parts)
                .says(format!("clamp `{name}`: stop after stop brings {{value}}, and its resistor takes {{limit}} continuously"))
                .at(clamp.path_of("power"))
                .because("clamp resistors and their cases burn: keep hands and cables off")
                .or_do("a resistor of more power, or a longer rest between the moves")
                .done();
        }
    }
}

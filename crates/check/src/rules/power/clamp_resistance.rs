//! A clamp must take the largest power that comes back.

use super::at_most;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::bus::{clamp_power, largest_clamp_resistance};
use finding::Harm;

rule!("clamp-resistance", row "Brake resistor", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for bus in view.buses() {
        for (name, clamp) in &bus.clamps {
            let largest = largest_clamp_resistance(clamp.threshold(), bus.power());
            let draft = ruling
                .judge(
                    clamp.path(),
                    bus.power().must_stay_below(clamp_power(clamp.threshold(), clamp.resistance())),
                )
                .weakness(Harm::Parts);
            if !draft.is_open() {
                draft.done();
                continue;
            }
            draft
                .says(format!(
                    "clamp `{name}`: up to {{value}} come back, and at its threshold it takes {{limit}}"
                ))
                .at(clamp.path_of("resistance"))
                .because("what it does not take lifts the bus above the threshold")
                .with(largest)
                .or_do(format!("lower the resistance until U²/R is above {}", at_most(&bus.power())))
                .done();
        }
    }
}

//! A supply that shuts off at over-voltage takes the power away in the middle of a stop.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;

rule!("returned-voltage-against-shut-off", row "Regen sink", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for bus in view.buses().iter().filter(|bus| !bus.blocked && bus.lacking.is_empty()) {
        let Some(supply) = bus.supply.as_ref().filter(|supply| supply.part.has("overvoltage_off")) else {
            continue;
        };
        ruling
            .judge(&bus.path, bus.highest_voltage().must_stay_below(supply.part.overvoltage_off()))
            .weakness(Harm::Function)
            .says(format!(
                "braking lifts supply `{}` to {{value}}, and it shuts off at {{limit}}",
                supply.name
            ))
            .see(supply.part.path_of("overvoltage_off"), "where it shuts off")
            .because("it shuts off in the middle of the stop and may stay off until mains is taken away")
            .with(bus.energy())
            .or_do("add a clamp that switches on below, or more capacitance")
            .done();
    }
}

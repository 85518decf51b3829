//! The output of a supply must survive what braking pushes back into it.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;

rule!("returned-voltage-against-supply", row "Regen sink", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for bus in view.buses().iter().filter(|bus| !bus.blocked && bus.lacking.is_empty()) {
        let Some(supply) = &bus.supply else { continue };
        ruling
            .judge(&bus.path, bus.highest_voltage().must_stay_below(supply.part.survives()))
            .blocker(Harm::Parts)
            .says(format!(
                "braking lifts the output of supply `{}` to {{value}}, and it survives {{limit}}",
                supply.name
            ))
            .see(supply.part.path_of("survives"), "what its output survives")
            .because("the board may stand it; the supply at the other end of the cable sees the same voltage")
            .with(bus.energy())
            .or_do("add a clamp, more capacitance, or a series diode with a clamp behind it")
            .done();
    }
}

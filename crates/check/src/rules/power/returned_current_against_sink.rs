//! A supply that takes current back must take all that a stop returns.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::bus::returned_current;
use finding::Harm;

rule!("returned-current-against-sink", row "Regen sink", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for bus in view.buses().iter().filter(|bus| bus.takes_back() && bus.clamps.is_empty()) {
        let returned = returned_current(bus.power(), bus.open_voltage.clone());
        ruling
            .judge(&bus.path, returned.must_stay_below(bus.sink_current()))
            .blocker(Harm::Parts)
            .says(format!(
                "a stop of all axes pushes {{value}} back into `{}`, which takes {{limit}}",
                bus.path
            ))
            .because("what it does not take lifts the bus within milliseconds")
            .with(bus.energy())
            .or_do("add a clamp, slow the deceleration, or stop the axes one after another")
            .done();
    }
}

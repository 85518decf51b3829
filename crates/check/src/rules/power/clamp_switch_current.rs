//! The switch of a clamp must carry its resistor's current.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::bus::clamp_current;
use finding::Harm;

rule!("clamp-switch-current", row "Brake resistor", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for bus in view.buses() {
        for (name, clamp) in &bus.clamps {
            let current = clamp_current(bus.highest_voltage(), clamp.resistance());
            ruling
                .judge(clamp.path(), current.must_stay_below(clamp.switch_current()))
                .weakness(Harm::Parts)
                .says(format!("clamp `{name}`: its switch carries {{value}} and is made for {{limit}}"))
                .at(clamp.path_of("switch_current"))
                .or_do("raise the resistance as far as the returned power allows, or use a stronger switch")
                .done();
        }
    }
}

//! The resistor of a clamp must take the energy of one stop.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;

rule!("clamp-pulse-energy", row "Brake resistor", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for bus in view.buses() {
        for (name, clamp) in &bus.clamps {
            ruling
                .judge(clamp.path(), bus.energy().must_stay_below(clamp.pulse_energy()))
                .weakness(Harm::Parts)
                .says(format!("clamp `{name}`: one stop of all axes brings {{value}}, and its resistor takes {{limit}} at once"))
                .at(clamp.path_of("pulse_energy"))
                .because("a resistor of film opens under a pulse that its mean power would allow")
                .or_do("use a wire-wound resistor of more mass")
                .done();
        }
    }
}

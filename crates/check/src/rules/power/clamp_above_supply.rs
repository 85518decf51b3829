//! A clamp must stay off at the highest supply voltage.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::bus::clamp_power;
use finding::Harm;

rule!("clamp-above-supply", row "Regen sink", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for bus in view.buses() {
        for (name, clamp) in &bus.clamps {
            let has_release = clamp.has("release");
            let lets_go = if has_release { clamp.release() } else { clamp.threshold() };
            ruling
                .judge(clamp.path(), lets_go.must_stay_above(bus.open_voltage.clone()))
                .blocker(Harm::Parts)
                .says(format!(
                    "clamp `{name}` lets go at {{value}} only, and the supply alone can stand at {{limit}}"
                ))
                .at(clamp.path_of(if has_release { "release" } else { "threshold" }))
                .because("it stays on and burns what the supply gives, until the resistor is gone")
                .with(clamp_power(bus.open_voltage.clone(), clamp.resistance()))
                .or_do("set threshold and release above the highest supply voltage")
                .done();
        }
    }
}

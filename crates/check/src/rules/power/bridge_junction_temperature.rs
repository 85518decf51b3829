//! The bridge's junction at the motor's effective current.

use super::customary;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;
use worked::Number;

rule!("bridge-junction-temperature", row "Bridge continuous", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let (Some(channel), Some(bridge)) = (axis.channel(), &dc.bridge) else { continue };
        if !channel.has("thermal_resistance") && channel.has("continuous_current") {
            continue;
        }
        let current = dc.effective_current();
        let loss = bridge.loss(dc.duty_limit.clone(), dc.power.open_voltage.clone(), current.clone());
        let highest = channel.max_junction_temperature()
            - customary(25.0, "K", "Δϑ_j", "margin below the highest junction temperature");
        ruling
            .judge(axis.path(), bridge.junction_temperature(dc.ambient.clone(), loss.clone()).must_stay_below(highest.called("junction temperature in use", "ϑ_j,use")))
            .weakness(Harm::Parts)
            .says(format!(
                "axis `{}`: the junction of channel `{}` reaches {{value}} over the cycle, and {{limit}} leaves it a margin",
                axis.name,
                channel.name()
            ))
            .because("a hot bridge shuts itself off minutes after the start, and comes back when nobody expects it")
            .with(current)
            .with(loss)
            .or_do("more copper area or moving air at the bridge, a lower PWM frequency, or a longer rest between moves")
            .done();
    }
}

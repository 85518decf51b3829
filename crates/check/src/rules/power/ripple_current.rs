//! A motor of low inductance on slow pulses carries a large ripple.

use super::{at_most, customary};
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;
use worked::Number;

rule!("ripple-current", row "Low-inductance motor", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let (Some(motor), Some(bridge)) = (axis.motor(), &dc.bridge) else { continue };
        let inductance = if axis.entry.has("choke") {
            (motor.inductance() + axis.entry.choke()).called("inductance with the choke", "L_Σ")
        } else {
            motor.inductance()
        };
        let bus = dc.power.open_voltage.clone();
        let allowed =
            customary(0.3, "", "k_rip", "ripple as a part of the rated current") * motor.rated_current();
        let needed = bridge.inductance_for_ripple(bus.clone(), allowed.clone());
        let draft = ruling
            .judge(axis.path(), bridge.largest_ripple(bus, inductance).must_stay_below(allowed))
            .weakness(Harm::Function);
        if !draft.is_open() {
            draft.done();
            continue;
        }
        draft
            .says(format!(
                "axis `{}`: at half duty the current ripples by {{value}} peak to peak; {{limit}} is usual",
                axis.name
            ))
            .because("ripple heats the winding without turning it, and blurs every current reading")
            .with(needed.clone())
            .or_do(format!("a higher PWM frequency, or a choke that brings the loop to {}", at_most(&needed)))
            .done();
    }
}

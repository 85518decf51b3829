//! Without a heat monitor no current may last at which a winding runs away.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;

rule!("thermal-runaway", row "Thermal runaway", Heat, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        if super::has_heat_monitor(axis) {
            ruling.fact(axis.path(), true).weakness(Harm::Parts).done();
            continue;
        }
        let name = &axis.name;
        ruling
            .judge(axis.path(), dc.lasting_current().must_stay_below(dc.motor.heat().runaway_current()))
            .weakness(Harm::Parts)
            .says(format!(
                "axis `{name}`: up to {{value}} can last; from {{limit}} on the winding has no steady temperature, and no heat monitor is declared"
            ))
            .because("copper gets dearer as it warms: above this current the winding only gets hotter, whatever the load")
            .or_do("lower the current limit of the board, or give the firmware a heat monitor")
            .done();
    }
}

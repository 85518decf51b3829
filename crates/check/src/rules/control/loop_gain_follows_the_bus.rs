//! The gain of the loop does not move with the supply.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::wanted::nominal_of;
use drive::control::gain_change;
use worked::{Number, Origin, Worked};

rule!("loop-gain-follows-the-bus", row "Gain vs bus", Control, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let Some(controller) = view.bench.controller() else { return };
    let measured = controller.entry.r#loop().measures_bus().is(true);
    for (axis, dc) in view.dc_axes() {
        if measured {
            ruling.fact(axis.path(), true).done();
            continue;
        }
        let bus = dc.power.open_voltage.clone();
        let nominal =
            nominal_of(&bus, &format!("{}.nominal_bus", axis.path()), "nominal bus voltage", "U_nom");
        let allowed = Worked::known(
            0.1,
            "",
            "k_K",
            "change of the gain that is allowed",
            Origin::common_practice("10 %"),
        );
        let name = &axis.name;
        ruling
            .judge(axis.path(), gain_change(bus, nominal).abs().must_stay_below(allowed))
            .says(format!("axis `{name}`: the gain of its loop moves by {{value}} with the supply, {{limit}} is allowed"))
            .at("controller.loop.measures_bus")
            .because("duty is a part of the bus: the same duty is more volts on a full battery than on an empty one")
            .or_do("divide the duty by the measured bus voltage, and write `measures_bus = true`")
            .done();
    }
}

//! The highest current that can flow must not break the gear.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("gear-peak-torque", row "Gear peak/continuous", Mechanics, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, mechanism, torque) in view.strongest() {
        let Some(gearbox) = &axis.gearbox else { continue };
        let shock = match &axis.load {
            Some(carried) => carried.load.shock_factor(),
            None => Worked::known(
                1.5,
                "",
                "k_sh",
                "shock factor",
                Origin::common_practice("drives with play and stops"),
            ),
        };
        let at_output = (mechanism.lossless_gearbox_torque(torque) * shock)
            .called("torque at the output with shocks", "M_sh");
        let name = &axis.name;
        ruling
            .judge(axis.path(), at_output.must_stay_below(gearbox.peak_torque()))
            .blocker(Harm::Parts)
            .says(format!(
                "axis `{name}`: the motor can bring {{value}} on the output of its gearbox, shocks included; the gear survives {{limit}}"
            ))
            .at(gearbox.path_of("peak_torque"))
            .because("teeth break when something is caught or the axis hits a stop, with the highest current that the board lets flow")
            .or_do("lower the current limit of the board, or take a stronger gearbox")
            .done();
    }
}

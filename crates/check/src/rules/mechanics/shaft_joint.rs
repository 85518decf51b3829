//! The joint between shaft and load must carry twice the highest torque.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("shaft-joint", row "Shaft joint", Mechanics, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, mechanism, torque) in view.strongest().filter(|(axis, ..)| axis.load.is_some()) {
        let margin = Worked::known(
            2.0,
            "",
            "k_cp",
            "margin of a shaft joint",
            Origin::common_practice("shaft joints"),
        );
        let peak = (mechanism.lossless_gearbox_torque(torque) * margin)
            .called("twice the highest torque", "2·M_out");
        let coupling = axis.entry.coupling();
        let name = &axis.name;
        ruling
            .judge(axis.path(), peak.must_stay_below(coupling.torque()))
            .weakness(Harm::Function)
            .says(format!("axis `{name}`: its joint should carry twice the highest torque, {{value}}, and carries {{limit}}"))
            .at(coupling.path_of("torque"))
            .because("a joint that slips loses the place without any fault that the controller could see")
            .or_do("take a joint that carries more: a clamp, a key, a pin")
            .done();
    }
}

//! The motion leaves voltage for the loop to work with.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("voltage-headroom-for-the-motion", row "Voltage headroom", Control, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let (Some(current), Some(speed)) = (dc.accelerating_current(), dc.planned_motor_speed()) else {
            continue;
        };
        let part = Worked::known(
            0.9,
            "",
            "k_U",
            "part of the bus that the motion may use",
            Origin::common_practice(""),
        );
        let bus = &dc.duty_limit * dc.power.sagged(current.clone());
        let usable = (part * bus).called("voltage the motion may use", "U_use");
        let name = &axis.name;
        ruling
            .judge(axis.path(), dc.armature().voltage(current, speed).must_stay_below(usable))
            .blocker(Harm::Function)
            .says(format!("axis `{name}`: its motion takes {{value}} at top speed and full acceleration, {{limit}} can be used"))
            .at(axis.entry.path_of("moves"))
            .because("a loop that has no voltage left does not follow: the axis lags, then overshoots")
            .or_do("plan a slower motion, raise the supply, or take another ratio or winding")
            .done();
    }
}

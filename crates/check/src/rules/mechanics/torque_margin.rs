//! At its worst corner a motor must have half as much torque again as its motion asks for.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("torque-margin", row "Torque margin", Mechanics, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let Some(needed) = dc.torque_needed() else {
            ruling.missing(axis.path(), &[&axis.entry.path_of("moves")]).blocker(Harm::Function).done();
            continue;
        };
        let margin = Worked::known(1.5, "", "k_M", "torque margin", Origin::common_practice("worst corner"));
        let speed = dc.planned_motor_speed().unwrap_or_else(|| drive::constants::zero("rad/s"));
        let available = dc.torque_available(&speed);
        let asked = (needed * margin).called("torque asked for, with its margin", "M_ask");
        let name = &axis.name;
        ruling
            .judge(axis.path(), available.must_stay_above(asked))
            .blocker(Harm::Function)
            .says(format!(
                "axis `{name}`: at the speed of its motion the motor can give {{value}}; with a margin of 1.5 the motion asks for {{limit}}"
            ))
            .at(axis.entry.path_of("moves"))
            .because("with the supply low, the winding hot and the grease cold it falls behind its motion or stands still")
            .or_do("accelerate less, take the next ratio, or a motor or winding with more torque")
            .done();
    }
}

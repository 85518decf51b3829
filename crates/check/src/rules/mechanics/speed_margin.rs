//! At its worst corner a motor must be able to turn faster than its motion asks for.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("speed-margin", row "Speed margin", Mechanics, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        // Without a motion there is no speed to reach: `torque-margin` asks for it.
        let (Some(reached), Some(planned)) = (dc.speed_available(), dc.planned_motor_speed()) else {
            continue;
        };
        let margin = Worked::known(1.15, "", "k_ω", "speed margin", Origin::common_practice("worst corner"));
        let asked = (planned * margin).called("speed asked for, with its margin", "ω_ask");
        let name = &axis.name;
        ruling
            .judge(axis.path(), reached.shown_in("rpm").must_stay_above(asked.shown_in("rpm")))
            .blocker(Harm::Function)
            .says(format!(
                "axis `{name}`: under its load the motor reaches {{value}}; with a margin of 15 % the motion asks for {{limit}}"
            ))
            .at(axis.entry.path_of("moves"))
            .because("with the supply low and the winding hot the loop has no voltage left to correct anything")
            .or_do("take a lower ratio, a faster winding or more voltage")
            .done();
    }
}

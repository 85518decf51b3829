//! A motor that runs free must not turn its gear too fast.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;

rule!("gear-input-speed", row "Gear input speed", Mechanics, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let Some(gearbox) = &axis.gearbox else { continue };
        let name = &axis.name;
        ruling
            .judge(axis.path(), dc.top_speed().shown_in("rpm").must_stay_below(gearbox.max_input_speed()))
            .weakness(Harm::Parts)
            .says(format!(
                "axis `{name}`: without load the motor reaches {{value}}; its gearbox takes {{limit}} at the input"
            ))
            .at(axis.entry.path_of("duty_limit"))
            .see(gearbox.path_of("max_input_speed"), "what the gearbox takes")
            .because("above its speed a gear throws its grease and gets hot and loud")
            .or_do("lower the voltage or the largest duty")
            .done();
    }
}

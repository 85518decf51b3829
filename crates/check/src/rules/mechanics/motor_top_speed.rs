//! A motor that runs free must not turn faster than its rotor stands.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;

rule!("motor-top-speed", row "Gear input speed", Mechanics, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let Some(motor) = axis.motor() else { continue };
        let name = &axis.name;
        ruling
            .judge(axis.path(), dc.top_speed().shown_in("rpm").must_stay_below(motor.max_speed()))
            .weakness(Harm::Parts)
            .says(format!("axis `{name}`: without load the motor reaches {{value}}; its rotor is made for {{limit}}"))
            .at(axis.entry.path_of("duty_limit"))
            .see(motor.path_of("max_speed"), "what the rotor takes")
            .because("a loose joint or a wheel in the air is enough: bearings, brushes and the windings' binding suffer")
            .or_do("lower the voltage or the largest duty")
            .done();
    }
}

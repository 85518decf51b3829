//! A limit must act before the magnets lose their strength.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;
use worked::Number;

rule!("limit-against-magnets", row "Limit low enough", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let Some(motor) = axis.motor() else { continue };
        let ramped = axis.firmware().ramps_through_zero().is(true);
        // A reversal that the firmware ramps stays below the current of a locked rotor.
        let current = if ramped {
            dc.current_with_firmware()
        } else {
            dc.held_reversal_current().at_least(dc.current_with_firmware())
        };
        let event = if ramped { "with the rotor locked" } else { "in a reversal at full speed" };
        ruling
            .judge(axis.path(), current.must_stay_below(motor.peak_current()))
            .blocker(Harm::Parts)
            .says(format!("axis `{}`: {event} {{value}} can flow, and the motor's magnets keep their strength up to {{limit}}", axis.name))
            .because("a motor whose magnets were weakened once turns faster, pulls less and heats more for ever after")
            .or_do("lower the limit, use a supply of lower voltage, or ramp through zero: `ramps_through_zero = true` under the axis's `firmware`")
            .done();
    }
}

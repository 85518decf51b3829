//! What happens where only the firmware keeps the current in bounds, and it fails once.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;
use worked::Number;

rule!("firmware-limit-fails", row "Limit low enough", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let (Some(channel), Some(motor)) = (axis.channel(), axis.motor()) else { continue };
        let firmware = axis.firmware();
        if !firmware.has("current_limit") {
            continue;
        }
        let mut stands = channel.peak_current();
        if motor.has("peak_current") {
            stands = stands.at_most(motor.peak_current());
        }
        if let Some(gearbox) = axis.gearbox.as_ref().filter(|gearbox| gearbox.has("peak_torque")) {
            stands = stands.at_most(dc.current_at_gear_peak(gearbox));
        }
        ruling
            .judge(axis.path(), dc.held_current().must_stay_below(stands.called("current that bridge, magnets and gear stand", "I_ok")))
            .weakness(Harm::Parts)
            .says(format!(
                "axis `{}`: only the firmware holds the current; when it fails {{value}} flows, and bridge, magnets and gear together stand {{limit}}",
                axis.name
            ))
            .at(firmware.path_of("current_limit"))
            .because("a hung loop or a debugger that halts the controller leaves the duty where it is")
            .or_do("use a board with a limit in the motor's current, or lower the one it has")
            .done();
    }
}

//! What a duty stuck at 100 % does to a motor that only a duty limit protects.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;
use worked::Number;

rule!("duty-stuck-at-full", row "Motor voltage vs bus", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let (Some(motor), Some(_)) = (axis.motor(), axis.duty_limit()) else { continue };
        let stands = if motor.has("max_voltage") { motor.max_voltage() } else { motor.nominal_voltage() };
        let full =
            dc.power.open_voltage.clone().called("motor voltage with the duty stuck at 100 %", "U_full");
        let stalled = dc.cold_armature().stall_current(dc.power.open_voltage.clone());
        let name = &axis.name;
        ruling
            .judge(axis.path(), full.must_stay_below(stands))
            .weakness(Harm::Parts)
            .says(format!(
                "axis `{name}`: only the declared duty limit protects the motor; a duty stuck at 100 % puts {{value}} on a motor made for {{limit}}"
            ))
            .at(axis.entry.path_of("duty_limit"))
            .because("the limit lives in software: a wrong line of code or a hung timer takes it away")
            .with(stalled)
            .or_do("use a supply of lower voltage, or a watchdog that switches the bridge off")
            .done();
    }
}

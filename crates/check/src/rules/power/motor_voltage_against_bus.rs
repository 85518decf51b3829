//! A motor must stand the voltage that its board and supply can put on it.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;

rule!("motor-voltage-against-bus", row "Motor voltage vs bus", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let Some(motor) = axis.motor() else { continue };
        let stands = if motor.has("max_voltage") { motor.max_voltage() } else { motor.nominal_voltage() };
        let name = &axis.name;
        ruling
            .judge(axis.path(), dc.motor_voltage_at_most().must_stay_below(stands))
            .blocker(Harm::Parts)
            .says(format!("axis `{name}`: up to {{value}} can stand at the motor, which is made for {{limit}}"))
            .at(axis.entry.path_of("duty_limit"))
            .see(motor.path_of(if motor.has("max_voltage") { "max_voltage" } else { "nominal_voltage" }), "what the motor is made for")
            .because("a board's range is not the motor's rating: brushes, winding and gear see what the bridge passes on")
            .or_do("use a supply of lower voltage or a motor for this one")
            .done();
    }
}

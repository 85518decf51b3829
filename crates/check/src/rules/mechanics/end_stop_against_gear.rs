//! A gear must survive its rotor running into an end stop.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;

rule!("end-stop-against-gear", row "End stop energy", Mechanics, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let Some(gearbox) = &axis.gearbox else { continue };
        for (name, stop) in &axis.end_stops {
            let Some(torque) = dc.gear_torque_at_stop(axis, stop) else {
                let (gear, end) = (gearbox.path_of("stiffness"), stop.path_of("stiffness"));
                ruling.missing(stop.path(), &[&gear, &end]).blocker(Harm::Parts).done();
                continue;
            };
            let axis_name = &axis.name;
            ruling
                .judge(stop.path(), torque.must_stay_below(gearbox.peak_torque()))
                .blocker(Harm::Parts)
                .says(format!(
                    "end stop `{name}`: when axis `{axis_name}` runs away into it, its rotor brings {{value}} on the gearbox, which survives {{limit}}"
                ))
                .at(stop.path_of("stiffness"))
                .see(gearbox.path_of("peak_torque"), "what the gear survives")
                .because("the rotor turns fast and has to stop through the gear: the stiffer the stop, the harder the blow")
                .or_do("fit a softer buffer, limit the duty, or take a stronger gearbox")
                .done();
        }
    }
}

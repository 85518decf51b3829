//! An end stop must survive an axis that runs away.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::stop_strength;
use finding::Harm;

rule!("end-stop-energy", row "End stop energy", Mechanics, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        for (name, stop) in &axis.end_stops {
            let hit = dc.hard_stop(axis, stop);
            let axis_name = &axis.name;
            let says = format!(
                "end stop `{name}`: axis `{axis_name}` running away brings {{value}} onto it; it takes {{limit}}"
            );
            let by_force =
                if stop.has("force") { hit.torque().zip(stop_strength(&dc.mechanism, stop)) } else { None };
            let claim = match by_force {
                Some((torque, strength)) if !stop.has("energy") => torque.must_stay_below(strength),
                _ => hit.energy().must_stay_below(stop.energy()),
            };
            ruling
                .judge(stop.path(), claim)
                .blocker(Harm::Parts)
                .says(says)
                .at(stop.path_of(if stop.has("energy") { "energy" } else { "force" }))
                .because("a wrong sign or a lost encoder runs the axis into its stop at the highest speed that it can reach, with the motor still pushing")
                .or_do("fit a softer or longer buffer, limit the duty, or cut the motor power by switches before the stop")
                .done();
        }
    }
}

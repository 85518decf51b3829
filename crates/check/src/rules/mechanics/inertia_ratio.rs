//! A load should not be too heavy for its rotor.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::largest_inertia_ratio;
use finding::Harm;

rule!("inertia-ratio", row "Inertia ratio", Mechanics, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes().filter(|(axis, _)| axis.load.is_some()) {
        let name = &axis.name;
        ruling
            .judge(axis.path(), dc.inertia_ratio().must_stay_below(largest_inertia_ratio()))
            .weakness(Harm::Function)
            .says(format!(
                "axis `{name}`: at the motor shaft the load weighs {{value}} times the rotor and gear; more than {{limit}} are hard to control"
            ))
            .because("play and springs between two unequal masses make the loop swing or force it to be slow")
            .or_do("take a higher ratio, a stiffer joint, or a slower loop")
            .done();
    }
}

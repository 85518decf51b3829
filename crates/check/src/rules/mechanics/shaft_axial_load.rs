//! What pushes along the output shaft must stay within its rating.

use super::output_shaft;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;

rule!("shaft-axial-load", row "Radial/axial load", Mechanics, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for axis in view.axes() {
        let (Some((part, shaft)), Some(carried)) = (output_shaft(axis), &axis.load) else { continue };
        if !carried.load.has("axial_force") {
            continue;
        }
        let name = &axis.name;
        ruling
            .judge(axis.path(), carried.load.axial_force().must_stay_below(shaft.axial_load()))
            .weakness(Harm::Parts)
            .says(format!(
                "axis `{name}`: {{value}} act along the shaft of its {part}, which carries {{limit}}"
            ))
            .at(carried.load.path_of("axial_force"))
            .see(shaft.path_of("axial_load"), "what the shaft carries")
            .because(
                "small gearboxes and motors have no bearing for thrust: the shaft moves until something rubs",
            )
            .or_do("take the thrust with a bearing of its own")
            .done();
    }
}

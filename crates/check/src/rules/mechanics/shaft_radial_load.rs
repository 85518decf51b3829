//! What pulls across the output shaft must stay within its rating, at the distance of the rating.

use super::output_shaft;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::gear::radial_force_at;
use finding::Harm;

rule!("shaft-radial-load", row "Radial/axial load", Mechanics, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, mechanism) in view.mechanisms() {
        let (Some((part, shaft)), Some(carried)) = (output_shaft(axis), &axis.load) else { continue };
        if !carried.load.has("radial_force_at") {
            ruling
                .missing(axis.path(), &[&carried.load.path_of("radial_force_at")])
                .weakness(Harm::Parts)
                .done();
            continue;
        }
        let Some(force) = drive::assembly::radial_force(axis, mechanism) else { continue };
        let force = radial_force_at(force, carried.load.radial_force_at(), shaft.radial_load_at());
        let name = &axis.name;
        ruling
            .judge(axis.path(), force.must_stay_below(shaft.radial_load()))
            .weakness(Harm::Parts)
            .says(format!(
                "axis `{name}`: {{value}} act across the shaft of its {part}, referred to where the sheet measures; it carries {{limit}}"
            ))
            .at(carried.load.path_of("radial_force"))
            .see(shaft.path_of("radial_load"), "what the shaft carries")
            .because("the bearing next to the load wears out, the shaft bends, the gear meshes askew")
            .or_do("bring the load nearer to the face, slacken the belt, or give the shaft an outer bearing")
            .done();
    }
}

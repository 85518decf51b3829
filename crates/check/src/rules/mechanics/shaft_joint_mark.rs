//! A joint that can slip should carry a mark.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::JointKind;
use finding::Harm;

rule!("shaft-joint-mark", row "Shaft joint", Mechanics, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for axis in view.axes() {
        let Some(coupling) = axis.coupling() else { continue };
        let by_friction = matches!(
            coupling.joint().value,
            Some(JointKind::SetScrew | JointKind::SetScrewOnFlat | JointKind::Clamp | JointKind::Press)
        );
        if !by_friction {
            continue;
        }
        let name = &axis.name;
        ruling
            .fact(axis.path(), coupling.marked().is(true))
            .note(Harm::Function)
            .says(format!("axis `{name}`: no mark across its joint shows when it slips"))
            .at(coupling.path_of("joint"))
            .because("a paint mark across shaft and hub turns an hour of searching into a glance")
            .or_do("paint a line across the joint and write `marked = true`")
            .done();
    }
}

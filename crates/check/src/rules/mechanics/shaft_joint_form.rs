//! A joint must suit the form of its shaft.

use super::output_shaft;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::JointKind;
use bench::part::ShaftForm;
use finding::Harm;

rule!("shaft-joint-form", row "Shaft joint", Mechanics, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for axis in view.axes() {
        let (Some(coupling), Some((part, shaft))) = (axis.coupling(), output_shaft(axis)) else { continue };
        let (Some(joint), form) = (coupling.joint().value, shaft.form().value) else {
            ruling.missing(axis.path(), &[&coupling.path_of("joint")]).done();
            continue;
        };
        let Some(suits) = suits(joint, form) else {
            ruling.missing(axis.path(), &[&shaft.path_of("form")]).done();
            continue;
        };
        let name = &axis.name;
        ruling
            .fact(axis.path(), suits)
            .weakness(Harm::Function)
            .says(format!(
                "axis `{name}`: the joint does not suit the shaft of its {part}: {}",
                reason(joint)
            ))
            .at(coupling.path_of("joint"))
            .see(shaft.path_of("form"), "the shaft")
            .because("a joint that works loose loses the place a little at a time")
            .or_do("file a flat and set the screw on it, or take a clamping hub")
            .done();
    }
}

/// Whether a joint suits a form of shaft; `None` where the form has to be known and is not.
fn suits(joint: JointKind, form: Option<ShaftForm>) -> Option<bool> {
    use ShaftForm::{Flange, Flat, Hex, Keyed, Splined, TwoFlats};
    match joint {
        JointKind::SetScrew => Some(false),
        JointKind::Clamp | JointKind::Pin | JointKind::Press | JointKind::Glue => Some(true),
        JointKind::SetScrewOnFlat => Some(matches!(form?, Flat | TwoFlats | Hex)),
        JointKind::Key => Some(form? == Keyed),
        JointKind::Spline => Some(form? == Splined),
        JointKind::Flange => Some(form? == Flange),
    }
}

fn reason(joint: JointKind) -> &'static str {
    match joint {
        JointKind::SetScrew => "a set screw on a round shaft holds by friction alone and slips",
        JointKind::SetScrewOnFlat => "the shaft has no flat for the screw",
        JointKind::Key => "the shaft has no keyway",
        JointKind::Spline => "the shaft has no splines",
        _ => "the shaft has no flange",
    }
}

//! A limit must act before the gear breaks.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;
use worked::Worked;

rule!("limit-against-gear", row "Limit low enough", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let Some(gearbox) = &axis.gearbox else { continue };
        let torque = dc.lossless_gearbox_torque(dc.armature().constant * dc.current_with_firmware());
        let allowed = dc.current_at_gear_peak(gearbox);
        let limits = &dc.limits;
        let by = match limits.as_slice() {
            [] => "no limit of the board sees the winding: a locked motor turns the whole supply into torque"
                .to_owned(),
            some => format!("held by {}", super::listed(some.iter().map(|limit| limit.limit.name()))),
        };
        let draft =
            ruling.judge(axis.path(), torque.must_stay_below(gearbox.peak_torque())).blocker(Harm::Parts);
        if !draft.is_open() {
            draft.done();
            continue;
        }
        draft
            .says(format!(
                "axis `{}`: with the load held fast {{value}} can stand at the gearbox output, which survives {{limit}}",
                axis.name
            ))
            .because(by)
            .because("at a hard stop friction does not help the gear: the torque is counted without any loss")
            .with(allowed.clone())
            .or_do(format!("hold the motor current so that limit and tolerance stay below {}", lowest(&allowed)))
            .done();
    }
}

/// The lowest value that a figure has over all tolerances, in words.
fn lowest(figure: &Worked) -> String {
    figure.text_of(figure.clone().must_stay_above(0.0.into()).judge().value_there)
}

//! Over its cycle a gear must not carry more than it carries for ever.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;

rule!("gear-continuous-torque", row "Gear peak/continuous", Mechanics, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, mechanism) in view.mechanisms() {
        let (Some(gearbox), true) = (&axis.gearbox, axis.load.is_some()) else { continue };
        let Some(torque) = mechanism.rms_gearbox_torque() else {
            ruling.missing(axis.path(), &[&axis.entry.path_of("moves")]).blocker(Harm::Parts).done();
            continue;
        };
        let name = &axis.name;
        ruling
            .judge(axis.path(), torque.must_stay_below(gearbox.continuous_torque()))
            .blocker(Harm::Parts)
            .says(format!(
                "axis `{name}`: over its cycle the gearbox carries {{value}} effectively; it is made for {{limit}}"
            ))
            .at(gearbox.path_of("continuous_torque"))
            .because("a gear above its continuous torque wears out in weeks")
            .or_do("accelerate less, rest longer, or take a stronger gearbox")
            .done();
    }
}

//! Over its cycle a motor should carry no more than most of its continuous current.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::share_in_use;
use finding::Harm;
use worked::Number;

rule!("winding-rms-current", row "Winding rms", Heat, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let Some(current) = dc.heating_current() else {
            ruling.missing(axis.path(), &[&axis.entry.path_of("moves")]).weakness(Harm::Parts).done();
            continue;
        };
        let allowed =
            (share_in_use() * dc.continuous_current(axis)).called("current that may be used", "I_used");
        let name = &axis.name;
        ruling
            .judge(axis.path(), current.must_stay_below(allowed))
            .weakness(Harm::Parts)
            .says(format!(
                "axis `{name}`: over its cycle the motor carries {{value}}, ripple included; in the warmest air it should carry no more than {{limit}}"
            ))
            .at(axis.entry.path_of("moves"))
            .because("the winding ages: ten kelvin too much halve its life")
            .or_do("rest longer, accelerate less, take a larger motor, or blow air at it")
            .done();
    }
}

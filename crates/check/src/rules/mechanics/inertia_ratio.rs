//! A load should not be too heavy for its rotor.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("inertia-ratio", row "Inertia ratio", Mechanics, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes().filter(|(axis, _)| axis.load.is_some()) {
        let most = Worked::known(
            10.0,
            "",
            "λ_max",
            "largest inertia ratio",
            Origin::common_practice("3 to 5 for crisp loops"),
        );
        let ratio = dc.gear.inertia_ratio(dc.rotor_inertia(), dc.load_inertia());
        let name = &axis.name;
        ruling
            .judge(axis.path(), ratio.must_stay_below(most))
            .weakness(Harm::Function)
            .says(format!(
                "axis `{name}`: at the motor shaft the load weighs {{value}} times the rotor and gear; more than {{limit}} are hard to control"
            ))
            .because("play and springs between two unequal masses make the loop swing or force it to be slow")
            .or_do("take a higher ratio, a stiffer joint, or a slower loop")
            .done();
    }
}

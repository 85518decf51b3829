//! Wheels must find grip for the acceleration that is planned.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::LoadKind;
use drive::assembly::Sense;
use drive::load::slip_torque;
use finding::Harm;
use worked::Number;

rule!("wheel-grip", row "Torque margin", Mechanics, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, mechanism) in view.mechanisms() {
        let Some(carried) = axis.load.as_ref().filter(|c| c.load.kind().is(LoadKind::Wheels)) else {
            continue;
        };
        let Some(motion) = &mechanism.motion else { continue };
        let load = &carried.load;
        let senses = [Sense::Forward, Sense::Back].into_iter().filter(|s| mechanism.runs(*s));
        let torque = |sense| mechanism.load_torque(sense, &motion.speed, &motion.acceleration);
        let Some(needed) = senses.map(torque).reduce(Number::at_least) else { continue };
        let slips = slip_torque(load.grip(), load.radial_force(), load.wheel_radius());
        let name = &axis.name;
        ruling
            .judge(axis.path(), needed.must_stay_below(slips))
            .blocker(Harm::Function)
            .says(format!("axis `{name}`: its wheels need {{value}} to accelerate and slip at {{limit}}"))
            .at(load.path_of("grip"))
            .because("a wheel that slips counts a way that the vehicle did not go")
            .or_do("accelerate less, or put more of the weight on the driven wheels")
            .done();
    }
}

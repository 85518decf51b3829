//! Somebody has looked at what moves, pinches and flies off.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::DcAxis;
use finding::Harm;
use worked::Worked;

rule!("guarding-is-declared", row "Guarding/energy", Safety, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    if view.axes().next().is_none() && view.bench.servos().is_empty() {
        return;
    }
    let declarations = view.bench.declarations();
    ruling
        .fact("declarations.guarding", declarations.guarding().is_given())
        .blocker(Harm::People)
        .says("nobody vouches for what keeps people away from what moves, pinches or flies off")
        .at("declarations.guarding")
        .or_do("look at the bench with the eyes of a stranger, put up a guard or choose a low-force mode, and write [declarations] guarding = \"…\"")
        .done();
    let mut draft = ruling
        .fact("declarations.energy", declarations.energy().is_given())
        .blocker(Harm::People)
        .says("nobody has assessed the energy that moves")
        .at("declarations.energy")
        .or_do("compare the energy with what a hand stands, and write [declarations] energy = \"…\"");
    for energy in view.dc_axes().filter_map(|(_, dc)| moving_energy(dc)) {
        draft = draft.with(energy);
    }
    draft.done();
}

/// Kinetic energy of an axis with its load at the highest speed of its motion.
fn moving_energy(dc: &DcAxis) -> Option<Worked> {
    let speed = dc.motion.as_ref()?.speed.clone();
    Some(dc.gear.kinetic_energy(dc.rotor_inertia(), dc.load_inertia(), speed))
}

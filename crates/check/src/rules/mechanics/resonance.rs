//! Motor and load must not swing against each other near the bandwidth of the loop.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::wanted::{asked_crossover, followed_crossover};
use drive::control::{in_hertz, resonance};
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("resonance", row "Resonance", Mechanics, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes().filter(|(axis, _)| axis.load.is_some()) {
        let crossover = asked_crossover(axis).or_else(|| followed_crossover(axis, dc));
        let Some(bandwidth) = crossover.map(in_hertz) else {
            ruling.missing(axis.path(), &[&axis.requirements().path_of("bandwidth")]).done();
            continue;
        };
        let Some(stiffness) = drive::assembly::stiffness(axis, &dc.mechanism) else {
            let part = match &axis.gearbox {
                Some(gearbox) => gearbox.path_of("stiffness"),
                None => axis.entry.coupling().path_of("stiffness"),
            };
            ruling.missing(axis.path(), &[&part]).done();
            continue;
        };
        let motor_side = dc.gear.clone().lossless().inertia_behind_output(dc.rotor_inertia());
        let rings = in_hertz(resonance(stiffness, motor_side, dc.load_inertia()));
        let apart = Worked::known(
            3.0,
            "",
            "k_res",
            "distance of the resonance",
            Origin::common_practice("3 to 5 times the bandwidth"),
        );
        let asked = (bandwidth * apart).called("three times the bandwidth", "3·f_b");
        let name = &axis.name;
        ruling
            .judge(axis.path(), rings.must_stay_above(asked))
            .weakness(Harm::Function)
            .says(format!(
                "axis `{name}`: motor and load swing against each other at {{value}}; three times the bandwidth that is asked for is {{limit}}"
            ))
            .because("the loop excites what it should damp: it rings or howls")
            .or_do("take a stiffer joint, a lighter load, a notch filter, or ask for a slower loop")
            .done();
    }
}

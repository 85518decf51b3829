//! Play between encoder and load must stay within half of the tolerance.

use super::{as_asked, not_an_angle};
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::Controls;
use finding::Harm;
use worked::{Dimension, Number, Origin, Worked};

rule!("backlash", row "Backlash", Mechanics, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, mechanism) in view.mechanisms() {
        let asked = axis.requirements();
        let wanted = asked.has("tolerance") || axis.entry.controls().is(Controls::Position);
        if !wanted || axis.load.is_none() {
            continue;
        }
        if asked.one_sided().is(true) {
            ruling.fact(axis.path(), true).done();
            continue;
        }
        if !asked.has("tolerance") {
            ruling.missing(axis.path(), &[&asked.path_of("tolerance")]).done();
            continue;
        }
        let tolerance = asked.tolerance();
        let mut play = drive::assembly::backlash(axis, mechanism);
        if tolerance.dimension() == Dimension::ANGLE && play.dimension() == Dimension::LENGTH {
            let Some(load) = &mechanism.load else { continue };
            let Some(travel) = load.travel() else { continue };
            play = play / travel;
        } else if tolerance.dimension() != play.dimension() {
            let Some(way) = as_asked(play, &tolerance, mechanism) else {
                not_an_angle(axis, "tolerance", ruling);
                continue;
            };
            play = way;
        }
        let part = Worked::known(
            0.5,
            "",
            "k_bl",
            "part of the tolerance that play may take",
            Origin::common_practice("backlash"),
        );
        let allowed = (part * tolerance).called("play allowed", "s_bl,max");
        let name = &axis.name;
        ruling
            .judge(axis.path(), play.must_stay_below(allowed))
            .weakness(Harm::Function)
            .says(format!("axis `{name}`: {{value}} of play lie between the encoder and the load; half of the tolerance is {{limit}}"))
            .because("inside its play the load lies where it likes, and the encoder does not see it")
            .or_do("approach every place from the same side (`one_sided = true`), preload the mechanism, or measure at the load")
            .done();
    }
}

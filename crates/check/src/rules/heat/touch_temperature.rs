//! What can be touched must not burn.

use super::{not_borne, without_steady_state};
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::heat::burn_threshold;
use finding::Harm;

rule!("touch-temperature", row "Touch temperature", Heat, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let touch = view.bench.declarations().touch();
    let header = view.bench.header();
    for (axis, dc) in view.dc_axes() {
        if touch.is_given() {
            ruling.fact(axis.path(), true).blocker(Harm::People).done();
            continue;
        }
        let Some(case) = dc.case_temperature() else {
            ruling.missing(axis.path(), &[&axis.entry.path_of("moves")]).blocker(Harm::People).done();
            continue;
        };
        if !header.has("contact_time") {
            ruling.missing(axis.path(), &[&header.path_of("contact_time")]).blocker(Harm::People).done();
            continue;
        }
        let name = &axis.name;
        let to_do =
            "put a guard or a label on it and write so under `declarations.touch`, or take a larger motor";
        let cool = case.must_stay_below(burn_threshold(header.contact_time()));
        if let (false, Some(claim)) = (cool.judge().holds(), not_borne(dc)) {
            without_steady_state(ruling.judge(axis.path(), claim), name, dc)
                .blocker(Harm::People)
                .at(axis.entry.path_of("motor"))
                .because("what is hot enough to destroy itself burns whoever leans on it or clears a jam")
                .or_do(to_do)
                .done();
            continue;
        }
        ruling
            .judge(axis.path(), cool)
            .blocker(Harm::People)
            .says(format!(
                "axis `{name}`: the case of its motor gets {{value}} warm; skin burns from {{limit}} on for the time of contact that is given"
            ))
            .at(axis.entry.path_of("motor"))
            .because("a case that looks cold burns whoever leans on it or clears a jam")
            .or_do(to_do)
            .done();
    }
}

//! The case of a motor must stay as cool as the bench asks.

use super::{not_borne, without_steady_state};
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;

rule!("case-temperature-asked", row "Touch temperature", Heat, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let asked = axis.requirements();
        if !asked.has("case_temperature") {
            continue;
        }
        let Some(case) = dc.case_temperature() else {
            ruling.missing(axis.path(), &[&axis.entry.path_of("moves")]).done();
            continue;
        };
        let name = &axis.name;
        let to_do = "rest longer, accelerate less, or take a larger motor";
        let cool = case.must_stay_below(asked.case_temperature());
        if let (false, Some(claim)) = (cool.judge().holds(), not_borne(dc)) {
            without_steady_state(ruling.judge(axis.path(), claim), name, dc)
                .weakness(Harm::Function)
                .at(asked.path_of("case_temperature"))
                .or_do(to_do)
                .done();
            continue;
        }
        ruling
            .judge(axis.path(), cool)
            .weakness(Harm::Function)
            .says(format!(
                "axis `{name}`: the case of its motor gets {{value}} warm; {{limit}} were asked for"
            ))
            .at(asked.path_of("case_temperature"))
            .or_do(to_do)
            .done();
    }
}

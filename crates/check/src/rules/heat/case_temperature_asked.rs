//! The case of a motor must stay as cool as the bench asks.

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
        ruling
            .judge(axis.path(), case.must_stay_below(asked.case_temperature()))
            .weakness(Harm::Function)
            .says(format!(
                "axis `{name}`: the case of its motor gets {{value}} warm; {{limit}} were asked for"
            ))
            .at(asked.path_of("case_temperature"))
            .or_do("rest longer, accelerate less, or take a larger motor")
            .done();
    }
}

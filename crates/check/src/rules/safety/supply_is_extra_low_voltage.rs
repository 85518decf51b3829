//! Supplies are certified extra-low voltage, batteries, or outside of this job.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::part::SupplyClass;
use finding::Harm;

rule!("supply-is-extra-low-voltage", row "Supply kind", Safety, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for supply in view.bench.supplies() {
        let subject = supply.entry.path();
        let (name, class) = (&supply.name, supply.part.class());
        let battery = class.is(SupplyClass::Battery) || class.is(SupplyClass::Lithium);
        let certified_class = class.is(SupplyClass::Pelv) || class.is(SupplyClass::Selv);
        let at = supply.part.path_of("class");
        match class.value {
            None => ruling.missing(subject, &[&at]).blocker(Harm::People).done(),
            Some(SupplyClass::OpenFrame) => ruling
                .fact(subject, false)
                .blocker(Harm::People)
                .says(format!("supply `{name}` is an open-frame mains part, which is outside of this job"))
                .at(at.clone())
                .because("mains voltage kills; its wiring belongs to a licensed person")
                .or_do("use a closed supply that is certified for extra-low voltage")
                .done(),
            Some(_) => ruling
                .fact(subject, certified_class || battery)
                .blocker(Harm::People)
                .says(format!("supply `{name}` is of no class that is known to be safe to touch"))
                .at(at.clone())
                .or_do("use a supply that is certified as PELV or SELV, or a battery")
                .done(),
        }
        if certified_class {
            ruling
                .fact(subject, supply.part.certified().is(true))
                .blocker(Harm::People)
                .says(format!("supply `{name}` is not certified for its class"))
                .at(supply.part.path_of("certified"))
                .because("insulation between mains and output cannot be judged by looking or measuring at home")
                .or_do("look for the mark of a testing body on the supply; where there is none, use another supply")
                .done();
        }
    }
    if !view.bench.supplies().is_empty() {
        ruling
            .fact("declarations.supply", view.bench.declarations().supply().is_given())
            .weakness(Harm::People)
            .says("nobody vouches for the supplies and for who did the mains side")
            .at("declarations.supply")
            .or_do(
                "write [declarations] supply = \"…\"; mains wiring is for licensed persons under local codes",
            )
            .done();
    }
}

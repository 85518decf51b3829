//! A clamp on the far side of a diode never sees what braking returns.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;

rule!("clamp-behind-diode", row "Regen sink", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (name, clamp) in view.bench.clamps() {
        let on = clamp.on().and_then(|text| view.bench.feed_named(text));
        let shut: Vec<&str> = view
            .buses()
            .iter()
            .filter(|bus| bus.blocked && Some(&bus.feed) == on.as_ref())
            .map(|bus| bus.path.as_str())
            .collect();
        ruling
            .fact(clamp.path(), shut.is_empty())
            .blocker(Harm::Parts)
            .says(format!(
                "clamp `{name}` sits before {}, which lets no current back to it",
                super::listed(shut.iter().copied())
            ))
            .at(clamp.path_of("on"))
            .because("the energy stays behind the diode, where nothing holds the voltage")
            .or_do("put the clamp on the board's side of the diode, or bridge the diode")
            .done();
    }
}

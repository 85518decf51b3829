//! The trip must act before the supply gives way.

use super::{customary, trips};
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::Feed;
use bench::part::LimitStyle;
use finding::Harm;
use worked::Number;

rule!("supply-limit-above-trip", row "Trip vs supply limit", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for trip in trips::of(view) {
        let Some(axis) =
            trip.axes.first().map(|(axis, _)| *axis).or_else(|| trip.phases.first().map(|(axis, _)| *axis))
        else {
            continue;
        };
        let (Some(Feed::Supply(name)), Some(supply)) = (axis.feed(), axis.supply()) else { continue };
        if supply.part.limit_style().is(LimitStyle::None) {
            continue;
        }
        let asked = trip.limit.threshold.clone()
            * customary(1.2, "", "k_sup", "distance of the supply's limit from a trip");
        ruling
            .judge(&trip.path(), supply.limit().must_stay_above(asked.called("trip with its distance", "I_trip''")))
            .weakness(Harm::Function)
            .says(format!("supply `{name}` limits at {{value}}; {} asks for {{limit}} to act first", trip.name()))
            .at(trip.threshold_path())
            .because("else the supply gives way first: the voltage collapses, no flag is raised, and the cause is looked for elsewhere")
            .or_do("use a supply with a higher limit, or a lower setting of the trip")
            .done();
    }
}

//! The choppers act first, the trip last.

use super::customary;
use super::trips;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::current::together;
use drive::assembly::limits::{chopper, seen, sees_winding};
use finding::Harm;
use worked::{Number, Worked};

rule!("chopper-below-trip", row "Chopper below trip", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for trip in trips::of(view) {
        let of_axes = trip
            .axes
            .iter()
            .map(|(axis, dc)| Some(seen(trip.limit, dc, dc.duty_limit.clone(), chopper(axis)?.threshold)));
        let of_phases = trip.phases.iter().map(|(axis, channel)| {
            let own = axis.limits().into_iter().find(|limit| {
                sees_winding(limit) && limit.limit.acts().is(bench::part::Acts::Chop) && limit.stops(channel)
            });
            own.map(|limit| limit.threshold)
        });
        // Where a motor has no chopper, the start itself decides: a rule of its own.
        let Some(currents) = of_axes.chain(of_phases).collect::<Option<Vec<Worked>>>() else { continue };
        let names: Vec<&str> = trip
            .axes
            .iter()
            .map(|(axis, _)| &*axis.name)
            .chain(trip.phases.iter().map(|(_, channel)| *channel))
            .collect();
        let each = trip.limit.limit.each().is(true);
        let groups: Vec<(String, Vec<Worked>)> = if each {
            names
                .iter()
                .zip(currents)
                .map(|(name, current)| (super::listed([*name]), vec![current]))
                .collect()
        } else {
            vec![(super::listed(names), currents)]
        };
        for (names, currents) in groups {
            let at_limit = together(currents, "current that the trip sees with all choppers at their limit");
            let allowed = trip.limit.threshold.clone()
                / customary(1.2, "", "k_trip", "distance of a trip from the choppers");
            let mut draft = ruling
                .judge(
                    &trip.path(),
                    at_limit.must_stay_below(allowed.called("trip less its distance", "I_trip'")),
                )
                .blocker(Harm::Function)
                .says(format!(
                    "{}: the choppers of {names} let it see {{value}}; it should see no more than {{limit}}",
                    trip.name()
                ))
                .at(trip.threshold_path())
                .because(
                    "a limiter acts first and a trip last; here a hard acceleration switches everything off",
                );
            if let Some(words) = trip.set_by() {
                draft = draft.because(words);
            }
            draft
                .or_do(
                    "select a higher setting of the trip, lower the choppers, or declare a lower duty limit",
                )
                .done();
        }
    }
}

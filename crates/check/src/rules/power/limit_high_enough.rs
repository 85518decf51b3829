//! A limit must leave the current that the planned acceleration takes.

use super::customary;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::{Axis, LimitInForce};
use drive::assembly::DcAxis;
use drive::assembly::current::together;
use drive::assembly::limits::sees_winding;
use finding::Harm;
use worked::{Number, Worked};

rule!("limit-high-enough", row "Limit high enough", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for board in view.bench.boards() {
        for limit in &board.limits {
            let covers = limit.limit.covers();
            let sees = |axis: &Axis| {
                axis.channels.iter().any(|used| {
                    used.board.name == board.name
                        && (covers.is_empty() || covers.contains(&used.channel.name()))
                })
            };
            let seen: Vec<(&str, Worked)> = view
                .dc_axes()
                .filter(|(axis, _)| sees(axis))
                .filter_map(|(axis, dc)| Some((&*axis.name, taken(limit, dc)?)))
                .collect();
            if seen.is_empty() {
                continue;
            }
            let each = limit.limit.each().is(true) || seen.len() == 1;
            let groups: Vec<Vec<(&str, Worked)>> =
                if each { seen.into_iter().map(|one| vec![one]).collect() } else { vec![seen] };
            for group in groups {
                let (names, currents): (Vec<&str>, Vec<Worked>) = group.into_iter().unzip();
                let names = super::listed(names);
                let asked = customary(1.2, "", "k_acc", "room above the accelerating current")
                    * together(currents, "current that the planned motion takes through the limit");
                ruling
                    .judge(limit.limit.path(), limit.threshold.clone().must_stay_above(asked.called("current that the limit must leave", "I_need")))
                    .weakness(Harm::Function)
                    .says(format!(
                        "limit `{}` of board `{}` acts at {{value}}; accelerating {names} as planned asks for {{limit}} with its margin",
                        limit.limit.name(),
                        board.name,
                    ))
                    .because("the axis never reaches its planned acceleration, or trips on the way")
                    .or_do("raise the limit as far as gear and magnets allow, or plan a gentler motion")
                    .done();
            }
        }
    }
}

/// What a limit sees of an axis that accelerates as planned.
fn taken(limit: &LimitInForce, dc: &DcAxis) -> Option<Worked> {
    if sees_winding(limit) { dc.accelerating_current() } else { dc.accelerating_supply_current() }
}

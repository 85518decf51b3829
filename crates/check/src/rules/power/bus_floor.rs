//! The voltage at the board under load must stay above its lockout.

use super::customary;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::Feed;
use drive::assembly::current::together;
use drive::assembly::drawn::within_limit;
use finding::Harm;
use worked::Number;

rule!("bus-floor", row "Bus floor", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for board in view.bench.boards() {
        for fed in &board.inputs {
            let Some(Feed::Supply(supply)) = &fed.feed else { continue };
            let on_input =
                |axis: &bench::Axis| axis.input().is_some_and(|own| own.input.path() == fed.input.path());
            let axes: Vec<_> = view.dc_axes().filter(|(axis, _)| on_input(axis)).collect();
            let Some((_, first)) = axes.first() else { continue };
            let drawn = axes.iter().map(|(_, dc)| dc.largest_supply_current()).collect();
            let drawn = together(drawn, "largest current of all axes on the input");
            let sagged =
                first.power.sagged(within_limit(view.bench.supply(supply).map(AsRef::as_ref), drawn));
            let lockout = fed.input.lockout();
            let floor = if lockout.is_given() {
                (lockout.off() + customary(0.5, "V", "U_mrg", "margin above the lockout"))
                    .called("lowest voltage of the bus", "U_min")
            } else {
                fed.input.range().low
            };
            ruling
                .judge(fed.input.path(), sagged.must_stay_above(floor))
                .blocker(Harm::Function)
                .says(format!(
                    "under load the voltage at `{}` falls to {{value}}; the board needs {{limit}} to stay on",
                    fed.input.path()
                ))
                .at(if lockout.is_given() { lockout.path_of("off") } else { fed.input.path_of("range") })
                .because("below its lockout the board switches off at each start, and on again when the load is gone")
                .with(first.power.line_resistance.clone())
                .or_do("use a thicker or shorter feed cable or a stronger supply, or start along a ramp")
                .done();
        }
    }
}

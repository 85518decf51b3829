//! A limit in the supply is blind for a winding that stalls at part duty.

use super::{at_most, customary, listed};
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::limits::{delay, seen, sees_winding};
use drive::limit::{stalled_current, unseen_current};
use finding::Harm;
use worked::Number;

rule!("trip-does-not-guard-motor", row "Trip does not guard motor", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let (Some(part), Some(bridge)) = (axis.motor(), &dc.bridge) else { continue };
        if !dc.limits.is_empty() {
            continue;
        }
        let name = &axis.name;
        let declared = view.bench.declarations().heat_guard();
        let covers = declared.covers();
        let vouched = declared.is_given() && (covers.is_empty() || covers.contains(&&**name));
        let monitored =
            axis.firmware().heat_monitor().is_some_and(|model| !model.trim().eq_ignore_ascii_case("none"));
        if vouched || monitored {
            ruling.fact(axis.path(), true).blocker(Harm::Parts).done();
            continue;
        }
        let motor = dc.armature();
        let bus = dc.power.open_voltage.clone();
        let supply_side: Vec<_> = axis.limits().into_iter().filter(|limit| !sees_winding(limit)).collect();
        let mut current = motor.stall_current(dc.motor_voltage_at_most());
        for limit in &supply_side {
            current = current.at_most(unseen_current(&motor, bus.clone(), limit.threshold.clone()));
        }
        let current = current.called("current that a locked winding carries for ever", "I_lock");
        let half = customary(0.5, "", "D_½", "half duty, as an example");
        let winding = stalled_current(&motor, bridge, half.clone(), bus);
        let mut draft =
            ruling.judge(axis.path(), current.must_stay_below(part.rated_current())).blocker(Harm::Parts);
        if !draft.is_open() {
            draft.done();
            continue;
        }
        draft = draft.with(winding.clone());
        for limit in &supply_side {
            let visible = seen(limit, dc, half.clone(), winding.clone());
            draft = draft.with(visible.clone()).because(format!(
                "locked at half duty the winding carries {}, limit `{}` sees {} of it and acts at {} after {}",
                winding.text(),
                limit.limit.name(),
                visible.text(),
                limit.threshold.text(),
                delay(limit).text(),
            ));
        }
        let says = if supply_side.is_empty() {
            format!(
                "axis `{name}`: nothing limits the current of a locked motor: {{value}} flow, and it carries {{limit}} continuously"
            )
        } else {
            format!(
                "axis `{name}`: {} in the supply lets a locked winding carry {{value}}; the motor carries {{limit}} continuously",
                listed(supply_side.iter().map(|limit| limit.limit.name())),
            )
        };
        let hottest = at_most(&winding);
        draft
            .says(says)
            .because(format!("up to {hottest} at half duty: the winding burns while every flag stays quiet"))
            .or_do(format!("let the firmware watch the heat: `heat_monitor = \"two bodies\"` under [axes.{name}.firmware]"))
            .or_do("write under `[declarations]`: `heat_guard = \"…\"`, what keeps the winding from overheating")
            .or_do("use a board whose limit sits in the motor lead")
            .done();
    }
}

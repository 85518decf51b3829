//! A load that gravity drives must stay where it is when power goes.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::{BrakeClosed, DriveSide, LoadKind};
use bench::model::Axis;
use drive::assembly::{Mechanism, acts_one_way};
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("unpowered-hold", row "Unpowered hold", Mechanics, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, mechanism) in view.mechanisms() {
        let Some(carried) = &axis.load else { continue };
        let asked = axis.requirements().holds_unpowered().is(true);
        if !asked && !acts_one_way(&carried.load) {
            continue;
        }
        // Whoever does not say that nobody can be under it or in its way has to take it that somebody can.
        let harm = if carried.load.holds_people().is(false) { Harm::Parts } else { Harm::People };
        let unclear: Vec<String> = axis
            .brakes
            .iter()
            .filter(|(_, brake)| brake.closed().stated().is_none())
            .map(|(_, brake)| brake.path_of("closed"))
            .collect();
        let holding = axis.brakes.iter().find(|(_, brake)| brake.closed().is(BrakeClosed::WithoutPower));
        if let Some((brake_name, brake)) = holding {
            let side = brake.on().or(DriveSide::Motor);
            let share = Worked::known(
                1.5,
                "",
                "k_br",
                "margin of a holding brake",
                Origin::common_practice("holding brakes"),
            );
            let held = (mechanism.falling_torque(side) * share)
                .called("torque that the brake has to hold", "M_br,need");
            let name = &axis.name;
            ruling
                .judge(axis.path(), held.must_stay_below(brake.torque()))
                .blocker(harm)
                .says(format!(
                    "axis `{name}`: brake `{brake_name}` has to hold {{value}} and holds {{limit}}"
                ))
                .at(brake.path_of("torque"))
                .because("when power goes or a limit trips, only the brake keeps the load where it is")
                .done();
        } else if unclear.is_empty() {
            by_friction(axis, mechanism, ruling, harm);
        } else {
            let paths: Vec<&str> = unclear.iter().map(String::as_str).collect();
            ruling.missing(axis.path(), &paths).blocker(harm).done();
        }
    }
}

fn by_friction(axis: &Axis, mechanism: &Mechanism, ruling: &mut Ruling<'_>, harm: Harm) {
    let Some(rotor) = drive::assembly::standing_friction(axis) else { return };
    let held =
        (rotor + mechanism.gear.drag.clone()).called("torque that the unpowered drive holds", "M_hold");
    let (name, nominally) = (&axis.name, held.text());
    ruling
        .judge(axis.path(), mechanism.falling_torque(DriveSide::Motor).must_stay_below(held))
        .blocker(harm)
        .says(format!(
            "axis `{name}`: without power the load turns the motor with {{value}}, and friction holds {{limit}}: {} (nominal: {{nominal}} against {nominally})",
            what_it_does(axis.load.as_ref().and_then(|carried| carried.load.kind().value))
        ))
        .because("when power goes, a limit trips or the loop is stopped, nothing but friction holds the load; a shorted winding only slows it")
        .or_do("fit a brake that closes without power, a counterbalance, or a gear that locks itself")
        .done();
}

/// What a load does that nothing holds.
fn what_it_does(kind: Option<LoadKind>) -> &'static str {
    match kind {
        Some(LoadKind::Wheels) => "the vehicle rolls away",
        Some(LoadKind::Screw | LoadKind::Belt) => "the carriage runs down",
        Some(LoadKind::Arm) => "the arm falls",
        Some(LoadKind::Drum) => "the rope runs out and what hangs on it falls",
        Some(LoadKind::Disc) => "its heavy side turns down",
        Some(LoadKind::Constant) | None => "the load drives the axis",
    }
}

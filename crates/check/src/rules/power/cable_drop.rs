//! Voltage that is lost in cables.

use super::{at_most, customary};
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::CableRun;
use drive::assembly::copper::both_ways;
use drive::assembly::current::together;
use drive::bus::{area_for_drop, line_drop};
use finding::Harm;
use worked::{Number, Worked};

rule!("cable-drop", row "Cable drop", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let mut judge = |run: &CableRun, current: Worked, voltage: Worked| {
        let share = customary(0.05, "", "k_ΔU", "part of the voltage that a cable may take");
        let allowed = (share * voltage).called("voltage that a cable may take", "ΔU_max");
        let resistance = both_ways(view.bench, run);
        let draft = ruling
            .judge(
                run.entry.path(),
                line_drop(current.clone(), resistance.clone()).must_stay_below(allowed.clone()),
            )
            .weakness(Harm::Function);
        if !draft.is_open() {
            draft.done();
            return;
        }
        let draft = draft
            .says(format!(
                "cable `{}` takes {{value}} at {}; {{limit}}, a twentieth, is usual",
                run.name,
                at_most(&current)
            ))
            .at(run.entry.path_of("length"))
            .because("what the cable takes is missing as speed and torque, and moves with the load");
        if !run.part.has("area") {
            draft.or_do("use a thicker cable, or cores in parallel").done();
            return;
        }
        let area = area_for_drop(run.part.area(), current, resistance, allowed);
        draft.or_do(format!("use {} or more, or cores in parallel", at_most(&area))).with(area).done();
    };
    for board in view.bench.boards() {
        for fed in &board.inputs {
            let Some(run) = view.bench.cable_to_input(&board.name, fed.input.name()) else { continue };
            let here =
                |axis: &bench::Axis| axis.input().is_some_and(|own| own.input.path() == fed.input.path());
            let axes: Vec<_> = view.dc_axes().filter(|(axis, _)| here(axis)).collect();
            let Some((_, first)) = axes.first() else { continue };
            let drawn = axes.iter().map(|(_, dc)| dc.largest_supply_current()).collect();
            judge(
                run,
                together(drawn, "largest current in the feed cable"),
                first.power.open_voltage.clone(),
            );
        }
    }
    for (axis, dc) in view.dc_axes() {
        if let Some(run) = &axis.motor_cable {
            judge(run, dc.current_with_firmware(), dc.power.open_voltage.clone());
        }
    }
}

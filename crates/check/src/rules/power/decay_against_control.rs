//! With fast decay, small duties do next to nothing.

use super::customary;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::Controls;
use drive::bridge::{Bridge, OffState};
use drive::limit::stalled_current;
use finding::Harm;
use worked::Worked;

rule!("decay-against-control", row "Decay vs control", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let (Some(channel), Some(bridge)) = (axis.channel(), &dc.bridge) else { continue };
        if axis.entry.controls().is(Controls::Nothing) {
            continue;
        }
        let linear = matches!(bridge.off_state, OffState::Brake | OffState::Reverse);
        if linear || axis.firmware().compensates_dead_zone().is(true) {
            ruling.fact(axis.path(), true).weakness(Harm::Function).done();
            continue;
        }
        let motor = dc.armature();
        let bus = dc.power.open_voltage.clone();
        let gaps = bridge.gap_duty(bus.clone(), motor.brush_drop.clone());
        let half = customary(0.5, "", "D_½", "half duty, as an example");
        let here = stalled_current(&motor, bridge, half.clone(), bus.clone());
        let slow: Bridge<Worked> = Bridge { off_state: OffState::Brake, ..bridge.clone() };
        let brake = stalled_current(&motor, &slow, half, bus);
        ruling
            .judge(axis.path(), gaps.must_stay_below(customary(0.05, "", "D_lin", "dead zone that a loop lives with")))
            .weakness(Harm::Function)
            .says(format!(
                "axis `{}`: below {{value}} of duty the current has gaps and the motor hardly pulls; {{limit}} is what a loop lives with",
                axis.name
            ))
            .at(channel.path_of("off_state"))
            .because(format!(
                "locked at half duty it carries {}, with the winding shorted in the off-time it would carry {}",
                here.text(),
                brake.text()
            ))
            .with(here)
            .or_do("short the winding in the off-time (slow decay)")
            .or_do(format!("compensate in the firmware: `compensates_dead_zone = true` under [axes.{}.firmware]", axis.name))
            .done();
    }
}

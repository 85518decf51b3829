//! Pulses too short for the bridge leave a dead zone around zero.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::bridge::OffState;
use finding::Harm;
use worked::Number;

rule!("minimum-pulse", row "Minimum pulse", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let (Some(channel), Some(bridge)) = (axis.channel(), &dc.bridge) else { continue };
        // Locked anti-phase has its shortest pulses at full speed, not at standstill.
        if bridge.off_state == OffState::Reverse {
            continue;
        }
        if axis.firmware().compensates_dead_zone().is(true) {
            ruling.fact(axis.path(), true).weakness(Harm::Function).done();
            continue;
        }
        let shortest = if channel.has("min_pulse") { channel.min_pulse() } else { channel.dead_time() };
        let zone = bridge.dead_zone(shortest);
        let begins = (dc.armature().breakaway_voltage(drive::constants::zero("N·m"))
            / dc.power.open_voltage.clone())
        .called("duty at which the free motor begins to turn", "D_br");
        ruling
            .judge(axis.path(), zone.must_stay_below(begins))
            .weakness(Harm::Function)
            .says(format!("axis `{}`: below {{value}} of duty no pulse reaches the motor, which would begin to turn at {{limit}}", axis.name))
            .because("slow motion stutters, and a position loop hunts")
            .or_do(format!("a lower PWM frequency, or add the zone in the firmware: `compensates_dead_zone = true` under [axes.{}.firmware]", axis.name))
            .done();
    }
}

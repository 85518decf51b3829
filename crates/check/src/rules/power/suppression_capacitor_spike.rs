//! A capacitor across the motor takes a spike of current at every edge.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::limits::chopper;
use drive::bridge::{suppression_loss, suppression_spike};
use finding::Harm;
use worked::Number;

rule!("suppression-capacitor-spike", row "Suppression capacitors", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (axis, dc) in view.dc_axes() {
        let (Some(motor), Some(channel), Some(bridge)) = (axis.motor(), axis.channel(), &dc.bridge) else {
            continue;
        };
        let added = axis.entry.has("suppression_capacitance").then(|| axis.entry.suppression_capacitance());
        let capacitance = added.into_iter().fold(motor.suppression_capacitance(), |sum, more| sum + more);
        let swing = bridge.swing(dc.power.open_voltage.clone());
        let loss = suppression_loss(capacitance.clone(), swing.clone(), bridge.frequency.clone());
        let spike = suppression_spike(capacitance, swing, channel.output_rise_time());
        // A chopper that is blind for a moment after each edge does not see the spike; its switches carry it.
        let (limit, what) = match chopper(axis).filter(|chopper| !chopper.limit.has("blanking")) {
            Some(chopper) => {
                let taken = dc.accelerating_current().unwrap_or_else(|| drive::constants::zero("A"));
                (
                    (chopper.threshold.clone() - taken).called("room below the chopper", "I_room"),
                    "is left below the chopper",
                )
            }
            None => (channel.peak_current(), "is what the switches stand"),
        };
        ruling
            .judge(axis.path(), spike.must_stay_below(limit))
            .weakness(Harm::Function)
            .says(format!("axis `{}`: each edge drives {{value}} into the capacitors across the motor; {{limit}} {what}", axis.name))
            .at(motor.path_of("suppression_capacitance"))
            .because("the limiter acts on the spike, the motor gets no current, and the bridge pays for every edge")
            .with(loss)
            .or_do("take the capacitors off, or put a choke between bridge and motor")
            .done();
    }
}

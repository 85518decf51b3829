//! The capacitors at a bridge carry the ripple of its pulses.

use super::customary;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::current::together;
use finding::Harm;
use worked::{Number, Worked};

rule!("capacitor-ripple-current", row "Bus capacitor ripple", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for board in view.bench.boards() {
        for input in board.inputs.iter().map(|fed| &fed.input).filter(|input| input.has("capacitance")) {
            let here = |axis: &bench::Axis| axis.input().is_some_and(|own| own.input.path() == input.path());
            let ripples: Vec<Worked> = view
                .dc_axes()
                .filter(|(axis, _)| here(axis))
                .filter_map(|(_, dc)| {
                    let duty = dc.duty_limit.clone().at_most(customary(
                        0.5,
                        "",
                        "D_rip",
                        "duty at which the ripple is largest",
                    ));
                    let current = dc.effective_current();
                    Some(dc.bridge.as_ref()?.capacitor_ripple(duty, current))
                })
                .collect();
            if ripples.is_empty() {
                continue;
            }
            // Channels of one timer pulse together, so their ripples add.
            let sum = together(ripples, "ripple current of all channels on the input, rms");
            ruling
                .judge(input.path(), sum.must_stay_below(input.capacitor_ripple_current()))
                .weakness(Harm::Parts)
                .says(format!(
                    "the capacitors of `{}` carry {{value}} of ripple and are made for {{limit}}",
                    input.path()
                ))
                .at(input.path_of("capacitor_ripple_current"))
                .because(
                    "ripple heats them from inside: they dry out within months and the bus loses its buffer",
                )
                .or_do("add a low-impedance capacitor right at the bridge")
                .done();
        }
    }
}

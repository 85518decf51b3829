//! What braking gives back must not lift a bus beyond what hangs on it.

use super::{at_most, customary};
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;
use worked::Number;

rule!("bus-ceiling", row "Bus ceiling", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for bus in view.buses() {
        for input in &bus.inputs {
            if !bus.lacking.is_empty() {
                let lacking: Vec<&str> = bus.lacking.iter().map(String::as_str).collect();
                let words = "what the stop returns to the bus decides its highest voltage";
                ruling.missing(input.path(), &lacking).blocker(Harm::Parts).because(words).done();
                continue;
            }
            let ceiling =
                customary(0.9, "", "k_abs", "part of the absolute maximum that is used") * input.survives();
            let needed = bus.capacitance_needed(ceiling.clone());
            let draft = ruling
                .judge(
                    input.path(),
                    bus.highest_voltage()
                        .must_stay_below(ceiling.clone().called("ceiling of the bus", "U_ceil")),
                )
                .blocker(Harm::Parts);
            if !draft.is_open() {
                draft.done();
                continue;
            }
            let draft = draft
                .says(format!(
                    "braking lifts the bus of `{}` to {{value}}, where the board may see {{limit}}",
                    input.path()
                ))
                .see(input.path_of("survives"), "what the board survives")
                .because(format!(
                    "all axes on it stopping together return {} and need {} on the bus, which has {}{}",
                    at_most(&bus.energy()),
                    at_most(&needed),
                    bus.capacitance.text(),
                    if bus.takes_back() { "" } else { "; the supply takes nothing back" },
                ))
                .with(bus.energy())
                .with(needed)
                .or_do(format!(
                    "bring the capacitance of the bus to {}",
                    at_most(&bus.capacitance_needed(ceiling.clone()))
                ));
            draft
                .or_do(format!(
                    "add a clamp that switches on between the highest supply voltage and {} and takes {}, or slow the deceleration",
                    ceiling.text(),
                    at_most(&bus.power()),
                ))
                .done();
        }
    }
}

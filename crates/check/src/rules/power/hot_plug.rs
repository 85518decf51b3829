//! Plugging a board into a live supply rings cable and capacitor up to twice the voltage.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::Feed;
use drive::assembly::copper::both_ways;
use drive::assembly::power::feed_voltage;
use drive::bus::{cable_inductance, hot_plug_voltage, loop_damping};
use finding::Harm;
use worked::{Number, Worked};

rule!("hot-plug", row "Hot plug", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let declared = view.bench.declarations().hot_plug().is_given();
    for board in view.bench.boards() {
        for fed in board.inputs.iter().filter(|fed| fed.input.has("capacitance")) {
            let input = &fed.input;
            let Some(feed @ Feed::Supply(name)) = &fed.feed else { continue };
            if input.hot_plug().is(true) {
                ruling.fact(input.path(), true).blocker(Harm::Parts).done();
                continue;
            }
            let voltage = feed_voltage(view.bench, feed);
            let cable = view.bench.cable_to_input(&board.name, input.name());
            let peak = match cable {
                Some(run) => {
                    let mut way: Vec<Worked> = vec![both_ways(view.bench, run)];
                    way.extend(input.has("capacitor_resistance").then(|| input.capacitor_resistance()));
                    way.extend(input.has("series_resistance").then(|| input.series_resistance()));
                    way.extend(
                        view.bench
                            .supply(name)
                            .filter(|s| s.part.has("source_resistance"))
                            .map(|s| s.part.source_resistance()),
                    );
                    let resistance =
                        way.into_iter().sum::<Worked>().called("resistance of the loop", "R_loop");
                    let inductance = cable_inductance(run.entry.length(), run.part.inductance_per_length());
                    hot_plug_voltage(voltage, loop_damping(resistance, inductance, input.capacitance()))
                }
                None => {
                    (2.0 * voltage).called("voltage peak when plugged in live, nothing damping it", "U_plug")
                }
            };
            let draft = ruling.judge(input.path(), peak.must_stay_below(input.survives()));
            let draft = if declared { draft.weakness(Harm::Parts) } else { draft.blocker(Harm::Parts) };
            let draft = draft
                .says(format!("plugged in under power, the cable rings the input `{}` up to {{value}}; it survives {{limit}}", input.path()))
                .see(input.path_of("survives"), "what it survives")
                .because("the low resistance that makes a capacitor good is what lets it ring")
                .or_do("put an electrolytic capacitor of some 0.1 Ω beside it: the loss damps the ring");
            if declared {
                draft.because("only a rule on paper keeps people from doing it").done();
            } else {
                draft
                    .or_do("never plug it under power, and write under `[declarations]`: `hot_plug = \"…\"`")
                    .done();
            }
        }
    }
}

//! A filter must be fast against the loop that uses its line.

use super::of_axis;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::{Controls, Structure};
use drive::assembly::sense::Tells;
use drive::assembly::wanted::{current_loop_crossover, loop_crossover};
use drive::constants::rate;
use drive::sense::corner;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("filter-delay-against-loop", row "Filter delay", Signals, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for line in view.sense_lines() {
        let Some(filter) = &line.filter else { continue };
        let Some(axis) = line.axis.as_ref().and_then(|name| view.bench.axis(name)) else { continue };
        // A stepper that counts its own steps has no loop.
        if axis.entry.controls().or(Controls::Nothing) == Controls::Nothing || axis.motor().is_none() {
            continue;
        }
        let inner = line.tells == Tells::Current && axis.entry.structure().is(Structure::Current);
        let crossover =
            if inner { current_loop_crossover(view.bench, axis) } else { loop_crossover(view.bench, axis) };
        let product = (rate(crossover.clone()) * filter).called("crossover times filter", "ω_c·τ_f");
        let most = Worked::known(
            0.1,
            "",
            "k_d",
            "largest crossover times filter",
            Origin::common_practice("6° of phase"),
        );
        ruling
            .judge(&line.path, product.must_stay_below(most))
            .weakness(Harm::Function)
            .says(format!(
                "`{}`{}: the crossover of the loop times the time constant of the filter is {{value}}; {{limit}} is a good limit",
                line.name,
                of_axis(line)
            ))
            .because("a filter has to lie well above the loop and well below the PWM: where both do not fit, sample in step with the PWM and filter less")
            .with(crossover)
            .with(corner(filter.clone()))
            .or_do("shorten the filter, or ask for a slower loop")
            .done();
    }
}

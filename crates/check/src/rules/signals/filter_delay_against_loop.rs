//! A filter must be fast against the loop that uses its line.

use super::of_axis;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::{Controls, Structure};
use bench::model::Axis;
use drive::assembly::sense::Tells;
use drive::constants::rate;
use drive::control::{crossover_for, crossover_for_settling};
use drive::sense::corner;
use finding::Harm;
use worked::{Number, Origin, Worked};

rule!("filter-delay-against-loop", row "Filter delay", Signals, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for line in view.sense_lines() {
        let Some(filter) = &line.filter else { continue };
        let Some(axis) = line.axis.as_ref().and_then(|name| view.bench.axis(name)) else { continue };
        if axis.entry.controls().or(Controls::Nothing) == Controls::Nothing {
            continue;
        }
        let inner = line.tells == Tells::Current && axis.entry.structure().is(Structure::Current);
        let crossover = if inner { current_crossover(axis) } else { crossover(axis) };
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

/// Crossover that the requirements ask for; the bandwidth is what is missing where they ask for none.
fn crossover(axis: &Axis) -> Worked {
    let wanted = axis.requirements();
    if !wanted.has("bandwidth") && wanted.has("rise_time") {
        return crossover_for(wanted.rise_time());
    }
    if !wanted.has("bandwidth") && wanted.has("settling_time") {
        return crossover_for_settling(wanted.settling_time());
    }
    wanted.bandwidth().as_angular().called("wanted crossover", "ω_c")
}

/// Crossover of a current loop inside of it.
fn current_crossover(axis: &Axis) -> Worked {
    let faster = Worked::known(
        5.0,
        "",
        "k_i",
        "how much faster a current loop is",
        Origin::common_practice("five times"),
    );
    (faster * crossover(axis)).called("crossover of the current loop", "ω_ci")
}

//! A filter must be fast against the loop that uses its line.

use super::of_axis;
use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::{Controls, Structure};
use bench::model::Axis;
use drive::assembly::sense::Tells;
use drive::constants::{rate, zero};
use drive::control::{crossover_for, crossover_for_settling, delay, delay_ceiling};
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
        let crossover = if inner { current_crossover(view, axis) } else { crossover(view, axis) };
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

/// Crossover that the requirements ask for; where they ask for none, the fastest that the samples of the loop allow.
fn crossover(view: &View<'_>, axis: &Axis) -> Worked {
    let wanted = axis.requirements();
    if wanted.has("bandwidth") {
        return wanted.bandwidth().as_angular().called("wanted crossover", "ω_c");
    }
    if wanted.has("rise_time") {
        return crossover_for(wanted.rise_time());
    }
    if wanted.has("settling_time") {
        return crossover_for_settling(wanted.settling_time());
    }
    let Some(controller) = view.bench.controller() else {
        return wanted.bandwidth().as_angular().called("wanted crossover", "ω_c");
    };
    let r#loop = controller.entry.r#loop();
    let window = if r#loop.has("speed_window") { r#loop.speed_window() } else { r#loop.sample_time() };
    let phase = Worked::known(
        0.35,
        "rad",
        "φ",
        "phase at the crossover that may be lost",
        Origin::common_practice("20°"),
    );
    delay_ceiling(phase, delay(r#loop.sample_time(), window, zero("s")))
}

/// Crossover of a current loop inside of it.
fn current_crossover(view: &View<'_>, axis: &Axis) -> Worked {
    let faster = Worked::known(
        5.0,
        "",
        "k_i",
        "how much faster a current loop is",
        Origin::common_practice("five times"),
    );
    (faster * crossover(view, axis)).called("crossover of the current loop", "ω_ci")
}

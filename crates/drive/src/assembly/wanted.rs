//! What an axis is asked to do, and what its encoder and its board give for it.

use super::DcAxis;
use super::encoder::counts_at_motor;
use crate::control::{crossover_for, delay, encoder_ceiling, rated_acceleration, speed_gain};
use bench::model::Axis;
use worked::{Dimension, Input, Number, Origin, Worked};

/// Crossover that the requirements ask for: the bandwidth, else what the rise time takes. `None` where neither
/// is wanted.
pub fn wanted_crossover(axis: &Axis) -> Option<Worked> {
    let wanted = axis.requirements();
    if wanted.has("bandwidth") {
        Some(wanted.bandwidth().as_angular().called("wanted crossover", "ω_c"))
    } else if wanted.has("rise_time") {
        Some(crossover_for(wanted.rise_time()))
    } else {
        None
    }
}

/// Delay of the loop of an axis, from the controller's loop as the bench runs it. `None` without a controller.
pub fn loop_delay(bench: &bench::Bench) -> Option<Worked> {
    let r#loop = bench.controller()?.entry.r#loop();
    let window = if r#loop.has("speed_window") { r#loop.speed_window() } else { r#loop.sample_time() };
    Some(delay(r#loop.sample_time(), window, crate::constants::zero("s")))
}

/// Crossover that the encoder of an axis allows. `None` without an encoder.
///
/// Source: derived in `docs/models/control.md`; the shares are common practice.
pub fn encoder_crossover(axis: &Axis, dc: &DcAxis) -> Option<Worked> {
    let counts = counts_at_motor(axis, axis.encoder.as_ref()?);
    let acceleration =
        rated_acceleration(dc.armature().constant, axis.motor()?.rated_current(), dc.accelerating_inertia());
    Some(encoder_ceiling(noise_part(), acceleration, counts, phase()))
}

/// Part of the rated current that the noise of one count may take.
fn noise_part() -> Worked {
    Worked::known(
        0.15,
        "",
        "ρ",
        "part of the rated current left to the noise of counts",
        Origin::common_practice(""),
    )
}

/// Phase that the speed window or a delay may cost at the crossover.
pub fn phase() -> Worked {
    Worked::known(
        0.35,
        "rad",
        "φ",
        "phase at the crossover that may be lost",
        Origin::common_practice("20 degrees"),
    )
}

/// Gain of a speed loop in voltage mode for the wanted crossover.
pub fn wanted_gain(axis: &Axis, dc: &DcAxis) -> Option<Worked> {
    let armature = dc.armature().turning(dc.accelerating_inertia());
    Some(speed_gain(armature.mechanical_time(), armature.constant.clone(), wanted_crossover(axis)?))
}

/// The nominal value of a figure as a number without tolerance, to set a band against.
pub fn nominal_of(figure: &Worked, path: &str, name: &str, symbol: &str) -> Worked {
    let dimension: Dimension = figure.dimension();
    let input = Input::new(path, name, symbol, dimension).origin(Origin::computed("the nominal value"));
    match figure.value() {
        value if value.is_finite() => input.value(value).worked(),
        _ => input.worked(),
    }
}

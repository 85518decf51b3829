//! What an axis is asked to do, and what its encoder and its board give for it.

use super::DcAxis;
use super::encoder::counts_at_motor;
use crate::control::{
    crossover_for, crossover_to_follow, crossover_to_settle, delay, delay_ceiling, encoder_ceiling,
    rated_acceleration, speed_gain,
};
use crate::load::Load;
use bench::model::Axis;
use worked::{Dimension, Input, Number, Origin, Worked};

/// Crossover that the requirements ask for: the bandwidth, else what the rise time takes. `None` where neither
/// is wanted.
pub fn wanted_crossover(axis: &Axis) -> Option<Worked> {
    let wanted = axis.requirements();
    if wanted.has("bandwidth") {
        Some(stated_crossover(axis))
    } else if wanted.has("rise_time") {
        Some(crossover_for(wanted.rise_time()))
    } else {
        None
    }
}

/// The same, else what the settling time takes. `None` where none of the three is wanted.
pub fn asked_crossover(axis: &Axis) -> Option<Worked> {
    let wanted = axis.requirements();
    let settling = || wanted.has("settling_time").then(|| crossover_to_settle(wanted.settling_time()));
    wanted_crossover(axis).or_else(settling)
}

/// Crossover of a position loop that keeps the following error of the requirements without feed-forward. `None`
/// without one, or without a planned motion.
pub fn followed_crossover(axis: &Axis, dc: &DcAxis) -> Option<Worked> {
    let asked = axis.requirements();
    let motion = dc.motion.as_ref().filter(|_| asked.has("following_error"))?;
    let error = asked.following_error();
    let travel = dc.load.as_ref().and_then(Load::travel);
    let angle = match (error.dimension(), travel) {
        (Dimension::ANGLE, _) => error,
        (_, Some(travel)) => error / travel,
        _ => return None,
    };
    Some(crossover_to_follow(motion.speed.clone(), angle))
}

/// Crossover that the loop of an axis will have: what is asked for, else the fastest that its delay allows.
pub fn loop_crossover(bench: &bench::Bench, axis: &Axis) -> Worked {
    let fastest = || Some(delay_ceiling(phase(), loop_delay(bench)?));
    asked_crossover(axis).or_else(fastest).unwrap_or_else(|| stated_crossover(axis))
}

/// Crossover of a current loop inside of it.
pub fn current_loop_crossover(bench: &bench::Bench, axis: &Axis) -> Worked {
    let faster = Worked::known(
        5.0,
        "",
        "k_i",
        "how much faster a current loop is",
        Origin::common_practice("five times"),
    );
    (faster * loop_crossover(bench, axis)).called("crossover of the current loop", "ω_ci")
}

/// Crossover of the stated bandwidth; a missing figure where none is stated.
fn stated_crossover(axis: &Axis) -> Worked {
    axis.requirements().bandwidth().as_angular().called("wanted crossover", "ω_c")
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

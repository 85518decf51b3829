//! Logic lines: what a line does that nothing drives, noise margins, dividers, back-feed.
//!
//! ```text
//! line     u = (Σ U_k/R_k + Σ I_k)/Σ 1/R_k        pull-ups, pull-downs, leakage into the line
//! divider  u = U·R_2/(R_1 + R_2)                  back-feed  I = (U − U_d − U_clamp)/R
//! ```
//!
//! Assumed: resistive pulls, leakage as a current of either sign, clamps with a steady drop. Left out: input
//! hysteresis, dynamics. Source: node equation. `docs/models/logic.md`.

use worked::{Number, Origin};

/// A resistor from a line to a rail, or to ground where the voltage is zero.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Pull<N> {
    /// Voltage of the rail.
    pub voltage: N,
    /// Resistance.
    pub resistance: N,
}

/// Voltage of a line that only pulls and leakage act on; `leakage` flows into the line. `None` without a pull:
/// the line floats.
pub fn undriven_voltage<N: Number>(pulls: &[Pull<N>], leakage: N) -> Option<N> {
    let (first, rest) = pulls.split_first()?;
    let all = rest.iter().fold(first.clone(), |all, pull| together(&all, pull));
    Some((all.voltage + leakage * all.resistance).called("voltage of the undriven line", "U_line"))
}

/// Two pulls as one. Each resistor stands once in the voltage, so that its worst case is a corner.
fn together<N: Number>(a: &Pull<N>, b: &Pull<N>) -> Pull<N> {
    let share = N::pure(1.0) + a.resistance.clone() / b.resistance.clone();
    Pull {
        voltage: b.voltage.clone() + (a.voltage.clone() - b.voltage.clone()) / share,
        resistance: a.resistance.clone().parallel(b.resistance.clone()),
    }
}

/// Room of a high level above what the input asks for; a shift of the ground of the input eats into it.
pub fn high_margin<N: Number>(output_high: N, input_high: N, ground_shift: N) -> N {
    (output_high - input_high - ground_shift).called("margin of the high level", "ΔU_H")
}

/// Room of a low level below what the input asks for.
pub fn low_margin<N: Number>(output_low: N, input_low: N, ground_shift: N) -> N {
    (input_low - output_low - ground_shift).called("margin of the low level", "ΔU_L")
}

/// High level of an open-drain line: the rail less what leakage and the inputs take through the pull-up.
pub fn open_drain_high<N: Number>(rail: N, pull_up: N, leakage: N) -> N {
    (rail - pull_up * leakage).called("high level of the open-drain line", "U_OH")
}

/// Current that an open-drain output has to sink.
pub fn sink_current<N: Number>(rail: N, output_low: N, pull_up: N) -> N {
    ((rail - output_low) / pull_up).called("current that the output sinks", "I_OL")
}

/// Voltage of a divider without load.
pub fn divided<N: Number>(voltage: N, upper: N, lower: N) -> N {
    // The ratio holds each resistor once, so its worst case is a corner.
    (voltage / (N::pure(1.0) + upper / lower)).called("divided voltage", "U_div")
}

/// Resistance that a divider shows to what reads it.
pub fn divider_source<N: Number>(upper: N, lower: N) -> N {
    upper.parallel(lower).called("source resistance of the divider", "R_src")
}

/// Relative standard uncertainty of a divider's ratio from those of its resistors.
pub fn divider_uncertainty<N: Number>(upper: N, lower: N, u_upper: N, u_lower: N) -> N {
    let part = upper.clone() / (upper + lower);
    (part * (u_upper.squared() + u_lower.squared()).sqrt())
        .called("relative uncertainty of the divider", "u_div")
}

/// Current into the clamp of an input whose part has another supply voltage, zero volts where it is not powered:
/// `(U − U_supply − U_clamp)/R`.
pub fn back_feed<N: Number>(source: N, supply: N, resistance: N) -> N {
    ((source - supply - clamp_drop()).or_zero() / resistance)
        .called("current through the input's clamp", "I_bf")
}

/// Drop of a clamp diode: 0.3 V, on the side of more current.
pub fn clamp_drop<N: Number>() -> N {
    N::known(
        0.3,
        "V",
        "U_clamp",
        "drop of a clamp diode",
        Origin::common_practice("low end, more current flows"),
    )
}

/// Current that a converter draws for what its rail gives: `I·U_rail/(η·U)`.
pub fn converter_input<N: Number>(current: N, rail: N, efficiency: N, input: N) -> N {
    (current * rail / (efficiency * input)).called("current that the converter draws", "I_conv")
}

/// Sum of loads on a rail as a part of what it gives.
pub fn loading<N: Number>(loads: N, rating: N) -> N {
    (loads / rating).called("part of the rail in use", "ΣI/I")
}

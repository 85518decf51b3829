//! Rules of the literature for the gains of a loop, by their names. Each gives the gain and the integral time of a PI law.
//!
//! | rule | plant | gives |
//! |---|---|---|
//! | modulus optimum | `V/((1 + T_1·s)·(1 + σ·s))`, T_1 the larger | damping 1/√2: 4.3 % of overshoot |
//! | symmetrical optimum | `V/(T_1·s·(1 + σ·s))` | phase margin `atan(a) − atan(1/a)`, the most that the ratio a² leaves |
//! | SIMC | `V·e^(−θs)/(1 + T_1·s)` | a crossover at 1/(λ + θ) |
//!
//! σ is the sum of all small time constants and delays. Sources: C. Kessler, *Regelungstechnik* 6 (1958) for the two optima;
//! S. Skogestad, *J. Process Control* 13 (2003) 291 for SIMC; all from memory, the figures in the tests recomputed.

/// Gain and integral time of a PI law `K_p·(1 + 1/(T_i·s))`.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Pi {
    /// Gain K_p, input of the plant for its output.
    pub gain: f64,
    /// Integral time T_i, s.
    pub integral_time: f64,
}

/// Modulus optimum of a plant with a gain at rest, a large time constant (s) and a sum of small ones (s).
pub fn modulus_optimum(gain: f64, large: f64, small: f64) -> Pi {
    Pi { gain: large / (2.0 * gain * small), integral_time: large }
}

/// Symmetrical optimum of a plant that integrates at a rate (output for input, in a second), with a sum of small time
/// constants (s) and a ratio a, 2 in its usual form.
pub fn symmetrical_optimum(rate: f64, small: f64, ratio: f64) -> Pi {
    Pi { gain: 1.0 / (ratio * rate * small), integral_time: ratio * ratio * small }
}

/// SIMC of a plant with a gain at rest, a time constant (s), a dead time (s) and a wanted time constant λ (s).
pub fn simc(gain: f64, time: f64, delay: f64, wanted: f64) -> Pi {
    let sum = wanted + delay;
    Pi { gain: time / (gain * sum), integral_time: time.min(4.0 * sum) }
}

/// SIMC of a plant that integrates at a rate (output for input, in a second), with a dead time and a wanted time constant.
pub fn simc_integrating(rate: f64, delay: f64, wanted: f64) -> Pi {
    let sum = wanted + delay;
    Pi { gain: 1.0 / (rate * sum), integral_time: 4.0 * sum }
}

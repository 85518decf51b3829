//! What bounds a loop: sampling, delay, encoder, resonance, backlash, voltage.
//!
//! ```text
//! delay      T_d = 1.5·T_s + T_w/2 + filters         phase = ω_c·T_d
//! encoder    ω_c ≤ √(2·ρ·α·c·φ),  α = K·I/J          (Δω = 1/(c·T_w),  ΔI = J·Δω·ω_c/K,  T_w = 2·φ/ω_c)
//! two masses ω_a = √(k/J_L)      ω_r = √(k·(1/J_L + 1/J_m))
//! ```
//!
//! Bandwidths and crossovers are in rad/s, phases in rad. c is in 1/rad, so `2·c` is `C/π` with C counts a turn.
//! Assumed: small signals, voltage and current inside their limits. Left out: everything a full design has to
//! check (margins over corners). `docs/models/control.md`.

use crate::constants::{angular, cyclic, radian, rate};
use worked::Number;

/// Delay of a sampled loop: one and a half sample, half the window of the speed measurement, filters.
pub fn delay<N: Number>(sample_time: N, speed_window: N, filters: N) -> N {
    (N::pure(1.5) * sample_time + speed_window / 2.0 + filters).called("delay of the loop", "T_d")
}

/// Phase that a delay costs at a crossover.
pub fn phase_lag<N: Number>(crossover: N, delay: N) -> N {
    (crossover * delay).called("phase lost to the delay", "φ_d")
}

/// Crossover that a delay allows for a phase.
pub fn delay_ceiling<N: Number>(phase: N, delay: N) -> N {
    (phase / delay).called("crossover that the delay allows", "ω_d")
}

/// Longest sample time for a current loop: a part of the electrical time constant.
pub fn longest_sample<N: Number>(electrical_time: N, parts: N) -> N {
    (electrical_time / parts).called("longest sample time of a current loop", "T_s,max")
}

/// Acceleration of the motor at its rated current, `K·I/J`.
pub fn rated_acceleration<N: Number>(constant: N, rated_current: N, inertia: N) -> N {
    (constant * rated_current / inertia).called("acceleration at rated current", "α_r")
}

/// Crossover that the counts of an encoder allow: the current noise of one count stays within a part of the rated
/// current, the speed window within a phase. `√(2·ρ·α·c·φ)`.
pub fn encoder_ceiling<N: Number>(noise_part: N, rated_acceleration: N, counts: N, phase: N) -> N {
    (N::pure(2.0) * noise_part * rated_acceleration * counts * phase * radian::<N>())
        .sqrt()
        .called("crossover that the encoder allows", "ω_enc")
}

/// Window of the speed measurement that goes with a crossover and a phase: `2·φ/ω_c`.
pub fn speed_window<N: Number>(crossover: N, phase: N) -> N {
    (N::pure(2.0) * phase / crossover).called("window of the speed measurement", "T_w")
}

/// Counts that a wanted crossover needs: `ω²/(2·ρ·α·φ)`.
pub fn needed_counts<N: Number>(crossover: N, noise_part: N, rated_acceleration: N, phase: N) -> N {
    (crossover.squared() / (N::pure(2.0) * noise_part * rated_acceleration * phase * radian::<N>()))
        .called("counts needed", "c_need")
}

/// Step of the current that one count of speed makes in a loop of a crossover: `J·Δω·ω_c/K`.
pub fn current_of_count<N: Number>(constant: N, inertia: N, speed_step: N, crossover: N) -> N {
    (inertia * speed_step * rate(crossover) / constant).called("current step of one count", "ΔI_1")
}

/// Resonance of two inertias on a spring, both on one side of the gear: `√(k·(1/J_L + 1/J_m))`.
pub fn resonance<N: Number>(stiffness: N, motor_inertia: N, load_inertia: N) -> N {
    let both = N::pure(1.0) / load_inertia + N::pure(1.0) / motor_inertia;
    angular((stiffness * both).sqrt()).called("resonance", "ω_r")
}

/// Frequency at which the motor stands still and the load swings: `√(k/J_L)`.
pub fn anti_resonance<N: Number>(stiffness: N, load_inertia: N) -> N {
    angular((stiffness / load_inertia).sqrt()).called("anti-resonance", "ω_a")
}

/// An angular frequency in Hz.
pub fn in_hertz<N: Number>(angular_frequency: N) -> N {
    cyclic(angular_frequency).called("frequency", "f")
}

/// Stiffness of springs in a row, each at the same shaft.
pub fn in_series<N: Number>(first: N, second: N) -> N {
    first.parallel(second).called("stiffness of both in a row", "k_Σ")
}

/// Stiffness of a stiffness along a way, at the shaft with a travel (m/rad).
pub fn stiffness_at_shaft<N: Number>(stiffness: N, travel: N) -> N {
    (stiffness * travel.squared()).called("stiffness at the shaft", "k_φ")
}

/// Stiffness at the motor shaft of one at the output of a gear: `k/N²`.
pub fn stiffness_at_motor<N: Number>(stiffness: N, ratio: N) -> N {
    (stiffness / ratio.squared()).called("stiffness at the motor shaft", "k'")
}

/// Crossover that backlash allows: below it the torque that reverses the motor side across the gap stays within
/// dry friction. `√(M_f/(J·θ_bl))` for a swing of half the gap, at the motor shaft.
pub fn backlash_ceiling<N: Number>(friction: N, inertia: N, backlash: N) -> N {
    let gap = backlash / 2.0;
    angular((friction / (inertia * gap)).sqrt()).called("crossover that backlash allows", "ω_bl")
}

/// Largest step of the speed that neither the voltage nor the current limit cuts, in a loop with a proportional
/// gain (V for rad/s): headroom over gain.
pub fn largest_linear_step<N: Number>(voltage_headroom: N, gain: N) -> N {
    (voltage_headroom / gain).called("largest step without a limit", "Δω_lin")
}

/// Voltage that is left for a step at a speed: the bus less what the motion takes, and no more than what the
/// current limit allows through the resistance.
pub fn step_headroom<N: Number>(bus: N, taken: N, resistance: N, current_limit: N, current: N) -> N {
    let by_voltage = bus - taken;
    let by_current = (current_limit - current) * resistance;
    by_voltage.at_most(by_current).called("voltage left for a step", "U_step")
}

/// Crossover at which a step of the speed takes all of the voltage that is left for it: `U/(Δω·R·J/K)`, the last being the
/// voltage for an acceleration.
pub fn saturation_ceiling<N: Number>(voltage_headroom: N, step: N, for_acceleration: N) -> N {
    angular(voltage_headroom / (step * for_acceleration))
        .called("crossover that a step leaves linear", "ω_lin")
}

/// Proportional gain of a speed loop in voltage mode that crosses over at about `ω_c`: `τ_m·K·ω_c`.
pub fn speed_gain<N: Number>(mechanical_time: N, constant: N, crossover: N) -> N {
    (mechanical_time * constant * rate(crossover)).called("gain of the speed loop", "K_p")
}

/// Angle by which a position error must grow before an integrator breaks stiction loose: the voltage of dry
/// friction over the position gain (V/rad).
pub fn stiction_angle<N: Number>(breakaway_voltage: N, position_gain: N) -> N {
    (breakaway_voltage / position_gain).called("error held by stiction", "δφ_s")
}

/// Lag of a position loop at a speed without feed-forward: `ω/K_p`, gain in 1/s.
pub fn following_error<N: Number>(speed: N, position_gain: N) -> N {
    (speed / position_gain).called("following error", "e")
}

/// Change of the loop gain over the range of the bus voltage, as a part of the nominal.
pub fn gain_change<N: Number>(bus: N, nominal_bus: N) -> N {
    (bus / nominal_bus - N::pure(1.0)).called("change of the loop gain with the bus", "ΔK/K")
}

/// Cyclic bandwidth that edges at the lowest speed allow: edges in a second over the edges that one swing needs.
pub fn low_speed_bandwidth<N: Number>(edge_rate: N, edges_per_swing: N) -> N {
    (edge_rate / edges_per_swing).called("bandwidth that the edges allow", "f_low")
}

/// Rise time, 10 % to 90 %, of a first-order loop: `2.2/ω_c` (ln 9).
pub fn rise_time<N: Number>(crossover: N) -> N {
    (N::pure(libm::log(9.0)) / rate(crossover)).called("rise time", "t_r")
}

/// Crossover that a wanted rise time asks for.
pub fn crossover_for<N: Number>(rise_time: N) -> N {
    angular(N::pure(libm::log(9.0)) / rise_time).called("crossover wanted", "ω_c")
}

/// Crossover that a first-order loop needs to settle to 2 % in a time: `ln 50/t`.
pub fn crossover_to_settle<N: Number>(settling_time: N) -> N {
    angular(N::pure(libm::log(50.0)) / settling_time).called("crossover wanted", "ω_c")
}

/// Crossover of a position loop that follows a speed with an error, without feed-forward: `ω/e`.
pub fn crossover_to_follow<N: Number>(speed: N, error: N) -> N {
    angular(speed / error).called("crossover wanted", "ω_c")
}

//! Two-phase stepper: holding, resonance, speed at which the current still follows.
//!
//! ```text
//! torque  M = K·(i_b·cos φ − i_a·sin φ) − M_d·sin 4φ        e_a = −K·ω·sin φ        e_b = K·ω·cos φ
//! φ = p·θ        K = M_h/(√2·I): both phases at I hold M_h        (e_a·i_a + e_b·i_b = M·ω without M_d)
//! around a step  M = M_h·sin(p·θ)       load angle θ = asin(M/M_h)/p        p = teeth = steps/4 a turn
//! resonance  ω = √(p·M_h/J)             micro-step ΔM = M_h·sin(90°/µ)
//! phase  t = −(L/R)·ln(1 − I·R/V)       full step, current reversed within a step: f = V/(2·L·I)
//! ```
//!
//! Assumed: sinusoidal torque over angle, equal phases, no saturation, detent torque at its rest where one phase is on.
//! The closed forms leave out back-EMF (so real torque falls earlier), damping and, but for the stiffness, detent torque.
//! Source: sine model of the hybrid stepper (Acarnley, *Stepping Motors*, 4th
//! ed., from memory); `docs/models/stepper-and-servo.md`.

use crate::constants::{angular, cyclic, radian};
use std::f64::consts::FRAC_PI_2;
use worked::{Number, Origin};

/// Rotor teeth of a two-phase motor from its full steps for one turn.
pub fn teeth<N: Number>(steps: N) -> N {
    (steps / 4.0).called("rotor teeth", "p")
}

/// Torque of a current in one phase at its best angle, which is the back-EMF constant of the phase too: both phases
/// at the rated current hold the holding torque together.
pub fn phase_constant<N: Number>(holding_torque: N, rated_current: N) -> N {
    (holding_torque / (rated_current * std::f64::consts::SQRT_2)).called("torque constant of a phase", "K_ph")
}

/// Torque of both currents at an electrical angle of the rotor.
pub fn torque<N: Number>(constant: N, current_a: N, current_b: N, angle: N) -> N {
    (constant * (current_b * angle.clone().cos() - current_a * angle.sin()))
        .called("torque of the currents", "M_i")
}

/// Torque without current at an electrical angle: four rests for one period of the currents.
pub fn detent<N: Number>(detent_torque: N, angle: N) -> N {
    (-(detent_torque * (angle * 4.0).sin())).called("torque without current", "M_d(φ)")
}

/// Back-EMF of phase a at an electrical angle.
pub fn back_emf_a<N: Number>(constant: N, speed: N, angle: N) -> N {
    (-(constant * speed * angle.sin())).called("back-EMF of phase a", "e_a")
}

/// Back-EMF of phase b at an electrical angle.
pub fn back_emf_b<N: Number>(constant: N, speed: N, angle: N) -> N {
    (constant * speed * angle.cos()).called("back-EMF of phase b", "e_b")
}

/// Holding torque of both phases at a current each.
pub fn both_hold<N: Number>(constant: N, current: N) -> N {
    (constant * current * std::f64::consts::SQRT_2).called("holding torque of both phases", "M_2")
}

/// Holding torque of one phase at a current, which is that of a sine-weighted pair of this peak.
pub fn one_holds<N: Number>(constant: N, current: N) -> N {
    (constant * current).called("holding torque of one phase", "M_1")
}

/// Angle by which a load turns the rotor out of its step.
pub fn load_angle<N: Number>(load_torque: N, holding_torque: N, teeth: N) -> N {
    ((load_torque / holding_torque).asin() / teeth).called("load angle", "θ_L")
}

/// Holding torque at a part of the rated current.
pub fn holding_at<N: Number>(holding_torque: N, current: N, rated_current: N) -> N {
    (holding_torque * current / rated_current).called("holding torque at this current", "M_h'")
}

/// Stiffness of the magnetic spring around a step, `p·M_h`.
pub fn stiffness<N: Number>(teeth: N, holding_torque: N) -> N {
    (teeth * holding_torque / radian::<N>()).called("stiffness of the step", "k_p")
}

/// The same at a step with both phases on, detent torque counted: its rests lie where one phase is on, so here it takes
/// from the stiffness, `p·(M_h − 4·M_d)`.
pub fn stiffness_both_on<N: Number>(teeth: N, holding_torque: N, detent_torque: N) -> N {
    stiffness(teeth, holding_torque - detent_torque * 4.0)
}

/// Friction in proportion to the speed that damps the swing about a step by a part of critical damping, `2·ζ·√(k·J)`.
pub fn damping<N: Number>(part: N, stiffness: N, inertia: N) -> N {
    (N::pure(2.0) * part * (stiffness * inertia).sqrt()).called("damping of the motor itself", "b_m")
}

/// Rate of full steps a second that excites the resonance: one swing a step, `√(p·M_h/J)/2π`.
pub fn resonance<N: Number>(teeth: N, holding_torque: N, inertia: N) -> N {
    swing(stiffness(teeth, holding_torque), inertia)
}

/// Frequency at which the rotor swings on the stiffness of a step.
pub fn swing<N: Number>(stiffness: N, inertia: N) -> N {
    cyclic(angular((stiffness / inertia).sqrt())).called("resonance", "f_res")
}

/// Increment of torque for one micro-step: `M_h·sin(90°/µ)`.
pub fn micro_step_torque<N: Number>(holding_torque: N, micro_steps: N) -> N {
    let quarter =
        N::known(FRAC_PI_2, "rad", "90°", "one full step, electrical", Origin::standard("definition"));
    (holding_torque * (quarter / micro_steps).sin()).called("torque of one micro-step", "ΔM_µ")
}

/// Full steps in a second at which the current still reverses within one step: `V/(2·L·I)`.
pub fn full_step_rate<N: Number>(voltage: N, inductance: N, current: N) -> N {
    (voltage / (N::pure(2.0) * inductance * current))
        .called("step rate at which the current still follows", "f_I")
}

/// Time in which the current of a phase rises from zero: `−(L/R)·ln(1 − I·R/V)`.
pub fn rise_time<N: Number>(voltage: N, resistance: N, inductance: N, current: N) -> N {
    let part = N::pure(1.0) - current * resistance.clone() / voltage;
    (-(inductance / resistance * part.ln())).called("rise time of the current", "t_I")
}

/// Electrical speed above which a phase no longer reaches its current under sinusoidal drive, without back-EMF:
/// `√((V/I)² − R²)/L`, as a speed of the shaft.
pub fn sine_corner_speed<N: Number>(voltage: N, current: N, resistance: N, inductance: N, teeth: N) -> N {
    let reactance = ((voltage / current).squared() - resistance.squared()).sqrt();
    (angular(reactance / inductance) / teeth).called("speed above which the current falls off", "ω_c")
}

/// Current that a steady voltage drives through a phase at standstill.
pub fn standstill_current<N: Number>(voltage: N, resistance: N) -> N {
    (voltage / resistance).called("current at standstill", "I_0")
}

/// Heat of both phases at a current each.
pub fn heat<N: Number>(resistance: N, phase_current: N) -> N {
    (N::pure(2.0) * resistance * phase_current.squared()).called("heat of both phases", "P_ph")
}

/// Shaft speed of a step rate; `steps` for an angle, in 1/rad.
pub fn speed<N: Number>(step_rate: N, steps: N) -> N {
    (step_rate / steps).called("speed of the shaft", "ω")
}

/// Step rate of a shaft speed; `steps` for an angle, in 1/rad.
pub fn step_rate<N: Number>(speed: N, steps: N) -> N {
    (speed * steps).called("step rate", "f_s")
}

/// Steps that a ramp takes to a rate: `f²/(2·a)`.
pub fn ramp_steps<N: Number>(rate: N, acceleration: N) -> N {
    (rate.squared() / (N::pure(2.0) * acceleration)).called("steps of the ramp", "n_ramp")
}

/// Torque of a pull-out curve at a rate between two of its points, straight between them.
pub fn pull_out<N: Number>(rate: N, below: (N, N), above: (N, N)) -> N {
    let part = (rate - below.0.clone()) / (above.0 - below.0);
    (below.1.clone() + part * (above.1 - below.1)).called("pull-out torque at this rate", "M_po")
}

/// Distance of a step rate from the resonance, as a part of the resonance.
pub fn detuning<N: Number>(rate: N, resonance: N) -> N {
    (rate / resonance - N::pure(1.0)).abs().called("distance from the resonance", "Δf/f")
}

/// Difference of the currents of two phases as a part of the first.
pub fn mismatch<N: Number>(current_a: N, current_b: N) -> N {
    (current_b / current_a - N::pure(1.0)).abs().called("difference of the phase currents", "ΔI/I")
}

/// Error of a position with both phases on from currents that differ: `|atan(I_b/I_a) − 45°|/p`, as an angle of
/// the shaft.
pub fn mismatch_angle<N: Number>(current_a: N, current_b: N, teeth: N) -> N {
    let middle = (current_b / current_a).atan() - N::pure(1.0).atan();
    (middle.abs() / teeth).called("position error from unequal phases", "Δθ_ph")
}

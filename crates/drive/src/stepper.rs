//! Two-phase stepper: holding, resonance, speed at which the current still follows.
//!
//! ```text
//! torque  M = M_h·sin(p·θ)              load angle θ = asin(M/M_h)/p        p = teeth = steps/4 a turn
//! resonance  ω = √(p·M_h/J)             micro-step ΔM = M_h·sin(90°/µ)
//! phase  t = −(L/R)·ln(1 − I·R/V)       full step, current reversed within a step: f = V/(2·L·I)
//! ```
//!
//! Assumed: sinusoidal torque over angle, equal phases, no saturation. Left out: detent torque, back-EMF (so real
//! torque falls earlier), damping. Source: sine model of the hybrid stepper (Acarnley, *Stepping Motors*, 4th
//! ed., from memory); `docs/models/stepper-and-servo.md`.

use crate::constants::{angular, cyclic, radian};
use std::f64::consts::FRAC_PI_2;
use worked::{Number, Origin};

/// Rotor teeth of a two-phase motor from its full steps for one turn.
pub fn teeth<N: Number>(steps: N) -> N {
    (steps / 4.0).called("rotor teeth", "p")
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

/// Rate of full steps a second that excites the resonance: one swing a step, `√(p·M_h/J)/2π`.
pub fn resonance<N: Number>(teeth: N, holding_torque: N, inertia: N) -> N {
    let swing = angular((stiffness(teeth, holding_torque) / inertia).sqrt());
    cyclic(swing).called("resonance", "f_res")
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

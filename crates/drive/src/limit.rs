//! Currents that reach a limit, and how long: start surge, reversal, chopper, trips, fuses.
//!
//! ```text
//! start   i(t) = I_ss + (I_st − I_ss)·e^(−t/τ_m)     t_above = τ_m·ln((I_st − I_ss)/(I_trip − I_ss))
//! chopper mean = I_lim − ½·ΔI,  ΔI ≈ (fall voltage)·t_off/L
//! fuse    t = −τ·ln(1 − (I_min/I)²),  τ = I²t/I_min²
//! ```
//!
//! Assumed: inductance left out of the start (it shifts the surge by about τ_e); fixed off-time of the chopper;
//! fuse and cable as one body whose melting integral and lowest melting current are known. Left out: arcing
//! time, ageing, ambient of the fuse. `docs/models/limits-and-protection.md`; the curves of a coordination chart
//! are in [`curve`].

pub mod curve;

use crate::bridge::Bridge;
use crate::motor::Armature;
use worked::Number;

/// Time for which the start current stays above a trip when full voltage meets a motor at rest; zero where it
/// never gets there. The trip must lie above the steady current, or it is never left again.
pub fn time_above<N: Number>(mechanical_time: N, stall: N, steady: N, trip: N) -> N {
    ((mechanical_time * ((stall - steady.clone()) / (trip - steady)).ln()).or_zero())
        .called("time that the start stays above the trip", "t_above")
}

/// Current of a start at full voltage after a time.
pub fn start_current<N: Number>(mechanical_time: N, stall: N, steady: N, time: N) -> N {
    (steady.clone() + (stall - steady) * (-(time / mechanical_time)).exp()).called("start current", "I_start")
}

/// Shortest ramp of the voltage from zero that keeps the start below a current: `τ_m·U/(R·(I_lim − I_ss))`.
/// An upper bound: a ramp not much longer than τ_m never reaches the full ramp current.
pub fn soft_start_time<N: Number>(mechanical_time: N, voltage: N, resistance: N, steady: N, limit: N) -> N {
    (mechanical_time * voltage / (resistance * (limit - steady))).called("soft start needed", "t_soft")
}

/// Current when the voltage is reversed at speed: `(U + E − U_b)/R`.
pub fn reversal_current<N: Number>(motor: &Armature<N>, voltage: N, speed: N) -> N {
    ((voltage + motor.back_emf(speed) - motor.brush_drop.clone()) / motor.resistance.clone())
        .called("current of a reversal at speed", "I_rev")
}

/// Current when the voltage is reversed at the highest speed that it can give: the back-EMF of the free motor then
/// comes within its friction to `U − U_b`, so `2·(U − U_b)/R`, an upper bound.
pub fn full_reversal_current<N: Number>(motor: &Armature<N>, voltage: N) -> N {
    ((voltage - motor.brush_drop.clone()).or_zero() * 2.0 / motor.resistance.clone())
        .called("current of a reversal at full speed", "I_rev")
}

/// Current when the winding is shorted at speed: `(E − U_b)/R`.
pub fn braking_current<N: Number>(motor: &Armature<N>, speed: N) -> N {
    ((motor.back_emf(speed) - motor.brush_drop.clone()).or_zero() / motor.resistance.clone())
        .called("current of the shorted winding", "I_brk")
}

/// Current to which a limiter holds what the circuit would drive.
pub fn held_to<N: Number>(driven: N, limit: N) -> N {
    driven.at_most(limit).called("largest current", "I_max")
}

/// Overshoot above a limit that acts late: `(V − E − R·I)·t/L`.
pub fn overshoot<N: Number>(motor: &Armature<N>, bus: N, back_emf: N, current: N, delay: N) -> N {
    let driving = (bus - back_emf - motor.resistance.clone() * current).or_zero();
    (driving * delay / motor.inductance.clone()).called("overshoot before the limit acts", "ΔI_over")
}

/// Fall of the current in the off-time of a chopper: `(E + U_b + R·I − U_off)·t_off/L`.
pub fn chopper_ripple<N: Number>(
    motor: &Armature<N>,
    bridge: &Bridge<N>,
    bus: N,
    back_emf: N,
    limit: N,
    off_time: N,
) -> N {
    let falling =
        back_emf + motor.brush_drop.clone() + motor.resistance.clone() * limit - bridge.off_voltage(bus);
    (falling * off_time / motor.inductance.clone()).called("ripple of the chopper", "ΔI_ch")
}

/// Mean current of a chopper at its limit: the limit less half its ripple.
pub fn chopper_mean<N: Number>(limit: N, ripple: N) -> N {
    (limit - ripple / 2.0).called("mean current at the limit", "I_ch")
}

/// Lowest current that a chopper controls: in each blanking time the current rises by what the off-time must take
/// back, so it settles at the mean of the duty `t_b/(t_b + t_off)`. A setting below this is not held.
pub fn chopper_floor<N: Number>(
    motor: &Armature<N>,
    bridge: &Bridge<N>,
    bus: N,
    back_emf: N,
    blanking: N,
    off_time: N,
) -> N {
    let duty = (blanking.clone() / (blanking + off_time)).called("duty of the blanking time", "D_b");
    let driving = bridge.mean_voltage(duty, bus) - back_emf - motor.brush_drop.clone();
    (driving.or_zero() / motor.resistance.clone()).called("lowest current that the chopper holds", "I_ch,min")
}

/// Motor current in a locked rotor at a duty, `(D·V − U_b)/R` by off-state: what flows while a limit in the supply
/// sees far less.
pub fn stalled_current<N: Number>(motor: &Armature<N>, bridge: &Bridge<N>, duty: N, bus: N) -> N {
    bridge
        .mean_current(duty, bus, motor.brush_drop.clone(), motor.resistance.clone(), motor.inductance.clone())
        .or_zero()
        .called("current with the rotor locked, at this duty", "I_st,D")
}

/// Motor current in a locked rotor at which a limit in the supply acts, whatever the duty is: the supply gives
/// what the winding turns into heat, so `R·I² + U_b·I = V·I_trip`, for every off-state. Below this current in the
/// winding, the limit stays silent.
pub fn unseen_current<N: Number>(motor: &Armature<N>, bus: N, trip: N) -> N {
    let (r, b) = (motor.resistance.clone(), motor.brush_drop.clone());
    (((b.clone().squared() + r.clone() * bus * trip * 4.0).sqrt() - b) / (r * 2.0))
        .called("locked current that the limit in the supply does not see", "I_unseen")
}

/// Current of a start while the voltage ramps up in a time: `I_ss + τ_m·V/(R·t)`. An upper bound, the inverse of
/// [`soft_start_time`].
pub fn ramp_current<N: Number>(mechanical_time: N, voltage: N, resistance: N, steady: N, ramp_time: N) -> N {
    (steady + mechanical_time * voltage / (resistance * ramp_time))
        .called("current of the ramped start", "I_ramp")
}

/// Fuse rating that a steady current asks for.
pub fn fuse_needed<N: Number>(rms_current: N, factor: N) -> N {
    (rms_current * factor).called("fuse rating needed", "I_F,need")
}

/// Melting integral of a surge that decays from a peak: `½·I²·τ` (the rest current counts as nothing).
pub fn surge_integral<N: Number>(peak: N, time_constant: N) -> N {
    (peak.squared() * time_constant / 2.0).called("current-squared time of the surge", "∫i²dt")
}

/// Time to melt at a current, one body: `−τ·ln(1 − (I_min/I)²)` with `τ = I²t/I_min²`. Without meaning at or below
/// the lowest melting current.
pub fn melting_time<N: Number>(lowest: N, melting_integral: N, current: N) -> N {
    let time_constant = melting_integral / lowest.clone().squared();
    let part = (lowest / current).squared();
    (-(time_constant * (N::pure(1.0) - part).ln())).called("time until the fuse opens", "t_F")
}

/// Time that an adiabatic copper core of an area takes to its short-circuit temperature: `k²·A²/I²`.
pub fn core_time<N: Number>(area: N, current: N) -> N {
    (crate::constants::copper_adiabatic::<N>() * area.squared() / current.squared())
        .called("time that the core survives", "t_w")
}

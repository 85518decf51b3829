//! The supply line: cable, sag, inrush, energy that comes back in a stop.
//!
//! ```text
//! cable           R = 2·l/(κ·A)·[1 + α_Cu·(ϑ − 20 °C)]
//! stop            p = K·ω·i − R·i² − U_b·i      W = K·i·(ω_0 − ω_1)²·t/(2·ω_0),  ω_1 = (R·i + U_b)/K
//! bus afterwards  V_1 = √(V_0² + 2·(W − W_q)/C)
//! ```
//!
//! Assumed: a stop at steady deceleration with a steady braking current; nothing flows back into the supply; all
//! that is returned stays on the capacitor but for what the board itself draws, taken at the voltage before the
//! stop. Left out: ripple, capacitor loss, regulator reaction. Source: energy balance; `docs/models/bus.md`.

use crate::constants::{copper_coefficient, copper_conductivity, copper_reference, pi};
use crate::motor::Armature;
use worked::Number;

/// Resistance of a pair of copper cores, out and back, at a temperature.
pub fn cable_resistance<N: Number>(length: N, area: N, temperature: N) -> N {
    let cold = N::pure(2.0) * length / (copper_conductivity::<N>() * area);
    at_temperature(cold, temperature)
}

/// Resistance of a pair from the resistance per length of one core at 20 °C.
pub fn cable_resistance_from<N: Number>(length: N, resistance_per_length: N, temperature: N) -> N {
    at_temperature(N::pure(2.0) * length * resistance_per_length, temperature)
}

fn at_temperature<N: Number>(cold: N, temperature: N) -> N {
    let warmth = temperature - copper_reference();
    (cold * (N::pure(1.0) + copper_coefficient::<N>() * warmth)).called("resistance of the cable", "R_w")
}

/// Inductance of the loop of a pair.
pub fn cable_inductance<N: Number>(length: N, inductance_per_length: N) -> N {
    (length * inductance_per_length).called("inductance of the cable", "L_w")
}

/// Voltage over a resistance in the line.
pub fn line_drop<N: Number>(current: N, resistance: N) -> N {
    (current * resistance).called("voltage lost on the way", "ΔU")
}

/// Cross-section with which a cable of a resistance and area would lose no more than an allowed voltage.
pub fn area_for_drop<N: Number>(area: N, current: N, resistance: N, allowed: N) -> N {
    (area * (current * resistance / allowed)).called("cross-section that the drop asks for", "A_need")
}

/// A lost voltage as a part of the whole.
pub fn drop_share<N: Number>(current: N, resistance: N, voltage: N) -> N {
    (current * resistance / voltage).called("part of the voltage lost on the way", "ΔU/U")
}

/// Voltage at the far end under load: `U_0 − U_d − I·(R_src + R_w)`; the drop is that of a series diode.
pub fn sagged_voltage<N: Number>(open_voltage: N, series_drop: N, current: N, source: N, line: N) -> N {
    (open_voltage - series_drop - current * (source + line)).called("voltage under load", "U_sag")
}

/// Shift of a ground: `I·R_g + L_g·dI/dt`.
pub fn ground_shift<N: Number>(current: N, resistance: N, inductance: N, slew: N) -> N {
    (current * resistance + inductance * slew).called("shift of the ground", "ΔU_g")
}

/// Power that a braking motor returns at a speed: `K·ω·I − R·I² − U_b·I`, for the amount of its current.
pub fn returned_power<N: Number>(motor: &Armature<N>, speed: N, braking_current: N) -> N {
    let i = braking_current;
    (motor.back_emf(speed) * i.clone() - motor.loss(i)).called("power returned", "P_r")
}

/// Most power that a motor can return at a speed, at the best braking current: `(E − U_b)²/(4·R)`.
pub fn peak_returned_power<N: Number>(motor: &Armature<N>, speed: N) -> N {
    let lifting = (motor.back_emf(speed) - motor.brush_drop.clone()).or_zero();
    (lifting.squared() / (N::pure(4.0) * motor.resistance.clone()))
        .called("largest power returned", "P_r,max")
}

/// Speed at which braking stops to return power and begins to take it: `(R·I + U_b)/K`.
pub fn turnover_speed<N: Number>(motor: &Armature<N>, braking_current: N) -> N {
    ((motor.resistance.clone() * braking_current + motor.brush_drop.clone()) / motor.constant.clone())
        .called("speed below which braking takes power", "ω_1")
}

/// Energy that a stop from a speed returns, braked evenly in a time by a steady current; counted down to the
/// speed where nothing comes back any more. No less than zero.
pub fn returned_energy<N: Number>(motor: &Armature<N>, speed: N, stop_time: N, braking_current: N) -> N {
    let above = (speed.clone() - turnover_speed(motor, braking_current.clone())).or_zero();
    (motor.constant.clone() * braking_current * above.squared() * stop_time / (N::pure(2.0) * speed))
        .called("energy returned by the stop", "W_r")
}

/// Current that a returned power pushes into a supply that takes it, or into a battery.
pub fn returned_current<N: Number>(returned_power: N, voltage: N) -> N {
    (returned_power / voltage).called("current pushed back", "I_r")
}

/// Current of one of several pins or cores side by side, in equal shares.
pub fn current_per_pin<N: Number>(current: N, pins: N) -> N {
    (current / pins).called("current of one pin", "I_pin")
}

/// Power that a braking motor returns at a speed, by the torque between its magnets and its winding:
/// `M·ω − R·(M/K)² − U_b·M/K`. The same as [`returned_power`] with `I = M/K`, each datum once where it can be.
pub fn power_of_braking_torque<N: Number>(motor: &Armature<N>, speed: N, torque: N) -> N {
    let current = (torque.clone() / motor.constant.clone()).called("braking current", "I_brk");
    (torque * speed - motor.loss(current)).called("power returned", "P_r")
}

/// Energy that a stop returns, braked evenly in a time by a steady torque between magnets and winding:
/// `M·(ω − ω_1)²·t/(2·ω)` with `ω_1 = (R·M/K + U_b)/K`. The same as [`returned_energy`] with `I = M/K`.
pub fn energy_of_braking_torque<N: Number>(motor: &Armature<N>, speed: N, stop_time: N, torque: N) -> N {
    let current = (torque.clone() / motor.constant.clone()).called("braking current", "I_brk");
    let above = (speed.clone() - turnover_speed(motor, current)).or_zero();
    (torque * above.squared() * stop_time / (speed * 2.0)).called("energy returned by the stop", "W_r")
}

/// Most energy that a stop can return, whatever its torque: `2·(ω − U_b/K)³·K²·t/(27·R·ω)`, at a third of the torque
/// at which nothing comes back any more.
pub fn peak_returned_energy<N: Number>(motor: &Armature<N>, speed: N, stop_time: N) -> N {
    let above = (speed.clone() - motor.brush_drop.clone() / motor.constant.clone()).or_zero();
    let stiffness = motor.constant.clone().squared() / motor.resistance.clone();
    (above.powi(3) * stiffness * stop_time * 2.0 / (speed * 27.0))
        .called("most energy that the stop can return", "W_r,max")
}

/// Energy that the board itself draws from its bus in a time.
pub fn quiescent_energy<N: Number>(bus: N, quiescent_current: N, time: N) -> N {
    (bus * quiescent_current * time).called("energy that the board uses meanwhile", "W_q")
}

/// Bus voltage at the end of a stop whose energy stays on the capacitor: `√(V_0² + 2·(W − W_q)/C)`.
pub fn voltage_after_stop<N: Number>(bus: N, returned: N, used: N, capacitance: N) -> N {
    let left = (returned - used).or_zero();
    (bus.squared() + N::pure(2.0) * left / capacitance)
        .sqrt()
        .called("bus voltage at the end of the stop", "U_1")
}

/// Voltage at which a clamp holds a bus: its threshold, or `√(P·R)` where more comes back than it takes there.
pub fn clamped_voltage<N: Number>(threshold: N, power: N, resistance: N) -> N {
    threshold.at_least((power * resistance).or_zero().sqrt()).called("voltage that the clamp holds", "U_cl")
}

/// Energy of a stop from the voltages that it was measured between: `½·C·(V_1² − V_0²)`.
pub fn energy_from_voltages<N: Number>(before: N, after: N, capacitance: N) -> N {
    (capacitance * (after.squared() - before.squared()) / 2.0).called("energy taken by the capacitor", "W_C")
}

/// Capacitance that keeps the bus below a ceiling: `2·W/(V_max² − V_0²)`.
pub fn needed_capacitance<N: Number>(bus: N, ceiling: N, energy: N) -> N {
    (N::pure(2.0) * energy / (ceiling.squared() - bus.squared())).called("capacitance needed", "C_need")
}

/// Largest clamp resistor that still takes the peak power at the clamp voltage: `V²/P`.
pub fn largest_clamp_resistance<N: Number>(clamp_voltage: N, peak_power: N) -> N {
    (clamp_voltage.squared() / peak_power).called("largest clamp resistance", "R_cl,max")
}

/// Smallest clamp resistor that its switch can carry: `V/I`.
pub fn smallest_clamp_resistance<N: Number>(clamp_voltage: N, switch_current: N) -> N {
    (clamp_voltage / switch_current).called("smallest clamp resistance", "R_cl,min")
}

/// Current through the clamp's switch.
pub fn clamp_current<N: Number>(clamp_voltage: N, resistance: N) -> N {
    (clamp_voltage / resistance).called("current of the clamp", "I_cl")
}

/// Power that a clamp resistor takes while it is switched on.
pub fn clamp_power<N: Number>(clamp_voltage: N, resistance: N) -> N {
    (clamp_voltage.squared() / resistance).called("power that the clamp can take", "P_cl")
}

/// Mean power of a pulse of energy that comes once a period.
pub fn mean_power<N: Number>(energy: N, period: N) -> N {
    (energy / period).called("mean power", "P_mean")
}

/// Charging current of a capacitor whose voltage rises at a controlled rate.
pub fn inrush<N: Number>(capacitance: N, rise_rate: N) -> N {
    (capacitance * rise_rate).called("inrush current", "I_inr")
}

/// Charging current at the first moment where only resistance holds it back.
pub fn inrush_through<N: Number>(voltage: N, resistance: N) -> N {
    (voltage / resistance).called("inrush current", "I_inr")
}

/// Peak of the current into a capacitor through the inductance of its cable, damping left out: `V·√(C/L)`.
pub fn hot_plug_current<N: Number>(voltage: N, inductance: N, capacitance: N) -> N {
    (voltage * (capacitance / inductance).sqrt()).called("current peak when plugged in live", "I_plug")
}

/// Damping of a series loop: `R/2·√(C/L)`.
pub fn loop_damping<N: Number>(resistance: N, inductance: N, capacitance: N) -> N {
    (resistance / 2.0 * (capacitance / inductance).sqrt()).called("damping of the loop", "ζ")
}

/// Peak of the voltage on an empty capacitor plugged into a live supply:
/// `V·(1 + exp(−π·ζ/√(1 − ζ²)))`; twice the voltage without damping, no overshoot from ζ = 1 on.
pub fn hot_plug_voltage<N: Number>(voltage: N, damping: N) -> N {
    // At ζ = 1 the root is zero; the floor keeps the exponent finite there, and e^-1500 is no overshoot at all.
    let root = (N::pure(1.0) - damping.clone().squared()).at_least(N::pure(1e-6)).sqrt();
    let overshoot = (-(pi::<N>() * damping / root)).exp();
    (voltage * (N::pure(1.0) + overshoot)).called("voltage peak when plugged in live", "U_plug")
}

/// Time until a bleed resistor has brought a capacitor down to a voltage: `R·C·ln(V_0/V_1)`.
pub fn discharge_time<N: Number>(resistance: N, capacitance: N, from: N, to: N) -> N {
    (resistance * capacitance * (from / to).ln()).called("time of discharge", "t_dis")
}

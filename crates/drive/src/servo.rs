//! Hobby servo: pulse, travel, torque, rail, and the motor that its sheet describes.
//!
//! The servo holds its own loop; nothing comes back. Its model is the figures of its sheet: travel in proportion to
//! the pulse between two ends, torque and speed at the rail voltage of the sheet. What the sheet says of the horn makes
//! a motor there, gear and its loss included:
//!
//! ```text
//! k = M_st/(I_st − I_m)        M_f = k·I_m        R_s = U/I_st        K_s = U·(1 − I_m/I_st)/ω
//! ```
//!
//! `docs/models/stepper-and-servo.md`.

use worked::Number;

/// Angle for a change of the pulse: travel over span.
pub fn angle_per_pulse<N: Number>(travel: N, pulse_span: N) -> N {
    (travel / pulse_span).called("angle for a change of the pulse", "dφ/dt_p")
}

/// Angle of one count of the timer that makes the pulse.
pub fn angle_step<N: Number>(travel: N, pulse_span: N, timer_step: N) -> N {
    (angle_per_pulse(travel, pulse_span) * timer_step).called("angle of one count", "δφ")
}

/// Rate of the pulses.
pub fn frame_rate<N: Number>(frame: N) -> N {
    (N::pure(1.0) / frame).called("rate of the pulses", "f_p")
}

/// Duty of a pulse in its frame.
pub fn duty<N: Number>(pulse: N, frame_rate: N) -> N {
    (pulse * frame_rate).called("duty of the pulse", "D_p")
}

/// Counts of a pulse on a timer clock.
pub fn pulse_counts<N: Number>(pulse: N, clock: N) -> N {
    (pulse * clock).called("counts of the pulse", "n_p")
}

/// Time of one timer count where a frame is divided into so many.
pub fn timer_step<N: Number>(frame: N, counts: N) -> N {
    (frame / counts).called("time of one count", "t_1")
}

/// Pulse that stops short of an end by a part of the span.
pub fn soft_end<N: Number>(end: N, pulse_span: N, part: N) -> N {
    (end - pulse_span * part).called("pulse at the soft end", "t_soft")
}

/// Largest angle from the middle that stays clear of both ends by a part of the travel.
pub fn largest_angle<N: Number>(travel: N, part: N) -> N {
    (travel * (N::pure(0.5) - part)).called("largest angle clear of the ends", "φ_soft")
}

/// Pulse for an angle from the middle: centre and, in proportion, half of the span for half of the travel.
pub fn pulse_for<N: Number>(centre: N, angle: N, travel: N, pulse_span: N) -> N {
    (centre + pulse_span * angle / travel).called("pulse for this angle", "t_p")
}

/// Shortest change of a pulse that a timer can make: a period of its clock.
pub fn pulse_step<N: Number>(clock: N) -> N {
    (N::pure(1.0) / clock).called("step of the pulse", "t_1")
}

/// Torque of a weight on the horn at its worst, the arm in m/rad.
pub fn horn_torque<N: Number>(mass: N, arm: N) -> N {
    (mass * crate::constants::standard_gravity::<N>() * arm).called("torque at the horn", "M_horn")
}

/// Torque at a rail voltage, in proportion to the one of the sheet.
pub fn torque_at<N: Number>(stall_torque: N, rail: N, sheet_voltage: N) -> N {
    (stall_torque * rail / sheet_voltage).called("stall torque at this rail", "M_st'")
}

/// Torque at the horn for a current: the stall torque is what is left of the stall current once friction is overcome,
/// and the current of free motion is that friction.
pub fn torque_per_current<N: Number>(stall_torque: N, stall_current: N, moving_current: N) -> N {
    (stall_torque / (stall_current - moving_current)).called("torque at the horn for a current", "k_sv")
}

/// Dry friction at the horn.
pub fn friction<N: Number>(torque_per_current: N, moving_current: N) -> N {
    (torque_per_current * moving_current).called("friction at the horn", "M_f,sv")
}

/// Resistance that the stall current meets.
pub fn resistance<N: Number>(sheet_voltage: N, stall_current: N) -> N {
    (sheet_voltage / stall_current).called("resistance of the motor inside", "R_sv")
}

/// Back-EMF for a speed of the horn.
pub fn back_emf_constant<N: Number>(sheet_voltage: N, speed: N, stall_current: N, moving_current: N) -> N {
    let left = N::pure(1.0) - moving_current / stall_current;
    (sheet_voltage * left / speed).called("back-EMF for a speed of the horn", "K_sv")
}

/// Current that moves a torque at the horn steadily.
pub fn current<N: Number>(torque: N, friction: N, torque_per_current: N) -> N {
    ((torque + friction) / torque_per_current).called("current of the motion", "I_sv")
}

/// Steady speed at a rail voltage and a current.
pub fn speed_at<N: Number>(rail: N, resistance: N, current: N, back_emf_constant: N) -> N {
    ((rail - resistance * current) / back_emf_constant).called("steady speed of the horn", "ω_sv'")
}

/// Current at standstill, fully driven from an open voltage through the resistance of its line.
pub fn starting_current<N: Number>(open_voltage: N, line_resistance: N, resistance: N) -> N {
    (open_voltage / (line_resistance + resistance)).called("current at standstill", "I_sv,0")
}

/// Time constant of the motor inside with an inertia at the horn: `J·R/(k·K)`.
pub fn time_constant<N: Number>(inertia: N, resistance: N, torque_per_current: N, back_emf_constant: N) -> N {
    (inertia * resistance / (torque_per_current * back_emf_constant)).called("time constant", "τ_sv")
}

/// Inertia at the horn of a time constant.
pub fn inertia_of<N: Number>(
    time_constant: N,
    resistance: N,
    torque_per_current: N,
    back_emf_constant: N,
) -> N {
    (time_constant * torque_per_current * back_emf_constant / resistance)
        .called("inertia of motor and gear at the horn", "J_sv")
}

/// Angle that a change of the pulse stands for, such as the dead band.
pub fn angle_of<N: Number>(pulse: N, travel: N, pulse_span: N) -> N {
    (pulse * travel / pulse_span).called("angle of it", "φ_p")
}

/// Dip of a rail when a servo stalls.
pub fn rail_dip<N: Number>(stall_current: N, line_resistance: N) -> N {
    (stall_current * line_resistance).called("dip of the rail", "ΔU_rail")
}

/// Speed from the time for an angle, the sheet's usual way (such as 0.12 s for 60°).
pub fn speed<N: Number>(angle: N, time: N) -> N {
    (angle / time).called("speed of the horn", "ω_sv")
}

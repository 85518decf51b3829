//! What stands against the turning shaft where motor and load turn as one: friction, gear with its loss by the sense of
//! power, load.
//!
//! In the sense of motion, with c the torque that the load takes besides its inertia:
//!
//! ```text
//! J_m·dω/dt = K·i − b_m·ω − M_m − e·T/N      T = J_L·(dω/dt)/N + c      c = M_f ± M_s + b_L·ω/N
//! e = 1/η while the motor drives (T > 0), η_b while the load drives
//! ```
//!
//! T > 0 holds exactly where `J_L·(K·i − b_m·ω − M_m)/N + J_m·c > 0`: a straight line in the plane of current and
//! speed. The acceleration is continuous across it.

use crate::set_up::SetUp;

/// A linear form in current and speed: `a·i + b·ω + c`.
pub(crate) type Plane = [f64; 3];

/// The shaft turning in one sense, power going one way.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Turning {
    /// Acceleration.
    pub(crate) acceleration: Plane,
    /// Torque at the output of the gear, in the sense of motion, N·m.
    pub(crate) output_torque: Plane,
    /// Above zero where the motor drives; crosses zero with the torque at the output.
    pub(crate) motor_drives: Plane,
    /// Factor e.
    pub(crate) factor: f64,
}

/// The shaft turning in a sense (1 or −1).
pub(crate) fn turning(drive: &SetUp, sense: i8, load_drives: bool) -> Turning {
    let s = f64::from(sense);
    let n = drive.ratio;
    let factor = if load_drives { drive.back_efficiency } else { 1.0 / drive.efficiency };
    let (reflected, standing) = (drive.load_inertia / n, drive.load_friction + s * drive.load_torque);
    let inertia = drive.inertia + factor * reflected / n;
    let viscous = drive.viscous_friction + factor * drive.load_viscous / (n * n);
    let resisting = drive.friction + factor * standing / n;
    let acceleration = [drive.constant / inertia, -viscous / inertia, -s * resisting / inertia];
    // The forms below count in the sense of motion: current and speed with its sign.
    let output_torque = [
        s * reflected * acceleration[0],
        s * (reflected * acceleration[1] + drive.load_viscous / n),
        s * reflected * acceleration[2] + standing,
    ];
    let motor_drives = [
        s * reflected * drive.constant,
        s * (-reflected * drive.viscous_friction + drive.inertia * drive.load_viscous / n),
        -reflected * drive.friction + drive.inertia * standing,
    ];
    Turning { acceleration, output_torque, motor_drives, factor }
}

/// Factor from a torque at the output to the input that moves in a sense.
pub(crate) fn factor(drive: &SetUp, torque: f64, sense: i8) -> f64 {
    if torque * f64::from(sense) > 0.0 { 1.0 / drive.efficiency } else { drive.back_efficiency }
}

/// Magnetic torque between which the shaft stays at rest where it turns as one with the load.
pub(crate) fn holding_band(drive: &SetUp) -> (f64, f64) {
    if drive.locked {
        return (f64::NEG_INFINITY, f64::INFINITY);
    }
    let against = |load: f64| {
        let torque = drive.load_friction + load;
        drive.friction + factor(drive, torque, 1) * torque / drive.ratio
    };
    (-against(-drive.load_torque), against(drive.load_torque))
}

//! The figures of a servo in the numbers of the time loop, and its equations.
//!
//! ```text
//! e = φ* − φ        s = s_0 + (e beyond the dead band − T_d·ω)/φ_p  held to ±1        T_d: the loop just does not swing
//! I = (s·U − K·ω)/R        U = U_0 − R_l·(s·I + I_0)        a current that comes back meets no line
//! J·dω/dt = k·I − M_f·σ(ω) − M_L − stop        σ(ω) = ω/ω_s held to ±1
//! ```

use super::fault::{Pulses, Wrong};
use crate::set_up::{Unusable, are_figures};

/// A servo on its rail. Everything is at its horn, and angles count from the middle of its travel; SI.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct SetUp {
    /// Voltage of the rail without load, V.
    pub open_voltage: f64,
    /// Resistance of source, cables and fuses, Ω.
    pub line_resistance: f64,
    /// Resistance of the motor, Ω.
    pub resistance: f64,
    /// Back-EMF for a speed of the horn, V·s/rad.
    pub back_emf_constant: f64,
    /// Torque at the horn for a current, N·m/A.
    pub torque_per_current: f64,
    /// Current of the electronics, A.
    pub idle_current: f64,
    /// Dry friction, N·m.
    pub friction: f64,
    /// Motor, gear and load, kg·m².
    pub inertia: f64,
    /// Steady torque against the positive sense, N·m.
    pub load_torque: f64,
    /// Error that the loop ignores, rad.
    pub dead_band: f64,
    /// Error beyond it at which the motor is fully driven, rad.
    pub full_drive: f64,
    /// Mechanical end on either side, rad.
    pub end: f64,
    /// Period of the pulses, s.
    pub frame: f64,
}

/// Angle, speed, charge out of the rail.
pub(super) type State = [f64; 3];

/// Part of the free speed at which friction counts in full: a load creeps no faster than this while friction holds it.
const CREEP: f64 = 1e-4;
/// Least drive outside of the dead band, over what friction takes: it moves by itself.
const LEAST_DRIVE: f64 = 1.2;
/// Part of the dead band over which that drive comes on.
const COMES_ON: f64 = 0.1;
/// Angle that the stall torque goes into an end, rad.
const END_GIVES: f64 = 0.01;

impl SetUp {
    /// Refuses figures that no servo can have.
    pub(super) fn check(&self) -> Result<(), Unusable> {
        let above_zero = [
            ("voltage of the rail", self.open_voltage),
            ("resistance of the motor", self.resistance),
            ("back-EMF for a speed", self.back_emf_constant),
            ("torque for a current", self.torque_per_current),
            ("inertia", self.inertia),
            ("error at full drive", self.full_drive),
            ("travel", self.end),
            ("period of the pulses", self.frame),
        ];
        let zero_or_more = [
            ("resistance of the line", self.line_resistance),
            ("current at rest", self.idle_current),
            ("dry friction", self.friction),
            ("dead band", self.dead_band),
        ];
        are_figures(&above_zero, &zero_or_more)?;
        match self.load_torque {
            torque if torque.is_finite() => Ok(()),
            value => Err(Unusable::Figure { what: "torque of the load", value, must: "a number" }),
        }
    }

    /// Speed at which the back-EMF is the rail.
    pub(super) fn top_speed(&self) -> f64 {
        self.open_voltage / self.back_emf_constant
    }

    /// Torque at standstill with the whole rail, friction not counted.
    pub(super) fn stall_torque(&self) -> f64 {
        self.torque_per_current * self.open_voltage / (self.resistance + self.line_resistance)
    }

    /// What the loop drives the motor with, −1 to 1.
    fn drive(&self, target: f64, angle: f64, speed: f64) -> f64 {
        let error = target - angle;
        let beyond = (error.abs() - self.dead_band).max(0.0).copysign(error);
        // The edge of the dead band has a width, so that a load can be held there.
        let width = (COMES_ON * self.dead_band).max(1e-3 * self.full_drive);
        let on = ((error.abs() - self.dead_band) / width + 1.0).clamp(0.0, 1.0).copysign(error);
        let least = LEAST_DRIVE * self.friction / self.stall_torque() * on;
        (least + (beyond - self.damping_time() * speed) / self.full_drive).clamp(-1.0, 1.0)
    }

    /// Time T_d with which the loop is critically damped: `τ·s² + (1 + g·T_d)·s + g` with g the top speed over the
    /// error at full drive.
    fn damping_time(&self) -> f64 {
        let constant = self.inertia * self.resistance / (self.torque_per_current * self.back_emf_constant);
        let gain = self.top_speed() / self.full_drive;
        ((2.0 * (gain * constant).sqrt() - 1.0) / gain).max(0.0)
    }

    /// Currents of the motor and of the rail, and the voltage of the rail, on the way to a target.
    pub(super) fn electric(&self, target: f64, [angle, speed, _]: &State, wrong: &Wrong) -> Electric {
        let open = wrong.open_voltage;
        let idle = open - self.line_resistance * self.idle_current;
        let share = match wrong.pulses {
            Pulses::Come => self.drive(target, *angle, *speed),
            Pulses::Held(target) => self.drive(target, *angle, *speed),
            Pulses::Limp => {
                return Electric { motor: 0.0, rail_current: self.idle_current, rail: idle };
            }
        };
        let driving = share * idle - self.back_emf_constant * speed;
        let through_line = driving / (self.resistance + share * share * self.line_resistance);
        // Both have one sign. Where current goes back no line lies in the way.
        let (motor, drawn) = match share * driving > 0.0 {
            true => (through_line, share * through_line),
            false => (driving / self.resistance, 0.0),
        };
        let rail_current = drawn + self.idle_current;
        Electric { motor, rail_current, rail: open - self.line_resistance * rail_current }
    }

    /// How fast the state changes on the way to a target.
    pub(super) fn slope(&self, target: f64, y: &State, wrong: &Wrong) -> State {
        let [angle, speed, _] = *y;
        let electric = self.electric(target, y, wrong);
        let friction = self.friction + wrong.rubs;
        let grip = friction * (speed / (CREEP * self.top_speed())).clamp(-1.0, 1.0);
        let push =
            self.torque_per_current * electric.motor - grip - self.load_torque - self.stop(angle, speed);
        let faster = if wrong.held { 0.0 } else { push / self.inertia };
        [speed, faster, electric.rail_current]
    }

    /// Torque of a mechanical end: a stiff spring with its damping, which pushes and never pulls.
    fn stop(&self, angle: f64, speed: f64) -> f64 {
        let into = angle.abs() - self.end;
        if into <= 0.0 {
            return 0.0;
        }
        let stiffness = self.stall_torque() / END_GIVES;
        let outward = speed * angle.signum();
        let damping = 2.0 * (stiffness * self.inertia).sqrt();
        (stiffness * into + damping * outward).max(0.0).copysign(angle)
    }
}

/// What flows at an instant.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Electric {
    /// Current of the motor, A.
    pub(super) motor: f64,
    /// Current out of the rail, A.
    pub(super) rail_current: f64,
    /// Voltage at the servo, V.
    pub(super) rail: f64,
}

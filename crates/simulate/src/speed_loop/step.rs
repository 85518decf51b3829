//! One build as the loop takes it, and its exact sub-step.

use super::SpeedLoop;
use super::kernel::Block;
use crate::set_up::SetUp;
use drive::bridge::OffState;

/// A drive with gear and load brought to the motor shaft, power going from the motor to the load.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Reduced {
    pub(super) voltage: f64,
    pub(super) resistance: f64,
    pub(super) inductance: f64,
    pub(super) constant: f64,
    pub(super) inertia: f64,
    pub(super) viscous: f64,
    /// Torque against forward motion.
    pub(super) forward: f64,
    /// The same of backward motion, negative.
    pub(super) backward: f64,
    pub(super) brush_drop: f64,
    /// Resistance of the supply where it lies in the loop for the on-time only.
    pub(super) source: f64,
}

/// The exponential of a sub-step.
struct Exponential {
    e11: f64,
    e12: f64,
    e21: f64,
    e22: f64,
}

impl Reduced {
    pub(super) fn of(drive: &SetUp) -> Self {
        let n = drive.ratio;
        let loss = 1.0 / drive.efficiency;
        let at_input = |torque: f64| {
            let factor = if torque > 0.0 { loss } else { drive.back_efficiency };
            factor * torque / n
        };
        let held = if drive.locked { f64::INFINITY } else { 0.0 };
        // Both legs switched: the supply is always in the loop.
        let (fixed, source) = match drive.off_state {
            OffState::Reverse => (drive.supply_resistance, 0.0),
            _ => (0.0, drive.supply_resistance),
        };
        Self {
            voltage: drive.supply_voltage,
            resistance: drive.resistance + fixed,
            inductance: drive.inductance,
            constant: drive.constant,
            inertia: drive.inertia + loss * drive.load_inertia / (n * n),
            viscous: drive.viscous_friction + loss * drive.load_viscous / (n * n),
            forward: held + drive.friction + at_input(drive.load_friction + drive.load_torque),
            backward: -(held + drive.friction + at_input(drive.load_friction - drive.load_torque)),
            brush_drop: drive.brush_drop,
            source,
        }
    }

    /// Puts it into a lane.
    pub(super) fn fill(&self, block: &mut Block, lane: usize, speed_loop: &SpeedLoop) {
        let time = 1.0 / (speed_loop.rate * f64::from(speed_loop.sub_steps));
        let Exponential { e11, e12, e21, e22 } = self.exponential(time);
        let (r, k, b) = (self.resistance, self.constant, self.viscous);
        let determinant = r * b + k * k;
        let decay = libm::exp(-r / self.inductance * time);
        block.e11[lane] = e11;
        block.e12[lane] = e12;
        block.e21[lane] = e21;
        block.e22[lane] = e22;
        block.gi[lane] = ((1.0 - e11) * b - e12 * k) / determinant;
        block.gw[lane] = ((1.0 - e22) * k - e21 * b) / determinant;
        block.fi[lane] = -((1.0 - e11) * k + e12 * r) / determinant;
        block.fw[lane] = ((1.0 - e22) * r + e21 * k) / determinant;
        block.decay[lane] = decay;
        block.rise[lane] = (1.0 - decay) / r;
        block.constant[lane] = k;
        block.forward[lane] = self.forward;
        block.backward[lane] = self.backward;
        let assumed = speed_loop.assumed_voltage.unwrap_or(self.voltage);
        block.limit[lane] = assumed;
        block.gain[lane] = self.voltage / assumed;
        block.brush[lane] = self.brush_drop;
        block.source[lane] = self.source / self.voltage;
    }

    /// e^(A·t) of two states, by the eigenvalues `m ± q` of A.
    fn exponential(&self, time: f64) -> Exponential {
        let (l, j) = (self.inductance, self.inertia);
        let (a11, a12) = (-self.resistance / l, -self.constant / l);
        let (a21, a22) = (self.constant / j, -self.viscous / j);
        let (mean, half) = (0.5 * (a11 + a22), 0.5 * (a11 - a22));
        let square = half * half + a12 * a21;
        let root = square.abs().sqrt();
        let turn = square * time * time;
        // Sum and difference of the two exponentials: e^(m·t)·cosh(q·t) and e^(m·t)·sinh(q·t)/q.
        let (even, odd) = if turn.abs() < 1e-3 {
            let grown = libm::exp(mean * time);
            let even = 1.0 + turn / 2.0 * (1.0 + turn / 12.0 * (1.0 + turn / 30.0 * (1.0 + turn / 56.0)));
            let odd = 1.0 + turn / 6.0 * (1.0 + turn / 20.0 * (1.0 + turn / 42.0 * (1.0 + turn / 72.0)));
            (grown * even, grown * odd * time)
        } else if square > 0.0 {
            // The slow one from the product of both, which loses no digits.
            let fast = mean - root;
            let slow = (a11 * a22 - a12 * a21) / fast;
            let (fast, slow) = (libm::exp(fast * time), libm::exp(slow * time));
            (0.5 * (slow + fast), 0.5 * (slow - fast) / root)
        } else {
            let grown = libm::exp(mean * time);
            (grown * libm::cos(root * time), grown * libm::sin(root * time) / root)
        };
        Exponential { e11: even + odd * half, e12: odd * a12, e21: odd * a21, e22: even - odd * half }
    }
}

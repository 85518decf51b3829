//! One build as the loop takes it, and its exact sub-step.

use super::SpeedLoop;
use super::kernel::Block;
use crate::exponential::Exponential;
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
        let (r, k, b) = (self.resistance, self.constant, self.viscous);
        let (l, j) = (self.inductance, self.inertia);
        let Exponential { e11, e12, e21, e22 } = Exponential::of(&[[-r / l, -k / l], [k / j, -b / j]], time);
        let determinant = r * b + k * k;
        let decay = libm::exp(-r / l * time);
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
}

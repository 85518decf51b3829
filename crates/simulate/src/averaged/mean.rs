//! The bridge as its mean over a PWM period, and what its ripple adds.
//!
//! The ripple is a triangle of height Δ about the mean. Where it reaches zero, the brushes, whose drop has the sign of
//! the current, give `U_b·2·i/Δ` in the mean: the share of the period with a forward current less that with one back.

use super::flow::Integrals;
use crate::record::Energy;
use crate::set_up::{SetUp, Unusable};
use crate::shaft::Plane;
use crate::simulation::Command;
use drive::bridge::OffState;

#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Mean {
    /// Mean voltage of a forward current, brushes and diodes taken off, V.
    pub(super) forward: f64,
    /// The same of a current back, V.
    pub(super) back: f64,
    /// Half of the ripple, peak to peak, while the mean is near zero, A.
    pub(super) half_ripple: f64,
    /// How much less it is for each ampere of the mean, because the supply gives way in the on-time, 1/A.
    sag: f64,
    /// Resistance in the loop in the mean, Ω.
    resistance: f64,
    /// Current out of the supply for a current of the motor; none where it goes back into it, whatever its sign.
    supplied: Option<f64>,
    /// Diodes in the way, V.
    diodes: f64,
}

impl Mean {
    pub(super) fn of(drive: &SetUp, command: Command) -> Result<Self, Unusable> {
        let (brush, bus) = (drive.brush_drop, drive.supply_voltage);
        let Command::Duty(duty) = command else {
            let diodes = 2.0 * drive.diode_drop;
            let back = bus + diodes + brush;
            let resistance = drive.resistance + drive.supply_resistance;
            return Ok(Self {
                forward: -back,
                back,
                half_ripple: 0.0,
                sag: 0.0,
                resistance,
                supplied: None,
                diodes,
            });
        };
        if !(-1.0..=1.0).contains(&duty) {
            return Err(Unusable::Figure { what: "duty", value: duty, must: "from -1 to 1" });
        }
        // Both legs switched: the supply is always in the loop, and swings it by twice its voltage.
        let (source_share, on, swing, sag) = match drive.off_state {
            OffState::Reverse => (1.0, 0.5 * (1.0 + duty.abs()), 2.0 * bus, 0.0),
            _ => (duty.abs(), duty.abs(), bus, (drive.supply_resistance / bus).copysign(duty)),
        };
        let resistance = drive.resistance + source_share * drive.supply_resistance;
        let time = resistance / (drive.inductance * drive.frequency);
        // The balance of a period with the resistance in it.
        let rise = -libm::expm1(-on * time);
        let fall = -libm::expm1(-(1.0 - on) * time);
        let half_ripple = 0.5 * swing / resistance * rise * fall / -libm::expm1(-time);
        let voltage = duty * bus;
        Ok(Self {
            forward: voltage - brush,
            back: voltage + brush,
            half_ripple,
            sag,
            resistance,
            supplied: Some(duty),
            diodes: 0.0,
        })
    }

    /// Half of the ripple about a mean current, A.
    pub(super) fn half_ripple_at(&self, current: f64) -> f64 {
        self.half_ripple * (1.0 - self.sag * current).max(0.0)
    }

    /// The side of a current: its sign where its ripple does not reach zero. A current that is none goes where it is
    /// driven.
    pub(super) fn side(&self, current: f64, back_emf: f64) -> i8 {
        match current {
            _ if current.abs() <= self.half_ripple && self.half_ripple > 0.0 => 0,
            _ if current > 0.0 => 1,
            _ if current < 0.0 => -1,
            _ if back_emf < self.forward => 1,
            _ if back_emf > self.back => -1,
            _ => 0,
        }
    }

    /// Slope of the current on a side.
    pub(super) fn current_slope(&self, drive: &SetUp, side: i8) -> Plane {
        let (voltage, resistance) = match side {
            0 if self.half_ripple == 0.0 => return [0.0; 3],
            0 => {
                let across = 0.5 * (self.back - self.forward) / self.half_ripple;
                (0.5 * (self.back + self.forward), self.resistance + across)
            }
            1 => (self.forward, self.resistance),
            _ => (self.back, self.resistance),
        };
        [-resistance / drive.inductance, -drive.constant / drive.inductance, voltage / drive.inductance]
    }

    /// Adds what flows through the motor loop over a time; gives ∫ of the voltage of winding and brushes. The mean current meets the brushes in the mean; what the
    /// ripple heats beyond that comes out of the supply too.
    pub(super) fn account(
        &self,
        drive: &SetUp,
        side: i8,
        over: &Integrals,
        time: f64,
        energy: &mut Energy,
    ) -> f64 {
        let half = self.half_ripple;
        let variance = half * half / 3.0;
        let squared = over.current_squared + variance * time;
        let sign = f64::from(side);
        // ∫|i| over mean and ripple, ∫ of the mean sign, and ∫ of both as the mean meets them.
        let (amount, signs, met) = match side {
            0 if half == 0.0 => (0.0, 0.0, 0.0),
            0 => {
                let met = over.current_squared / half;
                (0.5 * (met + half * time), over.current / half, met)
            }
            _ => (sign * over.current, sign * time, sign * over.current),
        };
        let beyond = self.resistance * variance * time + drive.brush_drop * (amount - met);
        let supplied = match self.supplied {
            Some(duty) => duty * over.current + beyond / drive.supply_voltage,
            None => -amount,
        };
        energy.supply += drive.supply_voltage * supplied;
        energy.supply_charge += supplied;
        energy.source += (self.resistance - drive.resistance) * squared;
        energy.winding += drive.winding_resistance * squared;
        energy.bridge += (drive.resistance - drive.winding_resistance) * squared + self.diodes * amount;
        energy.brushes += drive.brush_drop * amount;
        energy.charge += amount;
        energy.current_squared += squared;
        drive.winding_resistance * over.current + drive.brush_drop * signs
    }

    /// Energy that the mean current brings back into the supply, over a time in which it keeps its sign.
    pub(super) fn returned(&self, drive: &SetUp, side: i8, over: &Integrals) -> f64 {
        let supplied = match self.supplied {
            Some(duty) => duty * over.current,
            None => -f64::from(side) * over.current,
        };
        (-drive.supply_voltage * supplied).max(0.0)
    }
}

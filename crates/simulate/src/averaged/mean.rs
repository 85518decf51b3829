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
    /// Mean voltage of a forward current, with all that has the sign of the current taken off, V.
    pub(super) forward: f64,
    /// The same of a current back, V.
    pub(super) back: f64,
    /// Half of the ripple, peak to peak, while the mean is near zero, A.
    pub(super) half_ripple: f64,
    /// How much less it is for each ampere of the mean, because the supply gives way in the on-time, 1/A.
    sag: f64,
    /// Resistance in the loop in the mean, Ω.
    resistance: f64,
    /// Part of it that is in the supply, Ω, and whether the ripple passes it: capacitors keep it away.
    source: (f64, bool),
    /// Current out of the supply for a current of the motor; none where it goes back into it, whatever its sign.
    supplied: Option<f64>,
    /// Part of the time in which dead time keeps a current from the supply, or sends it back.
    dead: f64,
    /// Diodes in the way, in the mean, V.
    diodes: f64,
    /// Current that the board draws all the time, A.
    idle: f64,
    /// How long in a period a forward current, and one back, flows into the bus, s.
    flows_back: [f64; 2],
}

impl Mean {
    pub(super) fn of(drive: &SetUp, command: Command) -> Result<Self, Unusable> {
        let idle = drive.bus.map_or(0.0, |bus| bus.quiescent + bus.bleed * drive.supply_voltage);
        let bus = drive.supply_voltage - drive.supply_resistance * idle;
        let Command::Duty(duty) = command else {
            let diodes = 2.0 * drive.diode_drop;
            let back = bus + diodes + drive.brush_drop;
            let source = if drive.bus.is_some() { 0.0 } else { drive.supply_resistance };
            return Ok(Self {
                forward: -back,
                back,
                half_ripple: 0.0,
                sag: 0.0,
                resistance: drive.resistance + source,
                source: (source, true),
                supplied: None,
                dead: 0.0,
                diodes,
                idle,
                flows_back: [0.0; 2],
            });
        };
        if !(-1.0..=1.0).contains(&duty) {
            return Err(Unusable::Figure { what: "duty", value: duty, must: "from -1 to 1" });
        }
        // Both legs switched: the supply is always in the loop, and swings it by twice its voltage.
        let (legs, on) = match drive.off_state {
            OffState::Reverse => (2.0, 0.5 * (1.0 + duty.abs())),
            _ => (1.0, duty.abs()),
        };
        // Behind capacitors the supply gives the mean; without them it sees each pulse.
        let (share, sag) = match (drive.bus, drive.off_state) {
            (Some(_), _) => (duty * duty, duty),
            (None, OffState::Reverse) => (1.0, 0.0),
            (None, _) => (duty.abs(), if duty == 0.0 { 0.0 } else { duty.signum() }),
        };
        let flows_back = match drive.off_state {
            OffState::Reverse if duty < 0.0 => [on, 1.0 - on],
            OffState::Reverse => [1.0 - on, on],
            _ => [(-duty).max(0.0), duty.max(0.0)],
        };
        let source = share * drive.supply_resistance;
        let resistance = drive.resistance + source;
        let time = resistance / (drive.inductance * drive.frequency);
        // The balance of a period with the resistance in it.
        let rise = -libm::expm1(-on * time);
        let fall = -libm::expm1(-(1.0 - on) * time);
        let half_ripple = 0.5 * legs * bus / resistance * rise * fall / -libm::expm1(-time);
        // A pulse, or a gap, that is shorter than the dead time is lost.
        let dead = legs * (drive.board.dead_time * drive.frequency).min(on).min(1.0 - on);
        let diodes = 2.0 * drive.diode_drop * dead;
        let against = drive.brush_drop + bus * dead + diodes;
        let voltage = duty * bus;
        Ok(Self {
            forward: voltage - against,
            back: voltage + against,
            half_ripple,
            sag: sag * drive.supply_resistance / bus,
            resistance,
            source: (source, drive.bus.is_none()),
            supplied: Some(duty),
            dead,
            diodes,
            idle,
            flows_back: flows_back.map(|part| part / drive.frequency),
        })
    }

    /// Current out of the bus for a mean current of the motor, A; none while all switches are open.
    pub(super) fn supply_current(&self, current: f64) -> Option<f64> {
        self.supplied.map(|duty| duty * current)
    }

    /// Charge that a current of the motor puts into the bus at once, before the period takes it out again, C.
    pub(super) fn put_back(&self, current: f64) -> f64 {
        current.abs() * self.flows_back[usize::from(current < 0.0)]
    }

    /// Current out of the bus, with that of the board and what the ripple heats, A.
    pub(super) fn drawn(&self, drive: &SetUp, side: i8) -> Plane {
        let gain = match self.supplied {
            Some(duty) => duty - f64::from(side) * self.dead,
            None => -f64::from(side),
        };
        let ripple = drive.resistance * self.half_ripple * self.half_ripple / 3.0;
        [gain, 0.0, self.idle + ripple / drive.supply_voltage]
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

    /// Adds what flows through the motor loop over a time; gives ∫ of the voltage of winding and brushes, and the charge
    /// out of the bus. The mean current meets brushes, diodes and dead time in the mean; what the ripple heats beyond that
    /// comes out of the supply too.
    pub(super) fn account(
        &self,
        drive: &SetUp,
        side: i8,
        over: &Integrals,
        time: f64,
        energy: &mut Energy,
    ) -> (f64, f64) {
        let half = self.half_ripple;
        let variance = half * half / 3.0 * time;
        let squared = over.current_squared + variance;
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
        let (source, sees_ripple) = self.source;
        let heated = if sees_ripple { self.resistance } else { drive.resistance };
        let beyond = heated * variance + (drive.brush_drop + self.diodes) * (amount - met);
        let taken = match self.supplied {
            Some(duty) => duty * over.current - self.dead * met,
            None => -amount,
        };
        let (voltage, resistance, idle) = (drive.supply_voltage, drive.supply_resistance, self.idle);
        energy.supply += voltage * (taken + idle * time) + beyond;
        energy.supply_charge += taken + beyond / voltage;
        energy.source += source * if sees_ripple { squared } else { over.current_squared };
        energy.source += resistance * idle * (idle * time + 2.0 * taken);
        energy.board += idle * (voltage * time - resistance * (idle * time + taken));
        energy.winding += drive.winding_resistance * squared;
        energy.bridge += (drive.resistance - drive.winding_resistance) * squared + self.diodes * amount;
        energy.brushes += drive.brush_drop * amount;
        energy.charge += amount;
        energy.current_squared += squared;
        (drive.winding_resistance * over.current + drive.brush_drop * signs, taken + beyond / voltage)
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

//! The currents that can flow in a motor: for a moment, lastingly, and what limits leave for the motion.
//!
//! Counted are the limits of the board that see the motor current itself: in the motor lead always, in the common
//! lower leg where they chop, because the on-time shows the whole current. A limit on the supply side sees only
//! `D·I` and holds no motor current; one in the firmware is too late for a moment.

use super::DcAxis;
use crate::limit::{chopper_mean, chopper_ripple, held_to, overshoot};
use bench::model::{Axis, LimitInForce};
use bench::part::{Acts, SensePoint, Stepper};
use worked::{Number, Worked};

/// A limit of the board that sees the motor current.
#[derive(Clone, Debug)]
pub struct MotorLimit {
    /// Path of the limit in the bench.
    pub path: String,
    /// Current at which it acts.
    pub threshold: Worked,
    /// Time for which the current goes on rising above it: timer, or blanking of a chopper.
    pub delay: Option<Worked>,
    /// Off-time, where it chops with a fixed one.
    pub off_time: Option<Worked>,
}

/// Limits of the board that see the motor current of an axis and stop its channel.
pub(super) fn motor_limits(axis: &Axis) -> Vec<MotorLimit> {
    let Some(channel) = axis.channel() else { return Vec::new() };
    let limits = axis.limits();
    limits
        .iter()
        .filter(|limit| limit.stops(channel.name()) && sees_motor_current(limit))
        .map(motor_limit)
        .collect()
}

fn sees_motor_current(limit: &LimitInForce) -> bool {
    let chops = limit.limit.acts().is(Acts::Chop);
    let senses = limit.limit.senses();
    senses.is(SensePoint::MotorLead) || (senses.is(SensePoint::LowLeg) && chops)
}

fn motor_limit(limit: &LimitInForce) -> MotorLimit {
    let part = &limit.limit;
    let chops = part.acts().is(Acts::Chop);
    let delay = if chops { "blanking" } else { "timer" };
    MotorLimit {
        path: part.path().to_owned(),
        threshold: limit.threshold.clone(),
        delay: part.has(delay).then(|| if chops { part.blanking() } else { part.timer() }),
        off_time: (chops && part.has("off_time")).then(|| part.off_time()),
    }
}

/// Highest torque of a stepper at the current that is set for its phases.
pub fn stepper_torque(axis: &Axis, stepper: &Stepper) -> Worked {
    let rated = stepper.phase_current();
    let set = if axis.entry.has("phase_current") { axis.entry.phase_current() } else { rated.clone() };
    crate::stepper::holding_at(stepper.holding_torque(), set, rated)
}

impl DcAxis {
    /// Highest current that can flow for a moment with the rotor locked: that of the highest voltage, or of the
    /// lowest limit with what the current still rises before it acts.
    pub fn peak_current(&self) -> Worked {
        let loop_at_rest = self.rotor();
        let voltage = self.motor_voltage_at_most();
        let peak = |limit: &MotorLimit| match &limit.delay {
            Some(delay) => {
                let still = crate::constants::zero("V");
                let threshold = limit.threshold.clone();
                threshold.clone() + overshoot(&loop_at_rest, voltage.clone(), still, threshold, delay.clone())
            }
            None => limit.threshold.clone(),
        };
        let driven = loop_at_rest.stall_current(voltage.clone());
        self.limits.iter().map(peak).fold(driven, held_to).called("highest current for a moment", "I_pk")
    }

    /// Highest torque that the motor can give for a moment: its magnets as strong as they get, friction left out.
    pub fn peak_torque(&self) -> Worked {
        (self.rotor().constant * self.peak_current()).called("highest torque of the motor", "M_pk")
    }

    /// Highest current that can flow for long with the rotor locked: that of the highest voltage, or the lowest
    /// threshold, below which a limit never acts.
    pub fn lasting_current(&self) -> Worked {
        let driven = self.rotor().stall_current(self.motor_voltage_at_most());
        self.limits
            .iter()
            .map(|limit| limit.threshold.clone())
            .fold(driven, held_to)
            .called("highest current that can last", "I_last")
    }

    /// Current that limits leave for the motion at a speed of the motor: the mean of a chopper, a threshold, the
    /// limit of the firmware. `None` where nothing limits.
    pub fn usable_current(&self, speed: &Worked) -> Option<Worked> {
        let board = self.limits.iter().map(|limit| self.mean_at(limit, speed));
        let usable = board.chain(self.firmware_limit.clone()).reduce(Number::at_most)?;
        Some(usable.called("current that the limits leave", "I_use"))
    }

    fn mean_at(&self, limit: &MotorLimit, speed: &Worked) -> Worked {
        let known = !self.motor.inductance.is_missing();
        let (Some(off_time), Some(bridge), true) = (&limit.off_time, &self.bridge, known) else {
            return limit.threshold.clone();
        };
        let motor = self.hot_rotor();
        let bus = self.power.open_voltage.clone();
        let back_emf = motor.back_emf(speed.clone());
        let ripple = chopper_ripple(&motor, bridge, bus, back_emf, limit.threshold.clone(), off_time.clone());
        chopper_mean(limit.threshold.clone(), ripple)
    }
}

//! What the limits of a board leave of the motor current: lastingly, and for the motion.

use super::DcAxis;
use super::current::winding_limits;
use crate::limit::{chopper_mean, chopper_ripple, held_to};
use bench::model::{Axis, LimitInForce};
use bench::part::{Acts, Stepper};
use worked::{Number, Worked};

/// A limit of the board that sees the motor current.
#[derive(Clone, Debug)]
pub struct MotorLimit {
    /// Current at which it acts.
    pub threshold: Worked,
    /// Off-time, where it chops with a fixed one.
    pub off_time: Option<Worked>,
}

/// Limits of the board that see the motor current of an axis and stop its channel.
pub(super) fn motor_limits(axis: &Axis) -> Vec<MotorLimit> {
    winding_limits(axis).iter().map(motor_limit).collect()
}

fn motor_limit(limit: &LimitInForce) -> MotorLimit {
    let part = &limit.limit;
    MotorLimit {
        threshold: limit.threshold.clone(),
        off_time: (part.acts().is(Acts::Chop) && part.has("off_time")).then(|| part.off_time()),
    }
}

/// Highest torque of a stepper at the current that is set for its phases.
pub fn stepper_torque(axis: &Axis, stepper: &Stepper) -> Worked {
    let rated = stepper.phase_current();
    let set = if axis.entry.has("phase_current") { axis.entry.phase_current() } else { rated.clone() };
    crate::stepper::holding_at(stepper.holding_torque(), set, rated)
}

impl DcAxis {
    /// Highest torque that the motor can give for a moment: its magnets as strong as they get, friction left out.
    pub fn peak_torque(&self, axis: &Axis) -> Worked {
        (self.rotor().constant * self.current_with_firmware(axis))
            .called("highest torque of the motor", "M_pk")
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

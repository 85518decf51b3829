//! Limits of a board: which of them see the winding, what they hold, what they leave for the motion.

use super::DcAxis;
use crate::limit::{chopper_floor, chopper_mean, chopper_ripple, held_to, overshoot};
use bench::Bench;
use bench::model::{Axis, Board, LimitInForce};
use bench::part::{Acts, SensePoint};
use std::sync::Arc;
use worked::{Number, Worked};

/// Whether a limit sees the current of the winding whatever the duty is.
///
/// One in the supply sees a part of it. One in the common lower leg sees it in the on-time only: enough for one
/// that acts at once, not for one that waits.
pub fn sees_winding(limit: &LimitInForce) -> bool {
    match limit.limit.senses().value {
        Some(SensePoint::MotorLead) => true,
        Some(SensePoint::LowLeg) => limit.limit.acts().is(Acts::Chop) || !limit.limit.has("timer"),
        Some(SensePoint::SupplyInput) | None => false,
    }
}

/// Whether reaching a limit switches off, in place of holding the current.
pub fn trips(limit: &LimitInForce) -> bool {
    matches!(limit.limit.acts().value, Some(Acts::Latch | Acts::Retry | Acts::Foldback))
}

/// Whether reaching a limit of a board acts on a channel of it: one that it stops, or any where it trips and the board lets
/// a fault of one channel disable the others too.
pub fn acts_on(board: &Board, limit: &LimitInForce, channel: &str) -> bool {
    limit.stops(channel) || (trips(limit) && board.part.faults_joined().is(true))
}

/// The other axes that a limit of a board acts on, in the order of the bench.
pub fn stopped_with(bench: &Bench, axis: &Axis, board: &Board, limit: &LimitInForce) -> Vec<Arc<str>> {
    let stopped = |other: &&Axis| {
        let mut own = other.channels.iter().filter(|used| used.board.name == board.name);
        other.name != axis.name && own.any(|used| acts_on(board, limit, used.channel.name()))
    };
    bench.axes().iter().filter(stopped).map(|other| other.name.clone()).collect()
}

/// Limits in hardware that see the winding of an axis and act on its channel.
pub fn winding_limits(axis: &Axis) -> Vec<LimitInForce> {
    let own = |limit: &LimitInForce| axis.channels.iter().any(|used| limit.stops(used.channel.name()));
    axis.limits().into_iter().filter(|limit| sees_winding(limit) && own(limit)).collect()
}

/// The chopper of an axis, where its board has one that sees the winding.
pub fn chopper(axis: &Axis) -> Option<LimitInForce> {
    winding_limits(axis).into_iter().find(|limit| limit.limit.acts().is(Acts::Chop))
}

/// Time in which a limit does not act yet: its timer, or the blanking of a chopper.
pub fn delay(limit: &LimitInForce) -> Worked {
    if limit.limit.has("timer") { limit.limit.timer() } else { super::or_zero(&limit.limit, "blanking", "s") }
}

/// Part of a motor current that a limit sees at a duty, by where it sits and by the off-state.
pub fn seen(limit: &LimitInForce, dc: &DcAxis, duty: Worked, motor_current: Worked) -> Worked {
    match &dc.bridge {
        Some(bridge) if !sees_winding(limit) => bridge.supply_current(duty, motor_current),
        _ => motor_current,
    }
}

impl DcAxis {
    /// Largest current that hardware lets into the winding: what the supply can drive, held by each limit that
    /// sees it, with what still comes in while that limit waits.
    pub fn held_current(&self) -> Worked {
        self.held(self.driven_current())
    }

    /// Largest current of a reversal at the highest speed that the bus can give, held by the same limits.
    pub fn held_reversal_current(&self) -> Worked {
        let driven = crate::limit::full_reversal_current(&self.armature(), self.power.open_voltage.clone());
        self.held(driven)
    }

    fn held(&self, driven: Worked) -> Worked {
        let motor = self.armature();
        let bus = self.power.open_voltage.clone();
        self.limits.iter().fold(driven, |current, limit| {
            let level = self.level_held(limit);
            let over =
                overshoot(&motor, bus.clone(), crate::constants::zero("V"), level.clone(), delay(limit));
            held_to(current, level + over)
        })
    }

    /// Current to which a limit holds a locked motor: its threshold, or what a chopper lets in by its blanking time
    /// alone where that is more.
    pub fn level_held(&self, limit: &LimitInForce) -> Worked {
        let (threshold, blanking) = (limit.threshold.clone(), limit.limit.blanking());
        match (off_time(limit), &self.bridge) {
            (Some(off_time), Some(bridge)) if blanking.value() > 0.0 => {
                let still = crate::constants::zero("V");
                let bus = self.power.open_voltage.clone();
                threshold.at_least(chopper_floor(&self.armature(), bridge, bus, still, blanking, off_time))
            }
            _ => threshold,
        }
    }

    /// The same with the limit that the firmware is declared to keep.
    pub fn current_with_firmware(&self) -> Worked {
        self.firmware_limit.iter().cloned().fold(self.held_current(), held_to)
    }

    /// Highest torque that the motor can give for a moment: its magnets as strong as they get, friction left out.
    pub fn peak_torque(&self) -> Worked {
        (self.rotor().constant * self.current_with_firmware()).called("highest torque of the motor", "M_pk")
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

    fn mean_at(&self, limit: &LimitInForce, speed: &Worked) -> Worked {
        let known = !self.motor.inductance.is_missing();
        let (Some(off_time), Some(bridge), true) = (off_time(limit), &self.bridge, known) else {
            return limit.threshold.clone();
        };
        let motor = self.hot_rotor();
        let bus = self.power.open_voltage.clone();
        let back_emf = motor.back_emf(speed.clone());
        let ripple = chopper_ripple(&motor, bridge, bus, back_emf, limit.threshold.clone(), off_time);
        chopper_mean(limit.threshold.clone(), ripple)
    }
}

/// Off-time of a chopper that has a fixed one.
fn off_time(limit: &LimitInForce) -> Option<Worked> {
    let part = &limit.limit;
    (part.acts().is(Acts::Chop) && part.has("off_time")).then(|| part.off_time())
}

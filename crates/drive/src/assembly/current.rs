//! Currents of an axis as its board lets them flow: what hardware holds, what a limit sees, what a cycle takes.

use super::DcAxis;

use crate::limit::{chopper_floor, held_to, overshoot};
use crate::motion::Trapezoid;
use bench::file::MotionKind;
use bench::model::{Axis, LimitInForce};
use bench::part::{Acts, Gearbox, SensePoint};
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

/// Shares that several channels draw, summed under one name.
pub fn together(currents: Vec<Worked>, name: &str) -> Worked {
    if currents.is_empty() {
        return crate::constants::zero("A");
    }
    currents.into_iter().sum::<Worked>().called(name, "ΣI")
}

impl DcAxis {
    /// Current that the whole supply drives through the locked motor, at any temperature that it can have.
    pub fn driven_current(&self) -> Worked {
        self.armature().stall_current(self.power.open_voltage.clone())
    }

    /// Largest current that hardware lets into the winding: what the supply can drive, held by each limit that
    /// sees it, with what still comes in while that limit waits.
    pub fn held_current(&self, axis: &Axis) -> Worked {
        self.held(axis, self.driven_current())
    }

    /// Largest current of a reversal at the highest speed that the bus can give, held by the same limits.
    pub fn held_reversal_current(&self, axis: &Axis) -> Worked {
        let driven = crate::limit::full_reversal_current(&self.armature(), self.power.open_voltage.clone());
        self.held(axis, driven)
    }

    fn held(&self, axis: &Axis, driven: Worked) -> Worked {
        let motor = self.armature();
        let bus = self.power.open_voltage.clone();
        winding_limits(axis).iter().fold(driven, |current, limit| {
            let level = self.level_held(limit);
            let over =
                overshoot(&motor, bus.clone(), crate::constants::zero("V"), level.clone(), delay(limit));
            held_to(current, level + over)
        })
    }

    /// Current to which a limit holds a locked motor: its threshold, or what a chopper lets in by its blanking time
    /// alone where that is more.
    fn level_held(&self, limit: &LimitInForce) -> Worked {
        let part = &limit.limit;
        let threshold = limit.threshold.clone();
        match &self.bridge {
            Some(bridge)
                if part.acts().is(Acts::Chop) && part.has("off_time") && part.blanking().value() > 0.0 =>
            {
                let still = crate::constants::zero("V");
                let bus = self.power.open_voltage.clone();
                threshold.at_least(chopper_floor(
                    &self.armature(),
                    bridge,
                    bus,
                    still,
                    part.blanking(),
                    part.off_time(),
                ))
            }
            _ => threshold,
        }
    }

    /// The same with the limit that the firmware is declared to keep.
    pub fn current_with_firmware(&self, axis: &Axis) -> Worked {
        let held = self.held_current(axis);
        let firmware = axis.firmware();
        if firmware.has("current_limit") { held_to(held, firmware.current_limit()) } else { held }
    }

    /// Current that loads the gearbox with its peak torque, counted without any loss: at a stop friction does not help
    /// the gear. What stands behind the gearbox does not matter to it.
    pub fn current_at_gear_peak(&self, gearbox: &Gearbox) -> Worked {
        (gearbox.peak_torque() / (self.armature().constant * gearbox.ratio()))
            .called("current at which the gear is at its peak", "I_gear")
    }

    /// Current that the axis can draw from its supply at most, at its largest duty.
    pub fn largest_supply_current(&self, axis: &Axis) -> Worked {
        let current = self
            .current_with_firmware(axis)
            .at_most(self.armature().stall_current(self.motor_voltage_at_most()));
        self.supply_current(self.duty_limit.clone(), current)
    }

    /// Current drawn from the supply for a motor current at a duty.
    pub fn supply_current(&self, duty: Worked, motor_current: Worked) -> Worked {
        match &self.bridge {
            Some(bridge) => bridge.supply_current(duty, motor_current),
            None => motor_current,
        }
    }

    /// Current drawn from the supply at the hardest moment of the planned motion.
    pub fn accelerating_supply_current(&self) -> Option<Worked> {
        let (current, bridge) = (self.accelerating_current()?, self.bridge.as_ref()?);
        let voltage = self.armature().voltage(current.clone(), self.planned_motor_speed()?);
        let duty = bridge.duty_for(voltage, self.power.open_voltage.clone());
        Some(bridge.supply_current(duty, current).called("current drawn while accelerating", "I_acc,s"))
    }
}

/// Time from the start of one move of an axis to the start of the next; `None` where the motion has no such time.
pub fn cycle_time(axis: &Axis) -> Option<Worked> {
    let (_, motion) = axis.motion.as_ref()?;
    match motion.kind().value? {
        MotionKind::Trapezoid | MotionKind::SCurve => Some(trapezoid(motion).cycle_time()),
        MotionKind::Sine => Some(
            crate::motion::Sine { amplitude: motion.amplitude(), frequency: motion.frequency() }.cycle_time(),
        ),
        _ => None,
    }
}

fn trapezoid(motion: &bench::file::Motion) -> Trapezoid<Worked> {
    let deceleration = if motion.has("deceleration") { motion.deceleration() } else { motion.acceleration() };
    Trapezoid {
        distance: motion.distance(),
        top_speed: motion.top_speed(),
        acceleration: motion.acceleration(),
        deceleration,
        dwell: super::or_zero(motion, "dwell", "s"),
    }
}

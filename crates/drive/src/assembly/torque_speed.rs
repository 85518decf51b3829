//! Torque over speed at the output of the gear: what the voltage can drive, what limits leave, what the motion asks.
//!
//! Torques are those that the shaft gives beside accelerating rotor and gear: in [`DcAxis::asked_at_output`] the
//! inertia of the motor side is counted as torque asked, so both can be compared at one speed.

use super::DcAxis;
use crate::load::At;
use worked::{Number, Worked};

impl DcAxis {
    /// Torque at the output that the largest duty drives at a speed of the output, at any temperature and supply
    /// voltage; no limit counted.
    pub fn driven_output_torque(&self, output_speed: Worked) -> Worked {
        let speed = self.gear.input_speed(output_speed);
        let motor = self.armature();
        let left = self.motor_voltage_at_most() - motor.brush_drop.clone() - motor.back_emf(speed.clone());
        let torque = motor.torque(left / motor.resistance.clone(), speed);
        self.gear.output_torque(torque)
    }

    /// The same cold and at the nominal supply, as a sheet draws it: from no-load speed to stall, a straight line.
    pub fn cold_output_line(&self) -> [(f64, f64); 2] {
        let motor = self.cold_armature().map(&mut Worked::value);
        let gear = self.gear.clone().map(&mut Worked::value);
        let voltage = self.motor_voltage_at_most().value();
        let free = motor.dragged(gear.drag).no_load_speed(voltage);
        [(0.0, gear.output_torque(motor.stall_torque(voltage))), (gear.output_speed(free), 0.0)]
    }

    /// Torque at the output for a motor current, at rest.
    pub fn output_torque_of(&self, current: Worked) -> Worked {
        let still = crate::constants::zero("rad/s");
        self.gear.output_torque(self.armature().torque(current, still))
    }

    /// Torque at the output that the lowest limit in the path of the motor current leaves; `None` where nothing
    /// limits it.
    pub fn limited_output_torque(&self) -> Option<Worked> {
        let board = self.limits.iter().map(|limit| limit.threshold.clone());
        let current = board.chain(self.firmware_limit.clone()).reduce(Number::at_most)?;
        Some(self.output_torque_of(current).called("torque that the current limit leaves", "M_lim"))
    }

    /// Torque at the output that the winding bears for ever in the warmest air.
    pub fn lasting_output_torque(&self) -> Worked {
        let current = self.motor.heat().continuous_current(self.ambient.clone());
        self.output_torque_of(current).called("torque that the winding bears for ever", "M_cont")
    }

    /// What the motion asks for at a speed and acceleration of the output, motor side included, nominal: torque that
    /// the output would have to give.
    pub fn asked_at_output(&self, speed: f64, acceleration: f64) -> Option<f64> {
        let load = self.load.as_ref()?.map(&mut Worked::value);
        let gear = self.gear.clone().map(&mut Worked::value);
        let torque = load.torque(At::Worst, speed, acceleration);
        let at_motor = gear.motor_torque(self.rotor_inertia().value(), torque, acceleration);
        Some(gear.output_torque(at_motor))
    }

    /// The planned motion as a loop of speed and torque at the output, nominal: up, along, down. `None` where load
    /// or motion is not described.
    pub fn motion_at_output(&self) -> Option<Vec<[f64; 2]>> {
        let motion = self.motion.as_ref()?;
        let (top, up, down) =
            (motion.speed.value(), motion.acceleration.value(), motion.deceleration.value());
        let corners = [(0.0, 0.0), (0.0, up), (top, up), (top, 0.0), (top, -down), (0.0, -down), (0.0, 0.0)];
        let point =
            |(speed, acceleration): (f64, f64)| Some([speed, self.asked_at_output(speed, acceleration)?]);
        let points: Vec<[f64; 2]> = corners.into_iter().filter_map(point).collect();
        points.iter().flatten().all(|x| x.is_finite()).then_some(points)
    }
}

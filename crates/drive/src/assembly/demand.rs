//! What the planned motion asks of a DC motor: torque, current, and their effective values over the cycle.

use super::DcAxis;
use super::cycle::{Sense, Stretch};
use crate::bridge::with_ripple;
use crate::gear::{Gear, cold_drag, cold_factor};
use crate::motion::rms;
use crate::motor::Armature;
use worked::{Number, Worked};

impl DcAxis {
    /// The motor with its loop at any temperature it can have in use; drag of the gear not counted.
    pub fn rotor(&self) -> Armature<Worked> {
        self.motor
            .armature_at(self.winding.clone(), self.magnets.clone())
            .behind(self.loop_resistance.clone())
    }

    /// The same with the winding at its limit, where it is weakest: most resistance, least flux.
    pub fn hot_rotor(&self) -> Armature<Worked> {
        let winding = self.hottest_winding.clone();
        let magnets = super::motor::magnet_temperature(&self.ambient, &winding);
        self.motor.armature_at(winding, magnets).behind(self.loop_resistance.clone())
    }

    /// The gear at any temperature of the air: stiff with cold grease.
    pub fn cold_gear(&self) -> Gear<Worked> {
        let factor = cold_factor(self.cold_drag_factor.clone(), self.ambient.clone());
        Gear { drag: cold_drag(self.gear.drag.clone(), factor), ..self.gear.clone() }
    }

    /// Most torque that the planned motion asks of the motor, the grease as cold as it gets: full acceleration at
    /// top speed, in the heavier sense; where it only holds, what lifts the load without moving it. `None` where
    /// no motion is planned.
    pub fn torque_needed(&self) -> Option<Worked> {
        let torque = match &self.motion {
            Some(motion) => self.in_heavier_sense(&motion.speed, &motion.acceleration)?,
            None if self.cycle.is_empty() => return None,
            None => self.cold_gear().input_torque(self.standing_torque()),
        };
        Some(torque.called("most torque that the motion asks for", "M_need"))
    }

    /// Torque that the motion asks of the motor at steady top speed, in the heavier sense.
    pub fn running_torque(&self) -> Option<Worked> {
        let motion = self.motion.as_ref()?;
        let steady = crate::constants::zero("rad/s²");
        Some(self.in_heavier_sense(&motion.speed, &steady)?.called("torque at top speed", "M_run"))
    }

    fn in_heavier_sense(&self, speed: &Worked, acceleration: &Worked) -> Option<Worked> {
        let gear = self.cold_gear();
        let torque = |sense| {
            let load = self.load_torque(sense, speed, acceleration);
            gear.motor_torque(self.rotor_inertia(), load, acceleration.clone())
        };
        let senses: Vec<Worked> =
            [Sense::Forward, Sense::Back].into_iter().filter(|sense| self.runs(*sense)).map(torque).collect();
        senses.into_iter().reduce(Number::at_least)
    }

    /// Motor current in a stretch of the cycle at its mean speed, the grease as cold and the magnets as weak as they get. At rest
    /// nothing is taken off for friction:
    /// whether it helps or not depends on how the place was reached.
    pub fn current_in(&self, stretch: &Stretch) -> Worked {
        let (acceleration, speed) = (&stretch.phase.acceleration, stretch.phase.mean_speed());
        let load = self.load_torque(stretch.sense, &speed, acceleration);
        if stretch.sense == Sense::Rest {
            return (load / self.gear.ratio.clone() / self.hot_rotor().constant)
                .called("current that holds", "I_hold");
        }
        let torque = self.cold_gear().motor_torque(self.rotor_inertia(), load, acceleration.clone());
        self.hot_rotor().current(torque, self.gear.input_speed(speed))
    }

    /// Effective motor current over the cycle, ripple not counted. `None` where no motion is planned.
    pub fn rms_current(&self) -> Option<Worked> {
        let pieces = self.cycle.iter().map(|stretch| (self.current_in(stretch), stretch.phase.time.clone()));
        Some(rms(pieces)?.called("motor current over the cycle, rms", "I_cyc"))
    }

    /// Effective motor current, ripple not counted: over the cycle, or the largest that can flow where no motion is
    /// planned.
    pub fn effective_current(&self) -> Worked {
        self.rms_current().unwrap_or_else(|| self.current_with_firmware())
    }

    /// Effective motor current over the cycle with the ripple of the bridge: what heats the winding.
    pub fn heating_current(&self) -> Option<Worked> {
        let mean = self.rms_current()?;
        Some(match &self.bridge {
            Some(bridge) => {
                let bus = self.power.open_voltage.clone();
                with_ripple(mean, bridge.largest_ripple(bus, self.motor.inductance.clone()))
            }
            None => mean,
        })
    }

    /// Voltage that is left for the motor at a current: supply under load, duty at its limit.
    pub fn voltage_left(&self, current: Worked) -> Worked {
        (self.duty_limit.clone() * self.power.sagged(current)).called("voltage left for the motor", "U_left")
    }

    /// Torque that the hot motor can give at a speed of its own: what the voltage left can drive, no more than the
    /// limits allow.
    pub fn torque_available(&self, speed: &Worked) -> Worked {
        let loaded = self
            .hot_rotor()
            .behind(self.power.source_resistance.clone() + self.power.line_resistance.clone());
        let voltage = self.voltage_left(crate::constants::zero("A"));
        match self.usable_current(speed) {
            Some(limit) => loaded.available_torque(voltage, speed.clone(), limit),
            None => loaded.torque(loaded.current_at(voltage, speed.clone()), speed.clone()),
        }
        .called("torque that can be had", "M_av")
    }

    /// Speed that the hot motor reaches under its running torque at the voltage left.
    pub fn speed_available(&self) -> Option<Worked> {
        let loaded = self
            .hot_rotor()
            .behind(self.power.source_resistance.clone() + self.power.line_resistance.clone());
        let voltage = self.voltage_left(crate::constants::zero("A"));
        Some(loaded.speed(voltage, self.running_torque()?).called("speed that can be had", "ω_av"))
    }
}

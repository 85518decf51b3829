//! Currents of an axis: what its supply drives, what it draws from there, what its gear bears.

use super::DcAxis;
use bench::part::Gearbox;
use worked::{Number, Worked};

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

    /// Current that loads the gearbox with its peak torque, counted without any loss: at a stop friction does not help
    /// the gear. What stands behind the gearbox does not matter to it.
    pub fn current_at_gear_peak(&self, gearbox: &Gearbox) -> Worked {
        (gearbox.peak_torque() / (self.armature().constant * gearbox.ratio()))
            .called("current at which the gear is at its peak", "I_gear")
    }

    /// Current that the axis can draw from its supply at most, at its largest duty.
    pub fn largest_supply_current(&self) -> Worked {
        let current =
            self.current_with_firmware().at_most(self.armature().stall_current(self.motor_voltage_at_most()));
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

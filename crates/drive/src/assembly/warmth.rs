//! How warm a motor gets: its continuous current in this air, a stall from a warm start, its case.

use super::DcAxis;
use crate::heat::derated_current;
use bench::model::Axis;
use worked::{Number, Origin, Worked};

/// Part of its continuous current at which a motor may run, and from which a stall is taken to begin.
pub fn share_in_use() -> Worked {
    let origin = Origin::common_practice("ratings hold for a motor on a large plate");
    Worked::known(0.8, "", "k_I", "part of the continuous current that is used", origin)
}

impl DcAxis {
    /// Current that the motor carries for ever in this air: from its thermal resistances, else its rated current
    /// at another ambient temperature.
    pub fn continuous_current(&self, axis: &Axis) -> Worked {
        let thermal = &self.motor.thermal;
        let known = !thermal.winding_to_case.is_missing() && !thermal.case_to_air.is_missing();
        match axis.motor() {
            Some(part) if !known && part.has("rated_current") => derated_current(
                part.rated_current(),
                thermal.limit.clone(),
                part.rated_ambient(),
                self.ambient.clone(),
            ),
            _ => self.motor.heat().continuous_current(self.ambient.clone()),
        }
    }

    /// Shortest time in which a stall brings a winding to its limit that has long carried the part of its
    /// continuous current that is used: the highest current that can last, no heat leaving the winding.
    pub fn stall_time(&self) -> Worked {
        let heat = self.motor.heat();
        let warm = heat.warm_temperature(share_in_use(), self.ambient.clone());
        heat.time_at_full_power(self.lasting_current(), warm).called("time that a stall may last", "t_stall")
    }

    /// Temperature of the case after many cycles. `None` where no motion is planned.
    pub fn case_temperature(&self) -> Option<Worked> {
        Some(self.motor.heat().case_temperature(self.heating_current()?, self.ambient.clone()))
    }

    /// Heat in the bridge over the cycle. `None` where no motion is planned or nothing drives the axis.
    pub fn bridge_loss(&self) -> Option<Worked> {
        let bridge = self.bridge.as_ref()?;
        Some(bridge.loss(self.duty_limit.clone(), self.power.open_voltage.clone(), self.heating_current()?))
    }
}

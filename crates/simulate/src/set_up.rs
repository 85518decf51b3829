//! One drive as the simulation takes it: figures in SI, and what makes them unusable.

use drive::bridge::OffState;
use thiserror::Error;

/// One motor on one bridge, with what feeds it and what it turns. SI; an angle of the load is an angle of the shaft
/// that drives it.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct SetUp {
    /// Open voltage of the supply, less a series diode, V.
    pub supply_voltage: f64,
    /// Resistance of source, cable and protector, Ω.
    pub supply_resistance: f64,
    /// PWM frequency, Hz.
    pub frequency: f64,
    /// What the winding sees in the off-time.
    pub off_state: OffState,
    /// Forward voltage of one freewheeling diode, V.
    pub diode_drop: f64,
    /// Resistance of the motor loop (winding, switches, leads), Ω.
    pub resistance: f64,
    /// Part of it that is the winding, Ω.
    pub winding_resistance: f64,
    /// Inductance of the motor loop, H.
    pub inductance: f64,
    /// Torque and back-EMF constant, V·s/rad.
    pub constant: f64,
    /// Drop of both brushes, V.
    pub brush_drop: f64,
    /// Inertia of rotor and gear at the motor shaft, kg·m².
    pub inertia: f64,
    /// Dry friction of rotor and gear at the motor shaft, N·m.
    pub friction: f64,
    /// Viscous friction at the motor shaft, N·m·s/rad.
    pub viscous_friction: f64,
    /// Turns of the motor for one of the load.
    pub ratio: f64,
    /// Efficiency of the gear, motor driving.
    pub efficiency: f64,
    /// Efficiency of the gear, load driving; zero where it locks itself.
    pub back_efficiency: f64,
    /// Inertia of the load, kg·m².
    pub load_inertia: f64,
    /// Dry friction of the load, N·m.
    pub load_friction: f64,
    /// Viscous friction of the load, N·m·s/rad.
    pub load_viscous: f64,
    /// Steady torque against forward motion that stays when it reverses, N·m.
    pub load_torque: f64,
    /// The shaft is held and cannot turn.
    pub locked: bool,
}

/// Why a set-up or a command cannot be simulated.
#[derive(Clone, PartialEq, Debug, Error)]
pub enum Unusable {
    /// A figure that no drive can have.
    #[error("the {what} is {value}, and must be {must}")]
    Figure {
        /// Which, in words.
        what: &'static str,
        /// What it is, SI.
        value: f64,
        /// What it has to be.
        must: &'static str,
    },
    /// Events follow one another without end: figures that no drive has together.
    #[error(
        "the drive changes its way {events} times within one PWM period: check inertia, friction and PWM frequency"
    )]
    Restless {
        /// Events in one period.
        events: u32,
    },
    /// The current settles so fast that a period falls into too many steps.
    #[error(
        "the current settles {pieces:.0} times within one PWM period: check inductance, resistance and PWM frequency"
    )]
    TooFast {
        /// Steps in one period.
        pieces: f64,
    },
}

impl SetUp {
    /// Whether every figure is one that a drive can have.
    ///
    /// # Errors
    /// The first figure that is none.
    pub fn check(&self) -> Result<(), Unusable> {
        let above_zero = [
            ("supply voltage", self.supply_voltage),
            ("PWM frequency", self.frequency),
            ("resistance of the motor loop", self.resistance),
            ("inductance", self.inductance),
            ("motor constant", self.constant),
            ("inertia of the rotor", self.inertia),
            ("gear ratio", self.ratio),
        ];
        let zero_or_more = [
            ("resistance of the supply", self.supply_resistance),
            ("resistance of the winding", self.winding_resistance),
            ("diode drop", self.diode_drop),
            ("brush drop", self.brush_drop),
            ("dry friction", self.friction),
            ("viscous friction", self.viscous_friction),
            ("inertia of the load", self.load_inertia),
            ("dry friction of the load", self.load_friction),
            ("viscous friction of the load", self.load_viscous),
        ];
        let fault = |what, value, must| Err(Unusable::Figure { what, value, must });
        for (what, value) in above_zero {
            if !(value > 0.0 && value.is_finite()) {
                return fault(what, value, "above zero");
            }
        }
        for (what, value) in zero_or_more {
            if !(value >= 0.0 && value.is_finite()) {
                return fault(what, value, "zero or more");
            }
        }
        if !(self.efficiency > 0.0 && self.efficiency <= 1.0) {
            return fault("efficiency of the gear", self.efficiency, "above 0 and at most 1");
        }
        if !(0.0..=1.0).contains(&self.back_efficiency) {
            return fault("efficiency of the gear, load driving,", self.back_efficiency, "from 0 to 1");
        }
        if !self.load_torque.is_finite() {
            return fault("torque of the load", self.load_torque, "a number");
        }
        if self.winding_resistance > self.resistance {
            return fault(
                "resistance of the winding",
                self.winding_resistance,
                "no more than that of its loop",
            );
        }
        Ok(())
    }
}

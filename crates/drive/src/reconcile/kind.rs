//! The figures of a motor's sheet, and what a motor makes of each.

use crate::motor::Armature;
use worked::Number;

/// Room that the model itself is given: nothing is exact to better than this.
pub(super) const MODEL: f64 = 0.01;

/// Which figure of a motor's sheet.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Kind {
    /// Terminal resistance.
    Resistance,
    /// Back-EMF constant.
    BackEmfConstant,
    /// Torque constant.
    TorqueConstant,
    /// Speed constant, rad/s for each volt.
    SpeedConstant,
    /// Drop of both brushes.
    BrushDrop,
    /// Dry friction.
    CoulombFriction,
    /// Friction in proportion to speed.
    ViscousFriction,
    /// Speed without load.
    NoLoadSpeed,
    /// Current without load.
    NoLoadCurrent,
    /// Current with the rotor locked.
    StallCurrent,
    /// Torque with the rotor locked.
    StallTorque,
    /// Torque at the rated point.
    RatedTorque,
    /// Speed at the rated point.
    RatedSpeed,
    /// Current at the rated point.
    RatedCurrent,
    /// Largest mechanical power.
    MaxPower,
    /// Largest efficiency.
    MaxEfficiency,
}

/// Shaft that speeds and torques of a sheet speak of.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Shaft {
    /// The motor's own.
    Motor,
    /// The output of the gear.
    Output,
}

impl Kind {
    /// All figures, in the order of a sheet.
    pub const ALL: [Self; 16] = [
        Self::Resistance,
        Self::BackEmfConstant,
        Self::TorqueConstant,
        Self::SpeedConstant,
        Self::BrushDrop,
        Self::CoulombFriction,
        Self::ViscousFriction,
        Self::NoLoadSpeed,
        Self::NoLoadCurrent,
        Self::StallCurrent,
        Self::StallTorque,
        Self::RatedTorque,
        Self::RatedSpeed,
        Self::RatedCurrent,
        Self::MaxPower,
        Self::MaxEfficiency,
    ];

    /// Its key in a motor's file.
    pub fn key(self) -> &'static str {
        match self {
            Self::Resistance => "resistance",
            Self::BackEmfConstant => "back_emf_constant",
            Self::TorqueConstant => "torque_constant",
            Self::SpeedConstant => "speed_constant",
            Self::BrushDrop => "brush_drop",
            Self::CoulombFriction => "coulomb_friction",
            Self::ViscousFriction => "viscous_friction",
            Self::NoLoadSpeed => "no_load_speed",
            Self::NoLoadCurrent => "no_load_current",
            Self::StallCurrent => "stall_current",
            Self::StallTorque => "stall_torque",
            Self::RatedTorque => "rated_torque",
            Self::RatedSpeed => "rated_speed",
            Self::RatedCurrent => "rated_current",
            Self::MaxPower => "max_power",
            Self::MaxEfficiency => "max_efficiency",
        }
    }

    /// In words.
    pub fn words(self) -> String {
        self.key()
            .replace('_', " ")
            .replace("emf", "EMF")
            .replace("max", "largest")
            .replace("no load", "no-load")
    }

    /// Compared by difference instead of ratio: it may be zero.
    pub(super) fn may_vanish(self) -> bool {
        matches!(self, Self::BrushDrop | Self::CoulombFriction | Self::ViscousFriction)
    }

    /// Part of its value within which it passes whatever tolerance is stated: 10 % for resistance and constants,
    /// 50 % for what friction decides (common practice, no source); else what the model is good for.
    pub(super) fn passes_within(self) -> f64 {
        match self {
            Self::Resistance | Self::BackEmfConstant | Self::TorqueConstant | Self::SpeedConstant => 0.1,
            Self::NoLoadCurrent | Self::CoulombFriction | Self::ViscousFriction => 0.5,
            _ => 2.0 * MODEL,
        }
    }

    pub(super) fn is_torque(self) -> bool {
        matches!(self, Self::StallTorque | Self::RatedTorque)
    }

    pub(super) fn is_speed(self) -> bool {
        matches!(self, Self::NoLoadSpeed | Self::RatedSpeed)
    }

    pub(super) fn is_rated(self) -> bool {
        matches!(self, Self::RatedTorque | Self::RatedSpeed | Self::RatedCurrent)
    }

    /// What a motor makes of the figure, at its own shaft; `torque` is that of the rated point.
    pub fn of<N: Number>(self, motor: &Armature<N>, voltage: N, torque: N) -> N {
        match self {
            Self::Resistance => motor.resistance.clone(),
            Self::BackEmfConstant | Self::TorqueConstant => motor.constant.clone(),
            Self::SpeedConstant => N::pure(1.0) / motor.constant.clone(),
            Self::BrushDrop => motor.brush_drop.clone(),
            Self::CoulombFriction => motor.coulomb_friction.clone(),
            Self::ViscousFriction => motor.viscous_friction.clone(),
            Self::NoLoadSpeed => motor.no_load_speed(voltage),
            Self::NoLoadCurrent => motor.no_load_current(voltage),
            Self::StallCurrent => motor.stall_current(voltage),
            Self::StallTorque => motor.stall_torque(voltage),
            Self::RatedTorque => torque,
            Self::RatedSpeed => motor.speed(voltage, torque),
            Self::RatedCurrent => {
                let speed = motor.speed(voltage, torque.clone());
                motor.current(torque, speed)
            }
            Self::MaxPower => motor.peak_power(voltage),
            Self::MaxEfficiency => motor.peak_efficiency(voltage),
        }
    }
}

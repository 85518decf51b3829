//! Why data do not carry a conclusion, and what would.

use crate::parameter::Parameter;
use crate::told::WIDEST;

/// Why the data do not carry a parameter.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Refusal {
    /// Nothing in the data answers to it, or only together with others.
    Undetermined,
    /// What it is told from drowns in the noise of the sensor: noise draws the value towards zero by this share.
    Drowned(f64),
    /// The 95 % interval reaches this part of the value either way.
    Wide(f64),
    /// Rows lie too far apart: so many fall into the time constant that it is told by.
    TooSparse(f64),
    /// The value lies at the end of what is possible.
    AtItsBound,
}

/// Share of attenuation above which a coefficient is refused.
pub(crate) const MOST_ATTENUATION: f64 = 0.05;

/// A trial that carries a parameter.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Carries {
    /// The shaft held, several currents of both signs, each long enough to settle.
    LockedLevels,
    /// The shaft held, steps of the voltage, at least five rows in the electrical time constant.
    LockedSteps,
    /// A free shaft at several speeds of both senses.
    SpeedLevels,
    /// Steps of the voltage between half speeds, several rows in the mechanical time constant.
    SpeedSteps,
    /// From full speed with the switches open until it rests.
    CoastDown,
    /// Slow ramps through rest in both senses.
    SlowReversals,
    /// The steps again with the load coupled, and once without.
    CoupledSteps,
    /// Levels of the duty with the voltage of the bus or the current of the supply recorded.
    BusLevels,
    /// A second with the bridge off before the shaft turns.
    ZeroReading,
}

impl Refusal {
    pub(crate) fn of(
        parameter: Parameter,
        value: f64,
        half_width: f64,
        attenuation: f64,
        open: bool,
    ) -> Option<Self> {
        if open || !value.is_finite() || !half_width.is_finite() {
            return Some(Self::Undetermined);
        }
        if attenuation > MOST_ATTENUATION {
            return Some(Self::Drowned(attenuation));
        }
        // Zeros and imbalances may be nothing; that they are small is then the finding.
        if parameter.is_signed() {
            return None;
        }
        let relative = half_width / value.abs();
        // Written so that 0/0 is refused.
        let carried = relative <= WIDEST && value > 0.0;
        (!carried).then_some(Self::Wide(relative))
    }
}

impl Parameter {
    /// The trial that carries it best.
    pub fn carried_by(self) -> Carries {
        match self {
            Self::Resistance | Self::BrushDrop => Carries::LockedLevels,
            Self::Inductance => Carries::LockedSteps,
            Self::Constant => Carries::SpeedLevels,
            Self::Inertia => Carries::SpeedSteps,
            Self::CoulombFriction | Self::ViscousFriction => Carries::SpeedLevels,
            Self::StaticExtra | Self::FrictionSpeed => Carries::SlowReversals,
            Self::Imbalance => Carries::SpeedLevels,
            Self::LoadInertia | Self::LoadFriction => Carries::CoupledSteps,
            Self::SupplyResistance => Carries::BusLevels,
            Self::CurrentOffset | Self::VoltageOffset => Carries::ZeroReading,
        }
    }
}

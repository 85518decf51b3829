//! Words, units and numbers of what was identified.

use crate::parameter::Parameter;
use crate::refusal::Carries;
use crate::verdict::Figure;
use worked::format::choose_unit;
use worked::{Dimension, Unit};

/// A zero of a sensor, not of the axis.
pub(super) fn is_zero(parameter: Parameter) -> bool {
    matches!(parameter, Parameter::CurrentOffset | Parameter::VoltageOffset)
}

/// What a parameter is measured in.
pub(super) fn dimension(parameter: Parameter) -> Dimension {
    use Parameter as P;
    match parameter {
        P::Resistance | P::SupplyResistance => Dimension::RESISTANCE,
        P::Inductance => Dimension::INDUCTANCE,
        P::BrushDrop | P::VoltageOffset => Dimension::VOLTAGE,
        P::Constant => Dimension::MACHINE_CONSTANT,
        P::Inertia | P::LoadInertia => Dimension::INERTIA,
        P::CoulombFriction | P::StaticExtra | P::Imbalance | P::LoadFriction => Dimension::TORQUE,
        P::ViscousFriction => Dimension::VISCOUS_FRICTION,
        P::FrictionSpeed => Dimension::ANGULAR_SPEED,
        P::CurrentOffset => Dimension::CURRENT,
    }
}

/// The unit that suits a value.
pub(in crate::measured) fn unit(parameter: Parameter, si: f64) -> Unit {
    let dimension = dimension(parameter);
    let usual = match parameter {
        Parameter::Constant => Some("mN·m/A"),
        Parameter::Inertia | Parameter::LoadInertia => Some("g·cm²"),
        _ => None,
    };
    let usual = usual.and_then(|usual| Unit::parse(usual).ok()).and_then(|unit| unit.fit(dimension));
    choose_unit(si, dimension, usual.as_ref())
}

pub(super) fn words(parameter: Parameter, coupled: bool) -> &'static str {
    match parameter {
        Parameter::Resistance => "resistance",
        Parameter::Inductance => "inductance",
        Parameter::BrushDrop => "brush drop",
        Parameter::Constant => "torque constant",
        Parameter::Inertia if coupled => "inertia with the load",
        Parameter::Inertia => "inertia of motor and gear",
        Parameter::CoulombFriction => "dry friction",
        Parameter::ViscousFriction => "viscous friction",
        Parameter::StaticExtra => "dry friction more at rest",
        Parameter::FrictionSpeed => "speed at which that has gone",
        Parameter::Imbalance => "steady torque",
        Parameter::LoadInertia => "inertia of the load",
        Parameter::LoadFriction => "dry friction of the load",
        Parameter::SupplyResistance => "resistance of the supply",
        Parameter::CurrentOffset => "zero of the current",
        Parameter::VoltageOffset => "zero of the voltage",
    }
}

pub(super) fn trial(carries: Carries) -> &'static str {
    match carries {
        Carries::LockedLevels => "the shaft held, several currents of both signs, each long enough to settle",
        Carries::LockedSteps => {
            "the shaft held, steps of the voltage, five rows or more in the electrical time constant"
        }
        Carries::SpeedLevels => "a free shaft at several speeds of both senses",
        Carries::SpeedSteps => {
            "steps of the voltage between half speeds, several rows in the mechanical time constant"
        }
        Carries::CoastDown => "from full speed with the switches open until it rests",
        Carries::SlowReversals => "slow ramps through rest in both senses",
        Carries::CoupledSteps => "the steps again with the load coupled, and once without",
        Carries::BusLevels => {
            "levels of the duty with the voltage of the bus or the current of the supply recorded"
        }
        Carries::ZeroReading => "a second with the bridge off before the shaft turns",
    }
}

pub(super) fn figure_words(figure: Figure) -> &'static str {
    match figure {
        Figure::Of(parameter) => words(parameter, false),
        Figure::ElectricalTime => "the electrical time constant",
        Figure::MechanicalTime => "the mechanical time constant",
        Figure::CurrentForAcceleration => "the current for an acceleration",
        Figure::WindingTemperature => "the temperature of the winding",
    }
}

/// A number with its sign, and a real minus.
pub(super) fn signed(number: f64, decimals: usize) -> String {
    format!("{number:+.decimals$}").replace('-', "−")
}

pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

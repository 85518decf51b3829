//! What a number measures: exponents of the SI base quantities, with plane angle as one of its own.
//!
//! Angle is kept apart so that torque (J/rad) is not energy, a speed in rpm is not a frequency, and the
//! inertia of a rotor carries `rad²` in its denominator. With that convention `P = τ·ω`, `E = ½·J·ω²` and
//! `Ke = Kt` close without a hidden 2π. Temperature carries one bit more: a *level* (25 °C) or a *difference*
//! (60 K).

use std::fmt;

/// Exponents of metre, kilogram, second, ampere, kelvin, radian, and whether a temperature is a level.
///
/// Exponents are held doubled so that square roots of odd powers stay exact.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
pub struct Dimension {
    doubled: [i8; 6],
    level: bool,
}

/// Base symbols in the order of the exponents.
const BASE: [&str; 6] = ["m", "kg", "s", "A", "K", "rad"];

/// The dimension with these whole exponents of m, kg, s, A, K and rad.
pub(crate) const fn si(m: i8, kg: i8, s: i8, a: i8, k: i8, rad: i8) -> Dimension {
    Dimension { doubled: [2 * m, 2 * kg, 2 * s, 2 * a, 2 * k, 2 * rad], level: false }
}

/// Dimensions the trade names. `(dimension, name in words)`; the name is what an error message says.
impl Dimension {
    /// A pure number.
    pub const NONE: Self = si(0, 0, 0, 0, 0, 0);
    /// Length, m.
    pub const LENGTH: Self = si(1, 0, 0, 0, 0, 0);
    /// Area, m².
    pub const AREA: Self = si(2, 0, 0, 0, 0, 0);
    /// Mass, kg.
    pub const MASS: Self = si(0, 1, 0, 0, 0, 0);
    /// Time, s.
    pub const TIME: Self = si(0, 0, 1, 0, 0, 0);
    /// Events or cycles a second, Hz.
    pub const FREQUENCY: Self = si(0, 0, -1, 0, 0, 0);
    /// Electric current, A.
    pub const CURRENT: Self = si(0, 0, 0, 1, 0, 0);
    /// Rate of change of a current, A/s.
    pub const CURRENT_SLEW_RATE: Self = si(0, 0, -1, 1, 0, 0);
    /// Electric potential difference, V.
    pub const VOLTAGE: Self = si(2, 1, -3, -1, 0, 0);
    /// Rate of change of a voltage, V/s.
    pub const SLEW_RATE: Self = si(2, 1, -4, -1, 0, 0);
    /// Resistance, Ω.
    pub const RESISTANCE: Self = si(2, 1, -3, -2, 0, 0);
    /// Resistance of a length of wire, Ω/m.
    pub const RESISTANCE_PER_LENGTH: Self = si(1, 1, -3, -2, 0, 0);
    /// Resistivity, Ω·m.
    pub const RESISTIVITY: Self = si(3, 1, -3, -2, 0, 0);
    /// Inductance, H.
    pub const INDUCTANCE: Self = si(2, 1, -2, -2, 0, 0);
    /// Inductance of a length of cable, H/m.
    pub const INDUCTANCE_PER_LENGTH: Self = si(1, 1, -2, -2, 0, 0);
    /// Capacitance, F.
    pub const CAPACITANCE: Self = si(-2, -1, 4, 2, 0, 0);
    /// Capacitance of a length of cable, F/m.
    pub const CAPACITANCE_PER_LENGTH: Self = si(-3, -1, 4, 2, 0, 0);
    /// Electric charge, C.
    pub const CHARGE: Self = si(0, 0, 1, 1, 0, 0);
    /// Power, W.
    pub const POWER: Self = si(2, 1, -3, 0, 0, 0);
    /// Energy, J.
    pub const ENERGY: Self = si(2, 1, -2, 0, 0, 0);
    /// Force, N.
    pub const FORCE: Self = si(1, 1, -2, 0, 0, 0);
    /// Spring rate, N/m.
    pub const STIFFNESS: Self = si(0, 1, -2, 0, 0, 0);
    /// Force for a linear speed, N·s/m.
    pub const LINEAR_DAMPING: Self = si(0, 1, -1, 0, 0, 0);
    /// Linear speed, m/s.
    pub const SPEED: Self = si(1, 0, -1, 0, 0, 0);
    /// Linear acceleration, m/s².
    pub const ACCELERATION: Self = si(1, 0, -2, 0, 0, 0);
    /// Linear jerk, m/s³.
    pub const JERK: Self = si(1, 0, -3, 0, 0, 0);
    /// Plane angle, rad.
    pub const ANGLE: Self = si(0, 0, 0, 0, 0, 1);
    /// Marks, counts or steps for an angle, 1/rad (written 1/rev).
    pub const PER_ANGLE: Self = si(0, 0, 0, 0, 0, -1);
    /// Angular speed, rad/s.
    pub const ANGULAR_SPEED: Self = si(0, 0, -1, 0, 0, 1);
    /// Angular acceleration, rad/s².
    pub const ANGULAR_ACCELERATION: Self = si(0, 0, -2, 0, 0, 1);
    /// Angular jerk, rad/s³.
    pub const ANGULAR_JERK: Self = si(0, 0, -3, 0, 0, 1);
    /// Torque, N·m, that is J/rad.
    pub const TORQUE: Self = si(2, 1, -2, 0, 0, -1);
    /// Torsional stiffness, N·m/rad.
    pub const TORSIONAL_STIFFNESS: Self = si(2, 1, -2, 0, 0, -2);
    /// Moment of inertia, kg·m², that is J·s²/rad².
    pub const INERTIA: Self = si(2, 1, 0, 0, 0, -2);
    /// Viscous friction, N·m·s/rad.
    pub const VISCOUS_FRICTION: Self = si(2, 1, -1, 0, 0, -2);
    /// Torque constant, N·m/A, and back-EMF constant, V·s/rad: one dimension.
    pub const MACHINE_CONSTANT: Self = si(2, 1, -2, -1, 0, -1);
    /// Speed constant, rpm/V: the reciprocal of a back-EMF constant.
    pub const SPEED_CONSTANT: Self = si(-2, -1, 2, 1, 0, 1);
    /// Travel for an angle, m/rad: a wheel's radius, a screw's lead.
    pub const TRAVEL_PER_ANGLE: Self = si(1, 0, 0, 0, 0, -1);
    /// Temperature difference, K.
    pub const TEMPERATURE_DIFFERENCE: Self = si(0, 0, 0, 0, 1, 0);
    /// Temperature level, °C.
    pub const TEMPERATURE: Self = Self { doubled: [0, 0, 0, 0, 2, 0], level: true };
    /// Relative change for each kelvin, 1/K.
    pub const PER_KELVIN: Self = si(0, 0, 0, 0, -1, 0);
    /// Thermal resistance, K/W.
    pub const THERMAL_RESISTANCE: Self = si(-2, -1, 3, 0, 1, 0);
    /// Heat capacity, J/K.
    pub const HEAT_CAPACITY: Self = si(2, 1, -2, 0, -1, 0);
    /// Sensitivity of a current sense, V/A: a resistance by dimension.
    pub const VOLT_PER_AMPERE: Self = Self::RESISTANCE;
    /// Melting integral of a fuse, A²·s.
    pub const MELTING_INTEGRAL: Self = si(0, 0, 1, 2, 0, 0);

    /// The name in words of a dimension the trade knows, such as `torque`.
    pub fn name(self) -> Option<&'static str> {
        NAMES.iter().find(|(d, _)| *d == self).map(|(_, name)| *name)
    }

    /// All dimensions that have a name.
    pub fn named() -> impl Iterator<Item = Self> {
        NAMES.iter().map(|(dimension, _)| *dimension)
    }

    /// Whether this is a pure number.
    pub fn is_none(self) -> bool {
        self == Self::NONE
    }

    /// Whether this is a temperature level, which only differences can be added to.
    pub fn is_level(self) -> bool {
        self.level
    }

    /// The same dimension as a difference instead of a level.
    pub fn as_difference(self) -> Self {
        Self { level: false, ..self }
    }

    /// Product of two dimensions; `None` where a level takes part, or an exponent would overflow.
    pub fn times(self, other: Self) -> Option<Self> {
        self.combine(other, i8::checked_add)
    }

    /// Quotient of two dimensions; `None` as for [`Dimension::times`].
    pub fn over(self, other: Self) -> Option<Self> {
        self.combine(other, i8::checked_sub)
    }

    /// Power with a whole exponent; `None` as for [`Dimension::times`].
    pub fn powi(self, exponent: i32) -> Option<Self> {
        let mut out = self;
        for e in &mut out.doubled {
            *e = i8::try_from(i32::from(*e) * exponent).ok()?;
        }
        (!self.level).then_some(out)
    }

    /// Square root; `None` for a level, or where an exponent is no multiple of one half.
    pub fn sqrt(self) -> Option<Self> {
        let mut out = self;
        for e in &mut out.doubled {
            if *e % 2 != 0 {
                return None;
            }
            *e /= 2;
        }
        (!self.level).then_some(out)
    }

    fn combine(self, other: Self, f: impl Fn(i8, i8) -> Option<i8>) -> Option<Self> {
        if self.level || other.level {
            return None;
        }
        let mut out = self;
        for (e, o) in out.doubled.iter_mut().zip(other.doubled) {
            *e = f(*e, o)?;
        }
        Some(out)
    }
}

const NAMES: &[(Dimension, &str)] = &[
    (Dimension::NONE, "a pure number"),
    (Dimension::LENGTH, "length"),
    (Dimension::AREA, "area"),
    (Dimension::MASS, "mass"),
    (Dimension::TIME, "time"),
    (Dimension::FREQUENCY, "frequency"),
    (Dimension::CURRENT, "current"),
    (Dimension::CURRENT_SLEW_RATE, "current slew rate"),
    (Dimension::VOLTAGE, "voltage"),
    (Dimension::SLEW_RATE, "voltage slew rate"),
    (Dimension::RESISTANCE, "resistance"),
    (Dimension::RESISTANCE_PER_LENGTH, "resistance per length"),
    (Dimension::RESISTIVITY, "resistivity"),
    (Dimension::INDUCTANCE, "inductance"),
    (Dimension::INDUCTANCE_PER_LENGTH, "inductance per length"),
    (Dimension::CAPACITANCE, "capacitance"),
    (Dimension::CAPACITANCE_PER_LENGTH, "capacitance per length"),
    (Dimension::CHARGE, "charge"),
    (Dimension::POWER, "power"),
    (Dimension::ENERGY, "energy"),
    (Dimension::FORCE, "force"),
    (Dimension::STIFFNESS, "spring rate"),
    (Dimension::LINEAR_DAMPING, "linear damping"),
    (Dimension::SPEED, "speed"),
    (Dimension::ACCELERATION, "acceleration"),
    (Dimension::JERK, "jerk"),
    (Dimension::ANGLE, "angle"),
    (Dimension::PER_ANGLE, "marks per angle"),
    (Dimension::ANGULAR_SPEED, "angular speed"),
    (Dimension::ANGULAR_ACCELERATION, "angular acceleration"),
    (Dimension::ANGULAR_JERK, "angular jerk"),
    (Dimension::TORQUE, "torque"),
    (Dimension::TORSIONAL_STIFFNESS, "torsional stiffness"),
    (Dimension::INERTIA, "moment of inertia"),
    (Dimension::VISCOUS_FRICTION, "viscous friction"),
    (Dimension::MACHINE_CONSTANT, "torque or back-EMF constant"),
    (Dimension::SPEED_CONSTANT, "speed constant"),
    (Dimension::TRAVEL_PER_ANGLE, "travel per angle"),
    (Dimension::TEMPERATURE, "temperature"),
    (Dimension::TEMPERATURE_DIFFERENCE, "temperature difference"),
    (Dimension::PER_KELVIN, "change per kelvin"),
    (Dimension::THERMAL_RESISTANCE, "thermal resistance"),
    (Dimension::HEAT_CAPACITY, "heat capacity"),
    (Dimension::MELTING_INTEGRAL, "melting integral"),
];

impl fmt::Display for Dimension {
    /// Words where the trade has a word, base units otherwise: `torque`, `m^2·kg·s^-3`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.name() {
            Some(name) => f.write_str(name),
            None => f.write_str(&self.base_units()),
        }
    }
}

impl Dimension {
    /// The dimension as a product of base units, `m^2·kg·s^-3·A^-1`; empty for a pure number.
    pub fn base_units(self) -> String {
        let mut parts = Vec::new();
        for (symbol, e) in BASE.iter().zip(self.doubled) {
            match e {
                0 => {}
                2 => parts.push((*symbol).to_owned()),
                e if e % 2 == 0 => parts.push(format!("{symbol}^{}", e / 2)),
                e => parts.push(format!("{symbol}^({e}/2)")),
            }
        }
        parts.join("·")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn trade_dimensions_close_without_a_hidden_angle() {
        let times = |a: Dimension, b: Dimension| a.times(b).expect("no level");
        assert_eq!(times(Dimension::TORQUE, Dimension::ANGULAR_SPEED), Dimension::POWER);
        assert_eq!(times(Dimension::INERTIA, Dimension::ANGULAR_ACCELERATION), Dimension::TORQUE);
        assert_eq!(times(Dimension::MACHINE_CONSTANT, Dimension::CURRENT), Dimension::TORQUE);
        assert_eq!(times(Dimension::MACHINE_CONSTANT, Dimension::ANGULAR_SPEED), Dimension::VOLTAGE);
        assert_eq!(times(Dimension::ANGULAR_SPEED, Dimension::TRAVEL_PER_ANGLE), Dimension::SPEED);
        assert_eq!(times(Dimension::ANGULAR_SPEED, Dimension::PER_ANGLE), Dimension::FREQUENCY);
        assert_eq!(times(Dimension::THERMAL_RESISTANCE, Dimension::POWER), Dimension::TEMPERATURE_DIFFERENCE);
        assert_ne!(Dimension::TORQUE, Dimension::ENERGY);
        assert_ne!(Dimension::ANGULAR_SPEED, Dimension::FREQUENCY);
    }

    #[test]
    fn names_are_unique() {
        for (i, (d, name)) in NAMES.iter().enumerate() {
            for (e, other) in &NAMES[i + 1..] {
                assert_ne!(d, e, "{name} and {other} share a dimension");
            }
        }
    }

    #[test]
    fn levels_do_not_multiply() {
        assert_eq!(Dimension::TEMPERATURE.times(Dimension::TIME), None);
        assert_eq!(Dimension::TEMPERATURE.as_difference(), Dimension::TEMPERATURE_DIFFERENCE);
        assert_eq!(Dimension::POWER.sqrt().and_then(|d| d.powi(2)), Some(Dimension::POWER));
    }
}

//! What an equation needs of a number, so that it is written once and runs as `f64` or as a worked number.

use crate::Origin;
use std::ops::{Add, Div, Mul, Neg, Sub};

/// A number that equations are written over.
///
/// `f64` runs in hot loops, in SI; [`crate::Worked`] carries dimension, tolerance and explanation.
pub trait Number:
    Clone
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Mul<f64, Output = Self>
    + Div<f64, Output = Self>
    + Neg<Output = Self>
{
    /// A pure number without tolerance.
    fn pure(value: f64) -> Self;

    /// A constant that the equation brings along: `value` in `unit`, with its symbol, name and origin.
    ///
    /// A unit that does not parse is a fault of the equation (worked) or panics in debug builds (`f64`).
    fn known(value: f64, unit: &str, symbol: &str, name: &str, origin: Origin) -> Self;

    /// Nominal value in SI; NaN where a datum is missing.
    fn nominal(&self) -> f64;

    /// The same number under a name of its own: a step of the working.
    fn called(self, name: &str, symbol: &str) -> Self;

    /// Square root.
    fn sqrt(self) -> Self;
    /// Whole power.
    fn powi(self, exponent: i32) -> Self;
    /// e to this power.
    fn exp(self) -> Self;
    /// Natural logarithm.
    fn ln(self) -> Self;
    /// Sine of an angle.
    fn sin(self) -> Self;
    /// Cosine of an angle.
    fn cos(self) -> Self;
    /// Tangent of an angle.
    fn tan(self) -> Self;
    /// Angle whose sine this is.
    fn asin(self) -> Self;
    /// Angle whose cosine this is.
    fn acos(self) -> Self;
    /// Angle whose tangent this is.
    fn atan(self) -> Self;
    /// Amount without sign.
    fn abs(self) -> Self;
    /// The smaller of the two.
    fn at_most(self, limit: Self) -> Self;
    /// The larger of the two.
    fn at_least(self, floor: Self) -> Self;
    /// `then` where `a < b`, else `otherwise`. Both are worked out.
    fn when_below(a: Self, b: Self, then: Self, otherwise: Self) -> Self;

    /// Square.
    fn squared(self) -> Self {
        self.powi(2)
    }
    /// This, or zero where it is negative.
    fn or_zero(self) -> Self {
        self.at_least(Self::pure(0.0))
    }
    /// Two resistances side by side, `1/(1/a + 1/b)`: each stands once, so a worst case is a corner.
    fn parallel(self, other: Self) -> Self {
        Self::pure(1.0) / (Self::pure(1.0) / self + Self::pure(1.0) / other)
    }
    /// A cyclic frequency as an angular one: times 2π rad.
    #[expect(
        clippy::wrong_self_convention,
        reason = "reads as `frequency.as_angular()`, and numbers are taken by value"
    )]
    fn as_angular(self) -> Self {
        self * Self::known(std::f64::consts::TAU, "rad", "2π", "one turn", Origin::standard("definition"))
    }
}

impl Number for f64 {
    fn pure(value: f64) -> Self {
        value
    }
    fn known(value: f64, unit: &str, _symbol: &str, _name: &str, _origin: Origin) -> Self {
        // What equations bring along is mostly in one of these, and reading a unit costs more than the equation.
        match unit {
            "" | "rad" | "s" | "m" | "m/s²" | "V" | "A" | "Ω" | "W" | "J" | "N" | "N·m" | "K" | "1/K" => {
                value
            }
            "rev" => value * std::f64::consts::TAU,
            _ => match crate::Unit::parse(unit) {
                Ok(unit) => unit.to_si(value),
                Err(_) => {
                    debug_assert!(false, "unit `{unit}` of a built-in constant does not parse");
                    value
                }
            },
        }
    }
    fn nominal(&self) -> f64 {
        *self
    }
    fn called(self, _name: &str, _symbol: &str) -> Self {
        self
    }
    fn sqrt(self) -> Self {
        f64::sqrt(self)
    }
    fn powi(self, exponent: i32) -> Self {
        power(self, exponent)
    }
    fn exp(self) -> Self {
        libm::exp(self)
    }
    fn ln(self) -> Self {
        libm::log(self)
    }
    fn sin(self) -> Self {
        libm::sin(self)
    }
    fn cos(self) -> Self {
        libm::cos(self)
    }
    fn tan(self) -> Self {
        libm::tan(self)
    }
    fn asin(self) -> Self {
        libm::asin(self)
    }
    fn acos(self) -> Self {
        libm::acos(self)
    }
    fn atan(self) -> Self {
        libm::atan(self)
    }
    fn abs(self) -> Self {
        f64::abs(self)
    }
    fn at_most(self, limit: Self) -> Self {
        f64::min(self, limit)
    }
    fn at_least(self, floor: Self) -> Self {
        f64::max(self, floor)
    }
    fn when_below(a: Self, b: Self, then: Self, otherwise: Self) -> Self {
        if a < b { then } else { otherwise }
    }
}

/// Whole power by repeated squaring, the same on every system.
pub(crate) fn power(base: f64, exponent: i32) -> f64 {
    let (mut result, mut square, mut n) = (1.0, base, exponent.unsigned_abs());
    while n > 0 {
        if n & 1 == 1 {
            result *= square;
        }
        square *= square;
        n >>= 1;
    }
    if exponent < 0 { 1.0 / result } else { result }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Unit;

    #[test]
    fn units_that_are_known_by_sight_are_what_reading_them_gives() {
        let known = |unit: &str| <f64 as Number>::known(1.7, unit, "k", "k", Origin::assumed("test"));
        for unit in
            ["rad", "s", "m", "m/s²", "V", "A", "Ω", "W", "J", "N", "N·m", "K", "1/K", "rev", "°C", "mm"]
        {
            assert_eq!(known(unit), Unit::parse(unit).unwrap().to_si(1.7), "{unit}");
        }
        assert_eq!(known(""), 1.7);
    }
}

//! Every equation has the dimension that it claims, gives one value in every number, and does not care for the units
//! that it is worked in.

use crate::every::rows;
use std::cell::Cell;
use std::ops::{Add, Div, Mul, Neg, Sub};
use worked::{Dimension, Number, Origin, Unit, Worked};

/// Catches a lost 2π, an efficiency on the wrong side of an angle, a level taken for a difference.
#[test]
fn every_equation_has_its_dimension() {
    for row in rows::<Worked>() {
        assert!(row.value.fault().is_none(), "{}: {:?}", row.name, row.value);
        assert_eq!(row.value.dimension(), row.dimension, "{}", row.name);
    }
}

#[test]
fn plain_and_worked_numbers_agree() {
    for (plain, worked) in rows::<f64>().into_iter().zip(rows::<Worked>()) {
        let (a, b) = (plain.value, worked.value.value());
        assert!(a.is_finite(), "{}: {a}", plain.name);
        assert!((a - b).abs() <= 1e-12 * a.abs(), "{}: {a} plain, {b} worked", plain.name);
    }
}

/// A constant that hides a unit (a bare 0.01, a bare 60) gives another answer in another system of units.
#[test]
fn equations_hold_in_any_units() {
    // Odd factors, so that no product of them is near one. The radian stays: sines want it.
    let odd = [("m", 1.37), ("kg", 0.61), ("s", 2.23), ("A", 1.71), ("K", 0.83)];
    let plain = rows::<f64>();
    SCALES.set(odd);
    for (row, plain) in rows::<Scaled>().into_iter().zip(plain) {
        let want = plain.value * factor(row.dimension);
        assert!(
            (row.value.0 - want).abs() <= 1e-9 * want.abs(),
            "{}: {} in odd units, {want} expected",
            row.name,
            row.value.0
        );
    }
}

/// An equation that nobody calls here has no dimension check.
#[test]
fn no_equation_is_left_out() {
    let table = include_str!("every.rs");
    let mut seen = 0;
    for (file, source) in [
        ("constants", include_str!("../../src/constants.rs")),
        ("motor", include_str!("../../src/motor.rs")),
        ("bridge", include_str!("../../src/bridge.rs")),
        ("limit", include_str!("../../src/limit.rs")),
        ("bus", include_str!("../../src/bus.rs")),
        ("gear", include_str!("../../src/gear.rs")),
        ("load", include_str!("../../src/load.rs")),
        ("motion", include_str!("../../src/motion.rs")),
        ("heat", include_str!("../../src/heat.rs")),
        ("sense", include_str!("../../src/sense.rs")),
        ("encoder", include_str!("../../src/encoder.rs")),
        ("logic", include_str!("../../src/logic.rs")),
        ("stepper", include_str!("../../src/stepper.rs")),
        ("servo", include_str!("../../src/servo.rs")),
        ("control", include_str!("../../src/control.rs")),
    ] {
        for line in source.lines().map(str::trim_start) {
            let Some(rest) = line.strip_prefix("pub fn ") else { continue };
            let name = rest.split(['<', '(']).next().unwrap_or_default();
            seen += 1;
            // `map` changes the number and `new` fills in zeros; neither is an equation.
            let called = ["(", "::<N>("].iter().any(|open| {
                let call = format!("{name}{open}");
                table
                    .match_indices(&call)
                    .any(|(at, _)| !table[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_'))
            });
            assert!(called || name == "map", "{file}::{name}");
        }
    }
    assert!(seen > 200, "only {seen} equations were found");
}

thread_local! {
    static SCALES: Cell<[(&'static str, f64); 5]> =
        const { Cell::new([("m", 1.0), ("kg", 1.0), ("s", 1.0), ("A", 1.0), ("K", 1.0)]) };
}

/// What one SI unit of this dimension is worth in the odd units.
fn factor(dimension: Dimension) -> f64 {
    let mut factor = 1.0;
    for part in dimension.base_units().split('·').filter(|part| !part.is_empty()) {
        let (symbol, power) = part.split_once('^').unwrap_or((part, "1"));
        let power: i32 = power.parse().expect("a whole power");
        let scale = SCALES.get().iter().find(|(s, _)| *s == symbol).map_or(1.0, |(_, scale)| *scale);
        for _ in 0..power.abs() {
            factor = if power > 0 { factor * scale } else { factor / scale };
        }
    }
    factor
}

/// A number in a system of units of its own.
#[derive(Clone, Copy, Debug)]
struct Scaled(f64);

impl Number for Scaled {
    fn pure(value: f64) -> Self {
        Self(value)
    }
    fn known(value: f64, unit: &str, _: &str, _: &str, _: Origin) -> Self {
        if unit.is_empty() {
            return Self(value);
        }
        let unit = Unit::parse(unit).expect("a unit");
        let dimension = unit.dimension();
        // Twice the exponent of a level is still one kelvin.
        let scale =
            if dimension.is_level() { factor(Dimension::TEMPERATURE_DIFFERENCE) } else { factor(dimension) };
        Self(unit.to_si(value) * scale)
    }
    fn nominal(&self) -> f64 {
        self.0
    }
    fn called(self, _: &str, _: &str) -> Self {
        self
    }
    fn sqrt(self) -> Self {
        Self(self.0.sqrt())
    }
    fn powi(self, exponent: i32) -> Self {
        Self(Number::powi(self.0, exponent))
    }
    fn exp(self) -> Self {
        Self(Number::exp(self.0))
    }
    fn ln(self) -> Self {
        Self(Number::ln(self.0))
    }
    fn sin(self) -> Self {
        Self(Number::sin(self.0))
    }
    fn cos(self) -> Self {
        Self(Number::cos(self.0))
    }
    fn tan(self) -> Self {
        Self(Number::tan(self.0))
    }
    fn asin(self) -> Self {
        Self(Number::asin(self.0))
    }
    fn acos(self) -> Self {
        Self(Number::acos(self.0))
    }
    fn atan(self) -> Self {
        Self(Number::atan(self.0))
    }
    fn abs(self) -> Self {
        Self(self.0.abs())
    }
    fn at_most(self, limit: Self) -> Self {
        Self(self.0.min(limit.0))
    }
    fn at_least(self, floor: Self) -> Self {
        Self(self.0.max(floor.0))
    }
    fn when_below(a: Self, b: Self, then: Self, otherwise: Self) -> Self {
        if a.0 < b.0 { then } else { otherwise }
    }
}

macro_rules! operators {
    ($($trait:ident $method:ident $op:tt),*) => { $(
        impl $trait for Scaled {
            type Output = Self;
            fn $method(self, other: Self) -> Self { Self(self.0 $op other.0) }
        }
    )* };
}
operators!(Add add +, Sub sub -, Mul mul *, Div div /);

impl Mul<f64> for Scaled {
    type Output = Self;
    fn mul(self, other: f64) -> Self {
        Self(self.0 * other)
    }
}

impl Div<f64> for Scaled {
    type Output = Self;
    fn div(self, other: f64) -> Self {
        Self(self.0 / other)
    }
}

impl Neg for Scaled {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

//! The live expression: built with ordinary operators, asked for value, bounds, uncertainty and working.

use crate::input::Input;
use crate::number::{Number, power};
use crate::{Dimension, Origin, Unit};
use std::hash::{Hash, Hasher};
use std::iter::Sum;
use std::ops::{Add, Div, Mul, Neg, Sub};
use std::panic::Location;
use std::sync::Arc;

/// A worked number: an expression over named, sourced inputs.
///
/// Cloning is cheap. An operation that makes no sense (adding volts to amperes) does not panic: the result
/// carries a [`Fault`] with the place in the code, and everything built on it carries it on.
#[derive(Clone)]
pub struct Worked(pub(crate) Arc<Node>);

/// A mistake in an equation: dimensions that do not fit. Our bug, not the user's.
#[derive(Clone, PartialEq, Debug)]
pub struct Fault {
    /// What does not fit, in words.
    pub message: String,
    /// Source file and line of the operation.
    pub place: String,
}

pub(crate) struct Node {
    pub(crate) op: Op,
    pub(crate) args: Vec<Worked>,
    pub(crate) dimension: Dimension,
    pub(crate) nominal: f64,
    pub(crate) hash: u64,
    pub(crate) fault: Option<Arc<Fault>>,
}

#[derive(Clone, PartialEq, Debug)]
pub(crate) enum Op {
    Input(Arc<Input>),
    Constant(f64),
    Add,
    Sub,
    Mul,
    Div,
    Neg,
    Power(i32),
    Sqrt,
    Exp,
    Ln,
    Sin,
    Cos,
    Tan,
    Asin,
    Acos,
    Atan,
    Abs,
    Min,
    Max,
    Sum,
    /// Arguments a, b, then, otherwise.
    WhenBelow,
    Named {
        name: Arc<str>,
        symbol: Arc<str>,
    },
    ShownIn(Unit),
}

impl Worked {
    /// Nominal value in SI; NaN where a datum is missing or the expression is faulty.
    pub fn value(&self) -> f64 {
        self.0.nominal
    }

    /// What it measures.
    pub fn dimension(&self) -> Dimension {
        self.0.dimension
    }

    /// The first mistake in the expression, if any.
    pub fn fault(&self) -> Option<&Fault> {
        self.0.fault.as_deref()
    }

    /// The input itself, where the expression is a single input.
    pub fn as_input(&self) -> Option<&Input> {
        match &self.0.op {
            Op::Input(input) => Some(input),
            Op::Named { .. } | Op::ShownIn(_) => self.0.args[0].as_input(),
            _ => None,
        }
    }

    /// Whether this is a single input that the bench does not give.
    pub fn is_missing(&self) -> bool {
        self.as_input().is_some_and(Input::is_missing)
    }

    /// Prints in this unit, such as `rpm`, instead of the one that would be chosen.
    #[track_caller]
    pub fn shown_in(self, unit: &str) -> Self {
        match Unit::parse(unit).ok().and_then(|unit| unit.fit(self.dimension())) {
            Some(unit) => {
                let (dimension, nominal) = (self.dimension(), self.value());
                node(Op::ShownIn(unit), vec![self], Ok(dimension), nominal)
            }
            None => {
                let message = format!("`{unit}` is not a unit of {}", self.dimension());
                node(Op::Neg, vec![self], Err(message), f64::NAN)
            }
        }
    }

    /// One of several inputs that stand for the value of a choice, such as `motor at 20 °C`.
    pub(crate) fn named(&self) -> Option<(&Arc<str>, &Arc<str>)> {
        match &self.0.op {
            Op::Named { name, symbol } => Some((name, symbol)),
            _ => None,
        }
    }

    #[track_caller]
    fn unary(self, op: Op, dimension: Result<Dimension, String>) -> Self {
        let nominal = apply(&op, &[self.value()]);
        node(op, vec![self], dimension, nominal)
    }

    #[track_caller]
    fn binary(self, op: Op, other: Self, dimension: Result<Dimension, String>) -> Self {
        let nominal = apply(&op, &[self.value(), other.value()]);
        node(op, vec![self, other], dimension, nominal)
    }

    #[track_caller]
    fn of_angle(self, op: Op, word: &str) -> Self {
        let d = self.dimension();
        let dimension = match d {
            Dimension::ANGLE | Dimension::NONE => Ok(Dimension::NONE),
            _ => Err(format!("the {word} of a {d} has no meaning: an angle is due")),
        };
        self.unary(op, dimension)
    }

    #[track_caller]
    fn of_number(self, op: Op, word: &str, result: Dimension) -> Self {
        let d = self.dimension();
        let dimension = match d {
            Dimension::NONE => Ok(result),
            _ => Err(format!("the {word} of a {d} has no meaning: a pure number is due")),
        };
        self.unary(op, dimension)
    }

    /// Zero fits every dimension.
    fn is_zero(&self) -> bool {
        matches!(self.0.op, Op::Constant(0.0))
    }

    fn common_dimension(&self, other: &Self, word: &str) -> Result<Dimension, String> {
        let (a, b) = (self.dimension(), other.dimension());
        if a == b || other.is_zero() {
            Ok(a)
        } else if self.is_zero() {
            Ok(b)
        } else {
            Err(format!("{word} of a {a} and a {b} has no meaning"))
        }
    }

    fn sum_dimension(&self, other: &Self) -> Result<Dimension, String> {
        let (a, b) = (self.dimension(), other.dimension());
        match (a.is_level(), b.is_level()) {
            (true, true) => Err("the sum of two temperatures has no meaning: add a difference".to_owned()),
            (true, false) if b == a.as_difference() || other.is_zero() => Ok(a),
            (false, true) if a == b.as_difference() || self.is_zero() => Ok(b),
            _ => self.common_dimension(other, "the sum"),
        }
    }

    fn difference_dimension(&self, other: &Self) -> Result<Dimension, String> {
        let (a, b) = (self.dimension(), other.dimension());
        match (a.is_level(), b.is_level()) {
            (true, true) => Ok(a.as_difference()),
            (true, false) if b == a.as_difference() || other.is_zero() => Ok(a),
            (false, true) => Err("a temperature cannot be taken from a difference".to_owned()),
            _ => self.common_dimension(other, "the difference"),
        }
    }

    #[track_caller]
    fn plus(self, other: Self) -> Self {
        let dimension = self.sum_dimension(&other);
        self.binary(Op::Add, other, dimension)
    }

    #[track_caller]
    fn minus(self, other: Self) -> Self {
        let dimension = self.difference_dimension(&other);
        self.binary(Op::Sub, other, dimension)
    }

    #[track_caller]
    fn times(self, other: Self) -> Self {
        let (a, b) = (self.dimension(), other.dimension());
        let dimension = a.times(b).ok_or_else(|| format!("the product of a {a} and a {b} has no meaning"));
        self.binary(Op::Mul, other, dimension)
    }

    #[track_caller]
    fn over(self, other: Self) -> Self {
        let (a, b) = (self.dimension(), other.dimension());
        let dimension = a.over(b).ok_or_else(|| format!("a {a} over a {b} has no meaning"));
        self.binary(Op::Div, other, dimension)
    }
}

impl From<Input> for Worked {
    fn from(input: Input) -> Self {
        let (dimension, nominal) = (input.dimension, input.value.unwrap_or(f64::NAN));
        node(Op::Input(Arc::new(input)), Vec::new(), Ok(dimension), nominal)
    }
}

impl From<f64> for Worked {
    fn from(value: f64) -> Self {
        node(Op::Constant(value), Vec::new(), Ok(Dimension::NONE), value)
    }
}

impl From<i32> for Worked {
    fn from(value: i32) -> Self {
        f64::from(value).into()
    }
}

impl Number for Worked {
    fn pure(value: f64) -> Self {
        value.into()
    }

    #[track_caller]
    fn known(value: f64, unit: &str, symbol: &str, name: &str, origin: Origin) -> Self {
        let parsed = if unit.is_empty() { Ok(Unit::si(Dimension::NONE)) } else { Unit::parse(unit) };
        match parsed {
            Ok(parsed) => Input::new(&format!("constants.{symbol}"), name, symbol, parsed.dimension())
                .value(parsed.to_si(value))
                .written(format!("{value} {unit}").trim())
                .unit(parsed)
                .origin(origin)
                .worked(),
            Err(_) => node(
                Op::Constant(value),
                Vec::new(),
                Err(format!("`{unit}` of the constant {symbol} is no unit")),
                f64::NAN,
            ),
        }
    }

    fn nominal(&self) -> f64 {
        self.0.nominal
    }

    fn called(self, name: &str, symbol: &str) -> Self {
        let (dimension, nominal) = (self.dimension(), self.value());
        node(Op::Named { name: name.into(), symbol: symbol.into() }, vec![self], Ok(dimension), nominal)
    }

    #[track_caller]
    fn sqrt(self) -> Self {
        let d = self.dimension();
        let dimension = d.sqrt().ok_or_else(|| format!("the square root of a {d} has no meaning"));
        self.unary(Op::Sqrt, dimension)
    }

    #[track_caller]
    fn powi(self, exponent: i32) -> Self {
        let d = self.dimension();
        let dimension =
            d.powi(exponent).ok_or_else(|| format!("a {d} to the power {exponent} has no meaning"));
        self.unary(Op::Power(exponent), dimension)
    }

    #[track_caller]
    fn exp(self) -> Self {
        self.of_number(Op::Exp, "exponential", Dimension::NONE)
    }

    #[track_caller]
    fn ln(self) -> Self {
        self.of_number(Op::Ln, "logarithm", Dimension::NONE)
    }

    #[track_caller]
    fn sin(self) -> Self {
        self.of_angle(Op::Sin, "sine")
    }

    #[track_caller]
    fn cos(self) -> Self {
        self.of_angle(Op::Cos, "cosine")
    }

    #[track_caller]
    fn tan(self) -> Self {
        self.of_angle(Op::Tan, "tangent")
    }

    #[track_caller]
    fn asin(self) -> Self {
        self.of_number(Op::Asin, "arc sine", Dimension::ANGLE)
    }

    #[track_caller]
    fn acos(self) -> Self {
        self.of_number(Op::Acos, "arc cosine", Dimension::ANGLE)
    }

    #[track_caller]
    fn atan(self) -> Self {
        self.of_number(Op::Atan, "arc tangent", Dimension::ANGLE)
    }

    #[track_caller]
    fn abs(self) -> Self {
        let d = self.dimension();
        self.unary(Op::Abs, Ok(d))
    }

    #[track_caller]
    fn at_most(self, limit: Self) -> Self {
        let dimension = self.common_dimension(&limit, "the smaller");
        self.binary(Op::Min, limit, dimension)
    }

    #[track_caller]
    fn at_least(self, floor: Self) -> Self {
        let dimension = self.common_dimension(&floor, "the larger");
        self.binary(Op::Max, floor, dimension)
    }

    #[track_caller]
    fn when_below(a: Self, b: Self, then: Self, otherwise: Self) -> Self {
        let dimension = a
            .common_dimension(&b, "the comparison")
            .and_then(|_| then.common_dimension(&otherwise, "the choice"));
        let nominal = apply(&Op::WhenBelow, &[a.value(), b.value(), then.value(), otherwise.value()]);
        node(Op::WhenBelow, vec![a, b, then, otherwise], dimension, nominal)
    }
}

/// An n-ary sum, so that a long one stays shallow.
impl Sum for Worked {
    fn sum<I: Iterator<Item = Self>>(iter: I) -> Self {
        let terms: Vec<Self> = iter.collect();
        match terms.as_slice() {
            [] => 0.0.into(),
            [one] => one.clone(),
            [first, rest @ ..] => {
                let mut dimension = Ok(first.dimension());
                for term in rest {
                    dimension = dimension.and_then(|_| first.sum_dimension(term));
                }
                let nominal = terms.iter().map(Self::value).sum();
                node(Op::Sum, terms, dimension, nominal)
            }
        }
    }
}

macro_rules! operators {
    ($($trait:ident $method:ident $inner:ident),*) => { $(
        impl $trait for Worked {
            type Output = Worked;
            #[track_caller]
            fn $method(self, other: Worked) -> Worked { self.$inner(other) }
        }
        impl $trait<&Worked> for Worked {
            type Output = Worked;
            #[track_caller]
            fn $method(self, other: &Worked) -> Worked { self.$inner(other.clone()) }
        }
        impl $trait<Worked> for &Worked {
            type Output = Worked;
            #[track_caller]
            fn $method(self, other: Worked) -> Worked { self.clone().$inner(other) }
        }
        impl $trait for &Worked {
            type Output = Worked;
            #[track_caller]
            fn $method(self, other: &Worked) -> Worked { self.clone().$inner(other.clone()) }
        }
        operators!(@plain $trait $method $inner f64);
        operators!(@plain $trait $method $inner i32);
    )* };
    (@plain $trait:ident $method:ident $inner:ident $plain:ty) => {
        impl $trait<$plain> for Worked {
            type Output = Worked;
            #[track_caller]
            fn $method(self, other: $plain) -> Worked { self.$inner(other.into()) }
        }
        impl $trait<Worked> for $plain {
            type Output = Worked;
            #[track_caller]
            fn $method(self, other: Worked) -> Worked { Worked::from(self).$inner(other) }
        }
        impl $trait<$plain> for &Worked {
            type Output = Worked;
            #[track_caller]
            fn $method(self, other: $plain) -> Worked { self.clone().$inner(other.into()) }
        }
        impl $trait<&Worked> for $plain {
            type Output = Worked;
            #[track_caller]
            fn $method(self, other: &Worked) -> Worked { Worked::from(self).$inner(other.clone()) }
        }
    };
}
operators!(Add add plus, Sub sub minus, Mul mul times, Div div over);

impl Neg for Worked {
    type Output = Self;
    #[track_caller]
    fn neg(self) -> Self {
        let d = self.dimension();
        let dimension = if d.is_level() { Err("a temperature cannot be negated".to_owned()) } else { Ok(d) };
        self.unary(Op::Neg, dimension)
    }
}

impl Neg for &Worked {
    type Output = Worked;
    #[track_caller]
    fn neg(self) -> Worked {
        -self.clone()
    }
}

impl std::fmt::Debug for Worked {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.fault() {
            Some(fault) => write!(f, "Worked(fault: {} at {})", fault.message, fault.place),
            None => write!(f, "Worked({} {})", self.value(), self.dimension().base_units()),
        }
    }
}

/// Takes long chains apart in a loop: recursion would overflow the stack.
impl Drop for Node {
    fn drop(&mut self) {
        if self.args.is_empty() {
            return;
        }
        let mut pending = std::mem::take(&mut self.args);
        while let Some(worked) = pending.pop() {
            if let Some(mut inner) = Arc::into_inner(worked.0) {
                pending.append(&mut inner.args);
            }
        }
    }
}

#[track_caller]
fn node(op: Op, args: Vec<Worked>, dimension: Result<Dimension, String>, nominal: f64) -> Worked {
    let inherited = args.iter().find_map(|a| a.0.fault.clone());
    let (dimension, fault) = match (dimension, inherited) {
        (_, Some(fault)) => (Dimension::NONE, Some(fault)),
        (Ok(dimension), None) => (dimension, None),
        (Err(message), None) => {
            let place = Location::caller();
            let place = format!("{}:{}", place.file(), place.line());
            (Dimension::NONE, Some(Arc::new(Fault { message, place })))
        }
    };
    let nominal = if fault.is_some() { f64::NAN } else { nominal };
    let hash = structural_hash(&op, &args);
    Worked(Arc::new(Node { op, args, dimension, nominal, hash, fault }))
}

fn structural_hash(op: &Op, args: &[Worked]) -> u64 {
    let mut h = Fnv(0xcbf2_9ce4_8422_2325);
    std::mem::discriminant(op).hash(&mut h);
    match op {
        Op::Input(input) => input.path.hash(&mut h),
        Op::Constant(value) => value.to_bits().hash(&mut h),
        Op::Power(n) => n.hash(&mut h),
        Op::Named { symbol, .. } => symbol.hash(&mut h),
        _ => {}
    }
    for arg in args {
        arg.0.hash.hash(&mut h);
    }
    h.finish()
}

/// FNV-1a: the same on every system and in every run, unlike the standard hasher.
pub(crate) struct Fnv(pub(crate) u64);

/// What a walk has met already: nodes by their address.
pub(crate) type Met = std::collections::HashSet<usize, std::hash::BuildHasherDefault<Fnv>>;

impl Default for Fnv {
    fn default() -> Self {
        Self(0xcbf2_9ce4_8422_2325)
    }
}

impl Hasher for Fnv {
    fn finish(&self) -> u64 {
        self.0
    }
    fn write(&mut self, bytes: &[u8]) {
        for b in bytes {
            self.0 = (self.0 ^ u64::from(*b)).wrapping_mul(0x0100_0000_01b3);
        }
    }
}

/// An operation on plain numbers.
pub(crate) fn apply(op: &Op, x: &[f64]) -> f64 {
    match op {
        Op::Input(_) => f64::NAN,
        Op::Constant(value) => *value,
        Op::Add => x[0] + x[1],
        Op::Sub => x[0] - x[1],
        Op::Mul => x[0] * x[1],
        Op::Div => x[0] / x[1],
        Op::Neg => -x[0],
        Op::Power(n) => power(x[0], *n),
        Op::Sqrt => x[0].sqrt(),
        Op::Exp => libm::exp(x[0]),
        Op::Ln => libm::log(x[0]),
        Op::Sin => libm::sin(x[0]),
        Op::Cos => libm::cos(x[0]),
        Op::Tan => libm::tan(x[0]),
        Op::Asin => libm::asin(x[0]),
        Op::Acos => libm::acos(x[0]),
        Op::Atan => libm::atan(x[0]),
        Op::Abs => x[0].abs(),
        Op::Min => extreme(x, |a, b| a < b),
        Op::Max => extreme(x, |a, b| a > b),
        Op::Sum => x.iter().sum(),
        Op::WhenBelow if x[0].is_nan() || x[1].is_nan() => f64::NAN,
        Op::WhenBelow => x[if x[0] < x[1] { 2 } else { 3 }],
        Op::Named { .. } | Op::ShownIn(_) => x[0],
    }
}

/// Smallest or largest; unlike `f64::min` it lets NaN through, since a missing datum must not vanish.
fn extreme(x: &[f64], better: impl Fn(f64, f64) -> bool) -> f64 {
    x.iter().copied().fold(x[0], |best, v| if v.is_nan() || better(v, best) { v } else { best })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn volts(path: &str, value: f64) -> Worked {
        Input::new(path, path, "U", Dimension::VOLTAGE).value(value).worked()
    }

    fn ohms(path: &str, value: f64) -> Worked {
        Input::new(path, path, "R", Dimension::RESISTANCE).value(value).worked()
    }

    #[test]
    fn operators_take_owned_borrowed_and_plain_numbers() {
        let (u, r) = (volts("u", 12.0), ohms("r", 3.0));
        let i = (2 * &u - &u / 2.0 - 0.0) / (&r + r.clone());
        assert_eq!(i.dimension(), Dimension::CURRENT);
        assert!((i.value() - 3.0).abs() < 1e-12);
    }

    #[test]
    fn nonsense_carries_its_place_and_does_not_panic() {
        let bad = volts("u", 12.0) + ohms("r", 3.0);
        let on_top = (bad * 2.0).called("later", "x");
        let fault = on_top.fault().expect("volts and ohms do not add");
        assert!(fault.message.contains("voltage") && fault.message.contains("resistance"), "{fault:?}");
        assert!(fault.place.contains("expression.rs"), "{fault:?}");
        assert!(on_top.value().is_nan());
    }

    #[test]
    fn temperatures_are_levels_or_differences() {
        let level = |v| Input::new("t", "t", "T", Dimension::TEMPERATURE).value(v).worked();
        let rise = Input::new("d", "d", "ΔT", Dimension::TEMPERATURE_DIFFERENCE).value(60.0).worked();
        let hot = level(298.15) + rise.clone();
        assert_eq!(hot.dimension(), Dimension::TEMPERATURE);
        assert_eq!((hot - level(298.15)).dimension(), Dimension::TEMPERATURE_DIFFERENCE);
        assert!((level(1.0) + level(1.0)).fault().is_some());
        assert!((rise - level(1.0)).fault().is_some());
        assert!((level(1.0) * 2.0).fault().is_some());
    }

    #[test]
    fn a_missing_datum_passes_through_min_and_max() {
        let unknown = Input::new("x", "x", "x", Dimension::VOLTAGE).missing(0.0, 60.0).worked();
        assert!(unknown.clone().at_most(volts("u", 1.0)).value().is_nan());
        assert!(volts("u", 1.0).at_least(unknown.clone()).value().is_nan());
        assert!(unknown.is_missing());
    }

    #[test]
    fn a_chain_of_a_million_drops_without_recursion() {
        let mut x = Worked::from(1.0);
        for _ in 0..1_000_000 {
            x = x + 1.0;
        }
        assert!((x.value() - 1_000_001.0).abs() < 1e-6);
    }

    #[test]
    fn equal_structure_has_equal_hash() {
        let a = volts("u", 12.0) / ohms("r", 3.0);
        let b = volts("u", 12.0) / ohms("r", 3.0);
        assert_eq!(a.0.hash, b.0.hash);
        assert_ne!(a.0.hash, (volts("v", 12.0) / ohms("r", 3.0)).0.hash);
    }
}

//! Interval arithmetic, rounded outward: what an enclosure rests on.
//!
//! Each operation returns an interval that holds every result for every choice of arguments inside theirs.
//! `+ − × ÷ √` are correctly rounded, so one step outward is enough; the functions of `libm` are good to
//! less than one unit in the last place, and two steps are taken.
//! Source: IEEE 1788-2015 (from memory), the usual natural interval extensions.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// A closed interval, `low ≤ high`; ends may be infinite.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Interval {
    pub(crate) low: f64,
    pub(crate) high: f64,
}

impl Interval {
    pub(crate) const ENTIRE: Self = Self { low: f64::NEG_INFINITY, high: f64::INFINITY };
    pub(crate) const ZERO: Self = Self { low: 0.0, high: 0.0 };
    pub(crate) const ONE: Self = Self { low: 1.0, high: 1.0 };

    pub(crate) fn new(low: f64, high: f64) -> Self {
        if low.is_nan() || high.is_nan() { Self::ENTIRE } else { Self { low, high } }
    }

    pub(crate) fn point(value: f64) -> Self {
        Self::new(value, value)
    }

    /// Ends one step outward.
    fn out(low: f64, high: f64) -> Self {
        Self::new(low.next_down(), high.next_up())
    }

    /// Ends two steps outward.
    fn out2(low: f64, high: f64) -> Self {
        Self::new(low.next_down().next_down(), high.next_up().next_up())
    }

    pub(crate) fn width(self) -> f64 {
        self.high - self.low
    }

    pub(crate) fn magnitude(self) -> f64 {
        self.low.abs().max(self.high.abs())
    }

    pub(crate) fn contains(self, x: f64) -> bool {
        self.low <= x && x <= self.high
    }

    pub(crate) fn hull(self, other: Self) -> Self {
        Self { low: self.low.min(other.low), high: self.high.max(other.high) }
    }

    pub(crate) fn add(self, o: Self) -> Self {
        if o == Self::ZERO {
            return self;
        }
        if self == Self::ZERO {
            return o;
        }
        Self::out(self.low + o.low, self.high + o.high)
    }

    pub(crate) fn sub(self, o: Self) -> Self {
        self.add(o.neg())
    }

    pub(crate) fn neg(self) -> Self {
        Self { low: -self.high, high: -self.low }
    }

    pub(crate) fn mul(self, o: Self) -> Self {
        if self == Self::ONE {
            return o;
        }
        if o == Self::ONE {
            return self;
        }
        if self.low >= 0.0 && o.low >= 0.0 {
            let (low, high) = (product(self.low, o.low), product(self.high, o.high));
            return if high == 0.0 { Self::ZERO } else { Self::out(low, high) };
        }
        let p = [
            product(self.low, o.low),
            product(self.low, o.high),
            product(self.high, o.low),
            product(self.high, o.high),
        ];
        if p == [0.0; 4] {
            return Self::ZERO;
        }
        Self::out(least(p), greatest(p))
    }

    /// Quotient, and whether the divisor may be zero (then the quotient is unbounded).
    pub(crate) fn div(self, o: Self) -> (Self, bool) {
        if o.contains(0.0) {
            return (Self::ENTIRE, true);
        }
        let q = [self.low / o.low, self.low / o.high, self.high / o.low, self.high / o.high];
        if q.iter().any(|v| v.is_nan()) {
            return (Self::ENTIRE, false);
        }
        (Self::out(least(q), greatest(q)), false)
    }

    pub(crate) fn power(self, n: i32) -> (Self, bool) {
        if n == 0 {
            return (Self::ONE, false);
        }
        if n < 0 {
            let (below, _) = self.power(-n);
            return Self::ONE.div(below);
        }
        // Each multiplication of the repeated squaring rounds, so the ends step outward once a product.
        let steps = 2 * n.unsigned_abs().ilog2() + 1;
        let outward = |low: f64, high: f64| {
            let (mut low, mut high) = (low, high);
            for _ in 0..steps {
                (low, high) = (low.next_down(), high.next_up());
            }
            Self::new(low, high)
        };
        let (a, b) = (crate::number::power(self.low, n), crate::number::power(self.high, n));
        let raised = if n % 2 == 1 {
            outward(a, b)
        } else if self.contains(0.0) {
            Self::new(0.0, outward(0.0, a.max(b)).high)
        } else {
            let out = outward(a.min(b), a.max(b));
            Self::new(out.low.max(0.0), out.high)
        };
        (raised, false)
    }

    /// Root, and whether part of the interval lies below zero.
    pub(crate) fn sqrt(self) -> (Self, bool) {
        if self.high < 0.0 {
            return (Self::ENTIRE, true);
        }
        let low = self.low.max(0.0).sqrt().next_down().max(0.0);
        (Self::new(low, self.high.sqrt().next_up()), self.low < 0.0)
    }

    pub(crate) fn exp(self) -> Self {
        let out = Self::out2(libm::exp(self.low), libm::exp(self.high));
        Self::new(out.low.max(0.0), out.high)
    }

    /// Logarithm, and whether part of the interval is not above zero.
    pub(crate) fn ln(self) -> (Self, bool) {
        if self.high <= 0.0 {
            return (Self::ENTIRE, true);
        }
        if self.low <= 0.0 {
            return (Self::new(f64::NEG_INFINITY, Self::out2(0.0, libm::log(self.high)).high), true);
        }
        (Self::out2(libm::log(self.low), libm::log(self.high)), false)
    }

    pub(crate) fn sin(self) -> Self {
        self.sub(Self::out(FRAC_PI_2, FRAC_PI_2)).cos()
    }

    pub(crate) fn cos(self) -> Self {
        if !self.width().is_finite() || self.width() >= TAU || self.magnitude() > 1e9 {
            return Self::new(-1.0, 1.0);
        }
        let ends = [libm::cos(self.low), libm::cos(self.high)];
        let (mut low, mut high) = (ends[0].min(ends[1]), ends[0].max(ends[1]));
        // Extremes stand at whole multiples of π; a margin makes up for π not being a double.
        let first = (self.low / PI - 1e-9).ceil();
        let last = (self.high / PI + 1e-9).floor();
        let mut k = first;
        while k <= last {
            if k.rem_euclid(2.0) == 0.0 {
                high = 1.0;
            } else {
                low = -1.0;
            }
            k += 1.0;
        }
        let out = Self::out2(low, high);
        Self::new(out.low.max(-1.0), out.high.min(1.0))
    }

    /// Tangent, and whether a pole lies inside.
    pub(crate) fn tan(self) -> (Self, bool) {
        let branch = |x: f64| ((x + FRAC_PI_2) / PI).floor();
        let near_pole = |x: f64| (((x + FRAC_PI_2) / PI).round() - (x + FRAC_PI_2) / PI).abs() < 1e-9;
        if !self.width().is_finite()
            || self.width() >= PI
            || branch(self.low) != branch(self.high)
            || near_pole(self.low)
            || near_pole(self.high)
        {
            return (Self::ENTIRE, true);
        }
        (Self::out2(libm::tan(self.low), libm::tan(self.high)), false)
    }

    /// Arc sine, and whether part of the interval lies outside −1 … 1.
    pub(crate) fn asin(self) -> (Self, bool) {
        let outside = self.low < -1.0 || self.high > 1.0;
        if self.high < -1.0 || self.low > 1.0 {
            return (Self::ENTIRE, true);
        }
        let (low, high) = (self.low.max(-1.0), self.high.min(1.0));
        (Self::out2(libm::asin(low), libm::asin(high)), outside)
    }

    /// Arc cosine, and whether part of the interval lies outside −1 … 1.
    pub(crate) fn acos(self) -> (Self, bool) {
        let outside = self.low < -1.0 || self.high > 1.0;
        if self.high < -1.0 || self.low > 1.0 {
            return (Self::ENTIRE, true);
        }
        let (low, high) = (self.low.max(-1.0), self.high.min(1.0));
        (Self::out2(libm::acos(high), libm::acos(low)), outside)
    }

    pub(crate) fn atan(self) -> Self {
        Self::out2(libm::atan(self.low), libm::atan(self.high))
    }

    pub(crate) fn abs(self) -> Self {
        if self.low >= 0.0 {
            self
        } else if self.high <= 0.0 {
            self.neg()
        } else {
            Self::new(0.0, self.magnitude())
        }
    }

    pub(crate) fn min(self, o: Self) -> Self {
        Self { low: self.low.min(o.low), high: self.high.min(o.high) }
    }

    pub(crate) fn max(self, o: Self) -> Self {
        Self { low: self.low.max(o.low), high: self.high.max(o.high) }
    }
}

/// A product in which zero times infinity is zero, as interval arithmetic needs it.
fn product(a: f64, b: f64) -> f64 {
    if a == 0.0 || b == 0.0 { 0.0 } else { a * b }
}

fn least(v: [f64; 4]) -> f64 {
    v[0].min(v[1]).min(v[2]).min(v[3])
}

fn greatest(v: [f64; 4]) -> f64 {
    v[0].max(v[1]).max(v[2]).max(v[3])
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn interval() -> impl Strategy<Value = Interval> {
        (-50.0..50.0f64, 0.0..20.0f64).prop_map(|(low, width)| Interval::new(low, low + width))
    }

    fn inside(i: Interval, share: f64) -> f64 {
        (i.low + share * i.width()).clamp(i.low, i.high)
    }

    proptest! {
        #[test]
        fn every_operation_encloses_its_points(a in interval(), b in interval(), s in 0.0..=1.0f64, t in 0.0..=1.0f64, n in -4i32..5) {
            let (x, y) = (inside(a, s), inside(b, t));
            prop_assert!(a.add(b).contains(x + y));
            prop_assert!(a.sub(b).contains(x - y));
            prop_assert!(a.mul(b).contains(x * y));
            prop_assert!(a.div(b).0.contains(x / y) || y == 0.0);
            prop_assert!(a.power(n).0.contains(crate::number::power(x, n)) || x == 0.0);
            prop_assert!(x < 0.0 || a.sqrt().0.contains(x.sqrt()));
            prop_assert!(a.exp().contains(libm::exp(x)));
            prop_assert!(x <= 0.0 || a.ln().0.contains(libm::log(x)));
            prop_assert!(a.sin().contains(libm::sin(x)));
            prop_assert!(a.cos().contains(libm::cos(x)));
            prop_assert!(a.tan().0.contains(libm::tan(x)));
            prop_assert!(a.atan().contains(libm::atan(x)));
            prop_assert!(a.abs().contains(x.abs()));
            prop_assert!(a.min(b).contains(x.min(y)));
            prop_assert!(a.max(b).contains(x.max(y)));
            let unit = Interval::new(a.low / 70.0, a.high / 70.0);
            prop_assert!(unit.asin().0.contains(libm::asin(x / 70.0)) || unit.asin().0.width() > 1.0);
            prop_assert!(unit.acos().0.contains(libm::acos(x / 70.0)) || unit.acos().0.width() > 1.0);
        }
    }

    #[test]
    fn a_divisor_that_may_be_zero_is_said() {
        let (q, open) = Interval::ONE.div(Interval::new(-1.0, 1.0));
        assert!(open && q == Interval::ENTIRE);
        assert!(Interval::new(-1.0, 4.0).sqrt().1);
        assert!(Interval::new(0.0, 4.0).ln().1);
        assert!(!Interval::new(1.0, 4.0).ln().1);
    }
}

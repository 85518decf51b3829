//! A number with its slopes to D quantities.

use std::ops::{Add, Div, Mul, Neg, Sub};

/// Value and slopes. With D = 0 it is a plain number.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Dual<const D: usize> {
    pub(crate) value: f64,
    pub(crate) slopes: [f64; D],
}

impl<const D: usize> Dual<D> {
    pub(crate) const fn constant(value: f64) -> Self {
        Self { value, slopes: [0.0; D] }
    }

    /// The quantity of this number; out of reach for D = 0.
    pub(crate) fn quantity(value: f64, which: usize) -> Self {
        let mut dual = Self::constant(value);
        if let Some(slope) = dual.slopes.get_mut(which) {
            *slope = 1.0;
        }
        dual
    }

    /// A function of it, by its value and slope there.
    fn through(self, value: f64, slope: f64) -> Self {
        Self { value, slopes: self.slopes.map(|s| s * slope) }
    }

    pub(crate) fn exp(self) -> Self {
        let value = libm::exp(self.value);
        self.through(value, value)
    }

    pub(crate) fn sqrt(self) -> Self {
        let value = self.value.sqrt();
        self.through(value, 0.5 / value)
    }

    pub(crate) fn cos(self) -> Self {
        self.through(libm::cos(self.value), -libm::sin(self.value))
    }

    pub(crate) fn sin(self) -> Self {
        self.through(libm::sin(self.value), libm::cos(self.value))
    }

    /// `(1 − e^(−x))/x` and `(x − 1 + e^(−x))/x²`, both finite at zero.
    pub(crate) fn shares(self) -> (Self, Self) {
        let one = Self::constant(1.0);
        if self.value.abs() > 0.3 {
            let first = (one - (-self).exp()) / self;
            return (first, (one - first) / self);
        }
        // Σ (−x)^k/(k + 1)! and Σ (−x)^k/(k + 2)!, to the last digit below 0.3.
        let (mut first, mut second) = (Self::constant(0.0), Self::constant(0.0));
        for k in (0..12).rev() {
            let k = f64::from(k);
            first = one - self * first * (1.0 / (k + 2.0));
            second = one - self * second * (1.0 / (k + 3.0));
        }
        (first, second * 0.5)
    }
}

impl<const D: usize> Add for Dual<D> {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        let slopes = std::array::from_fn(|k| self.slopes[k] + other.slopes[k]);
        Self { value: self.value + other.value, slopes }
    }
}

impl<const D: usize> Sub for Dual<D> {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        self + -other
    }
}

impl<const D: usize> Neg for Dual<D> {
    type Output = Self;

    fn neg(self) -> Self {
        self.through(-self.value, -1.0)
    }
}

impl<const D: usize> Mul for Dual<D> {
    type Output = Self;

    #[expect(clippy::suspicious_arithmetic_impl, reason = "the slope of a product is a sum")]
    fn mul(self, other: Self) -> Self {
        let slopes = std::array::from_fn(|k| self.slopes[k] * other.value + self.value * other.slopes[k]);
        Self { value: self.value * other.value, slopes }
    }
}

impl<const D: usize> Mul<f64> for Dual<D> {
    type Output = Self;

    fn mul(self, factor: f64) -> Self {
        self.through(self.value * factor, factor)
    }
}

impl<const D: usize> Div for Dual<D> {
    type Output = Self;

    #[expect(clippy::suspicious_arithmetic_impl, reason = "the slope of a quotient is a difference")]
    fn div(self, other: Self) -> Self {
        let value = self.value / other.value;
        let slopes = std::array::from_fn(|k| (self.slopes[k] - value * other.slopes[k]) / other.value);
        Self { value, slopes }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Slopes against central differences, on both sides of every seam.
    #[test]
    fn slopes_are_those_of_differences() {
        type Number = Dual<1>;
        type Function = fn(Number) -> Number;
        let functions: [(&str, Function); 7] = [
            ("exp", Number::exp),
            ("sqrt", Number::sqrt),
            ("cos", Number::cos),
            ("sin", Number::sin),
            ("first share", |x| x.shares().0),
            ("second share", |x| x.shares().1),
            ("quotient", |x| (x * x - Number::constant(2.0)) / (x + Number::constant(3.0)) * 4.0),
        ];
        for (name, f) in functions {
            for x in [0.01, 0.29, 0.31, 2.0] {
                let step = 1e-4 * x;
                let at = |x: f64| f(Number::quantity(x, 0)).value;
                let want = (at(x + step) - at(x - step)) / (2.0 * step);
                let got = f(Number::quantity(x, 0)).slopes[0];
                assert!((got - want).abs() < 1e-7 * (1.0 + want.abs()), "{name} at {x}: {got} for {want}");
            }
        }
    }

    #[test]
    fn shares_are_the_same_on_both_sides_of_their_seam() {
        let at = |x: f64| Dual::<0>::constant(x).shares();
        let (below, above) = (at(0.3), at(0.3 + 1e-14));
        assert!((below.0.value - above.0.value).abs() < 1e-13);
        assert!((below.1.value - above.1.value).abs() < 1e-13);
        assert_eq!((at(0.0).0.value, at(0.0).1.value), (1.0, 0.5));
    }
}

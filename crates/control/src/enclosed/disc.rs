//! Discs of complex numbers: the result of an operation holds every result of its members.
//!
//! Source: W. Gargantini and P. Henrici, *Numerische Mathematik* 18 (1972) 305 (from memory).

use super::Span;
use numeric::spectrum::Complex;

#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Disc {
    pub(super) centre: Complex,
    pub(super) radius: f64,
}

/// Rounding of one operation, with plenty to spare.
const ROUNDING: f64 = 1e-15;

impl Disc {
    pub(super) fn new(centre: Complex, radius: f64) -> Self {
        Self { centre, radius: radius + ROUNDING * centre.squared().sqrt() }
    }

    pub(super) fn real(value: f64) -> Self {
        Self { centre: Complex::new(value, 0.0), radius: 0.0 }
    }

    /// e^(−jnx) over a range of x.
    pub(super) fn turned(n: f64, x: Span) -> Self {
        // No chord is longer than its arc.
        Self::new(Complex::turned(-n * x.middle()), 0.5 * n * (x.high - x.low))
    }

    /// A rectangle.
    pub(super) fn around(re: Span, im: Span) -> Self {
        let half = |span: Span| 0.5 * (span.high - span.low);
        let radius = (half(re) * half(re) + half(im) * half(im)).sqrt();
        Self::new(Complex::new(re.middle(), im.middle()), radius)
    }

    pub(super) fn plus(self, other: Self) -> Self {
        Self::new(self.centre.plus(other.centre), self.radius + other.radius)
    }

    pub(super) fn times(self, other: Self) -> Self {
        let (a, b) = (self.centre.squared().sqrt(), other.centre.squared().sqrt());
        let radius = a * other.radius + b * self.radius + self.radius * other.radius;
        Self::new(self.centre.times(other.centre), radius * (1.0 + 4.0 * ROUNDING))
    }

    pub(super) fn scaled(self, factor: f64) -> Self {
        Self::new(self.centre.scaled(factor), self.radius * factor.abs())
    }

    /// Times a range of real numbers.
    pub(super) fn stretched(self, factor: Span) -> Self {
        self.times(Self {
            centre: Complex::new(factor.middle(), 0.0),
            radius: 0.5 * (factor.high - factor.low),
        })
    }

    /// One over it; `None` where it holds zero, or nearly does.
    pub(super) fn inverse(self) -> Option<Self> {
        let square = self.centre.squared() - self.radius * self.radius;
        // Closer to zero the difference would lose digits.
        if square.is_nan() || square <= 1e-3 * self.centre.squared() {
            return None;
        }
        let centre = Complex::new(self.centre.re, -self.centre.im).scaled(1.0 / square);
        let radius = self.radius / square * (1.0 + 1e-12) + 1e-12 * centre.squared().sqrt();
        Some(Self::new(centre, radius))
    }

    /// Least and largest magnitude.
    pub(super) fn magnitude(self) -> Span {
        let middle = self.centre.squared().sqrt();
        Span { low: (middle - self.radius).max(0.0), high: middle + self.radius }.outward()
    }
}

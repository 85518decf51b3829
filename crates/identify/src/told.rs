//! A figure with its uncertainties, sampling and systematic parts apart.

use numeric::distribution::student_t_quantile;

/// A figure that records tell.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Told {
    /// The figure, SI.
    pub value: f64,
    /// Standard uncertainty by scatter.
    pub sampling: f64,
    /// Standard uncertainty by what may be off with the sensors, and by what it rests on.
    pub systematic: f64,
    /// Degrees of freedom of the sampling part.
    pub degrees_of_freedom: f64,
}

/// Half of a 95 % interval, as a part of the value, above which a figure is not carried.
pub(crate) const WIDEST: f64 = 0.5;

impl Told {
    /// Combined standard uncertainty.
    pub fn uncertainty(&self) -> f64 {
        libm::hypot(self.sampling, self.systematic)
    }

    /// Half of the interval that holds the true value with this probability; Student's t with the degrees of freedom
    /// of both parts together (Welch and Satterthwaite, JCGM 100:2008, G.4).
    pub fn half_width(&self, confidence: f64) -> f64 {
        let all = self.uncertainty();
        let part = self.sampling / all;
        let degrees = self.degrees_of_freedom.max(1.0) / (part * part * part * part);
        let degrees = if degrees.is_finite() { degrees.clamp(1.0, 1e9) } else { 1e9 };
        student_t_quantile(0.5 + 0.5 * confidence, degrees) * all
    }

    /// Whether the data carry it: half of its 95 % interval is no more than half of its value.
    pub fn is_carried(&self) -> bool {
        // Written so that 0/0 is not carried.
        self.half_width(0.95) <= WIDEST * self.value.abs()
    }
}

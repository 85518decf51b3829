//! Margins of a sampled loop at one set of figures: gain, phase, delay, peak of the sensitivity.
//!
//! ```text
//! gain    the smallest k > 1 with k·L = −1         phase    the smallest |φ| with e^(−jφ)·L = −1
//! delay   the smallest t with e^(−jωt)·L = −1      M_s = max 1/|1 + L|
//! ```
//!
//! Looked for on a grid of frequencies up to half of the sampling rate, equal in their logarithm, and then located between
//! two of its points. Source of the definitions: K. J. Åström and R. M. Murray, *Feedback Systems*, 2008, chapter 9 (from
//! memory).

use crate::law::Loop;
use numeric::roots::bracketed;
use numeric::spectrum::Complex;
use std::f64::consts::{PI, TAU};

/// Margins of a loop that settles.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Margins {
    /// Factor by which the gain may grow; infinite where no phase of −180° is met.
    pub gain: f64,
    /// Frequency of it, rad/s.
    pub gain_frequency: f64,
    /// Phase that may be lost, rad; infinite where |L| never is 1.
    pub phase: f64,
    /// Frequency at which |L| is 1 and that phase is left, rad/s.
    pub crossover: f64,
    /// Time by which everything may come later, s.
    pub delay: f64,
    /// Peak of the sensitivity M_s.
    pub sensitivity: f64,
    /// Frequency of the peak, rad/s.
    pub peak_frequency: f64,
}

impl Margins {
    /// The lesser of each.
    pub fn less(self, other: &Self) -> Self {
        let mut all = self;
        if other.gain < all.gain {
            (all.gain, all.gain_frequency) = (other.gain, other.gain_frequency);
        }
        if other.phase < all.phase {
            (all.phase, all.crossover) = (other.phase, other.crossover);
        }
        all.delay = all.delay.min(other.delay);
        if other.sensitivity > all.sensitivity {
            (all.sensitivity, all.peak_frequency) = (other.sensitivity, other.peak_frequency);
        }
        all
    }
}

/// Points of the grid to a factor of ten.
const TO_A_DECADE: usize = 32;
/// Factors of ten below half of the sampling rate.
const DECADES: usize = 5;

/// The frequencies that are looked at, for loops that share a sample time or not: radians in a sample.
#[derive(Clone, Debug)]
pub struct Grid {
    points: Vec<(f64, Complex)>,
}

impl Grid {
    /// The grid of all loops.
    pub fn new() -> Self {
        let count = TO_A_DECADE * DECADES;
        let point = |k: usize| {
            let angle = PI * libm::pow(10.0, -((count - k) as f64) / TO_A_DECADE as f64);
            (angle, Complex::turned(-angle))
        };
        Self { points: (0..=count).map(point).collect() }
    }

    /// Margins of a loop; `None` where it does not settle.
    pub fn margins(&self, of: &Loop) -> Option<Margins> {
        of.is_stable().then(|| self.distances(of))
    }

    /// The same distances from −1 of any loop, settling or not.
    pub fn distances(&self, of: &Loop) -> Margins {
        let rate = 1.0 / of.law.sample_time;
        let none = (f64::INFINITY, f64::NAN);
        let (mut gain, mut phase, mut delay) = (none, none, f64::INFINITY);
        let mut peak = (f64::INFINITY, f64::NAN);
        let mut before: Option<(f64, Complex)> = None;
        let mut lowest: Option<(f64, f64)> = None;
        for (k, &(angle, w)) in self.points.iter().enumerate() {
            let l = of.at(w);
            let distance = apart(l);
            if let Some((start, from)) = before {
                if (from.squared() > 1.0) != (l.squared() > 1.0) {
                    let root = bracketed(|x| of.at_angle(x).squared() - 1.0, start, angle, 1e-13 * angle);
                    let left = turn(of.at_angle(root.x));
                    if left.abs() < phase.0 {
                        phase = (left.abs(), root.x);
                    }
                    let time = (if left < 0.0 { left + TAU } else { left }) / root.x;
                    delay = delay.min(time);
                }
                if (from.im > 0.0) != (l.im > 0.0) {
                    let root = bracketed(|x| of.at_angle(x).im, start, angle, 1e-13 * angle);
                    let re = of.at_angle(root.x).re;
                    let factor = -1.0 / re;
                    if re < 0.0 && factor > 1.0 && factor < gain.0 {
                        gain = (factor, root.x);
                    }
                }
            }
            if distance < peak.0 {
                peak = (distance, angle);
                let after = self.points.get(k + 1).map_or(angle, |point| point.0);
                lowest = Some((before.map_or(angle, |point| point.0), after));
            }
            before = Some((angle, l));
        }
        // At half of the sampling rate L is real.
        if let Some((angle, l)) = before
            && l.re < 0.0
            && -1.0 / l.re > 1.0
            && -1.0 / l.re < gain.0
        {
            gain = (-1.0 / l.re, angle);
        }
        if let Some((from, to)) = lowest {
            let angle = least(|x| apart(of.at_angle(x)), from, to);
            let distance = apart(of.at_angle(angle));
            if distance < peak.0 {
                peak = (distance, angle);
            }
        }
        Margins {
            gain: gain.0,
            gain_frequency: gain.1 * rate,
            phase: phase.0,
            crossover: phase.1 * rate,
            delay: delay / rate,
            sensitivity: 1.0 / peak.0,
            peak_frequency: peak.1 * rate,
        }
    }
}

impl Default for Grid {
    fn default() -> Self {
        Self::new()
    }
}

/// |1 + L|.
fn apart(l: Complex) -> f64 {
    Complex::new(1.0 + l.re, l.im).squared().sqrt()
}

/// The phase that L is before −180°, −π to π.
fn turn(l: Complex) -> f64 {
    Complex::new(-l.re, -l.im).phase()
}

/// Where a function is least between two ends, by the golden section.
fn least(f: impl Fn(f64) -> f64, low: f64, high: f64) -> f64 {
    const SECTION: f64 = 0.618_033_988_749_894_9;
    let (mut low, mut high) = (low, high);
    let (mut a, mut b) = (high - SECTION * (high - low), low + SECTION * (high - low));
    let (mut at_a, mut at_b) = (f(a), f(b));
    while high - low > 1e-7 * high {
        if at_a < at_b {
            (high, b, at_b) = (b, a, at_a);
            a = high - SECTION * (high - low);
            at_a = f(a);
        } else {
            (low, a, at_a) = (a, b, at_b);
            b = low + SECTION * (high - low);
            at_b = f(b);
        }
    }
    0.5 * (low + high)
}

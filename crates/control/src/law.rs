//! The law that runs in the controller, as a function of frequency and as a polynomial.
//!
//! ```text
//! L(w) = w·F(w)·D(w)        F = C·S + P        w = e^(−jωT_s)
//! C = K_p·(1 + T_s/T_i·w/(1 − w))        S = (1 + w + … + w^(n−1))/n
//! P = K_φ·(K_f + K_p·T_s/T_i·w/(1 − w))·T_s/(1 − w),  K_f = β·K_p + K'
//! ```
//!
//! The `w` before F is the sample that the computation takes. S is the window of the speed, over n samples; of a current
//! n is 1. P is what a position loop adds: the counted angle, through K_φ, is a reference of the speed. These are the
//! sums that the crate `controller` forms.

use crate::plant::{Measured, Plant, Pulse, Sampled};
use controller::SpeedFigures;
use numeric::spectrum::Complex;

/// A PI law around a plant, with or without a position loop.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Law {
    /// Sample time T_s, s.
    pub sample_time: f64,
    /// Gain K_p, volts for the output.
    pub gain: f64,
    /// Integral time T_i, s.
    pub integral_time: f64,
    /// Set-point weight β.
    pub weight: f64,
    /// Volts that are fed forward for a reference, K'.
    pub forward: f64,
    /// Samples in the window of the speed; `None` where the output itself is sampled.
    pub window: Option<usize>,
    /// Gain of the position loop K_φ, 1/s; zero without one.
    pub position_gain: f64,
}

impl Law {
    /// The speed loop of a controller.
    pub fn of_speed(figures: &SpeedFigures) -> Self {
        Self {
            sample_time: figures.sample_time,
            gain: figures.pi.gain,
            integral_time: figures.pi.integral_time,
            weight: figures.pi.weight,
            forward: figures.feed_forward.speed,
            window: Some(figures.window),
            position_gain: 0.0,
        }
    }

    /// The same with a position loop around it.
    pub fn around_position(self, position_gain: f64) -> Self {
        Self { position_gain, ..self }
    }

    /// What it measures of the plant at a tick.
    pub fn measured(&self) -> Measured {
        match self.window {
            Some(_) => Measured::Mean,
            None => Measured::Sample,
        }
    }

    /// Gain of the integrator for a sample, `K_p·T_s/T_i`.
    pub fn integral(&self) -> f64 {
        self.gain * self.sample_time / self.integral_time
    }

    /// K_f: what a reference of the speed gives at once.
    pub(crate) fn at_once(&self) -> f64 {
        self.weight * self.gain + self.forward
    }

    /// Samples in the window, one where there is none.
    pub(crate) fn samples(&self) -> usize {
        self.window.unwrap_or(1).max(1)
    }

    /// F with the sample before it, at a `w` that is not 1.
    pub fn at(&self, w: Complex) -> Complex {
        let one = Complex::new(1.0, 0.0);
        let step = one.over(one.minus(w));
        let sum = w.times(step).scaled(self.integral());
        let mut f = Complex::new(self.gain, 0.0).plus(sum).times(self.window_at(w));
        if self.position_gain > 0.0 {
            let angle = step.scaled(self.position_gain * self.sample_time);
            f = f.plus(Complex::new(self.at_once(), 0.0).plus(sum).times(angle));
        }
        w.times(f)
    }

    fn window_at(&self, w: Complex) -> Complex {
        let n = self.samples();
        if n == 1 {
            return Complex::new(1.0, 0.0);
        }
        let one = Complex::new(1.0, 0.0);
        one.minus(power(w, n)).over(one.minus(w)).scaled(1.0 / n as f64)
    }
}

/// A law around a plant.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Loop {
    /// The law.
    pub law: Law,
    /// The plant from tick to tick.
    pub sampled: Sampled,
    /// From the voltage to what is measured.
    pub pulse: Pulse,
}

impl Loop {
    /// Of a plant.
    pub fn new(law: Law, plant: &Plant) -> Self {
        let sampled = plant.sampled(law.sample_time);
        Self { law, sampled, pulse: sampled.pulse(law.measured()) }
    }

    /// L at a `w`.
    pub fn at(&self, w: Complex) -> Complex {
        self.law.at(w).times(self.pulse.at(w))
    }

    /// L at a frequency, radians in a sample.
    pub fn at_angle(&self, angle: f64) -> Complex {
        self.at(Complex::turned(-angle))
    }

    /// Whether the closed loop settles: no root of its polynomial in z lies on or outside of the unit circle.
    ///
    /// Source: the recursion of Schur and Cohn, from memory.
    pub fn is_stable(&self) -> bool {
        let mut p = self.polynomial();
        while p.len() > 1 {
            let (Some(&first), Some(&last)) = (p.first(), p.last()) else { return false };
            let k = last / first;
            if k.is_nan() || k.abs() >= 1.0 {
                return false;
            }
            let back: Vec<f64> = p.iter().rev().copied().collect();
            p = p.iter().zip(&back).map(|(a, b)| a - k * b).collect();
            p.pop();
        }
        true
    }

    /// The polynomial of the closed loop in `w`, from the constant term up.
    pub fn polynomial(&self) -> Vec<f64> {
        let law = &self.law;
        let n = law.samples();
        // 1 − w as often as there are integrators.
        let less = [1.0, -1.0];
        let pi = [law.gain, law.integral() - law.gain];
        let window = vec![1.0 / n as f64; n];
        let (mut f, mut open) = (times(&pi, &window), less.to_vec());
        if law.position_gain > 0.0 {
            let scale = law.position_gain * law.sample_time;
            let forward = law.at_once();
            let p = [scale * forward, scale * (law.integral() - forward)];
            f = sum(&times(&f, &less), &p);
            open = times(&open, &less);
        }
        let [a, b, c] = self.pulse.numerator;
        let [d, e] = self.pulse.denominator;
        sum(&times(&open, &[1.0, d, e]), &times(&f, &[0.0, 0.0, a, b, c]))
    }
}

/// A whole power, one at least.
pub(crate) fn power(w: Complex, n: usize) -> Complex {
    let (mut base, mut left, mut out) = (w, n, Complex::new(1.0, 0.0));
    while left > 0 {
        if left % 2 == 1 {
            out = out.times(base);
        }
        base = base.times(base);
        left /= 2;
    }
    out
}

fn times(a: &[f64], b: &[f64]) -> Vec<f64> {
    let mut out = vec![0.0; a.len() + b.len() - 1];
    for (i, x) in a.iter().enumerate() {
        for (j, y) in b.iter().enumerate() {
            out[i + j] += x * y;
        }
    }
    out
}

fn sum(a: &[f64], b: &[f64]) -> Vec<f64> {
    let (long, short) = if a.len() >= b.len() { (a, b) } else { (b, a) };
    let mut out = long.to_vec();
    out.iter_mut().zip(short).for_each(|(into, add)| *into += add);
    out
}

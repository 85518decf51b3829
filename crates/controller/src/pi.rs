//! The PI law in samples, with set-point weight and an integrator that follows what was really applied.
//!
//! ```text
//! u = K_p·(β·r − y) + x + f        u_a = u held inside its limits
//! x ← x + (K_p/T_i)·T_s·(r − y) + (T_s/T_t)·(u_a − u)
//! ```
//!
//! Source: Åström and Hägglund, *Advanced PID Control* (back-calculation, set-point weight), from memory.

use crate::{Unusable, above_zero, zero_or_more};

/// Figures of a PI law.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct PiFigures {
    /// Gain K_p, output for error.
    pub gain: f64,
    /// Integral time T_i, s.
    pub integral_time: f64,
    /// Set-point weight β: the part of the reference that the gain acts on, 0 to 1.
    pub weight: f64,
    /// Tracking time T_t, s: how fast the integrator gives way at a limit. No less than the sample time.
    pub tracking_time: f64,
}

/// A PI law with its state.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Pi {
    figures: PiFigures,
    sample_time: f64,
    x: f64,
}

impl Pi {
    /// With its integrator empty.
    ///
    /// # Errors
    /// Where a figure is no use.
    pub fn new(figures: PiFigures, sample_time: f64) -> Result<Self, Unusable> {
        above_zero(&[
            ("gain of the PI law", figures.gain),
            ("integral time", figures.integral_time),
            ("tracking time", figures.tracking_time),
            ("sample time", sample_time),
        ])?;
        zero_or_more(&[("set-point weight", figures.weight)])?;
        if figures.weight > 1.0 {
            return Err(Unusable { what: "set-point weight", value: figures.weight, must: "at most 1" });
        }
        // Faster than that the integrator would swing about the limit.
        if figures.tracking_time < sample_time {
            let value = figures.tracking_time;
            return Err(Unusable { what: "tracking time", value, must: "no less than the sample time" });
        }
        Ok(Self { figures, sample_time, x: 0.0 })
    }

    /// One sample: the output inside its limits. `feed_forward` is added before the limits.
    pub fn step(&mut self, reference: f64, measured: f64, feed_forward: f64, limits: &Limits) -> f64 {
        let f = &self.figures;
        let wanted = f.gain * (f.weight * reference - measured) + self.x + feed_forward;
        let applied = limits.hold(wanted);
        self.x += f.gain / f.integral_time * self.sample_time * (reference - measured)
            + self.sample_time / f.tracking_time * (applied - wanted);
        applied
    }

    /// Sets the integrator so that the next output, at these values, is `output`: the loop takes over without a jump.
    pub fn take_over(&mut self, output: f64, reference: f64, measured: f64, feed_forward: f64) {
        let f = &self.figures;
        self.x = output - feed_forward - f.gain * (f.weight * reference - measured);
    }
}

/// Two pairs of limits of an output, of which the outer one always holds.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Limits {
    /// What is wanted: lowest and highest.
    pub inner: (f64, f64),
    /// What is possible: lowest and highest.
    pub outer: (f64, f64),
}

impl Limits {
    /// The output inside its limits; where the two pairs have nothing in common, the nearest that is possible.
    pub fn hold(&self, output: f64) -> f64 {
        output.max(self.inner.0).min(self.inner.1).max(self.outer.0).min(self.outer.1)
    }
}

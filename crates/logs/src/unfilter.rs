//! A first-order filter in a sense line, undone up to a corner that noise allows.
//!
//! ```text
//! filter   Y = X/(1 + s·τ)          undone   X̂ = Y·(1 + s·τ)/(1 + s·τ₂)      corner f₂ = 1/(2π·τ₂)
//! in time  s = (2/h)·(z − 1)/(z + 1)          r = 2·τ/h, q = 2·τ₂/h, h between two samples
//! noise    G² = (q + r²)/(q·(1 + q))
//! ```
//!
//! What is left is a filter with the time constant τ₂ instead of τ. G is the standard deviation of the result over that of the
//! samples, where these have white noise: the sum of squares of the answer to one sample, in closed form. The step from s
//! to z is the rule of trapezia (Tustin's, in any textbook of digital control): at a tenth of the sampling rate it takes a
//! frequency for one 3.4 % higher (tan(π/10)/(π/10)), so no corner above that is given.

use std::f64::consts::{PI, TAU};

/// Corners up to this part of the sampling rate.
const HIGHEST: f64 = 0.1;

/// A filter, and how far it is to be undone.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Unfilter {
    /// Time between two samples, s.
    pub sample_time: f64,
    /// Time constant of the filter, s: R·C of its resistor and capacitor.
    pub time_constant: f64,
    /// The corner that is wanted in its place, Hz.
    pub corner: f64,
    /// The most by which noise may grow, as a factor of its standard deviation; at least 1.
    pub most_noise: f64,
}

/// What was undone.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub struct Unfiltered {
    /// The values. After a gap, and at the start, the course is taken to have been steady.
    pub values: Vec<f64>,
    /// Their corner, Hz.
    pub corner: f64,
    /// How much noise has grown.
    pub noise_gain: f64,
}

/// Why a filter cannot be undone.
#[derive(Clone, Copy, PartialEq, Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Hidden {
    /// A figure that no filter has.
    #[error("{what} cannot be {value}: it has to be {must}")]
    Figure {
        /// Which.
        what: &'static str,
        /// Its value.
        value: f64,
        /// What it has to be.
        must: &'static str,
    },
    /// Sampled too slowly.
    #[error(
        "{rate} samples in a second show nothing above {highest} Hz well enough, and {wanted} Hz are wanted: sample faster, or ask \
         for less"
    )]
    Slow {
        /// The sampling rate, Hz.
        rate: f64,
        /// The highest corner, Hz.
        highest: f64,
        /// The corner that is wanted, Hz.
        wanted: f64,
    },
    /// Buried in noise.
    #[error(
        "undone up to {wanted} Hz, the filter would raise the noise by {gain:.1}, and {most:.1} are allowed: ask for {possible:.1} Hz \
         at most, or log with a filter of a shorter time constant"
    )]
    Noise {
        /// The corner that is wanted, Hz.
        wanted: f64,
        /// How much noise would grow.
        gain: f64,
        /// How much it may.
        most: f64,
        /// The highest corner that keeps to that, Hz.
        possible: f64,
    },
}

impl Unfilter {
    /// Undoes the filter. Where it lets more through than is wanted, the values stay as they are.
    ///
    /// # Errors
    /// Where a figure is no use, the sampling is too slow, or noise would grow too much.
    pub fn undo(&self, values: &[f64]) -> Result<Unfiltered, Hidden> {
        for (what, value) in [
            ("the time between samples", self.sample_time),
            ("the time constant", self.time_constant),
            ("the corner", self.corner),
        ] {
            if !(value.is_finite() && value > 0.0) {
                return Err(Hidden::Figure { what, value, must: "above zero" });
            }
        }
        if !(self.most_noise.is_finite() && self.most_noise >= 1.0) {
            let (what, value) = ("the growth of noise", self.most_noise);
            return Err(Hidden::Figure { what, value, must: "at least 1" });
        }
        let own = 1.0 / (TAU * self.time_constant);
        if self.corner <= own {
            return Ok(Unfiltered { values: values.to_vec(), corner: own, noise_gain: 1.0 });
        }
        let rate = 1.0 / self.sample_time;
        let highest = HIGHEST * rate;
        if self.corner > highest {
            return Err(Hidden::Slow { rate, highest, wanted: self.corner });
        }
        let r = 2.0 * self.time_constant / self.sample_time;
        let q = 1.0 / (PI * self.corner * self.sample_time);
        let noise_gain = gain(r, q);
        if noise_gain > self.most_noise {
            let possible = 1.0 / (PI * slowest(r, self.most_noise) * self.sample_time);
            return Err(Hidden::Noise {
                wanted: self.corner,
                gain: noise_gain,
                most: self.most_noise,
                possible,
            });
        }
        let (b0, b1, a1) = ((1.0 + r) / (1.0 + q), (1.0 - r) / (1.0 + q), (1.0 - q) / (1.0 + q));
        let mut before: Option<(f64, f64)> = None;
        let one = |value: &f64| {
            if !value.is_finite() {
                before = None;
                return *value;
            }
            let (input, output) = before.unwrap_or((*value, *value));
            let output = b0 * value + b1 * input - a1 * output;
            before = Some((*value, output));
            output
        };
        Ok(Unfiltered { values: values.iter().map(one).collect(), corner: self.corner, noise_gain })
    }
}

/// How much white noise grows.
fn gain(r: f64, q: f64) -> f64 {
    libm::sqrt((q + r * r) / (q * (1.0 + q)))
}

/// The q at which noise grows by a factor: the root of `G²·q² + (G² − 1)·q − r² = 0`.
fn slowest(r: f64, gain: f64) -> f64 {
    let squared = gain * gain;
    let half = 0.5 * (squared - 1.0);
    (libm::sqrt(half * half + squared * r * r) - half) / squared
}

#[cfg(test)]
mod tests {
    use super::*;
    use worked::draws::Stream;

    const FILTER: Unfilter =
        Unfilter { sample_time: 1e-4, time_constant: 2e-3, corner: 400.0, most_noise: 10.0 };

    #[test]
    fn a_sine_comes_back_through_its_filter() {
        // Through 1/(1 + jωτ), exact; undone, it has passed 1/(1 + jωτ₂) instead.
        for frequency in [5.0, 80.0, 300.0, 900.0] {
            let omega = TAU * frequency;
            let passed = |time: f64, constant: f64| {
                let (real, imaginary) = (1.0, -omega * constant);
                let size = real * real + imaginary * imaginary;
                (real * libm::sin(omega * time) + imaginary * libm::cos(omega * time)) / size
            };
            let samples: Vec<f64> =
                (0..4000).map(|k| passed(f64::from(k) * 1e-4, FILTER.time_constant)).collect();
            let undone = FILTER.undo(&samples).unwrap();
            let left = 1.0 / (TAU * FILTER.corner);
            for k in 2000..4000_u32 {
                let want = passed(f64::from(k) * 1e-4, left);
                // The rule of trapezia is out by a twelfth of (ω·h)² in frequency, and that much at most in the value.
                let within = 1e-9 + (omega * 1e-4) * (omega * 1e-4) / 12.0;
                let got = undone.values[k as usize];
                assert!((got - want).abs() < within, "{frequency} Hz: {got} against {want}");
            }
        }
    }

    #[test]
    fn noise_grows_as_is_said() {
        let draws = Stream::new(1, "noise");
        let noise: Vec<f64> = (0..200_000).map(|k| draws.normal(k)).collect();
        let undone = FILTER.undo(&noise).unwrap();
        let spread = |values: &[f64]| {
            libm::sqrt(values.iter().map(|value| value * value).sum::<f64>() / values.len() as f64)
        };
        let grown = spread(&undone.values) / spread(&noise);
        assert!((grown / undone.noise_gain - 1.0).abs() < 0.02, "{grown} against {}", undone.noise_gain);
        // The sum of squares of the answer to one sample, term by term.
        let mut one = vec![0.0; 2000];
        one[1000] = 1.0;
        let answer = FILTER.undo(&one).unwrap();
        let sum = libm::sqrt(answer.values.iter().map(|value| value * value).sum::<f64>());
        assert!((sum - undone.noise_gain).abs() < 1e-9);
    }

    #[test]
    fn what_noise_hides_is_refused() {
        let Err(Hidden::Noise { gain, possible, .. }) = (Unfilter { most_noise: 4.0, ..FILTER }).undo(&[0.0])
        else {
            panic!("refused")
        };
        assert!(gain > 4.0);
        // At the corner that is offered, noise grows by just what is allowed.
        let offered =
            Unfilter { corner: possible * (1.0 - 1e-9), most_noise: 4.0, ..FILTER }.undo(&[0.0]).unwrap();
        assert!((offered.noise_gain - 4.0).abs() < 1e-6);
        assert!(matches!(
            Unfilter { corner: 1001.0, most_noise: 1e6, ..FILTER }.undo(&[]),
            Err(Hidden::Slow { .. })
        ));
        for wrong in [
            Unfilter { sample_time: 0.0, ..FILTER },
            Unfilter { time_constant: f64::NAN, ..FILTER },
            Unfilter { corner: -1.0, ..FILTER },
            Unfilter { most_noise: 0.5, ..FILTER },
        ] {
            assert!(matches!(wrong.undo(&[1.0]), Err(Hidden::Figure { .. })));
        }
        let open = Unfilter { corner: 50.0, ..FILTER }.undo(&[1.0, 5.0]).unwrap();
        assert_eq!((open.values, open.noise_gain), (vec![1.0, 5.0], 1.0));
    }

    #[test]
    fn a_gap_begins_anew() {
        let undone = FILTER.undo(&[2.0, 2.0, f64::NAN, 7.0, 7.0]).unwrap();
        assert!(undone.values[2].is_nan());
        for (k, want) in [(0, 2.0), (1, 2.0), (3, 7.0), (4, 7.0)] {
            assert!((undone.values[k] - want).abs() < 1e-12);
        }
    }
}

//! Frequency response and coherence of two records, by averaged spectra of overlapping segments.
//!
//! ```text
//! H = S_xy/S_xx        γ² = |S_xy|²/(S_xx·S_yy)        u(H) = |H|·√((1 − γ²)/(2·n·γ²))
//! ```
//!
//! Segments of a power of two overlap by half under a Hann window (P. D. Welch, IEEE Trans. Audio Electroacoust. 15 (1967)
//! 70, from memory). Noise in y alone leaves H unbiased. The uncertainty of magnitude and (in radians) phase is that of n
//! independent averages (J. S. Bendat and A. G. Piersol, *Random Data*, 4th ed. 2010, table 9.6, from memory); as the windows
//! of neighbours correlate by 1/6, segments count as their number over 1 + 2/36. The transform is our own, because those of
//! general libraries choose their kernels by processor.

use crate::error::{InputError, expect_finite, expect_length};
use std::f64::consts::TAU;

/// A complex number.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Complex {
    /// Real part.
    pub re: f64,
    /// Imaginary part.
    pub im: f64,
}

impl Complex {
    /// From its parts.
    pub fn new(re: f64, im: f64) -> Self {
        Self { re, im }
    }

    /// e^(i·angle).
    pub fn turned(angle: f64) -> Self {
        Self { re: libm::cos(angle), im: libm::sin(angle) }
    }

    /// Product.
    pub fn times(self, other: Self) -> Self {
        Self { re: self.re * other.re - self.im * other.im, im: self.re * other.im + self.im * other.re }
    }

    /// Quotient.
    pub fn over(self, other: Self) -> Self {
        let square = other.squared();
        let product = self.times(Self { re: other.re, im: -other.im });
        Self { re: product.re / square, im: product.im / square }
    }

    /// Sum.
    pub fn plus(self, other: Self) -> Self {
        Self { re: self.re + other.re, im: self.im + other.im }
    }

    /// Difference.
    pub fn minus(self, other: Self) -> Self {
        Self { re: self.re - other.re, im: self.im - other.im }
    }

    /// A multiple.
    pub fn scaled(self, factor: f64) -> Self {
        Self { re: factor * self.re, im: factor * self.im }
    }

    /// Square of the magnitude.
    pub fn squared(self) -> f64 {
        self.re * self.re + self.im * self.im
    }

    /// Magnitude.
    pub fn magnitude(self) -> f64 {
        libm::hypot(self.re, self.im)
    }

    /// Angle, −π to π.
    pub fn phase(self) -> f64 {
        libm::atan2(self.im, self.re)
    }
}

/// The response at one frequency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bin {
    /// Frequency, in units of one over the sampling interval.
    pub frequency: f64,
    /// H, from x to y.
    pub response: Complex,
    /// γ², 0 to 1.
    pub coherence: f64,
    /// Standard uncertainty of the magnitude; over the magnitude that of the phase, rad.
    pub deviation: f64,
}

/// A frequency response.
#[derive(Debug, Clone, PartialEq)]
pub struct Response {
    /// Bins from the first above zero to half of the sampling rate.
    pub bins: Vec<Bin>,
    /// How many segments were averaged.
    pub segments: usize,
    /// Independent averages that they count as.
    pub averages: f64,
}

/// Averages the response over segments of so many samples, a power of two.
///
/// # Errors
/// Lengths that differ, values that are not finite, a segment that is no power of two from 8 on or longer than the
/// records.
pub fn response(x: &[f64], y: &[f64], segment: usize) -> Result<Response, InputError> {
    expect_length("output", y, x.len())?;
    expect_finite("input", x)?;
    expect_finite("output", y)?;
    if !segment.is_power_of_two() || segment < 8 {
        return Err(InputError::Length {
            what: "samples of a segment, a power of two",
            expected: 8,
            found: segment,
        });
    }
    if x.len() < segment {
        return Err(InputError::Length { what: "samples", expected: segment, found: x.len() });
    }
    let window: Vec<f64> =
        (0..segment).map(|k| 0.5 - 0.5 * libm::cos(TAU * k as f64 / segment as f64)).collect();
    let half = segment / 2;
    let mut sums = vec![(Complex::default(), 0.0, 0.0); half + 1];
    let mut segments = 0;
    let mut start = 0;
    while start + segment <= x.len() {
        let (fx, fy) = transform_pair(&x[start..start + segment], &y[start..start + segment], &window);
        for (sum, (a, b)) in sums.iter_mut().zip(fx.iter().zip(&fy)) {
            sum.0 = sum.0.plus(Complex::new(a.re, -a.im).times(*b));
            sum.1 += a.squared();
            sum.2 += b.squared();
        }
        segments += 1;
        start += half;
    }
    // Neighbours share half of their samples: their squared window correlation is 1/36.
    let averages = if segments > 1 { segments as f64 / (1.0 + 2.0 / 36.0) } else { 1.0 };
    let bins = (1..=half).map(|k| bin(k as f64 / segment as f64, sums[k], averages)).collect();
    Ok(Response { bins, segments, averages })
}

fn bin(frequency: f64, (cross, xx, yy): (Complex, f64, f64), averages: f64) -> Bin {
    let response = cross.scaled(1.0 / xx);
    let coherence = if xx > 0.0 && yy > 0.0 { (cross.squared() / (xx * yy)).min(1.0) } else { 0.0 };
    let deviation = response.magnitude() * ((1.0 - coherence) / (2.0 * averages * coherence)).sqrt();
    Bin { frequency, response, coherence, deviation }
}

/// Transforms of two real segments at once, less their means: one complex transform of x + i·y, parted by symmetry.
fn transform_pair(x: &[f64], y: &[f64], window: &[f64]) -> (Vec<Complex>, Vec<Complex>) {
    let n = x.len();
    let mean = |v: &[f64]| v.iter().sum::<f64>() / n as f64;
    let (mx, my) = (mean(x), mean(y));
    let mut z: Vec<Complex> =
        (0..n).map(|k| Complex::new(window[k] * (x[k] - mx), window[k] * (y[k] - my))).collect();
    transform(&mut z);
    let part = |k: usize| {
        let (a, b) = (z[k], z[(n - k) % n]);
        let even = Complex::new(0.5 * (a.re + b.re), 0.5 * (a.im - b.im));
        let odd = Complex::new(0.5 * (a.im + b.im), 0.5 * (b.re - a.re));
        (even, odd)
    };
    (0..=n / 2).map(part).unzip()
}

/// Discrete Fourier transform in place, of a power of two, by halves (J. W. Cooley and J. W. Tukey 1965).
///
/// # Panics
/// Where the length is no power of two.
pub fn transform(z: &mut [Complex]) {
    let n = z.len();
    assert!(n.is_power_of_two(), "a power of two");
    let bits = n.trailing_zeros();
    for k in 0..n {
        let mirrored = if bits == 0 { 0 } else { k.reverse_bits() >> (usize::BITS - bits) };
        if k < mirrored {
            z.swap(k, mirrored);
        }
    }
    // Each angle by itself, so that no rounding adds up.
    let turns: Vec<Complex> = (0..n / 2).map(|k| Complex::turned(-TAU * k as f64 / n as f64)).collect();
    let mut half = 1;
    while half < n {
        let stride = n / (2 * half);
        for block in z.chunks_exact_mut(2 * half) {
            let (low, high) = block.split_at_mut(half);
            for (k, (a, b)) in low.iter_mut().zip(high).enumerate() {
                let turned = turns[k * stride].times(*b);
                (*a, *b) = (a.plus(turned), a.minus(turned));
            }
        }
        half *= 2;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn noise(seed: u64) -> impl FnMut() -> f64 {
        // An even sequence between −1 and 1 (the multiplicative generator of D. E. Knuth, MMIX).
        let mut state = seed;
        move || {
            state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
            (state >> 11) as f64 / (1u64 << 52) as f64 - 1.0
        }
    }

    #[test]
    fn the_transform_is_the_sum_that_defines_it() {
        for n in [1, 2, 8, 32] {
            let mut next = noise(n as u64);
            let z: Vec<Complex> = (0..n).map(|_| Complex::new(next(), next())).collect();
            let mut fast = z.clone();
            transform(&mut fast);
            for (k, got) in fast.iter().enumerate() {
                let mut want = Complex::default();
                for (m, value) in z.iter().enumerate() {
                    want = want.plus(value.times(Complex::turned(-TAU * (k * m) as f64 / n as f64)));
                }
                assert!(got.minus(want).magnitude() < 1e-13, "{n} {k}");
            }
        }
    }

    /// A filter of first order, driven by noise and read with noise: closed form of its response, and a coherence by the
    /// powers of both.
    #[test]
    fn a_known_filter_is_found_within_its_uncertainty() {
        let (mut drive, mut error) = (noise(1), noise(2));
        let n = 1 << 16;
        let x: Vec<f64> = (0..n).map(|_| drive()).collect();
        let mut state = 0.0;
        let y: Vec<f64> = x
            .iter()
            .map(|x| {
                state = 0.9 * state + 0.1 * x;
                state + 0.1 * error()
            })
            .collect();
        let response = response(&x, &y, 256).unwrap();
        assert_eq!(response.segments, 2 * n / 256 - 1);
        let mut within = 0;
        for bin in &response.bins {
            let z = Complex::turned(-TAU * bin.frequency);
            let want = Complex::new(0.1, 0.0).over(Complex::new(1.0, 0.0).minus(z.scaled(0.9)));
            let coherence = want.squared() / (want.squared() + 0.01);
            assert!((bin.coherence - coherence).abs() < 0.1, "{bin:?} {coherence}");
            // Leakage of the Hann window bends the lowest bins by a percent.
            let off = (bin.response.magnitude() - want.magnitude()).abs() - 0.01 * want.magnitude();
            within += usize::from(off <= 2.0 * bin.deviation);
        }
        // 95 % of 128, less three deviations.
        assert!(within >= 114, "{within} of {}", response.bins.len());
    }

    #[test]
    fn what_cannot_be_averaged_is_said() {
        assert_eq!(
            response(&[0.0; 10], &[0.0; 9], 8).unwrap_err().to_string(),
            "output: 9 values, 10 needed"
        );
        assert!(response(&[0.0; 10], &[0.0; 10], 7).unwrap_err().to_string().contains("power of two"));
        assert!(response(&[0.0; 10], &[0.0; 10], 16).is_err());
        assert!(response(&[f64::NAN; 10], &[0.0; 10], 8).is_err());
        // Nothing moves: no coherence, and no response.
        let still = response(&[0.0; 16], &[0.0; 16], 8).unwrap();
        assert!(still.bins.iter().all(|bin| bin.coherence == 0.0));
    }
}

//! Normal, Student t and chi-square distributions.
//!
//! Relative accuracy, tails included, as checked in the tests: normal 1e-15 (its tail loses z²·1e-16), Student t
//! 5e-14, chi-square 1e-13 (1e-12 with a thousand degrees of freedom and more). An argument outside the domain
//! gives a value that is not a number.

use crate::roots::bracketed;

const SQRT_2: f64 = std::f64::consts::SQRT_2;

/// Probability that a standard normal variable is at most `z`.
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * libm::erfc(-z / SQRT_2)
}

/// The `z` that a standard normal variable stays below with probability `p`.
///
/// Source: M. J. Wichura, algorithm AS 241 (PPND16), Applied Statistics 37 (1988) 477–484; relative accuracy
/// about 1e-16. Minus infinity at 0, infinity at 1; not a number outside 0 to 1.
///
/// ```
/// # use numeric::distribution::normal_quantile;
/// assert!((normal_quantile(0.975) - 1.959_963_984_540_054).abs() < 1e-15);
/// ```
pub fn normal_quantile(p: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    let q = p - 0.5;
    if q.abs() <= 0.425 {
        let r = 0.180625 - q * q;
        return q * polynomial(&CENTRE_TOP, r) / polynomial(&CENTRE_BOTTOM, r);
    }
    let tail = if q < 0.0 { p } else { 1.0 - p };
    if tail == 0.0 {
        return f64::INFINITY.copysign(q);
    }
    let r = (-libm::log(tail)).sqrt();
    let size = if r <= 5.0 {
        polynomial(&MIDDLE_TOP, r - 1.6) / polynomial(&MIDDLE_BOTTOM, r - 1.6)
    } else {
        polynomial(&FAR_TOP, r - 5.0) / polynomial(&FAR_BOTTOM, r - 5.0)
    };
    size.copysign(q)
}

/// Probability that a variable with Student's t distribution is at most `t`.
///
/// `degrees` need not be whole (Welch–Satterthwaite); infinity gives the normal distribution.
pub fn student_t_cdf(t: f64, degrees: f64) -> f64 {
    if t.is_nan() || degrees.is_nan() || degrees <= 0.0 {
        f64::NAN
    } else if t > 0.0 {
        1.0 - student_t_tail(t, degrees)
    } else {
        student_t_tail(-t, degrees)
    }
}

/// The t that a variable with Student's t distribution stays below with probability `p`; 0.975 gives the
/// factor of a two-sided 95 % interval.
///
/// `degrees` need not be whole; infinity gives the normal quantile.
///
/// ```
/// # use numeric::distribution::student_t_quantile;
/// assert!((student_t_quantile(0.975, 5.0) - 2.57).abs() < 0.005); // JCGM 100:2008, table G.2
/// ```
pub fn student_t_quantile(p: f64, degrees: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) || degrees.is_nan() || degrees <= 0.0 {
        return f64::NAN;
    }
    let q = p - 0.5;
    let tail = if q < 0.0 { p } else { 1.0 - p };
    if tail == 0.0 {
        return f64::INFINITY.copysign(q);
    }
    if q == 0.0 {
        return 0.0;
    }
    if degrees == f64::INFINITY {
        return normal_quantile(p);
    }
    // Solve for ln t, in which both the central part and the tail are nearly straight. Near the centre the
    // distance from one half keeps the digits that the tail would lose.
    let miss = |ln_t: f64| {
        let t = libm::exp(ln_t);
        if tail > 0.25 {
            libm::log(0.5 * student_t_within(t, degrees)) - libm::log(q.abs())
        } else {
            libm::log(tail) - libm::log(student_t_tail(t, degrees))
        }
    };
    // The tails are heavier than the normal ones, so the normal quantile is a lower end.
    let low = libm::log(normal_quantile(p).abs()) - 1e-9;
    let mut high = low + 1.0;
    while miss(high) < 0.0 {
        high = low + 2.0 * (high - low);
        if high > libm::log(f64::MAX) {
            return f64::INFINITY.copysign(q);
        }
    }
    libm::exp(bracketed(miss, low, high, 0.0).x).copysign(q)
}

/// Probability that a chi-square variable is at most `x`.
pub fn chi_square_cdf(x: f64, degrees: f64) -> f64 {
    gamma_parts(0.5 * degrees, 0.5 * x).0
}

/// Probability that a chi-square variable is above `x`; keeps its digits where the other tail rounds to 1.
///
/// ```
/// # use numeric::distribution::chi_square_tail;
/// assert!((chi_square_tail(3.0, 2.0) - (-1.5_f64).exp()).abs() < 1e-15);
/// ```
pub fn chi_square_tail(x: f64, degrees: f64) -> f64 {
    gamma_parts(0.5 * degrees, 0.5 * x).1
}

/// P(T > t) for t ≥ 0: half the incomplete beta function `I_x(ν/2, 1/2)` at `x = ν/(ν + t²)`.
fn student_t_tail(t: f64, degrees: f64) -> f64 {
    if degrees == f64::INFINITY {
        return normal_cdf(-t);
    }
    let beta = BetaOfT::new(t, degrees);
    0.5 * if beta.tail_converges() { beta.tail() } else { 1.0 - beta.within() }
}

/// P(|T| < t) for t ≥ 0.
fn student_t_within(t: f64, degrees: f64) -> f64 {
    let beta = BetaOfT::new(t, degrees);
    if beta.tail_converges() { 1.0 - beta.tail() } else { beta.within() }
}

/// `x = ν/(ν + t²)`, `y = 1 − x`, `a = ν/2` and `front = xᵃ·√y / B(a, 1/2)`.
struct BetaOfT {
    a: f64,
    x: f64,
    y: f64,
    front: f64,
}

impl BetaOfT {
    fn new(t: f64, degrees: f64) -> Self {
        let a = 0.5 * degrees;
        let w = t / degrees.sqrt();
        // From 1e8 on, 1 + w² is w² to the last bit; its square may overflow.
        let (ln_x, root_y) = if w > 1e8 {
            (-2.0 * libm::log(w), 1.0)
        } else {
            (-libm::log1p(w * w), w / (1.0 + w * w).sqrt())
        };
        let front =
            if w == f64::INFINITY { 0.0 } else { libm::exp(a * ln_x) * root_y * inverse_beta_half(a) };
        Self { a, x: libm::exp(ln_x), y: root_y * root_y, front }
    }

    fn tail_converges(&self) -> bool {
        self.x < (self.a + 1.0) / (self.a + 2.5)
    }

    fn tail(&self) -> f64 {
        self.front / beta_fraction(self.a, 0.5, self.x, self.y)
    }

    fn within(&self) -> f64 {
        self.front / beta_fraction(0.5, self.a, self.y, self.x)
    }
}

/// `1 / B(a, 1/2) = Γ(a + 1/2) / (Γ(a)·√π)`.
///
/// Asymptotic series for large a, reached from below by `Γ(a + 1) = a·Γ(a)`: unlike differences of ln Γ it
/// keeps all digits. Source: the series of Γ(a + 1/2)/Γ(a), R. L. Graham, D. E. Knuth, O. Patashnik,
/// *Concrete Mathematics*, exercise 9.60 (from memory).
fn inverse_beta_half(mut a: f64) -> f64 {
    let mut factor = 1.0;
    while a < 40.0 {
        factor *= a / (a + 0.5);
        a += 1.0;
    }
    let series = [
        1.0,
        -1.0 / 8.0,
        1.0 / 128.0,
        5.0 / 1024.0,
        -21.0 / 32768.0,
        -399.0 / 262_144.0,
        869.0 / 4_194_304.0,
    ];
    factor * (a / std::f64::consts::PI).sqrt() * polynomial(&series, 1.0 / a)
}

/// `xᵃ·yᵇ / B(a, b)` over this is the incomplete beta function `I_x(a, b)`; `y = 1 − x` comes as its own
/// argument, because with many degrees of freedom it is too small to be left of a difference.
///
/// Source: A. R. DiDonato, A. H. Morris, *Significant digit computation of the incomplete beta function
/// ratios*, ACM TOMS 18 (1992), eq. 9 (from memory).
fn beta_fraction(a: f64, b: f64, x: f64, y: f64) -> f64 {
    let slope = a * y - b * x;
    let mut fraction = Lentz::new(a * (slope + 1.0) / (a + 1.0));
    for m in 1..MOST_TERMS {
        let m = f64::from(m);
        let wide = a + 2.0 * m;
        let top = m * (a + m - 1.0) * (b - m) * (a + b + m - 1.0) * (x / (wide - 1.0)) * (x / (wide - 1.0));
        let below =
            m + m * (b - m) * x / (wide - 1.0) + (a + m) * (slope + 1.0 + m * (1.0 + y)) / (wide + 1.0);
        if fraction.step(top, below) {
            break;
        }
    }
    fraction.value
}

/// Lower and upper part of the incomplete gamma function, P(a, x) and Q(a, x), each accurate where it is
/// small.
fn gamma_parts(a: f64, x: f64) -> (f64, f64) {
    if a.is_nan() || x.is_nan() || a <= 0.0 || a == f64::INFINITY || x < 0.0 {
        return (f64::NAN, f64::NAN);
    }
    if x == 0.0 || x == f64::INFINITY {
        return if x == 0.0 { (0.0, 1.0) } else { (1.0, 0.0) };
    }
    let front = gamma_front(a, x);
    if x < a + 1.0 {
        // Series, DLMF 8.7.1 (from memory).
        let (mut term, mut sum) = (1.0, 1.0);
        for n in 1..MOST_TERMS {
            term *= x / (a + f64::from(n));
            sum += term;
            if term < sum * 0.25 * f64::EPSILON {
                break;
            }
        }
        let lower = (front * sum).min(1.0);
        (lower, 1.0 - lower)
    } else {
        // Continued fraction, DLMF 8.9.2 (from memory), in its even form.
        let mut fraction = Lentz::new(x + 1.0 - a);
        for n in 1..MOST_TERMS {
            let n = f64::from(n);
            if fraction.step(-n * (n - a), x + 2.0 * n + 1.0 - a) {
                break;
            }
        }
        let upper = (front * a / fraction.value).min(1.0);
        (1.0 - upper, upper)
    }
}

/// `xᵃ·e⁻ˣ / Γ(a + 1)` without the cancellation between its large logarithms.
///
/// Source: C. Loader, *Fast and accurate computation of binomial probabilities*, 2000 (from memory).
fn gamma_front(a: f64, x: f64) -> f64 {
    if a < 15.0 {
        return libm::exp(a * libm::log(x) - x - libm::lgamma(a + 1.0));
    }
    let u = (x - a) / a;
    let deviance = if u.abs() < 0.5 { a * (libm::log1p(u) - u) } else { a * libm::log(x / a) - (x - a) };
    let s = 1.0 / (a * a);
    let stirling = polynomial(&[1.0 / 12.0, -1.0 / 360.0, 1.0 / 1260.0, -1.0 / 1680.0, 1.0 / 1188.0], s) / a;
    libm::exp(deviance - stirling) / (2.0 * std::f64::consts::PI * a).sqrt()
}

/// Enough for every argument that converges; a limit all the same, so that nothing runs for ever.
const MOST_TERMS: u32 = 100_000;

/// A continued fraction `b₀ + a₁/(b₁ + a₂/(b₂ + …))`, evaluated from the front (modified Lentz).
struct Lentz {
    value: f64,
    c: f64,
    d: f64,
}

impl Lentz {
    fn new(first: f64) -> Self {
        let value = away_from_zero(first);
        Self { value, c: value, d: 0.0 }
    }

    /// Takes in the next `a/(b + …)`; true when it changed nothing any more.
    fn step(&mut self, a: f64, b: f64) -> bool {
        self.d = 1.0 / away_from_zero(b + a * self.d);
        self.c = away_from_zero(b + a / self.c);
        let factor = self.c * self.d;
        self.value *= factor;
        (factor - 1.0).abs() <= f64::EPSILON
    }
}

fn away_from_zero(x: f64) -> f64 {
    if x.abs() < 1e-300 { 1e-300 } else { x }
}

/// Lowest power first.
fn polynomial(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

// Coefficients of AS 241, as printed there.
const CENTRE_TOP: [f64; 8] = [
    3.387_132_872_796_366_6,
    133.141_667_891_784_38,
    1_971.590_950_306_551_3,
    13_731.693_765_509_46,
    45_921.953_931_549_87,
    67_265.770_927_008_7,
    33_430.575_583_588_13,
    2_509.080_928_730_122_7,
];
const CENTRE_BOTTOM: [f64; 8] = [
    1.0,
    42.313_330_701_600_91,
    687.187_007_492_057_9,
    5_394.196_021_424_751,
    21_213.794_301_586_597,
    39_307.895_800_092_71,
    28_729.085_735_721_943,
    5_226.495_278_852_854,
];
const MIDDLE_TOP: [f64; 8] = [
    1.423_437_110_749_683_5,
    4.630_337_846_156_546,
    5.769_497_221_460_691,
    3.647_848_324_763_204_5,
    1.270_458_252_452_368_4,
    0.241_780_725_177_450_6,
    0.022_723_844_989_269_184,
    7.745_450_142_783_414e-4,
];
const MIDDLE_BOTTOM: [f64; 8] = [
    1.0,
    2.053_191_626_637_759,
    1.676_384_830_183_803_8,
    0.689_767_334_985_1,
    0.148_103_976_427_480_08,
    0.015_198_666_563_616_457,
    5.475_938_084_995_345e-4,
    1.050_750_071_644_416_9e-9,
];
const FAR_TOP: [f64; 8] = [
    6.657_904_643_501_103,
    5.463_784_911_164_114,
    1.784_826_539_917_291_3,
    0.296_560_571_828_504_87,
    0.026_532_189_526_576_124,
    1.242_660_947_388_078_4e-3,
    2.711_555_568_743_487_6e-5,
    2.010_334_399_292_288_1e-7,
];
const FAR_BOTTOM: [f64; 8] = [
    1.0,
    0.599_832_206_555_888,
    0.136_929_880_922_735_8,
    0.014_875_361_290_850_615,
    7.868_691_311_456_133e-4,
    1.846_318_317_510_054_7e-5,
    1.421_511_758_316_446e-7,
    2.044_263_103_389_939_8e-15,
];

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative error, against the distance that one rounding of the argument alone would make where that is
    /// larger.
    fn assert_close(name: &str, got: f64, want: f64, tolerance: f64) {
        assert!((got - want).abs() <= tolerance * want.abs(), "{name}: {got:e}, want {want:e}");
    }

    // The numbers with many digits were computed with mpmath 1.3 at 40 digits, from the incomplete beta and
    // gamma functions.

    #[test]
    fn normal_matches_forty_digit_arithmetic() {
        for (z, want, tolerance) in [
            (0.0, 0.5, 0.0),
            (-1.0, 0.158_655_253_931_457_05, 1e-15),
            (2.5, 0.993_790_334_674_224, 1e-15),
            (-8.0, 6.220_960_574_271_784e-16, 1e-14),
            // The error grows with z², by the rounding of z/√2.
            (-20.0, 2.753_624_118_606_233_7e-89, 1e-13),
            (-37.0, 5.725_571_222_524_577e-300, 4e-13),
        ] {
            assert_close(&format!("cdf at {z}"), normal_cdf(z), want, tolerance);
        }
        for (p, want) in [
            (0.5, 0.0),
            (0.6, 0.253_347_103_135_799_7),
            (0.1, -1.281_551_565_544_600_4),
            (0.02425, -1.972_961_051_311_884_8),
            (1e-10, -6.361_340_902_404_056),
            (1e-100, -21.273_453_560_965_324),
            (1e-300, -37.047_096_299_361_2),
        ] {
            assert_close(&format!("quantile of {p}"), normal_quantile(p), want, 1e-15);
        }
    }

    #[test]
    fn student_t_matches_closed_forms() {
        use std::f64::consts::PI;
        for k in -60..=60 {
            let t = 0.25 * f64::from(k);
            let s = t * t;
            let closed = [
                (1.0, 0.5 + libm::atan(t) / PI),
                (2.0, 0.5 + 0.5 * t / (2.0 + s).sqrt()),
                (3.0, 0.5 + (t / (3.0_f64.sqrt() * (1.0 + s / 3.0)) + libm::atan(t / 3.0_f64.sqrt())) / PI),
                (4.0, 0.5 + 0.5 * t * (s + 6.0) / libm::pow(s + 4.0, 1.5)),
            ];
            for (degrees, want) in closed {
                let got = student_t_cdf(t, degrees);
                // The closed forms cancel in the lower tail, so this is absolute; the tails are checked
                // below.
                assert!((got - want).abs() < 4e-15, "t = {t}, {degrees} degrees: {got}, want {want}");
            }
        }
    }

    #[test]
    fn student_t_matches_forty_digit_arithmetic() {
        for (t, degrees, want) in [
            (0.3, 0.5, 0.577_570_423_934_754_6),
            (-2.5, 16.7, 0.011_577_941_626_226_86),
            (1.96, 1000.0, 0.974_863_407_522_125_6),
            (-4.0, 1e6, 3.167_351_700_502_405e-5),
            (-40.0, 3.5, 4.383_220_554_686_51e-6),
            (1e-3, 25.0, 0.500_394_973_721_174_3),
            (-8.0, 60.0, 2.450_132_573_975_101_7e-11),
            (-1.2, 1e9, 0.115_069_670_363_852_46),
        ] {
            assert_close(&format!("cdf at {t} with {degrees}"), student_t_cdf(t, degrees), want, 2e-14);
        }
        for (p, degrees, want) in [
            (0.975, 0.7, 36.611_415_031_588_65),
            (0.9999, 3.3, 18.209_710_567_820_92),
            (0.6, 12.5, 0.258_802_877_369_250_8),
            (0.95, 400.0, 1.648_671_941_465_414),
            (0.975, f64::INFINITY, 1.959_963_984_540_054),
        ] {
            assert_close(
                &format!("quantile of {p} with {degrees}"),
                student_t_quantile(p, degrees),
                want,
                2e-14,
            );
        }
    }

    #[test]
    fn student_t_quantile_inverts_the_distribution() {
        for degrees in [0.3, 1.0, 2.0, 5.0, 17.3, 120.0, 1e5, 1e12] {
            for p in [1e-12, 1e-4, 0.1, 0.3, 0.4999, 0.500_000_1, 0.8, 0.975, 0.9999] {
                let t = student_t_quantile(p, degrees);
                assert_close(&format!("p = {p}, {degrees} degrees"), student_t_cdf(t, degrees), p, 5e-14);
                let mirrored = student_t_quantile(1.0 - p, degrees);
                assert!(p < 1e-3 || (t + mirrored).abs() <= 1e-9 * t.abs(), "p = {p}: {t} and {mirrored}");
            }
        }
    }

    #[test]
    fn chi_square_matches_closed_forms_and_forty_digit_arithmetic() {
        for (x, degrees, want) in [
            (0.01, 1.0, 0.920_344_325_445_942),
            (40.0, 3.0, 1.065_509_033_425_586e-8),
            (18.3, 10.0, 0.050_109_061_411_462_46),
            (3.7, 2.5, 0.223_300_850_324_692_66),
            (25.0, 29.0, 0.678_247_474_041_691),
            (35.0, 31.0, 0.283_801_387_394_100_25),
            (900.0, 1000.0, 0.989_282_761_908_710_3),
            (1300.0, 1000.0, 3.889_736_499_486_852_5e-10),
            (100_500.0, 100_000.0, 0.131_854_811_603_383_78),
            (2_000_000.0, 2_001_000.0, 0.691_330_451_899_997_6),
        ] {
            assert_close(&format!("tail at {x} with {degrees}"), chi_square_tail(x, degrees), want, 1e-12);
            assert_close(
                &format!("cdf at {x} with {degrees}"),
                chi_square_cdf(x, degrees),
                1.0 - want,
                1e-12,
            );
        }
        for k in 1..400 {
            let x = 0.25 * f64::from(k);
            assert_close("2 degrees", chi_square_tail(x, 2.0), libm::exp(-0.5 * x), 1e-13);
            assert_close("4 degrees", chi_square_tail(x, 4.0), libm::exp(-0.5 * x) * (1.0 + 0.5 * x), 1e-13);
            assert_close("1 degree", chi_square_tail(x, 1.0), libm::erfc((0.5 * x).sqrt()), 1e-13);
        }
    }

    #[test]
    fn outside_the_domain_there_is_no_number() {
        for value in [
            normal_quantile(-0.1),
            normal_quantile(f64::NAN),
            student_t_cdf(1.0, 0.0),
            student_t_cdf(f64::NAN, 3.0),
            student_t_quantile(1.1, 3.0),
            student_t_quantile(0.9, -1.0),
            chi_square_cdf(-1.0, 2.0),
            chi_square_tail(1.0, 0.0),
            chi_square_tail(1.0, f64::INFINITY),
        ] {
            assert!(value.is_nan());
        }
        assert_eq!(normal_quantile(0.0), f64::NEG_INFINITY);
        assert_eq!(student_t_quantile(1.0, 4.0), f64::INFINITY);
        assert_eq!(student_t_quantile(0.5, 4.0), 0.0);
        assert_eq!(student_t_cdf(f64::INFINITY, 4.0), 1.0);
        assert_eq!(student_t_cdf(f64::NEG_INFINITY, 4.0), 0.0);
        assert_eq!(chi_square_tail(0.0, 4.0), 1.0);
        assert_eq!(chi_square_cdf(f64::INFINITY, 4.0), 1.0);
        // Heavier tails than any number can hold.
        assert_eq!(student_t_quantile(1.0 - 1e-10, 0.01), f64::INFINITY);
    }
}

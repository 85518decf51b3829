//! Zero and gain of a sensor, from logs beside reference readings.
//!
//! ```text
//! reading = zero + gain·reference        true value = (reading − zero)/gain
//! ```
//!
//! A straight line through points that are uncertain both ways ([`numeric::straight`]): the reference by its own statement,
//! the mean of a log by the scatter between its blocks and by what the step q of its codes hides, a typed reading by its own
//! statement. Noise of deviation σ before rounding leaves in the mean an error that depends on where in a code the value
//! lies; over all places its effective value is
//!
//! ```text
//! u² = Σ q²/(2·π²·n²)·e^(−(2·π·n·σ/q)²)        q²/12 without noise, nothing from σ ≈ q/2 on
//! ```
//!
//! Source: B. Widrow and I. Kollár, *Quantization Noise*, Cambridge 2008 (from memory); the series is that of the sawtooth
//! that rounding adds, each term damped by the noise.

use crate::record::{Sensor, Unusable};
use numeric::straight::{self, Line, Point, Status};

/// A log at a steady value, beside what a reference read.
#[derive(Clone, Copy, Debug)]
pub struct Beside<'a> {
    /// What the sensor read, in its unit.
    pub log: &'a [f64],
    /// What the reference read, in the same unit; zero where nothing can flow.
    pub reference: f64,
    /// Standard uncertainty of that.
    pub uncertainty: f64,
}

/// Zero and gain.
#[derive(Clone, Debug)]
pub struct Calibration {
    /// The line: intercept and slope are zero and gain.
    pub line: Line,
    /// The points that it goes through, in the order given.
    pub points: Vec<AtPoint>,
    /// Deviation of the readings of a log about their mean: the noise of the sensor; none without a log.
    pub noise: Option<f64>,
    /// Whether the points lie on a line within what they are uncertain by; none with two points.
    pub is_line: Option<bool>,
    /// How the errors of the references hang together.
    pub references: References,
    pulls: Vec<Pull>,
}

/// How the errors of the references hang together.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum References {
    /// One instrument read them all: they may be off together.
    Together,
    /// They have nothing to do with one another.
    Independent,
}

/// Standard uncertainty in its parts.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Parts {
    /// By the readings: more of them make it smaller.
    pub sampling: f64,
    /// By the references.
    pub systematic: f64,
}

impl Parts {
    /// Both together.
    pub fn total(self) -> f64 {
        libm::hypot(self.sampling, self.systematic)
    }
}

/// How one point moves zero and gain.
#[derive(Clone, Copy, Debug)]
struct Pull {
    zero: f64,
    gain: f64,
    point: Point,
}

/// One point.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct AtPoint {
    /// Mean of the log.
    pub mean: f64,
    /// Its standard uncertainty.
    pub uncertainty: f64,
    /// The mean, made right by zero and gain.
    pub corrected: f64,
    /// Standard uncertainty that zero and gain leave in it.
    pub corrected_uncertainty: f64,
    /// Distance from the line in deviations.
    pub residual: f64,
}

/// Blocks that the scatter of a mean is told from: long ones, as noise may be slow.
const BLOCKS: usize = 20;
/// Terms of the sawtooth: the hundredth is 1e-4 of the first.
const TERMS: i32 = 100;
/// Standard uncertainties that a gain lies from zero at least.
const LEAST_GAIN: f64 = 4.0;
/// Probability of a scatter below which points are no line.
const IMPROBABLE: f64 = 0.01;

impl Calibration {
    /// The value behind a reading, with the standard uncertainty that zero and gain leave in it.
    pub fn correct(&self, reading: f64) -> (f64, Parts) {
        let value = (reading - self.line.intercept) / self.line.slope;
        (value, self.parts(|pull| (pull.zero + value * pull.gain) / self.line.slope))
    }

    /// Uncertainty of the zero.
    pub fn zero(&self) -> Parts {
        self.parts(|pull| pull.zero)
    }

    /// Uncertainty of the gain.
    pub fn gain(&self) -> Parts {
        self.parts(|pull| pull.gain)
    }

    /// Correlation of zero and gain, by the readings and references as if they were all independent.
    pub fn correlation(&self) -> f64 {
        self.line.covariance / (self.line.intercept_deviation * self.line.slope_deviation)
    }

    /// What is known of a sensor whose readings were made right by this.
    pub fn sensor(&self) -> Sensor {
        let slope = self.line.slope.abs();
        let noise = self.noise.map(|noise| noise / slope);
        Sensor { gain: self.gain().total() / slope, offset: self.zero().total() / slope, noise }
    }

    /// What the points make uncertain of something that each of them pulls by so much a unit of its reading.
    fn parts(&self, of: impl Fn(&Pull) -> f64) -> Parts {
        let squares = |deviation: fn(&Point) -> f64| {
            let part = |pull: &Pull| of(pull) * deviation(&pull.point);
            self.pulls.iter().map(|pull| part(pull) * part(pull)).sum::<f64>().sqrt()
        };
        let systematic = match self.references {
            References::Independent => squares(|point| point.x_deviation),
            References::Together => {
                self.pulls.iter().map(|pull| (of(pull) * pull.point.x_deviation).abs()).sum()
            }
        };
        Parts { sampling: squares(|point| point.y_deviation), systematic: self.line.slope.abs() * systematic }
    }
}

/// Fits zero and gain to logs beside references. `step` is that of the codes, in the unit of the readings; 0 where there are
/// none.
///
/// # Errors
/// Fewer than two points, logs of fewer than two rows, values that are no numbers, a sensor that does not follow the
/// reference.
pub fn calibrate(beside: &[Beside<'_>], step: f64, references: References) -> Result<Calibration, Unusable> {
    if beside.len() < 2 {
        return Err(Unusable::Few { what: "reference readings", found: beside.len(), least: 2 });
    }
    let mut readings = Vec::with_capacity(beside.len());
    for (k, one) in beside.iter().enumerate() {
        check(k + 1, one)?;
        readings.push(Reading::of_log(one.log, step));
    }
    let points: Vec<(Reading, f64, f64)> =
        beside.iter().zip(readings).map(|(one, reading)| (reading, one.reference, one.uncertainty)).collect();
    through(&points, references)
}

/// A reading of the sensor, with what is not known of it.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Reading {
    /// The reading, or the mean of a log.
    pub mean: f64,
    /// Its standard uncertainty.
    pub uncertainty: f64,
    /// Sum of the squares about the mean, and how many they are freely; none of a reading that was typed.
    pub scatter: Option<(f64, usize)>,
}

impl Reading {
    /// The mean of a log of two finite values at least.
    pub fn of_log(log: &[f64], step: f64) -> Self {
        let n = log.len();
        let mean = log.iter().sum::<f64>() / n as f64;
        let squares: f64 = log.iter().map(|x| (x - mean) * (x - mean)).sum();
        let hidden = hidden_by_codes(step, squares / (n - 1) as f64);
        let uncertainty = libm::hypot(mean_deviation(log, mean), hidden);
        Self { mean, uncertainty, scatter: Some((squares, n - 1)) }
    }
}

/// Fits zero and gain to readings, each beside its reference and the standard uncertainty of that.
///
/// # Errors
/// Fewer than two points, values that are no numbers, a point without any uncertainty, a sensor that does not follow the
/// reference.
pub fn through(beside: &[(Reading, f64, f64)], references: References) -> Result<Calibration, Unusable> {
    if beside.len() < 2 {
        return Err(Unusable::Few { what: "reference readings", found: beside.len(), least: 2 });
    }
    let mut points = Vec::with_capacity(beside.len());
    for (reading, x, x_deviation) in beside.iter().copied() {
        let (y, y_deviation) = (reading.mean, reading.uncertainty);
        if let Some(value) = [x, y, x_deviation, y_deviation].into_iter().find(|value| !value.is_finite()) {
            return Err(Unusable::Figure { what: "reading of a calibration", value, must: "a number" });
        }
        if y_deviation == 0.0 && x_deviation == 0.0 {
            let what = "uncertainty of a reference reading beside a log that does not vary";
            return Err(Unusable::Figure { what, value: 0.0, must: "above zero" });
        }
        points.push(Point { x, y, x_deviation, y_deviation });
    }
    let follows = Unusable::Missing("reading that follows the reference");
    let Ok(line) = straight::fit(&points) else { return Err(follows) };
    match line.status {
        Status::NotDetermined => {
            return Err(Unusable::Missing("reference reading that differs from the others"));
        }
        Status::NotSettled => return Err(follows),
        Status::Determined => {}
    }
    // A gain that may as well be zero corrects nothing. Written so that one that is no number does not pass.
    let is_gain = line.slope.abs() > LEAST_GAIN * line.slope_deviation;
    if !is_gain {
        return Err(follows);
    }
    let scatter = beside.iter().filter_map(|(reading, ..)| reading.scatter);
    let (squares, free) = scatter.fold((0.0, 0), |(squares, free), of| (squares + of.0, free + of.1));
    let is_line = line.goodness_of_fit().map(|probability| probability > IMPROBABLE);
    let mut calibration = Calibration {
        points: Vec::new(),
        noise: (free > 0).then(|| (squares / free as f64).sqrt()),
        is_line,
        references,
        pulls: pulls(&points, &line),
        line,
    };
    calibration.points = points
        .iter()
        .zip(&calibration.line.residuals)
        .map(|(point, residual)| {
            let (corrected, parts) = calibration.correct(point.y);
            AtPoint {
                mean: point.y,
                uncertainty: point.y_deviation,
                corrected,
                corrected_uncertainty: parts.total(),
                residual: *residual,
            }
        })
        .collect();
    Ok(calibration)
}

/// How each point moves zero and gain, at the weights that the line ended with and the points of it that belong to them.
fn pulls(points: &[Point], line: &Line) -> Vec<Pull> {
    let weighted: Vec<(f64, f64)> = points
        .iter()
        .map(|point| {
            let along = line.slope * point.x_deviation;
            let variance = along * along + point.y_deviation * point.y_deviation;
            let off = point.y - line.intercept - line.slope * point.x;
            let adjusted = point.x + off * line.slope * point.x_deviation * point.x_deviation / variance;
            (1.0 / variance, adjusted)
        })
        .collect();
    let all: f64 = weighted.iter().map(|(weight, _)| weight).sum();
    let middle = weighted.iter().map(|(weight, x)| weight * x).sum::<f64>() / all;
    let spread: f64 = weighted.iter().map(|(weight, x)| weight * (x - middle) * (x - middle)).sum();
    weighted
        .iter()
        .zip(points)
        .map(|((weight, x), point)| {
            let gain = weight * (x - middle) / spread;
            Pull { zero: weight / all - middle * gain, gain, point: *point }
        })
        .collect()
}

fn check(record: usize, one: &Beside<'_>) -> Result<(), Unusable> {
    let rows = one.log.len();
    if rows < 2 {
        return Err(Unusable::Short { record, rows, least: 2 });
    }
    if let Some(&value) = one.log.iter().chain([&one.reference]).find(|x| !x.is_finite()) {
        return Err(Unusable::Figure { what: "reading of a calibration", value, must: "a number" });
    }
    if !(one.uncertainty >= 0.0 && one.uncertainty.is_finite()) {
        let (what, value) = ("uncertainty of a reference reading", one.uncertainty);
        return Err(Unusable::Figure { what, value, must: "zero or more" });
    }
    Ok(())
}

/// Standard uncertainty of a mean by the scatter of the means of blocks.
fn mean_deviation(log: &[f64], mean: f64) -> f64 {
    let size = log.len().div_ceil(BLOCKS);
    let blocks = log.chunks_exact(size).map(|b| b.iter().sum::<f64>() / size as f64 - mean);
    let (squares, n) = blocks.fold((0.0, 0.0), |(squares, n), off| (squares + off * off, n + 1.0));
    (squares / (n * (n - 1.0))).sqrt()
}

/// Effective error of the mean of readings that are rounded to codes, by their variance after rounding.
fn hidden_by_codes(step: f64, variance: f64) -> f64 {
    if step <= 0.0 {
        return 0.0;
    }
    let within_code = step * step / 12.0;
    // Rounding adds the variance of a code to that of the noise.
    let noise = (variance - within_code).max(0.0).sqrt() / step;
    if noise == 0.0 {
        return within_code.sqrt();
    }
    let term = |n: i32| {
        let by = std::f64::consts::PI * f64::from(n);
        let damped = 2.0 * by * noise;
        step * step / (2.0 * by * by) * libm::exp(-damped * damped)
    };
    (1..=TERMS).map(term).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use worked::Stream;

    /// A sensor with a zero of 0.037 and a gain of 1.021, codes of 4.5 mA.
    fn log(value: f64, noise: f64, seed: u64) -> Vec<f64> {
        let stream = Stream::new(seed, "log");
        (0..200).map(|k| ((0.037 + 1.021 * value + noise * stream.normal(k)) / STEP).round() * STEP).collect()
    }

    const STEP: f64 = 4.5e-3;

    fn calibrated(seed: u64, noise: f64, bend: f64) -> Calibration {
        let meter = Stream::new(seed, "meter");
        let points: Vec<(Vec<f64>, f64)> = [0.0, -2.0, -1.0, 1.0, 2.0]
            .into_iter()
            .enumerate()
            .map(|(k, asked): (usize, f64)| {
                // Nobody sets a current to the last digit.
                let value = if asked == 0.0 { 0.0 } else { asked + 0.1 * meter.uniform(10 + k as u64) };
                let reads = if asked == 0.0 { 0.0 } else { value + 2e-3 * meter.normal(k as u64) };
                (log(value + bend * value * value, noise, 10 * seed + k as u64), reads)
            })
            .collect();
        let beside: Vec<Beside<'_>> = points
            .iter()
            .map(|(log, reference)| Beside {
                log,
                reference: *reference,
                uncertainty: if *reference == 0.0 { 0.0 } else { 2e-3 },
            })
            .collect();
        calibrate(&beside, STEP, References::Independent).unwrap()
    }

    /// Intervals of 95 % hold the gain in 95 % of 1,000 sensors, within three deviations and a half of chance, whether the
    /// noise shows the codes or drowns in them. The zero has always the same place in its code, so it is told from there
    /// only where the noise is lively.
    #[test]
    fn zero_and_gain_come_back_within_what_is_said() {
        for noise in [3e-3, 3e-4] {
            let mut held = [0; 2];
            for seed in 0..1000 {
                let line = calibrated(seed, noise, 0.0).line;
                held[0] += usize::from((line.intercept - 0.037).abs() <= 1.96 * line.intercept_deviation);
                held[1] += usize::from((line.slope - 1.021).abs() <= 1.96 * line.slope_deviation);
            }
            assert!((926..=974).contains(&held[1]), "{held:?} of 1000 at {noise}");
            assert!(held[0] >= 926, "{held:?} of 1000 at {noise}");
        }
    }

    #[test]
    fn a_reading_is_made_right() {
        let found = calibrated(1, 3e-3, 0.0);
        // Noise of the sensor and of its codes: √(3² + 4.5²/12) mA.
        let noise = found.noise.unwrap();
        assert!((noise / 3.27e-3 - 1.0).abs() < 0.1, "{noise}");
        let (value, parts) = found.correct(0.037 + 1.021 * 1.5);
        let uncertainty = parts.total();
        assert!((value - 1.5).abs() < 4.0 * uncertainty && uncertainty < 2e-3, "{value} ± {uncertainty}");
        assert_eq!(found.is_line, Some(true));
        assert!(found.points.iter().all(|p| p.residual.abs() < 4.0));
        assert!((found.sensor().gain - found.line.slope_deviation / found.line.slope).abs() < 1e-15);
    }

    /// Means of 10,000 rounded readings at places all over a code, against the series. The noise is that before rounding.
    #[test]
    fn codes_hide_what_the_series_says() {
        for noise in [0.0, 0.2, 0.3] {
            let stream = Stream::new(7, "codes");
            let mut squares = 0.0;
            for place in 0..100u64 {
                let value = (place as f64 + 0.5) / 100.0;
                let mean = |k: u64| (value + noise * stream.normal(10_000 * place + k)).round();
                let off = (0..10_000).map(mean).sum::<f64>() / 1e4 - value;
                squares += off * off;
            }
            // What is left of the noise in a mean of so many is taken off.
            let seen = (squares / 100.0 - (noise * noise + 1.0 / 12.0 * f64::from(noise > 0.0)) / 1e4)
                .max(0.0)
                .sqrt();
            let said = hidden_by_codes(1.0, noise * noise + 1.0 / 12.0 * f64::from(noise > 0.0));
            assert!((seen - said).abs() < 0.005, "{seen} {said} at {noise}");
        }
    }

    /// Two percent of a square at 2 A: no line any more.
    #[test]
    fn a_bent_sensor_is_no_line() {
        assert_eq!(calibrated(1, 3e-3, 0.01).is_line, Some(false));
    }

    #[test]
    fn what_cannot_be_calibrated_is_said() {
        let log = [1.0, 1.1, 0.9];
        let point = |reference: f64| Beside { log: &log, reference, uncertainty: 0.1 };
        let refused =
            |points: &[Beside<'_>]| calibrate(points, 0.0, References::Together).unwrap_err().to_string();
        assert_eq!(refused(&[point(1.0)]), "1 reference readings are usable, and 2 are needed at least");
        assert_eq!(
            refused(&[point(1.0), point(1.0)]),
            "no record has a reference reading that differs from the others"
        );
        assert_eq!(
            refused(&[point(1.0), point(f64::NAN)]),
            "the reading of a calibration is NaN, and must be a number"
        );
        // The same log beside 1 A and 2 A.
        assert_eq!(refused(&[point(1.0), point(2.0)]), "no record has a reading that follows the reference");
        let still = [1.0; 5];
        let exact = |reference: f64| Beside { log: &still, reference, uncertainty: 0.0 };
        assert_eq!(
            refused(&[exact(1.0), exact(2.0)]),
            "the uncertainty of a reference reading beside a log that does not vary is 0, and must be above zero"
        );
    }
}

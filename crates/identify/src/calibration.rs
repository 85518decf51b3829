//! Zero and gain of a sensor, from logs beside reference readings.
//!
//! ```text
//! reading = zero + gain·reference        true value = (reading − zero)/gain
//! ```
//!
//! A straight line through points that are uncertain both ways ([`numeric::straight`]): the reference by its own statement,
//! the mean of a log by the scatter between its blocks and by the step of its codes.

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
    /// Deviation of the readings of a log about their mean: the noise of the sensor.
    pub noise: f64,
    /// Whether the points lie on a line within what they are uncertain by; none with two points.
    pub is_line: Option<bool>,
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
/// Probability of a scatter below which points are no line.
const IMPROBABLE: f64 = 0.01;

impl Calibration {
    /// The value behind a reading, with the standard uncertainty that zero and gain leave in it.
    pub fn correct(&self, reading: f64) -> (f64, f64) {
        let line = &self.line;
        let value = (reading - line.intercept) / line.slope;
        (value, line.at(value).1 / line.slope.abs())
    }

    /// What is known of a sensor whose readings were made right by this.
    pub fn sensor(&self) -> Sensor {
        let gain = self.line.slope_deviation / self.line.slope.abs();
        let offset = self.line.intercept_deviation / self.line.slope.abs();
        Sensor { gain, offset, noise: Some(self.noise / self.line.slope.abs()) }
    }
}

/// Fits zero and gain. `step` is that of the codes, in the unit of the readings; 0 where there are none.
///
/// # Errors
/// Fewer than two points, logs without a row, values that are no numbers.
pub fn calibrate(beside: &[Beside<'_>], step: f64) -> Result<Calibration, Unusable> {
    if beside.len() < 2 {
        return Err(Unusable::Short { record: 1, rows: beside.len(), least: 2 });
    }
    let mut scatter = (0.0, 0usize);
    let points: Vec<Point> = beside
        .iter()
        .enumerate()
        .map(|(k, point)| {
            let n = point.log.len();
            if n < 2 {
                return Err(Unusable::Short { record: k + 1, rows: n, least: 2 });
            }
            let mean = point.log.iter().sum::<f64>() / n as f64;
            let squares: f64 = point.log.iter().map(|x| (x - mean) * (x - mean)).sum();
            scatter = (scatter.0 + squares, scatter.1 + n - 1);
            // Where all readings are one code, nobody knows where within it the value lies.
            let within_code = step / 12.0_f64.sqrt();
            let hidden = if squares == 0.0 { within_code } else { 0.0 };
            let deviation =
                libm::hypot(mean_deviation(point.log, mean), hidden).max(f64::MIN_POSITIVE.sqrt());
            Ok(Point { x: point.reference, y: mean, x_deviation: point.uncertainty, y_deviation: deviation })
        })
        .collect::<Result<_, _>>()?;
    let line = straight::fit(&points).map_err(|_| Unusable::Figure {
        what: "reading or its uncertainty",
        value: f64::NAN,
        must: "a number",
    })?;
    if line.status != Status::Determined {
        return Err(Unusable::Missing("reference reading that differs from the others"));
    }
    let is_line = line.goodness_of_fit().map(|probability| probability > IMPROBABLE);
    let mut calibration =
        Calibration { points: Vec::new(), noise: (scatter.0 / scatter.1 as f64).sqrt(), is_line, line };
    calibration.points = points
        .iter()
        .zip(&calibration.line.residuals)
        .map(|(point, residual)| {
            let (corrected, corrected_uncertainty) = calibration.correct(point.y);
            let (mean, uncertainty) = (point.y, point.y_deviation);
            AtPoint { mean, uncertainty, corrected, corrected_uncertainty, residual: *residual }
        })
        .collect();
    Ok(calibration)
}

/// Standard uncertainty of a mean by the scatter of the means of blocks.
fn mean_deviation(log: &[f64], mean: f64) -> f64 {
    let size = log.len().div_ceil(BLOCKS);
    let blocks: Vec<f64> =
        log.chunks(size).filter(|b| b.len() == size).map(|b| b.iter().sum::<f64>() / size as f64).collect();
    let n = blocks.len() as f64;
    if n < 2.0 {
        return 0.0;
    }
    (blocks.iter().map(|b| (b - mean) * (b - mean)).sum::<f64>() / (n * (n - 1.0))).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use worked::Stream;

    /// A sensor with a zero of 0.037 and a gain of 1.021, codes of 4.5 mA, 3 mA of noise.
    fn log(value: f64, seed: u64) -> Vec<f64> {
        let noise = Stream::new(seed, "log");
        (0..1000)
            .map(|k| ((0.037 + 1.021 * value + 3e-3 * noise.normal(k)) / 4.5e-3).round() * 4.5e-3)
            .collect()
    }

    fn calibrated(seed: u64, bend: f64) -> Calibration {
        let meter = Stream::new(seed, "meter");
        let points: Vec<(Vec<f64>, f64)> = [0.0, -2.0, -1.0, 1.0, 2.0]
            .into_iter()
            .enumerate()
            .map(|(k, value): (usize, f64)| {
                let reads = if value == 0.0 { 0.0 } else { value + 2e-3 * meter.normal(k as u64) };
                (log(value + bend * value * value, 10 * seed + k as u64), reads)
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
        calibrate(&beside, 4.5e-3).unwrap()
    }

    /// 200 sensors: intervals of 95 % hold zero and gain in 95 %, within chance.
    #[test]
    fn zero_and_gain_come_back_within_what_is_said() {
        let mut held = [0; 2];
        for seed in 0..200 {
            let found = calibrated(seed, 0.0);
            let line = &found.line;
            held[0] += usize::from((line.intercept - 0.037).abs() <= 1.96 * line.intercept_deviation);
            held[1] += usize::from((line.slope - 1.021).abs() <= 1.96 * line.slope_deviation);
        }
        assert!(held.iter().all(|held| (175..=200).contains(held)), "{held:?}");
        let found = calibrated(1, 0.0);
        // Noise of the sensor and of its codes: √(3² + 4.5²/12) mA.
        assert!((found.noise / 3.27e-3 - 1.0).abs() < 0.1, "{}", found.noise);
        let (value, uncertainty) = found.correct(0.037 + 1.021 * 1.5);
        assert!((value - 1.5).abs() < 4.0 * uncertainty && uncertainty < 2e-3, "{value} ± {uncertainty}");
        assert_eq!(found.is_line, Some(true));
        assert!(found.points.iter().all(|p| p.residual.abs() < 4.0));
        assert!((found.sensor().gain - found.line.slope_deviation / found.line.slope).abs() < 1e-15);
    }

    /// Two percent of a square at 2 A: no line any more.
    #[test]
    fn a_bent_sensor_is_no_line() {
        assert_eq!(calibrated(1, 0.01).is_line, Some(false));
    }

    #[test]
    fn what_cannot_be_calibrated_is_said() {
        let log = [1.0, 1.1, 0.9];
        let point = |reference: f64| Beside { log: &log, reference, uncertainty: 0.1 };
        let refused = |points: &[Beside<'_>]| calibrate(points, 0.0).unwrap_err().to_string();
        assert_eq!(refused(&[point(1.0)]), "record 1 has 1 rows, and 2 are needed at least");
        assert_eq!(
            refused(&[point(1.0), point(1.0)]),
            "no record has a reference reading that differs from the others"
        );
        assert!(refused(&[point(1.0), point(f64::NAN)]).contains("must be a number"));
    }
}

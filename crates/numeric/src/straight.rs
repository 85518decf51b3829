//! A straight line through points that are uncertain both ways.
//!
//! ```text
//! minimise  Σ (x_k − X_k)²/u_x² + (y_k − Y_k)²/u_y²    with  Y_k = a + b·X_k
//! ```
//!
//! Source: D. York, N. M. Evensen, M. L. Martínez, J. De Basabe Delgado, *Unified equations for the slope, intercept, and
//! standard errors of the best straight line*, Am. J. Phys. 72 (2004) 367, equations 13 (from memory; a test meets the
//! published example). Errors of x and y of a point are taken as independent.

use crate::distribution::chi_square_tail;
use crate::error::{InputError, expect_finite, expect_length};

/// One point with its standard uncertainties; one of the two may be zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Abscissa.
    pub x: f64,
    /// Ordinate.
    pub y: f64,
    /// Standard uncertainty of the abscissa.
    pub x_deviation: f64,
    /// Standard uncertainty of the ordinate.
    pub y_deviation: f64,
}

/// How a fit ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    /// The line is determined.
    Determined,
    /// All points have one abscissa, or there are fewer than two.
    NotDetermined,
    /// The slope did not settle: the points are no line within what they are uncertain by.
    NotSettled,
}

/// The line, and what is known of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// How the fit ended.
    pub status: Status,
    /// a, the ordinate at zero.
    pub intercept: f64,
    /// b.
    pub slope: f64,
    /// Standard uncertainty of a, by those of the points.
    pub intercept_deviation: f64,
    /// Standard uncertainty of b.
    pub slope_deviation: f64,
    /// Covariance of a and b.
    pub covariance: f64,
    /// The sum that was minimised.
    pub chi_square: f64,
    /// Points less two.
    pub degrees_of_freedom: usize,
    /// Distance of each point from the line along y, over the deviation that both of its uncertainties give it there.
    pub residuals: Vec<f64>,
}

impl Line {
    /// Probability that points of a true line scatter at least this much; none without degrees of freedom.
    pub fn goodness_of_fit(&self) -> Option<f64> {
        (self.degrees_of_freedom > 0)
            .then(|| chi_square_tail(self.chi_square, self.degrees_of_freedom as f64))
    }

    /// The line at an abscissa, with the standard uncertainty that a and b give it there.
    pub fn at(&self, x: f64) -> (f64, f64) {
        let variance = self.intercept_deviation * self.intercept_deviation
            + x * (2.0 * self.covariance + x * self.slope_deviation * self.slope_deviation);
        (self.intercept + self.slope * x, variance.max(0.0).sqrt())
    }
}

const MOST_ROUNDS: usize = 200;
/// Relative change of the slope at which it counts as settled.
const SETTLED: f64 = 1e-14;

/// Fits a line.
///
/// # Errors
/// No points, a value that is not finite, a negative uncertainty, a point without any.
pub fn fit(points: &[Point]) -> Result<Line, InputError> {
    check(points)?;
    let mut slope = start(points);
    let mut status =
        if points.len() < 2 || !slope.is_finite() { Status::NotDetermined } else { Status::NotSettled };
    if status == Status::NotDetermined {
        slope = 0.0;
    }
    for _ in 0..MOST_ROUNDS {
        if status != Status::NotSettled {
            break;
        }
        let (center, weights) = center(points, slope);
        let (mut above, mut below) = (0.0, 0.0);
        for (point, weight) in points.iter().zip(&weights) {
            let beta = beta(point, center, slope, *weight);
            above += weight * beta * (point.y - center.1);
            below += weight * beta * (point.x - center.0);
        }
        let next = above / below;
        if !next.is_finite() {
            status = Status::NotDetermined;
        } else {
            if (next - slope).abs() <= SETTLED * next.abs() {
                status = Status::Determined;
            }
            slope = next;
        }
    }
    Ok(line(points, slope, status))
}

fn check(points: &[Point]) -> Result<(), InputError> {
    if points.is_empty() {
        return Err(InputError::Empty { what: "points" });
    }
    let column = |f: fn(&Point) -> f64| points.iter().map(f).collect::<Vec<f64>>();
    expect_finite("abscissa", &column(|p| p.x))?;
    expect_finite("ordinate", &column(|p| p.y))?;
    let deviations = [
        ("deviation of abscissa", column(|p| p.x_deviation)),
        ("deviation of ordinate", column(|p| p.y_deviation)),
    ];
    for (what, values) in &deviations {
        expect_finite(what, values)?;
        expect_length(what, values, points.len())?;
        if let Some(index) = values.iter().position(|v| *v < 0.0) {
            return Err(InputError::NotPositive { what, index, value: values[index] });
        }
    }
    match points.iter().position(|p| p.x_deviation == 0.0 && p.y_deviation == 0.0) {
        Some(index) => Err(InputError::NotPositive { what: "deviation of point", index, value: 0.0 }),
        None => Ok(()),
    }
}

/// Slope of the plain line.
fn start(points: &[Point]) -> f64 {
    let n = points.len() as f64;
    let mean = |f: fn(&Point) -> f64| points.iter().map(f).sum::<f64>() / n;
    let (x, y) = (mean(|p| p.x), mean(|p| p.y));
    let along: f64 = points.iter().map(|p| (p.x - x) * (p.y - y)).sum();
    along / points.iter().map(|p| (p.x - x) * (p.x - x)).sum::<f64>()
}

fn center(points: &[Point], slope: f64) -> ((f64, f64), Vec<f64>) {
    let weight =
        |p: &Point| 1.0 / (p.y_deviation * p.y_deviation + slope * slope * p.x_deviation * p.x_deviation);
    // A slope of zero leaves points without a deviation of y at an infinite weight.
    let weights: Vec<f64> = points.iter().map(|p| weight(p).min(1e300)).collect();
    let all: f64 = weights.iter().sum();
    let mean = |f: fn(&Point) -> f64| points.iter().zip(&weights).map(|(p, w)| w * f(p)).sum::<f64>() / all;
    ((mean(|p| p.x), mean(|p| p.y)), weights)
}

/// Where the true abscissa of a point lies, from the centre.
fn beta(point: &Point, center: (f64, f64), slope: f64, weight: f64) -> f64 {
    let (u, v) = (point.x - center.0, point.y - center.1);
    weight * (u * point.y_deviation * point.y_deviation + slope * v * point.x_deviation * point.x_deviation)
}

fn line(points: &[Point], slope: f64, status: Status) -> Line {
    let (center, weights) = center(points, slope);
    let intercept = center.1 - slope * center.0;
    let all: f64 = weights.iter().sum();
    let true_x: Vec<f64> =
        points.iter().zip(&weights).map(|(p, w)| center.0 + beta(p, center, slope, *w)).collect();
    let middle = true_x.iter().zip(&weights).map(|(x, w)| w * x).sum::<f64>() / all;
    let spread: f64 = true_x.iter().zip(&weights).map(|(x, w)| w * (x - middle) * (x - middle)).sum();
    let determined = status != Status::NotDetermined;
    let slope_variance = if determined { 1.0 / spread } else { f64::INFINITY };
    let residuals: Vec<f64> =
        points.iter().zip(&weights).map(|(p, w)| (p.y - intercept - slope * p.x) * w.sqrt()).collect();
    Line {
        status,
        intercept,
        slope,
        intercept_deviation: (1.0 / all + middle * middle * slope_variance).sqrt(),
        slope_deviation: slope_variance.sqrt(),
        covariance: if determined { -middle * slope_variance } else { 0.0 },
        chi_square: residuals.iter().map(|r| r * r).sum(),
        degrees_of_freedom: points.len().saturating_sub(2),
        residuals,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pearson's data with York's weights, and the line of York and others (2004): intercept 5.47991 ± 0.29497, slope
    /// −0.480533 ± 0.057985, sum 11.8664 (figures from memory). The digits beyond these are those of a search for the least
    /// sum by thirds, with numbers of fifty digits.
    #[test]
    fn the_published_example_is_met() {
        let x = [0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4];
        let x_weights = [1000.0, 1000.0, 500.0, 800.0, 200.0, 80.0, 60.0, 20.0, 1.8, 1.0];
        let y = [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5];
        let y_weights = [1.0, 1.8, 4.0, 8.0, 20.0, 20.0, 70.0, 70.0, 100.0, 500.0];
        let points: Vec<Point> = (0..10)
            .map(|k| Point {
                x: x[k],
                y: y[k],
                x_deviation: 1.0 / f64::sqrt(x_weights[k]),
                y_deviation: 1.0 / f64::sqrt(y_weights[k]),
            })
            .collect();
        let line = fit(&points).unwrap();
        assert_eq!(line.status, Status::Determined);
        for (got, want, tolerance) in [
            (line.intercept, 5.479_910_224, 1e-9),
            (line.slope, -0.480_533_407_4, 1e-10),
            (line.intercept_deviation, 0.294_97, 5e-6),
            (line.slope_deviation, 0.057_985, 5e-7),
            (line.chi_square, 11.866_353, 1e-6),
        ] {
            assert!((got - want).abs() < tolerance, "{got} for {want}");
        }
        // Both ways round it is the same line.
        let turned: Vec<Point> = points
            .iter()
            .map(|p| Point { x: p.y, y: p.x, x_deviation: p.y_deviation, y_deviation: p.x_deviation })
            .collect();
        let turned = fit(&turned).unwrap();
        assert!((turned.slope * line.slope - 1.0).abs() < 1e-9);
    }

    /// Without uncertainty in x it is weighted least squares, whose closed form is in every textbook.
    #[test]
    fn exact_abscissae_give_weighted_least_squares() {
        let points: Vec<Point> = (0..5)
            .map(|k| Point {
                x: f64::from(k),
                y: 1.0 + 2.0 * f64::from(k) + f64::from(k % 2),
                x_deviation: 0.0,
                y_deviation: 0.5,
            })
            .collect();
        let line = fit(&points).unwrap();
        // Σ(x − 2)² = 10, Σ(x − 2)·y = 20, mean 5.4.
        assert!((line.slope - 2.0).abs() < 1e-14 && (line.intercept - 1.4).abs() < 1e-14, "{line:?}");
        assert!((line.slope_deviation - 0.5 / 10.0_f64.sqrt()).abs() < 1e-14);
        assert!((line.at(2.0).1 - 0.5 / 5.0_f64.sqrt()).abs() < 1e-14);
    }

    #[test]
    fn endings_are_told() {
        let point = |x: f64, deviation: f64| Point { x, y: 1.0, x_deviation: 0.0, y_deviation: deviation };
        assert_eq!(fit(&[point(1.0, 0.1), point(1.0, 0.1)]).unwrap().status, Status::NotDetermined);
        assert_eq!(fit(&[point(1.0, 0.1)]).unwrap().slope_deviation, f64::INFINITY);
        assert_eq!(fit(&[]).unwrap_err().to_string(), "points: none given, at least one needed");
        assert!(fit(&[point(f64::NAN, 0.1)]).is_err());
        assert!(fit(&[point(1.0, -0.1)]).is_err());
        assert!(fit(&[point(1.0, 0.0)]).is_err());
    }
}

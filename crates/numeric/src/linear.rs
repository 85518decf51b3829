//! Weighted linear least squares.
//!
//! ```text
//! minimise  Σ ((y_i − Σ_j X_ij·b_j) / σ_i)²
//! ```
//!
//! Householder QR with column pivoting, then the singular values of the triangle, then refinement of
//! coefficients and residuals together with products summed in twice the working precision. The refinement
//! makes the coefficients good to nearly all digits even where large residuals meet ill-conditioned
//! regressors (Å. Björck, *Iterative refinement of linear least squares solutions*, BIT 7, 1967, from
//! memory).

use crate::error::{InputError, expect_finite, expect_length, expect_positive};
use crate::factor::{PivotedQr, Svd};
use crate::inference::{Inference, Noise};
use crate::matrix::{Matrix, norm};

/// Singular values of the scaled regressors below this part of the largest count as zero: fewer than four
/// digits of such a combination would be left.
const RANK_TOLERANCE: f64 = 1e-12;

/// Refinement converges by a factor of about `condition · 1e-16` a pass, so few are ever needed.
const REFINEMENTS: usize = 4;

/// How a linear fit ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    /// Every coefficient is determined by the observations.
    Determined,
    /// Some combination of coefficients changes nothing in the observations. [`Inference::undetermined`]
    /// names the coefficients concerned; of all the solutions, the one with the shortest scaled coefficients
    /// is given.
    RankDeficient,
    /// The numbers are too large or too small for the computation; the result holds values that are not
    /// finite.
    NotFinite,
}

/// Coefficients and what is known about them.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// How it ended.
    pub status: Status,
    /// One for each column of the regressors.
    pub coefficients: Vec<f64>,
    /// Covariance and residuals; the residuals are divided by the deviations, where those were given.
    pub inference: Inference,
}

/// Fits `observations = regressors · coefficients`.
///
/// Row `i` of `regressors` belongs to observation `i`; a constant is a column of ones. `deviations` are the
/// standard deviations of the observations, absolute for [`Noise::Known`], up to a common factor for
/// [`Noise::Estimated`]; without them all are 1.
///
/// # Errors
/// No observations or no columns, lengths that differ, a value that is not finite, a deviation that is not
/// above zero.
pub fn fit(
    regressors: &Matrix,
    observations: &[f64],
    deviations: Option<&[f64]>,
    noise: Noise,
) -> Result<Fit, InputError> {
    check(regressors, observations, deviations)?;
    let weighted = |i: usize, value: f64| deviations.map_or(value, |sigma| value / sigma[i]);
    let (rows, columns) = (regressors.rows(), regressors.columns());
    let x = Matrix::from_fn(rows, columns, |i, j| weighted(i, regressors[(i, j)]));
    let y: Vec<f64> = observations.iter().enumerate().map(|(i, &v)| weighted(i, v)).collect();

    let mut qr = PivotedQr::with_room(rows, columns);
    qr.factor(&x, 0..columns);
    let svd = Svd::of_triangle(&qr);
    let mut solver = Solver::new(&qr, &svd);
    let residuals = solver.solve(&x, &y);
    let coefficients = solver.coefficients;

    let inference = Inference::new(&qr, &svd, columns, residuals, RANK_TOLERANCE, noise);
    let finite = coefficients.iter().all(|c| c.is_finite()) && inference.sum_of_squares.is_finite();
    let status = match inference.rank {
        _ if !finite => Status::NotFinite,
        rank if rank < columns => Status::RankDeficient,
        _ => Status::Determined,
    };
    Ok(Fit { status, coefficients, inference })
}

fn check(regressors: &Matrix, observations: &[f64], deviations: Option<&[f64]>) -> Result<(), InputError> {
    if regressors.rows() == 0 {
        return Err(InputError::Empty { what: "observations" });
    }
    if regressors.columns() == 0 {
        return Err(InputError::Empty { what: "regressors" });
    }
    expect_length("observations", observations, regressors.rows())?;
    expect_finite("regressor entry", regressors.values())?;
    expect_finite("observation", observations)?;
    if let Some(sigma) = deviations {
        expect_length("deviations", sigma, regressors.rows())?;
        expect_positive("deviation", sigma)?;
    }
    Ok(())
}

/// The factorised regressors, and the solution as it is refined.
struct Solver<'a> {
    qr: &'a PivotedQr,
    svd: &'a Svd,
    rank: usize,
    coefficients: Vec<f64>,
}

impl<'a> Solver<'a> {
    fn new(qr: &'a PivotedQr, svd: &'a Svd) -> Self {
        Self { qr, svd, rank: svd.rank(RANK_TOLERANCE), coefficients: vec![0.0; qr.columns()] }
    }

    /// Finds the coefficients and returns the residuals.
    ///
    /// Solves `r + X·b = y`, `Xᵀ·r = 0` from `r = 0`, `b = 0`; each pass solves the same equations for what
    /// is still missing.
    fn solve(&mut self, x: &Matrix, y: &[f64]) -> Vec<f64> {
        let mut residuals = vec![0.0; y.len()];
        let mut missing = vec![0.0; self.qr.rows()];
        missing[..y.len()].copy_from_slice(y);
        let mut slope = vec![0.0; x.columns()];
        let mut last = f64::INFINITY;
        for _ in 0..=REFINEMENTS {
            let change = self.correction(&mut missing, &slope);
            let size = norm(&change);
            // A pass that does not at least halve the correction has reached the rounding level, or
            // overflowed.
            if !size.is_finite() && last == f64::INFINITY {
                self.coefficients.fill(f64::NAN);
            }
            if !size.is_finite() || size > 0.5 * last {
                break;
            }
            last = size;
            for (k, &j) in self.qr.order.iter().enumerate() {
                self.coefficients[j] += change[k] / self.qr.scale[j];
            }
            for (r, m) in residuals.iter_mut().zip(&missing) {
                *r += m;
            }
            if size == 0.0 {
                break;
            }
            for (i, m) in missing[..y.len()].iter_mut().enumerate() {
                let mut sum = DoubledSum::from(y[i]);
                sum.add(-residuals[i]);
                (0..x.columns()).for_each(|j| sum.add_product(-x[(i, j)], self.coefficients[j]));
                *m = sum.value();
            }
            missing[y.len()..].fill(0.0);
            for (j, s) in slope.iter_mut().enumerate() {
                let mut sum = DoubledSum::from(0.0);
                x.column(j).iter().zip(&residuals).for_each(|(a, r)| sum.add_product(-a, *r));
                *s = sum.value() / self.qr.scale[j];
            }
        }
        residuals
    }

    /// Solves `r + A·z = f`, `Aᵀ·r = g` for the scaled, pivoted regressors `A`; `missing` holds f and becomes
    /// r, z is returned.
    fn correction(&self, missing: &mut [f64], slope: &[f64]) -> Vec<f64> {
        let n = self.qr.columns();
        self.qr.apply_transposed(missing);
        let mut z = vec![0.0; n];
        let mut head = vec![0.0; n];
        for q in 0..self.rank {
            let (u, v, sigma) = (self.svd.u.column(q), self.svd.v.column(q), self.svd.sigma[q]);
            let along: f64 = v.iter().zip(&self.qr.order).map(|(v, &j)| v * slope[j]).sum::<f64>() / sigma;
            let reached: f64 = u.iter().zip(missing.iter()).map(|(u, f)| u * f).sum();
            let step = (reached - along) / sigma;
            z.iter_mut().zip(v).for_each(|(z, v)| *z += step * v);
            // What the model reaches is taken out of the residual; only the slope's share stays in.
            head.iter_mut().zip(u).for_each(|(h, u)| *h += (along - reached) * u);
        }
        missing.iter_mut().zip(&head).for_each(|(m, h)| *m += h);
        self.qr.apply(missing);
        z
    }
}

/// A sum carried in two numbers, and products split exactly (T. J. Dekker, Numer. Math. 18, 1971).
#[derive(Clone, Copy)]
struct DoubledSum {
    high: f64,
    low: f64,
}

impl DoubledSum {
    fn from(value: f64) -> Self {
        Self { high: value, low: 0.0 }
    }

    fn add(&mut self, value: f64) {
        let sum = self.high + value;
        let part = sum - self.high;
        self.low += (self.high - (sum - part)) + (value - part);
        self.high = sum;
    }

    fn add_product(&mut self, a: f64, b: f64) {
        let product = a * b;
        let ((ah, al), (bh, bl)) = (split(a), split(b));
        self.low += al * bl - (((product - ah * bh) - al * bh) - ah * bl);
        self.add(product);
    }

    fn value(self) -> f64 {
        self.high + self.low
    }
}

/// Two halves of 26 bits whose sum is `a` exactly.
fn split(a: f64) -> (f64, f64) {
    const SPLITTER: f64 = 134_217_729.0; // 2^27 + 1
    let c = SPLITTER * a;
    let high = c - (c - a);
    (high, a - high)
}

//! What a least-squares fit knows about its parameters and about each observation.

use crate::distribution::{chi_square_tail, normal_quantile, student_t_quantile};
use crate::factor::{PivotedQr, Svd};
use crate::matrix::{Matrix, dot};

/// A parameter counts as undetermined when more than this share of its scaled direction (a squared cosine)
/// lies in the directions that the observations do not see. Rounding leaves far less than this in a
/// determined parameter.
const UNSEEN_SHARE: f64 = 1e-10;

/// An observation with a leverage closer to 1 than this is fitted exactly whatever its value, so its residual
/// says nothing.
const FREE_OF_LEVERAGE: f64 = 1e-10;

/// What is known about the size of the residuals.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Noise {
    /// The residuals are divided by their true standard deviations: they should scatter with deviation 1, the
    /// covariance is `(JᵀJ)⁻¹`, and the sum of squares tells whether the model fits.
    Known,
    /// The residuals share one unknown deviation (after the weights, if any), estimated from their own
    /// scatter: the covariance is `s²·(JᵀJ)⁻¹`, and intervals use Student's t.
    Estimated,
}

/// The statistics of a fit, from the sensitivities `J` of its weighted residuals to its parameters at the
/// solution.
///
/// For a non-linear fit they are first order: exact for a model that is straight over a few standard
/// deviations.
#[derive(Debug, Clone, PartialEq)]
pub struct Inference {
    /// Covariance of the parameters. Where a parameter is undetermined, or nothing is left to estimate the
    /// noise from, its variance is infinite and its covariances are zero. A parameter held by a bound has
    /// zeros.
    pub covariance: Matrix,
    /// Standard deviation of each parameter, the root of the diagonal of the covariance.
    pub standard_deviations: Vec<f64>,
    /// Which parameters the observations leave open, alone or together with others.
    pub undetermined: Vec<bool>,
    /// How many independent combinations of the parameters the observations determine.
    pub rank: usize,
    /// Condition number of `J` with its columns scaled to length 1: above about 30 parameters are hard to
    /// tell apart (D. A. Belsley, *Conditioning Diagnostics*, 1991, from memory); infinite for a rank that is
    /// exactly deficient.
    pub condition: f64,
    /// Observations less the rank.
    pub degrees_of_freedom: usize,
    /// Sum of the squared weighted residuals.
    pub sum_of_squares: f64,
    /// `s = √(sum of squares / degrees of freedom)`; none without degrees of freedom.
    pub residual_deviation: Option<f64>,
    /// The weighted residuals, observation − model.
    pub residuals: Vec<f64>,
    /// How strongly each observation decides its own fitted value, 0 to 1; they sum to the rank.
    pub leverages: Vec<f64>,
    /// Residual over its own standard deviation, `r / (σ·√(1 − leverage))` with σ = 1 for [`Noise::Known`]
    /// and `s` otherwise.
    ///
    /// The largest points to the observation that does not fit: its square times σ² is what the sum of
    /// squares loses when that observation is left out. None where nothing else checks the observation
    /// (leverage 1).
    pub standardised_residuals: Vec<Option<f64>>,
    noise: Noise,
}

impl Inference {
    /// Statistics from the factorised sensitivities; columns that took no part belong to parameters held
    /// fixed.
    pub(crate) fn new(
        qr: &PivotedQr,
        svd: &Svd,
        parameters: usize,
        residuals: Vec<f64>,
        rank_tolerance: f64,
        noise: Noise,
    ) -> Self {
        let rank = svd.rank(rank_tolerance);
        let degrees_of_freedom = residuals.len().saturating_sub(rank);
        let sum_of_squares = dot(&residuals, &residuals);
        let variance = (degrees_of_freedom > 0).then(|| sum_of_squares / degrees_of_freedom as f64);
        let noise_variance = match noise {
            Noise::Known => Some(1.0),
            Noise::Estimated => variance,
        };
        let undetermined = undetermined(qr, svd, parameters, rank);
        let covariance = covariance(qr, svd, &undetermined, rank, noise_variance);
        let leverages = leverages(qr, svd, residuals.len(), rank);
        let standardise = |(r, h): (&f64, &f64)| {
            let deviation = (noise_variance? * (1.0 - h)).sqrt();
            (1.0 - h > FREE_OF_LEVERAGE && deviation > 0.0).then(|| r / deviation)
        };
        Self {
            standard_deviations: (0..parameters).map(|j| covariance[(j, j)].sqrt()).collect(),
            covariance,
            undetermined,
            rank,
            condition: svd.condition(),
            degrees_of_freedom,
            sum_of_squares,
            residual_deviation: variance.map(f64::sqrt),
            standardised_residuals: residuals.iter().zip(&leverages).map(standardise).collect(),
            residuals,
            leverages,
            noise,
        }
    }

    /// Correlation of two parameters, −1 to 1; zero where one of them is undetermined or held by a bound.
    pub fn correlation(&self, i: usize, j: usize) -> f64 {
        let product = self.standard_deviations[i] * self.standard_deviations[j];
        if product > 0.0 && product.is_finite() {
            (self.covariance[(i, j)] / product).clamp(-1.0, 1.0)
        } else if i == j {
            1.0
        } else {
            0.0
        }
    }

    /// Half the width of the two-sided interval that covers the true parameter with probability `confidence`
    /// (0 to 1).
    ///
    /// Normal factor for [`Noise::Known`], Student's t with the degrees of freedom otherwise (JCGM 100:2008,
    /// G.3). Not a number when `confidence` is outside 0 to 1.
    pub fn half_width(&self, parameter: usize, confidence: f64) -> f64 {
        let upper = 0.5 + 0.5 * confidence;
        let factor = match self.noise {
            Noise::Known => normal_quantile(upper),
            // The variance is infinite already.
            Noise::Estimated if self.degrees_of_freedom == 0 => 1.0,
            Noise::Estimated => student_t_quantile(upper, self.degrees_of_freedom as f64),
        };
        factor * self.standard_deviations[parameter]
    }

    /// Probability that residuals of the stated deviations come out at least this large when the model is
    /// true; a small one (say below 0.01) means that model, data or stated deviations do not fit together.
    ///
    /// None for [`Noise::Estimated`], where the noise was fitted to the residuals, and without degrees of
    /// freedom.
    pub fn goodness_of_fit(&self) -> Option<f64> {
        (self.noise == Noise::Known && self.degrees_of_freedom > 0)
            .then(|| chi_square_tail(self.sum_of_squares, self.degrees_of_freedom as f64))
    }
}

fn undetermined(qr: &PivotedQr, svd: &Svd, parameters: usize, rank: usize) -> Vec<bool> {
    let mut undetermined = vec![false; parameters];
    for (k, &j) in qr.order.iter().enumerate() {
        let unseen: f64 = (rank..qr.columns()).map(|q| svd.v[(k, q)] * svd.v[(k, q)]).sum();
        undetermined[j] = unseen > UNSEEN_SHARE;
    }
    undetermined
}

fn covariance(
    qr: &PivotedQr,
    svd: &Svd,
    undetermined: &[bool],
    rank: usize,
    noise_variance: Option<f64>,
) -> Matrix {
    let mut covariance = Matrix::zeros(undetermined.len(), undetermined.len());
    for (k, &i) in qr.order.iter().enumerate() {
        for (l, &j) in qr.order.iter().enumerate() {
            let open = undetermined[i] || undetermined[j];
            covariance[(i, j)] = match noise_variance {
                Some(variance) if !open => {
                    let seen =
                        (0..rank).map(|q| (svd.v[(k, q)] / svd.sigma[q]) * (svd.v[(l, q)] / svd.sigma[q]));
                    variance * seen.sum::<f64>() / (qr.scale[i] * qr.scale[j])
                }
                _ if i == j => f64::INFINITY,
                _ => 0.0,
            };
        }
    }
    covariance
}

/// Squared row lengths of an orthonormal basis of what the model can reach.
fn leverages(qr: &PivotedQr, svd: &Svd, observations: usize, rank: usize) -> Vec<f64> {
    let mut leverages = vec![0.0; observations];
    let mut basis = vec![0.0; qr.rows()];
    for q in 0..rank {
        basis.fill(0.0);
        basis[..qr.columns()].copy_from_slice(svd.u.column(q));
        qr.apply(&mut basis);
        for (h, b) in leverages.iter_mut().zip(&basis) {
            *h += b * b;
        }
    }
    leverages.iter().map(|h| h.min(1.0)).collect()
}

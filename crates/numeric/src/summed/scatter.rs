//! Covariance by the scatter between blocks of rows, whatever the correlation of rows within a block.
//!
//! ```text
//! V = A⁻¹·(Σ g_k·g_kᵀ)·A⁻¹        g_k = (I − A_k·A⁻¹)^(−1/2)·Σ_block w·r·j
//! ```
//!
//! The sums g_k of a block are what its residuals want to move the parameters by. As these were fitted to the same
//! residuals, they are smaller than those of the truth; the root makes up for that, exactly where rows of a block are
//! alike and independent. Source: R. M. Bell and D. F. McCaffrey, *Bias reduction in standard errors for linear
//! regression with multi-stage samples*, Survey Methodology 28 (2002) 169 (from memory); without the root: P. J. Huber
//! 1967, H. White 1980 (from memory).

use super::curvature::own_values;
use super::{Curvature, Sums};
use crate::matrix::Matrix;

/// Share of a direction that a block must leave to the others, at the least, for its own scatter to be told.
const LEAST_LEFT: f64 = 0.02;

/// Fewer blocks than this, as they count for a parameter, do not tell its scatter: then it is no less than that of
/// independent rows.
const FEW: f64 = 8.0;

/// What the scatter between blocks tells.
#[derive(Debug, Clone, PartialEq)]
pub struct Scatter {
    /// Covariance of the parameters; infinite variance where they are undetermined.
    pub covariance: Matrix,
    /// Degrees of freedom of each variance: by how evenly the blocks tell of the parameter.
    pub degrees_of_freedom: Vec<f64>,
}

impl Scatter {
    /// Of blocks of rows of the same parameters, at the minimum of all of them together with what was known `before`. The
    /// latter helps to tell parameters apart, but its own uncertainty is not counted.
    pub fn between(blocks: &[Sums], before: &Sums) -> Self {
        let n = before.parameters();
        let mut all = before.clone();
        blocks.iter().for_each(|block| all.add(block));
        let curvature = Curvature::of(&all);
        let whitening = curvature.whitening();
        let rank = curvature.rank();
        let mut middle = Matrix::zeros(rank, rank);
        let mut squares = vec![0.0; n];
        for block in blocks {
            let share = share(block, &whitening, rank);
            for (j, sum) in squares.iter_mut().enumerate() {
                let part = bilinear(&share, &whitening, j);
                *sum += part * part;
            }
            let score = score(block, &whitening, share);
            for q in 0..rank {
                middle.column_mut(q).iter_mut().zip(&score).for_each(|(m, s)| *m += s * score[q]);
            }
        }
        let open = curvature.undetermined();
        let inverse = curvature.inverse();
        let variance = all.squares / all.rows.saturating_sub(rank).max(1) as f64;
        let degrees: Vec<f64> = (0..n)
            .map(
                |j| if squares[j] > 0.0 { inverse[(j, j)] * inverse[(j, j)] / squares[j] - 1.0 } else { 0.0 },
            )
            .map(|degrees| if degrees.is_finite() { degrees.max(1.0) } else { 1.0 })
            .collect();
        let seen = |i: usize, j: usize| -> f64 {
            (0..rank)
                .map(|p| {
                    let inner: f64 = (0..rank).map(|q| middle[(p, q)] * whitening[(q, j)]).sum();
                    whitening[(p, i)] * inner
                })
                .sum()
        };
        let widening = |j: usize| {
            let (own, rows) = (seen(j, j), variance * inverse[(j, j)]);
            if degrees[j] < FEW && own < rows && own > 0.0 { (rows / own).sqrt() } else { 1.0 }
        };
        let widening: Vec<f64> = (0..n).map(widening).collect();
        let covariance = Matrix::from_fn(n, n, |i, j| match open[i] || open[j] {
            true if i == j => f64::INFINITY,
            true => 0.0,
            false => widening[i] * widening[j] * seen(i, j),
        });
        Self { covariance, degrees_of_freedom: degrees }
    }
}

/// What a block tells of each direction, as a share of what all blocks tell.
fn share(block: &Sums, whitening: &Matrix, rank: usize) -> Matrix {
    let n = block.parameters();
    let half =
        Matrix::from_fn(rank, n, |p, j| (0..n).map(|i| whitening[(p, i)] * block.products[(i, j)]).sum());
    Matrix::from_fn(rank, rank, |p, q| (0..n).map(|j| half[(p, j)] * whitening[(q, j)]).sum())
}

/// `w_jᵀ·H·w_j` for a column of the whitening.
fn bilinear(share: &Matrix, whitening: &Matrix, j: usize) -> f64 {
    let rank = share.rows();
    (0..rank)
        .map(|p| whitening[(p, j)] * (0..rank).map(|q| share[(p, q)] * whitening[(q, j)]).sum::<f64>())
        .sum()
}

/// The score of a block in whitened directions, made up for what fitting took from it.
fn score(block: &Sums, whitening: &Matrix, share: Matrix) -> Vec<f64> {
    let rank = share.rows();
    let white: Vec<f64> =
        (0..rank).map(|p| block.slope.iter().enumerate().map(|(j, g)| whitening[(p, j)] * g).sum()).collect();
    let (values, vectors) = own_values(share);
    let mut score = vec![0.0; rank];
    for (q, value) in values.iter().enumerate() {
        let v = vectors.column(q);
        let along: f64 = v.iter().zip(&white).map(|(v, w)| v * w).sum();
        let length = along / (1.0 - value).max(LEAST_LEFT).sqrt();
        score.iter_mut().zip(v).for_each(|(s, v)| *s += length * v);
    }
    score
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A mean of numbers: their variance over their number, and as many degrees as there are numbers less one.
    #[test]
    fn blocks_of_one_row_give_the_classical_variance_of_a_mean() {
        let numbers: Vec<f64> = (0..20).map(|k| libm::sin(f64::from(k) * 1.7)).collect();
        let mean = numbers.iter().sum::<f64>() / 20.0;
        let blocks: Vec<Sums> = numbers
            .iter()
            .map(|x| {
                let mut block = Sums::new(1);
                block.add_row(&[1.0], x - mean, 1.0);
                block
            })
            .collect();
        let scatter = Scatter::between(&blocks, &Sums::new(1));
        let variance = numbers.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / 19.0 / 20.0;
        assert!((scatter.covariance[(0, 0)] / variance - 1.0).abs() < 1e-12);
        assert!((scatter.degrees_of_freedom[0] - 19.0).abs() < 1e-9);
    }

    /// Rows that come five times each tell no more than once.
    #[test]
    fn rows_that_repeat_within_a_block_do_not_count_again() {
        let blocks = |times: usize| -> Vec<Sums> {
            (0..30)
                .map(|k| {
                    let mut block = Sums::new(2);
                    let x = f64::from(k) / 30.0;
                    for _ in 0..times {
                        block.add_row(&[1.0, x], libm::sin(f64::from(k) * 2.3), 1.0);
                    }
                    block
                })
                .collect()
        };
        let (once, often) =
            (Scatter::between(&blocks(1), &Sums::new(2)), Scatter::between(&blocks(5), &Sums::new(2)));
        for j in 0..2 {
            assert!((often.covariance[(j, j)] / once.covariance[(j, j)] - 1.0).abs() < 1e-10);
        }
    }

    /// One block tells nearly all of the second parameter: its scatter is that of independent rows, with one degree.
    #[test]
    fn a_parameter_of_one_block_is_told_by_its_rows() {
        let mut blocks: Vec<Sums> = (0..12)
            .map(|k| {
                let mut block = Sums::new(2);
                (0..10).for_each(|r| block.add_row(&[1.0, 0.0], libm::sin(f64::from(10 * k + r)), 1.0));
                block
            })
            .collect();
        (0..10).for_each(|r| blocks[0].add_row(&[0.0, 1.0], libm::cos(f64::from(3 * r)), 1.0));
        let scatter = Scatter::between(&blocks, &Sums::new(2));
        assert_eq!(scatter.degrees_of_freedom[1], 1.0);
        let rows = 130.0;
        let squares: f64 = blocks.iter().map(|b| b.squares).sum();
        let classical = squares / (rows - 2.0) / 10.0;
        assert!(scatter.covariance[(1, 1)] >= classical * 0.999);
        assert!(scatter.degrees_of_freedom[0] > 10.0);
    }

    /// A line through noise, its slope known beforehand to be small: the offset is then that of a mean.
    #[test]
    fn what_is_known_before_makes_others_certain_but_brings_no_scatter() {
        let noise = |k: i32| libm::sin(f64::from(k) * 1.7);
        let mean = (0..40).map(noise).sum::<f64>() / 40.0;
        let blocks: Vec<Sums> = (0..40)
            .map(|k| {
                let mut block = Sums::new(2);
                // All to one side, so that offset and slope are hard to tell apart.
                block.add_row(&[1.0, 10.0 + 0.01 * f64::from(k)], noise(k) - mean, 1.0);
                block
            })
            .collect();
        let mut before = Sums::new(2);
        before.add_prior(1, 0.0, 0.0, 1e-6);
        let (with, without) = (Scatter::between(&blocks, &before), Scatter::between(&blocks, &Sums::new(2)));
        let variance = (0..40).map(|k| (noise(k) - mean) * (noise(k) - mean)).sum::<f64>() / 39.0 / 40.0;
        assert!((with.covariance[(0, 0)] / variance - 1.0).abs() < 1e-6);
        assert!(without.covariance[(0, 0)] > 100.0 * with.covariance[(0, 0)]);
    }
}

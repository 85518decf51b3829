//! What a matrix of sums of products says: its inverse, what it leaves open, steps down.

use super::Sums;
use crate::matrix::Matrix;

/// Own values of the scaled matrix below this part of the largest count as zero. Rounding of a million sums leaves
/// some 1e-14; below it three digits would be left at most.
const RANK_TOLERANCE: f64 = 1e-12;

/// A parameter is undetermined when more than this share of its direction lies where nothing is seen.
const UNSEEN_SHARE: f64 = 1e-6;

/// `A = D·V·diag(λ)·Vᵀ·D` with D the roots of the diagonal.
#[derive(Debug, Clone, PartialEq)]
pub struct Curvature {
    scale: Vec<f64>,
    /// Own values, falling.
    values: Vec<f64>,
    vectors: Matrix,
    rank: usize,
}

impl Curvature {
    /// Of the sums; a parameter that no row answers to has an own value of zero.
    pub fn of(sums: &Sums) -> Self {
        let n = sums.parameters();
        let length = |j: usize| sums.products[(j, j)].max(0.0).sqrt();
        let scale: Vec<f64> = (0..n).map(|j| if length(j) > 0.0 { length(j) } else { 1.0 }).collect();
        let scaled = Matrix::from_fn(n, n, |i, j| sums.products[(i, j)] / (scale[i] * scale[j]));
        let (values, vectors) = own_values(scaled);
        let largest = values.first().copied().unwrap_or(0.0);
        let rank = values.iter().take_while(|&&v| v > RANK_TOLERANCE * largest && v > 0.0).count();
        Self { scale, values, vectors, rank }
    }

    /// How many combinations of parameters the rows determine.
    pub fn rank(&self) -> usize {
        self.rank
    }

    /// Condition number of the scaled rows: the root of that of the matrix.
    pub fn condition(&self) -> f64 {
        match (self.values.first(), self.values.last()) {
            (Some(largest), Some(smallest)) if *smallest > 0.0 => (largest / smallest).sqrt(),
            (Some(_), _) => f64::INFINITY,
            _ => 1.0,
        }
    }

    /// Which parameters the rows leave open, alone or together with others.
    pub fn undetermined(&self) -> Vec<bool> {
        let n = self.values.len();
        let unseen =
            |j: usize| (self.rank..n).map(|q| self.vectors[(j, q)] * self.vectors[(j, q)]).sum::<f64>();
        (0..n).map(|j| unseen(j) > UNSEEN_SHARE).collect()
    }

    /// The inverse of the matrix over what is seen: the covariance of the parameters for rows of deviation 1.
    /// Undetermined parameters have infinite variance and no covariance.
    pub fn inverse(&self) -> Matrix {
        let open = self.undetermined();
        let n = self.values.len();
        Matrix::from_fn(n, n, |i, j| match open[i] || open[j] {
            true if i == j => f64::INFINITY,
            true => 0.0,
            false => {
                let part = |q: usize| self.vectors[(i, q)] * self.vectors[(j, q)] / self.values[q];
                (0..self.rank).map(part).sum::<f64>() / (self.scale[i] * self.scale[j])
            }
        })
    }

    /// W with `W·A·Wᵀ = I`: a row for each combination of parameters that is seen.
    pub(super) fn whitening(&self) -> Matrix {
        let n = self.values.len();
        Matrix::from_fn(self.rank, n, |q, j| self.vectors[(j, q)] / (self.values[q].sqrt() * self.scale[j]))
    }

    /// The step `(A + λ·D²)⁻¹·g` over what is seen.
    pub fn step(&self, slope: &[f64], damping: f64) -> Vec<f64> {
        let n = self.values.len();
        let mut step = vec![0.0; n];
        for q in 0..self.rank {
            let v = self.vectors.column(q);
            let along: f64 = (0..n).map(|j| v[j] * slope[j] / self.scale[j]).sum();
            let length = along / (self.values[q] + damping);
            step.iter_mut().zip(v).for_each(|(s, v)| *s += length * v);
        }
        step.iter_mut().zip(&self.scale).for_each(|(s, scale)| *s /= scale);
        step
    }

    /// What of the sum of squares a linear model can still lose: `gᵀ·A⁻¹·g`.
    pub fn reachable(&self, slope: &[f64]) -> f64 {
        self.step(slope, 0.0).iter().zip(slope).map(|(s, g)| s * g).sum()
    }
}

/// Own values (falling) and vectors of a symmetric matrix by Jacobi's rotations.
///
/// Source: G. H. Golub and C. F. Van Loan, *Matrix Computations*, 4th ed. 2013, §8.5 (from memory).
pub(super) fn own_values(mut a: Matrix) -> (Vec<f64>, Matrix) {
    let n = a.rows();
    let mut v = Matrix::from_fn(n, n, |i, j| f64::from(i == j));
    // Fewer than ten sweeps are ever needed; the limit guards against values that are not finite.
    for _ in 0..60 {
        let mut turned = false;
        for p in 0..n {
            for q in p + 1..n {
                turned |= rotate(&mut a, &mut v, p, q);
            }
        }
        if !turned {
            break;
        }
    }
    let mut falling: Vec<usize> = (0..n).collect();
    falling.sort_by(|&i, &j| a[(j, j)].total_cmp(&a[(i, i)]));
    let values = falling.iter().map(|&j| a[(j, j)]).collect();
    (values, Matrix::from_fn(n, n, |i, k| v[(i, falling[k])]))
}

fn rotate(a: &mut Matrix, v: &mut Matrix, p: usize, q: usize) -> bool {
    let (pp, qq, pq) = (a[(p, p)], a[(q, q)], a[(p, q)]);
    // The diagonal of a scaled matrix is about 1, so that an absolute bound serves.
    if pq.abs() <= f64::EPSILON * (pp * qq).abs().sqrt() || pq.abs() < 1e-30 || !pq.is_finite() {
        return false;
    }
    let zeta = (qq - pp) / (2.0 * pq);
    let t = 1.0_f64.copysign(zeta) / (zeta.abs() + (1.0 + zeta * zeta).sqrt());
    let c = 1.0 / (1.0 + t * t).sqrt();
    let s = c * t;
    for k in 0..a.rows() {
        let (kp, kq) = (a[(k, p)], a[(k, q)]);
        (a[(k, p)], a[(k, q)]) = (c * kp - s * kq, s * kp + c * kq);
    }
    for k in 0..a.rows() {
        let (pk, qk) = (a[(p, k)], a[(q, k)]);
        (a[(p, k)], a[(q, k)]) = (c * pk - s * qk, s * pk + c * qk);
    }
    for k in 0..v.rows() {
        let (kp, kq) = (v[(k, p)], v[(k, q)]);
        (v[(k, p)], v[(k, q)]) = (c * kp - s * kq, s * kp + c * kq);
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Second derivative on five points: own values 2 − 2·cos(kπ/6), known in closed form.
    #[test]
    fn own_values_of_a_chain_are_known() {
        let n = 5;
        let chain = Matrix::from_fn(n, n, |i, j| match i.abs_diff(j) {
            0 => 2.0,
            1 => -1.0,
            _ => 0.0,
        });
        let (values, vectors) = own_values(chain);
        for (k, value) in values.iter().enumerate() {
            let want = 2.0 - 2.0 * libm::cos((n - k) as f64 * std::f64::consts::PI / 6.0);
            assert!((value - want).abs() < 1e-14, "{value} for {want}");
        }
        let product: f64 = vectors.column(0).iter().zip(vectors.column(3)).map(|(a, b)| a * b).sum();
        assert!(product.abs() < 1e-15);
    }

    #[test]
    fn the_inverse_times_the_matrix_is_one() {
        let mut sums = Sums::new(3);
        for k in 0..30 {
            let t = 0.1 * f64::from(k);
            sums.add_row(&[1.0, 1e4 * t, 1e-3 * t * t], 0.0, 1.0);
        }
        let curvature = Curvature::of(&sums);
        assert_eq!((curvature.rank(), curvature.undetermined()), (3, vec![false; 3]));
        let inverse = curvature.inverse();
        for i in 0..3 {
            for j in 0..3 {
                let product: f64 = (0..3).map(|k| sums.products[(i, k)] * inverse[(k, j)]).sum();
                let scale = (sums.products[(i, i)] / sums.products[(j, j)]).sqrt();
                assert!((product / scale - f64::from(i == j)).abs() < 1e-12, "{i} {j}: {product}");
            }
        }
    }

    #[test]
    fn parameters_that_move_together_are_named() {
        let mut sums = Sums::new(3);
        for k in 0..30 {
            let t = f64::from(k);
            sums.add_row(&[t, 2.0 * t, 1.0], t, 1.0);
        }
        let curvature = Curvature::of(&sums);
        assert_eq!((curvature.rank(), curvature.undetermined()), (2, vec![true, true, false]));
        assert!(curvature.condition() > 1e6);
        let inverse = curvature.inverse();
        assert_eq!((inverse[(0, 0)], inverse[(0, 1)]), (f64::INFINITY, 0.0));
        assert!(inverse[(2, 2)].is_finite());
        // Half of the residual's 1·t each way, by the shortest scaled step.
        let step = curvature.step(&sums.slope, 0.0);
        assert!((step[0] - 0.5).abs() < 1e-10 && (step[1] - 0.25).abs() < 1e-10, "{step:?}");
    }
}

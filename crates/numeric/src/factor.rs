//! Householder QR with column pivoting, and the singular values of its triangle.
//!
//! Column pivoting keeps the factorisation accurate row by row when the rows carry very different weights (N.
//! J. Higham, *Accuracy and Stability of Numerical Algorithms*, 2nd ed. 2002, §19.4, from memory), and shows
//! the rank on the diagonal. The singular values come from one-sided Jacobi rotations, which find small ones
//! to high relative accuracy (Demmel and Veselić 1992, from memory).

use crate::matrix::{Matrix, dot, norm};

/// `A[:, order] · diag(1/scale) = Q·R`, kept in one buffer that later factorisations reuse.
pub(crate) struct PivotedQr {
    /// R on and above the diagonal, Householder vectors (leading 1 left out) below it.
    factors: Matrix,
    reflectors: Vec<f64>,
    /// Which column of the source stands at each place.
    pub(crate) order: Vec<usize>,
    /// Length of each source column; 1 where the column is zero.
    pub(crate) scale: Vec<f64>,
}

impl PivotedQr {
    /// Room for matrices of this size; those with fewer rows than columns are filled up with rows of zeros.
    pub(crate) fn with_room(rows: usize, columns: usize) -> Self {
        Self {
            factors: Matrix::zeros(rows.max(columns), columns),
            reflectors: vec![0.0; columns],
            order: Vec::with_capacity(columns),
            scale: vec![1.0; columns],
        }
    }

    /// Rows of Q: those of the source, or as many as it has columns.
    pub(crate) fn rows(&self) -> usize {
        self.factors.rows()
    }

    /// How many columns took part.
    pub(crate) fn columns(&self) -> usize {
        self.order.len()
    }

    /// Entry of R for `i <= k`.
    pub(crate) fn r(&self, i: usize, k: usize) -> f64 {
        self.factors[(i, k)]
    }

    /// Factorises the columns of `source` that `keep` names, each scaled to length 1. Does not allocate.
    pub(crate) fn factor(&mut self, source: &Matrix, keep: impl Iterator<Item = usize>) {
        self.order.clear();
        for j in keep {
            let length = norm(source.column(j));
            self.scale[j] = if length > 0.0 { length } else { 1.0 };
            let target = self.factors.column_mut(self.order.len());
            target.fill(0.0);
            for (t, s) in target.iter_mut().zip(source.column(j)) {
                *t = s / self.scale[j];
            }
            self.order.push(j);
        }
        for k in 0..self.columns() {
            self.bring_longest_to(k);
            self.reflect(k);
        }
    }

    /// Number of leading columns whose pivot is above `tolerance` times the first.
    pub(crate) fn rank(&self, tolerance: f64) -> usize {
        let first = if self.columns() > 0 { self.r(0, 0).abs() } else { 0.0 };
        (0..self.columns()).take_while(|&k| first > 0.0 && self.r(k, k).abs() > tolerance * first).count()
    }

    /// `v ← Qᵀ·v`.
    pub(crate) fn apply_transposed(&self, v: &mut [f64]) {
        for k in 0..self.columns() {
            self.apply_reflector(k, v);
        }
    }

    /// `v ← Q·v`.
    pub(crate) fn apply(&self, v: &mut [f64]) {
        for k in (0..self.columns()).rev() {
            self.apply_reflector(k, v);
        }
    }

    fn bring_longest_to(&mut self, k: usize) {
        let (mut longest, mut length) = (k, -1.0);
        for j in k..self.columns() {
            let below = &self.factors.column(j)[k..];
            let squared = dot(below, below);
            if squared > length {
                (longest, length) = (j, squared);
            }
        }
        if longest != k {
            let (a, b) = self.factors.column_pair(k, longest);
            a.swap_with_slice(b);
            self.order.swap(k, longest);
        }
    }

    fn reflect(&mut self, k: usize) {
        let columns = self.columns();
        let pivot = &mut self.factors.column_mut(k)[k..];
        let length = norm(pivot);
        if length == 0.0 {
            self.reflectors[k] = 0.0;
            return;
        }
        let head = pivot[0];
        let diagonal = if head > 0.0 { -length } else { length };
        self.reflectors[k] = (diagonal - head) / diagonal;
        pivot[0] = diagonal;
        for v in &mut pivot[1..] {
            *v /= head - diagonal;
        }
        for j in k + 1..columns {
            let (vector, column) = self.factors.column_pair(k, j);
            reflect_by(self.reflectors[k], &vector[k + 1..], &mut column[k..]);
        }
    }

    fn apply_reflector(&self, k: usize, v: &mut [f64]) {
        reflect_by(self.reflectors[k], &self.factors.column(k)[k + 1..], &mut v[k..]);
    }
}

/// `v ← (I − τ·w·wᵀ)·v` with `w = (1, tail)`.
fn reflect_by(tau: f64, tail: &[f64], v: &mut [f64]) {
    if tau == 0.0 {
        return;
    }
    let (head, rest) = v.split_at_mut(1);
    let amount = tau * (head[0] + dot(tail, rest));
    head[0] -= amount;
    for (x, w) in rest.iter_mut().zip(tail) {
        *x -= amount * w;
    }
}

/// `R = U·diag(σ)·Vᵀ` of a triangle, singular values falling.
pub(crate) struct Svd {
    pub(crate) u: Matrix,
    pub(crate) sigma: Vec<f64>,
    pub(crate) v: Matrix,
}

impl Svd {
    pub(crate) fn of_triangle(qr: &PivotedQr) -> Self {
        let n = qr.columns();
        let mut u = Matrix::from_fn(n, n, |i, j| if i <= j { qr.r(i, j) } else { 0.0 });
        let mut v = Matrix::from_fn(n, n, |i, j| f64::from(i == j));
        // Jacobi converges in fewer than ten sweeps; the limit only guards against values that are not
        // finite.
        for _ in 0..60 {
            let mut turned = false;
            for p in 0..n {
                for q in p + 1..n {
                    turned |= make_orthogonal(&mut u, &mut v, p, q);
                }
            }
            if !turned {
                break;
            }
        }
        let lengths: Vec<f64> = (0..n).map(|j| norm(u.column(j))).collect();
        let mut falling: Vec<usize> = (0..n).collect();
        falling.sort_by(|&a, &b| lengths[b].total_cmp(&lengths[a]));
        let length = |k: usize| if lengths[falling[k]] > 0.0 { lengths[falling[k]] } else { 1.0 };
        Self {
            u: Matrix::from_fn(n, n, |i, k| u[(i, falling[k])] / length(k)),
            sigma: falling.iter().map(|&j| lengths[j]).collect(),
            v: Matrix::from_fn(n, n, |i, k| v[(i, falling[k])]),
        }
    }

    /// Singular values above `tolerance` times the largest.
    pub(crate) fn rank(&self, tolerance: f64) -> usize {
        let largest = self.sigma.first().copied().unwrap_or(0.0);
        self.sigma.iter().take_while(|&&s| s > tolerance * largest && s > 0.0).count()
    }

    /// Largest over smallest singular value; infinite where the smallest is zero.
    pub(crate) fn condition(&self) -> f64 {
        match (self.sigma.first(), self.sigma.last()) {
            (Some(&largest), Some(&smallest)) if smallest > 0.0 => largest / smallest,
            (Some(_), _) => f64::INFINITY,
            _ => 1.0,
        }
    }
}

/// One rotation of columns `p` and `q`; false when they are orthogonal already.
fn make_orthogonal(u: &mut Matrix, v: &mut Matrix, p: usize, q: usize) -> bool {
    let (up, uq) = u.column_pair(p, q);
    let (pp, qq, pq) = (dot(up, up), dot(uq, uq), dot(up, uq));
    // Below the square of the smallest normal number the cosine means nothing any more.
    if pq.abs() <= f64::EPSILON * (pp * qq).sqrt() || pp.min(qq) < f64::MIN_POSITIVE || !pq.is_finite() {
        return false;
    }
    let zeta = (qq - pp) / (2.0 * pq);
    let tangent = 1.0_f64.copysign(zeta) / (zeta.abs() + (1.0 + zeta * zeta).sqrt());
    let cosine = 1.0 / (1.0 + tangent * tangent).sqrt();
    let sine = cosine * tangent;
    rotate(up, uq, cosine, sine);
    let (vp, vq) = v.column_pair(p, q);
    rotate(vp, vq, cosine, sine);
    true
}

fn rotate(a: &mut [f64], b: &mut [f64], cosine: f64, sine: f64) {
    for (x, y) in a.iter_mut().zip(b) {
        (*x, *y) = (cosine * *x - sine * *y, sine * *x + cosine * *y);
    }
}

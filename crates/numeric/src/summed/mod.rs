//! Least squares by sums of products, for records whose rows are too many to keep.
//!
//! ```text
//! A = Σ w·j·jᵀ        g = Σ w·r·j        S = Σ 2·ρ(r)        step: (A + λ·D²)·p = g
//! ```
//!
//! j is the row of slopes of the model to its parameters, r = observation − model, w the weight of a robust loss ρ (1
//! for squares). A million rows of eight slopes are 64 MB and go through memory once a step; their sums are 72
//! numbers. The price is that the condition of the scaled problem enters squared: a parameter counts as undetermined from a condition
//! of about 1e6 on, where [`crate::linear`] and [`crate::levenberg`] go to 1e12. The minimum itself is as exact as g is.

mod curvature;
mod scatter;
mod search;

pub use curvature::Curvature;
pub use scatter::Scatter;
pub use search::{Fit, minimise};

use crate::matrix::Matrix;

/// Sums of products of the rows of one problem.
#[derive(Debug, Clone, PartialEq)]
pub struct Sums {
    /// A, of all parameters.
    pub products: Matrix,
    /// g, the slope of half of S downhill.
    pub slope: Vec<f64>,
    /// S, the sum of squares, or twice the robust loss.
    pub squares: f64,
    /// Rows that took part.
    pub rows: usize,
}

impl Sums {
    /// Nothing summed yet, of so many parameters.
    pub fn new(parameters: usize) -> Self {
        Self {
            products: Matrix::zeros(parameters, parameters),
            slope: vec![0.0; parameters],
            squares: 0.0,
            rows: 0,
        }
    }

    /// How many parameters.
    pub fn parameters(&self) -> usize {
        self.slope.len()
    }

    /// Adds a row: slopes of the model to its parameters, observation − model, and the weight of the row.
    pub fn add_row(&mut self, slopes: &[f64], residual: f64, weight: f64) {
        for (j, s) in slopes.iter().enumerate() {
            let weighted = weight * s;
            for (sum, other) in self.products.column_mut(j).iter_mut().zip(slopes) {
                *sum += weighted * other;
            }
            self.slope[j] += weighted * residual;
        }
        self.squares += weight * residual * residual;
        self.rows += 1;
    }

    /// Adds what is known of a parameter beforehand: that it lies at `value` with this deviation, as one more row.
    pub fn add_prior(&mut self, parameter: usize, value: f64, at: f64, deviation: f64) {
        let mut slopes = vec![0.0; self.parameters()];
        slopes[parameter] = 1.0;
        self.add_row(&slopes, value - at, 1.0 / (deviation * deviation));
    }

    /// Adds the sums of other rows of the same parameters.
    pub fn add(&mut self, other: &Self) {
        for j in 0..self.parameters() {
            let column = self.products.column_mut(j).iter_mut().zip(other.products.column(j));
            column.for_each(|(sum, more)| *sum += more);
            self.slope[j] += other.slope[j];
        }
        self.squares += other.squares;
        self.rows += other.rows;
    }

    /// The sums of these parameters alone, the others held.
    pub fn of(&self, kept: &[usize]) -> Self {
        Self {
            products: Matrix::from_fn(kept.len(), kept.len(), |i, j| self.products[(kept[i], kept[j])]),
            slope: kept.iter().map(|&j| self.slope[j]).collect(),
            squares: self.squares,
            rows: self.rows,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_of_parts_are_the_sums_of_all() {
        let row = |k: usize| [1.0, k as f64, libm::sin(k as f64)];
        let (mut all, mut first, mut second) = (Sums::new(3), Sums::new(3), Sums::new(3));
        for k in 0..20 {
            all.add_row(&row(k), 0.5 * k as f64, 2.0);
            (if k < 7 { &mut first } else { &mut second }).add_row(&row(k), 0.5 * k as f64, 2.0);
        }
        first.add(&second);
        assert_eq!((first.rows, all.rows), (20, 20));
        // Integers: Σ k² = 2470 for k below 20, twice.
        assert_eq!(all.products[(1, 1)], 4940.0);
        assert_eq!(all.slope[0], 190.0);
        assert!((first.products[(2, 2)] - all.products[(2, 2)]).abs() < 1e-12);
        assert_eq!(first.of(&[1]).products[(0, 0)], 4940.0);
    }
}

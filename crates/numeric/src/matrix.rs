//! A dense matrix, column after column.

use std::ops::{Index, IndexMut};

/// A small dense matrix of `f64`, stored column after column, because least squares works on columns.
///
/// An index outside the matrix panics, as it does for slices.
#[derive(Debug, Clone, PartialEq)]
pub struct Matrix {
    rows: usize,
    columns: usize,
    values: Vec<f64>,
}

impl Matrix {
    /// A matrix of zeros.
    pub fn zeros(rows: usize, columns: usize) -> Self {
        Self { rows, columns, values: vec![0.0; rows * columns] }
    }

    /// A matrix whose entry in row `i` and column `j` is `entry(i, j)`.
    pub fn from_fn(rows: usize, columns: usize, mut entry: impl FnMut(usize, usize) -> f64) -> Self {
        let mut matrix = Self::zeros(rows, columns);
        for j in 0..columns {
            for i in 0..rows {
                matrix[(i, j)] = entry(i, j);
            }
        }
        matrix
    }

    /// How many rows.
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// How many columns.
    pub fn columns(&self) -> usize {
        self.columns
    }

    /// All entries, column after column.
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    /// One column.
    pub fn column(&self, j: usize) -> &[f64] {
        &self.values[j * self.rows..(j + 1) * self.rows]
    }

    /// One column, to write to.
    pub fn column_mut(&mut self, j: usize) -> &mut [f64] {
        &mut self.values[j * self.rows..(j + 1) * self.rows]
    }

    /// A column to read and a later one to write.
    pub(crate) fn column_pair(&mut self, first: usize, second: usize) -> (&mut [f64], &mut [f64]) {
        debug_assert!(first < second);
        let (head, tail) = self.values.split_at_mut(second * self.rows);
        (&mut head[first * self.rows..(first + 1) * self.rows], &mut tail[..self.rows])
    }
}

impl Index<(usize, usize)> for Matrix {
    type Output = f64;

    fn index(&self, (i, j): (usize, usize)) -> &f64 {
        &self.column(j)[i]
    }
}

impl IndexMut<(usize, usize)> for Matrix {
    fn index_mut(&mut self, (i, j): (usize, usize)) -> &mut f64 {
        &mut self.column_mut(j)[i]
    }
}

pub(crate) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// Euclidean length, safe from overflow and underflow of the squares.
pub(crate) fn norm(v: &[f64]) -> f64 {
    let largest = v.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
    if largest == 0.0 || !largest.is_finite() {
        return largest;
    }
    largest * v.iter().map(|x| (x / largest) * (x / largest)).sum::<f64>().sqrt()
}

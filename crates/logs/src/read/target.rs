//! Where columns go: as a whole, or one block at a time.

use super::error::Unreadable;
use super::reader::Rows;
use crate::Refused;

/// Where columns go.
pub(super) trait Target {
    /// Room for so many more rows: a slice for the time and each column.
    fn room(&mut self, lines: usize) -> Result<Vec<&mut [f64]>, Unreadable>;
    /// The time of the rows that came last.
    fn time(&mut self, rows: usize) -> &mut [f64];
    /// The rows that came last are ready.
    fn done(&mut self, first: u64, rows: usize) -> Result<(), Unreadable>;
}

/// Columns as a whole.
pub(super) struct Whole {
    pub(super) rows: usize,
    pub(super) columns: Vec<Vec<f64>>,
}

impl Target for Whole {
    fn room(&mut self, lines: usize) -> Result<Vec<&mut [f64]>, Unreadable> {
        let need = self.rows + lines;
        for column in &mut self.columns {
            if column.len() < need {
                let length = need.max(column.len() + column.len() / 2);
                column
                    .try_reserve(length - column.len())
                    .map_err(|_| Unreadable::TooMuch { rows: self.rows as u64 })?;
                column.resize(length, 0.0);
            }
        }
        let from = self.rows;
        Ok(self.columns.iter_mut().map(|column| &mut column[from..need]).collect())
    }

    fn time(&mut self, rows: usize) -> &mut [f64] {
        &mut self.columns[0][self.rows..self.rows + rows]
    }

    fn done(&mut self, _: u64, rows: usize) -> Result<(), Unreadable> {
        self.rows += rows;
        Ok(())
    }
}

/// Columns of one block at a time.
pub(super) struct Parts<T> {
    pub(super) columns: Vec<Vec<f64>>,
    pub(super) take: T,
}

impl<T: FnMut(Rows<'_>) -> Result<(), Refused>> Target for Parts<T> {
    fn room(&mut self, lines: usize) -> Result<Vec<&mut [f64]>, Unreadable> {
        self.columns.iter_mut().for_each(|column| column.resize(lines, 0.0));
        Ok(self.columns.iter_mut().map(Vec::as_mut_slice).collect())
    }

    fn time(&mut self, rows: usize) -> &mut [f64] {
        &mut self.columns[0][..rows]
    }

    fn done(&mut self, first: u64, rows: usize) -> Result<(), Unreadable> {
        let columns: Vec<&[f64]> = self.columns.iter().map(|column| &column[..rows]).collect();
        if rows > 0 {
            (self.take)(Rows { first, time: columns[0], columns: &columns[1..] })?;
        }
        Ok(())
    }
}

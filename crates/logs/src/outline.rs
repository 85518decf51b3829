//! The course of a log in bounded memory: what a picture of it needs.

use crate::{Column, Refused, Sink};

/// Keeps, of stretches of equal length, the first, lowest, highest and last value of each column: no peak is lost,
/// however long the log grows. Memory is taken once.
#[derive(Clone, Debug)]
pub struct Outline {
    columns: Vec<Column>,
    /// Stretches that there is room for; even.
    room: usize,
    /// Rows of a full stretch.
    length: u64,
    /// Rows of the last stretch.
    filled: u64,
    /// Stretch by stretch, an entry for each column.
    stretches: Vec<Stretch>,
}

/// Points of one column over a stretch.
#[derive(Clone, Copy, Debug)]
struct Stretch {
    first: [f64; 2],
    lowest: [f64; 2],
    highest: [f64; 2],
    last: [f64; 2],
}

impl Outline {
    /// For rows of these columns, time first, in at most so many stretches. A picture is some 500 pixels across and half
    /// of the room is used at least, so 1000 are enough.
    pub fn new(columns: &[Column], stretches: usize) -> Self {
        let room = stretches.max(2).next_multiple_of(2);
        let stretches = Vec::with_capacity(room * columns.len());
        Self { columns: columns.to_vec(), room, length: 1, filled: 0, stretches }
    }

    /// Its columns.
    pub fn columns(&self) -> &[Column] {
        &self.columns
    }

    /// Points of a column, in order of time.
    pub fn points(&self, column: usize) -> Vec<[f64; 2]> {
        let mut points: Vec<[f64; 2]> = Vec::new();
        for stretch in self.stretches.iter().skip(column).step_by(self.columns.len().max(1)) {
            let mut four = [stretch.first, stretch.lowest, stretch.highest, stretch.last];
            four.sort_by(|a, b| a[0].total_cmp(&b[0]));
            for point in four.into_iter().filter(|point| point[0].is_finite()) {
                if points.last().is_none_or(|before| before != &point) {
                    points.push(point);
                }
            }
        }
        points
    }

    /// Joins each pair of stretches.
    fn halve(&mut self) {
        let columns = self.columns.len();
        for pair in 0..self.room / 2 {
            for column in 0..columns {
                let (a, b) = (2 * pair * columns + column, (2 * pair + 1) * columns + column);
                self.stretches[pair * columns + column] = self.stretches[a].with(&self.stretches[b]);
            }
        }
        self.stretches.truncate(self.room / 2 * columns);
        self.length *= 2;
    }
}

impl Sink for Outline {
    fn take(&mut self, row: &[f64]) -> Result<(), Refused> {
        let columns = self.columns.len();
        if row.len() != columns {
            return Err(Refused::Row { got: row.len(), columns });
        }
        let Some(time) = row.first() else { return Ok(()) };
        if self.filled == self.length || self.stretches.is_empty() {
            if self.stretches.len() == self.room * columns {
                self.halve();
            }
            self.stretches.extend(row.iter().map(|value| Stretch::of([*time, *value])));
            self.filled = 1;
            return Ok(());
        }
        let latest = self.stretches.len() - columns;
        for (stretch, value) in self.stretches[latest..].iter_mut().zip(row) {
            *stretch = stretch.with(&Stretch::of([*time, *value]));
        }
        self.filled += 1;
        Ok(())
    }
}

impl Stretch {
    /// A value that is not known leaves no point.
    fn of(point: [f64; 2]) -> Self {
        let point = if point[1].is_finite() { point } else { [f64::NAN; 2] };
        Self { first: point, lowest: point, highest: point, last: point }
    }

    /// This one, then another.
    fn with(&self, next: &Self) -> Self {
        if self.first[0].is_nan() {
            return *next;
        }
        if next.first[0].is_nan() {
            return *self;
        }
        Self {
            first: self.first,
            lowest: if next.lowest[1] < self.lowest[1] { next.lowest } else { self.lowest },
            highest: if next.highest[1] > self.highest[1] { next.highest } else { self.highest },
            last: next.last,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn columns() -> [Column; 2] {
        ["time", "value"].map(|name| Column::real(name, "", None, ""))
    }

    fn outline(values: &[f64], stretches: usize) -> Outline {
        let mut outline = Outline::new(&columns(), stretches);
        for (time, value) in values.iter().enumerate() {
            outline.take(&[time as f64, *value]).unwrap();
        }
        outline
    }

    #[test]
    fn a_short_log_is_kept_whole() {
        let points = outline(&[1.0, 3.0, 2.0], 10).points(1);
        assert_eq!(points, [[0.0, 1.0], [1.0, 3.0], [2.0, 2.0]]);
        assert!(Outline::new(&columns(), 10).points(1).is_empty());
        assert!(Outline::new(&columns(), 10).take(&[0.0]).is_err());
    }

    #[test]
    fn a_gap_of_unknown_values_leaves_no_points() {
        let points = outline(&[1.0, f64::NAN, 2.0], 10).points(1);
        assert_eq!(points, [[0.0, 1.0], [2.0, 2.0]]);
    }

    proptest! {
        #[test]
        fn no_peak_is_lost_and_memory_is_bounded(
            values in proptest::collection::vec(-10.0..10.0_f64, 1..3000), stretches in 2_usize..40,
        ) {
            let outline = outline(&values, stretches);
            let points = outline.points(1);
            prop_assert!(points.len() <= 4 * stretches.next_multiple_of(2));
            // Each is a point of the log, in order, and the ends are there.
            prop_assert!(points.windows(2).all(|pair| pair[0][0] < pair[1][0]));
            prop_assert!(points.iter().all(|point| values[point[0] as usize] == point[1]));
            prop_assert_eq!(points[0][0], 0.0);
            prop_assert_eq!(points.last().map(|point| point[0]), Some((values.len() - 1) as f64));
            // In every stretch of full length stand its lowest and its highest value.
            let length = outline.length as usize;
            for (n, part) in values.chunks(length).enumerate() {
                let within = |point: &&[f64; 2]| point[0] as usize / length == n;
                let kept: Vec<f64> = points.iter().filter(within).map(|point| point[1]).collect();
                let low = part.iter().copied().fold(f64::INFINITY, f64::min);
                let high = part.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                prop_assert_eq!(kept.iter().copied().fold(f64::INFINITY, f64::min), low);
                prop_assert_eq!(kept.iter().copied().fold(f64::NEG_INFINITY, f64::max), high);
            }
        }
    }
}

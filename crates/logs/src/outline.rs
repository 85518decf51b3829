//! The course of a log in bounded memory: what a picture of it needs.

use crate::{Column, Refused, Sink};

/// Keeps, of stretches of equal time, the first, lowest, highest and last value of each column: no peak is lost,
/// however long the log grows and however its rows are spread. Memory is taken once.
#[derive(Clone, Debug)]
pub struct Outline {
    columns: Vec<Column>,
    /// Stretches that there is room for; even.
    room: usize,
    /// Time of the first row.
    start: f64,
    /// Time of a stretch; none before there are two times.
    span: Option<f64>,
    /// Which stretch each one that is kept is, counted from the start.
    places: Vec<u64>,
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
    /// For rows of these columns, time first, in at most so many stretches. A picture is some 500 pixels across and of
    /// rows that come evenly half of the room is used at least, so 1000 are enough.
    pub fn new(columns: &[Column], stretches: usize) -> Self {
        let room = stretches.max(2).next_multiple_of(2);
        let places = Vec::with_capacity(room);
        let stretches = Vec::with_capacity(room * columns.len());
        Self { columns: columns.to_vec(), room, start: 0.0, span: None, places, stretches }
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

    /// The stretch of a time.
    fn place(&mut self, time: f64) -> u64 {
        if self.places.is_empty() {
            self.start = time;
        }
        let passed = time - self.start;
        if self.span.is_none() && passed > 0.0 {
            self.span = Some(passed);
        }
        self.span.map_or(0, |span| (passed / span) as u64)
    }

    /// Makes stretches twice as long, until there is room for one more.
    fn halve(&mut self) {
        let columns = self.columns.len();
        while self.places.len() == self.room {
            self.span = self.span.map(|span| 2.0 * span);
            let mut kept = 0;
            for from in 0..self.places.len() {
                let place = self.places[from] / 2;
                let joins = kept > 0 && self.places[kept - 1] == place;
                let to = if joins { kept - 1 } else { kept };
                for column in 0..columns {
                    let next = self.stretches[from * columns + column];
                    let own = &mut self.stretches[to * columns + column];
                    *own = if joins { own.with(&next) } else { next };
                }
                self.places[to] = place;
                kept = to + 1;
            }
            self.places.truncate(kept);
            self.stretches.truncate(kept * columns);
        }
    }
}

impl Sink for Outline {
    fn take(&mut self, row: &[f64]) -> Result<(), Refused> {
        let columns = self.columns.len();
        if row.len() != columns {
            return Err(Refused::Row { got: row.len(), columns });
        }
        let Some(time) = row.first() else { return Ok(()) };
        let mut place = self.place(*time);
        if self.places.last().is_none_or(|last| *last < place) {
            if self.places.len() == self.room {
                self.halve();
                place = self.place(*time);
            }
            if self.places.last().is_none_or(|last| *last < place) {
                self.places.push(place);
                self.stretches.extend(row.iter().map(|value| Stretch::of([*time, *value])));
                return Ok(());
            }
        }
        let latest = self.stretches.len() - columns;
        for (stretch, value) in self.stretches[latest..].iter_mut().zip(row) {
            *stretch = stretch.with(&Stretch::of([*time, *value]));
        }
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
            values in proptest::collection::vec((-10.0..10.0_f64, 0.0..4.0_f64), 1..3000), stretches in 2_usize..40,
            even in any::<bool>(),
        ) {
            let mut time = 0.0;
            let rows: Vec<[f64; 2]> = values
                .iter()
                // Some of the time hardly passes at all.
                .map(|(value, step)| { time += if even { 1.0 } else { libm::pow(10.0, -2.0 * step) }; [time, *value] })
                .collect();
            let mut outline = Outline::new(&columns(), stretches);
            rows.iter().for_each(|row| outline.take(row).unwrap());
            let points = outline.points(1);
            let room = stretches.next_multiple_of(2);
            prop_assert!(outline.places.len() <= room && points.len() <= 4 * room);
            // Each is a point of the log, in order, and the ends are there.
            prop_assert!(points.windows(2).all(|pair| pair[0][0] < pair[1][0]));
            prop_assert!(points.iter().all(|point| rows.contains(point)));
            prop_assert_eq!((points.first(), points.last()), (rows.first(), rows.last()));
            // In every stretch stand its lowest and its highest value.
            let span = outline.span.unwrap_or(1.0);
            let stretch = |point: &[f64; 2]| ((point[0] - rows[0][0]) / span) as u64;
            for part in rows.chunk_by(|a, b| stretch(a) == stretch(b)) {
                let kept = points.iter().filter(|point| stretch(point) == stretch(&part[0])).map(|point| point[1]);
                let (low, high) = kept.fold((f64::MAX, f64::MIN), |(low, high), v| (low.min(v), high.max(v)));
                let all = part.iter().fold((f64::MAX, f64::MIN), |(low, high), row| (low.min(row[1]), high.max(row[1])));
                prop_assert_eq!((low, high), all);
            }
            // Of rows that come evenly half of the room is used.
            prop_assert!(!even || rows.len() < room || outline.places.len() >= room / 2);
        }
    }
}

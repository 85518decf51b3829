//! Where a pin of a connector is, from the way its pins are counted.

use super::Numbering;

impl Numbering {
    /// Row and column of a pin, both from zero, by its number, which counts from one; `highest` is the largest number
    /// of the connector. Without a number of rows a line has one and everything else two.
    pub fn cell(self, rows: Option<usize>, highest: usize, number: usize) -> (usize, usize) {
        let rows = rows.unwrap_or(if self == Self::Line { 1 } else { 2 }).max(1);
        let at = number.saturating_sub(1);
        let length = highest.max(number).div_ceil(rows).max(1);
        let (row, column) = (at / length, at % length);
        match self {
            Self::Line => (0, at),
            Self::Zigzag => (at % rows, at / rows),
            Self::RowByRow => (row, column),
            // Back and forth, as one walks around the edge.
            Self::Around => (row, if row % 2 == 0 { column } else { length - 1 - column }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Numbering::{self, Around, Line, RowByRow, Zigzag};

    /// The cells of six pins in two rows, drawn by hand from what each way of counting means.
    #[test]
    fn six_pins_in_two_rows() {
        let cells = |numbering: Numbering| (1..=6).map(|n| numbering.cell(None, 6, n)).collect::<Vec<_>>();
        assert_eq!(cells(Zigzag), [(0, 0), (1, 0), (0, 1), (1, 1), (0, 2), (1, 2)]);
        assert_eq!(cells(RowByRow), [(0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2)]);
        assert_eq!(cells(Around), [(0, 0), (0, 1), (0, 2), (1, 2), (1, 1), (1, 0)]);
        assert_eq!(cells(Line), [(0, 0), (0, 1), (0, 2), (0, 3), (0, 4), (0, 5)]);
    }
}

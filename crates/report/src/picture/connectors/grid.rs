//! Where the pins of a connector are, from the way they are counted.

use bench::part::{Numbering, View};

/// Row and column of each pin, both from zero, in the order of the pins. Pins that are called by names, or whose way
/// of counting is not told, stand in one row in the order of the file.
pub(super) fn cells(pins: &[&str], numbering: Option<Numbering>, rows: Option<usize>) -> Vec<(usize, usize)> {
    let numbers: Option<Vec<usize>> =
        pins.iter().map(|pin| pin.parse().ok().filter(|n| (1..=4096).contains(n))).collect();
    let (Some(numbers), Some(numbering)) = (numbers, numbering) else {
        return (0..pins.len()).map(|at| (0, at)).collect();
    };
    let rows = rows.unwrap_or(if numbering == Numbering::Line { 1 } else { 2 }).clamp(1, 8);
    let highest = numbers.iter().copied().max().unwrap_or(1);
    let length = highest.div_ceil(rows);
    let place = |number: usize| {
        let at = number - 1;
        let (row, column) = (at / length, at % length);
        match numbering {
            Numbering::Line => (0, at),
            Numbering::Zigzag => (at % rows, at / rows),
            Numbering::RowByRow => (row, column),
            // Back and forth, as one walks around the edge.
            Numbering::Around => (row, if row % 2 == 0 { column } else { length - 1 - column }),
        }
    };
    numbers.into_iter().map(place).collect()
}

/// What one sees from the other side.
pub(super) fn opposite(view: View) -> &'static str {
    match view {
        View::MatingFace => "wire side",
        View::WireSide => "mating face",
        View::ComponentSide => "solder side",
        View::SolderSide => "component side",
    }
}

#[cfg(test)]
mod tests {
    use super::cells;
    use bench::part::Numbering::{self, Around, Line, RowByRow, Zigzag};

    /// The cells of six pins in two rows, drawn by hand from what each way of counting means.
    #[test]
    fn six_pins_in_two_rows() {
        let pins = ["1", "2", "3", "4", "5", "6"];
        let of = |numbering: Numbering| cells(&pins, Some(numbering), None);
        assert_eq!(of(Zigzag), [(0, 0), (1, 0), (0, 1), (1, 1), (0, 2), (1, 2)]);
        assert_eq!(of(RowByRow), [(0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2)]);
        assert_eq!(of(Around), [(0, 0), (0, 1), (0, 2), (1, 2), (1, 1), (1, 0)]);
        assert_eq!(of(Line), [(0, 0), (0, 1), (0, 2), (0, 3), (0, 4), (0, 5)]);
        assert_eq!(cells(&["+", "-"], Some(Zigzag), None), [(0, 0), (0, 1)]);
    }
}

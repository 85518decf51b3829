//! Row and column of each pin on its port, from the way its pins are counted.

use crate::problem::Problem;
use bench::Bench;
use bench::part::{Numbering, Port};

/// Gives every pin with a number its cell.
pub(super) fn place(bench: &Bench, problem: &mut Problem) {
    let ports = bench.controller().map(|controller| controller.part.ports()).unwrap_or_default();
    for pin in &mut problem.pins {
        let number = pin.position.parse::<i32>().ok();
        pin.cell = number.and_then(|number| cell(ports.get(pin.port)?, number));
    }
}

/// Row and column of a number, both from zero; `None` where the port does not say how its pins are counted.
pub(crate) fn cell(port: &Port, number: i32) -> Option<(i32, i32)> {
    let numbering = port.numbering().value?;
    let highest =
        port.pins().iter().filter_map(|entry| entry.key.text.parse::<i32>().ok()).max().unwrap_or(number);
    cell_of(numbering, port.has("rows").then(|| port.rows().value() as i32), highest, number)
}

/// The same for any connector whose highest number is known.
pub(crate) fn cell_of(
    numbering: Numbering,
    rows: Option<i32>,
    highest: i32,
    number: i32,
) -> Option<(i32, i32)> {
    let at = number - 1;
    let rows = rows.unwrap_or(if numbering == Numbering::Line { 1 } else { 2 }).max(1);
    let length = (highest + rows - 1) / rows;
    let (row, column) = (at / length.max(1), at % length.max(1));
    (at >= 0).then_some(match numbering {
        Numbering::Line => (0, at),
        Numbering::Zigzag => (at % rows, at / rows),
        Numbering::RowByRow => (row, column),
        // Back and forth, as one walks around the edge.
        Numbering::Around => (row, if row % 2 == 0 { column } else { length - 1 - column }),
    })
}

#[cfg(test)]
mod tests {
    use super::cell_of;
    use bench::part::Numbering::{Around, Line, RowByRow, Zigzag};

    /// The cells of six pins in two rows, drawn by hand from what each way of counting means.
    #[test]
    fn six_pins_in_two_rows() {
        let cells = |numbering| (1..=6).filter_map(|n| cell_of(numbering, None, 6, n)).collect::<Vec<_>>();
        assert_eq!(cells(Zigzag), [(0, 0), (1, 0), (0, 1), (1, 1), (0, 2), (1, 2)]);
        assert_eq!(cells(RowByRow), [(0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2)]);
        assert_eq!(cells(Around), [(0, 0), (0, 1), (0, 2), (1, 2), (1, 1), (1, 0)]);
        assert_eq!(cells(Line), [(0, 0), (0, 1), (0, 2), (0, 3), (0, 4), (0, 5)]);
    }
}

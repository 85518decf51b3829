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
    let highest = numbers.iter().copied().max().unwrap_or(1);
    numbers
        .into_iter()
        .map(|number| numbering.cell(rows.map(|rows| rows.clamp(1, 8)), highest, number))
        .collect()
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
    use bench::part::Numbering::Zigzag;

    #[test]
    fn pins_with_names_stand_in_one_row() {
        assert_eq!(cells(&["+", "-"], Some(Zigzag), None), [(0, 0), (0, 1)]);
        assert_eq!(cells(&["1", "2", "3"], None, None), [(0, 0), (0, 1), (0, 2)]);
        assert_eq!(cells(&["1", "2", "3"], Some(Zigzag), None), [(0, 0), (1, 0), (0, 1)]);
    }
}

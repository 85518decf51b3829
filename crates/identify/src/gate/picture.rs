//! Charts of the evidence, and numbers for people.

use finding::Chart;
use finding::chart::{Axis, AxisScale, Lines, Plot, Point, Purpose, Series};
use std::ops::Range;
use worked::{Dimension, format};

/// Most points of one curve; no chart here has more than three.
const MOST_POINTS: usize = 300;

/// A value with a unit that suits it.
pub(super) fn said(si: f64, dimension: Dimension) -> String {
    format::plain(si, &format::choose_unit(si, dimension, None))
}

/// A share as a percentage.
pub(super) fn percent(share: f64) -> String {
    let of_hundred = 100.0 * share;
    let digits = if of_hundred.abs() < 10.0 { 1 } else { 0 };
    format!("{of_hundred:.digits$} %")
}

/// An axis of a chart.
pub(crate) fn axis(label: &str, unit: &str) -> Axis {
    Axis { label: label.to_owned(), unit: unit.to_owned(), scale: AxisScale::Linear, range: None }
}

/// A curve, thinned.
pub(crate) fn curve(name: &str, purpose: Purpose, points: impl Iterator<Item = Point>) -> Series {
    Series { name: name.to_owned(), purpose, points: thinned(points.collect()) }
}

/// A chart of curves. What it says goes under it.
pub(crate) fn chart(id: &str, title: &str, says: &str, axes: (Axis, Axis), series: Vec<Series>) -> Chart {
    let (x, y) = axes;
    Chart {
        id: id.to_owned(),
        title: title.to_owned(),
        alt: says.to_owned(),
        caption: says.to_owned(),
        plot: Plot::Lines(Lines { x, y, series, ..Lines::default() }),
    }
}

/// Rows about the first stretch: a few times its length on both sides.
pub(super) fn about(stretch: Option<&Range<usize>>, rows: usize) -> Range<usize> {
    let Some(stretch) = stretch else {
        return 0..rows;
    };
    let around = (2 * stretch.len()).max(30);
    stretch.start.saturating_sub(around)..(stretch.end + around).min(rows)
}

/// Lowest and highest point of each of so many parts, in their order, so that no peak is lost.
fn thinned(points: Vec<Point>) -> Vec<Point> {
    if points.len() <= MOST_POINTS {
        return points;
    }
    let size = points.len().div_ceil(MOST_POINTS / 2);
    let by_height = |a: &&Point, b: &&Point| a[1].total_cmp(&b[1]);
    points
        .chunks(size)
        .flat_map(|part| {
            let low = part.iter().min_by(by_height).copied().unwrap_or_default();
            let high = part.iter().max_by(by_height).copied().unwrap_or_default();
            if low[0] <= high[0] { [low, high] } else { [high, low] }
        })
        .collect()
}

/// Stretches of rows that are marked.
pub(super) fn stretches(marks: impl Iterator<Item = bool>) -> Vec<Range<usize>> {
    let mut found: Vec<Range<usize>> = Vec::new();
    for (row, _) in marks.enumerate().filter(|(_, marked)| *marked) {
        match found.last_mut() {
            Some(last) if last.end == row => last.end = row + 1,
            _ => found.push(row..row + 1),
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thinning_keeps_every_peak() {
        let mut points: Vec<Point> = (0..10_000).map(|k| [f64::from(k), 0.0]).collect();
        points[4321][1] = 7.0;
        points[8765][1] = -5.0;
        let thin = thinned(points);
        assert!(thin.len() <= MOST_POINTS, "{}", thin.len());
        assert!(thin.contains(&[4321.0, 7.0]) && thin.contains(&[8765.0, -5.0]));
        assert!(thin.windows(2).all(|pair| pair[0][0] <= pair[1][0]));
    }

    #[test]
    fn stretches_are_those_of_marked_rows() {
        let marks = [true, false, true, true, false, true];
        assert_eq!(stretches(marks.into_iter()), [0..1, 2..4, 5..6]);
    }
}

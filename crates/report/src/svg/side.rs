//! Labels in a column beside vertical scales: moved apart so that none overlap, each tied by a thin line to
//! the height that it names.

use super::canvas::{Canvas, LABEL};
use super::geometry::spread;
use super::text::{LINE, wrap};

/// A label of the column.
pub(super) struct SideLabel {
    pub(super) class: &'static str,
    pub(super) words: String,
    /// The height that it names.
    pub(super) y: f64,
    /// Where its line starts.
    pub(super) x: f64,
}

/// The column: where the lines bend, where the text begins, how wide it may be.
#[derive(Clone, Copy)]
pub(super) struct Column {
    pub(super) bend: f64,
    pub(super) text: f64,
    pub(super) room: f64,
}

const MOST_LINES: usize = 3;
/// Paper between labels.
const AIR: f64 = 3.0;

/// Height that the labels need at least.
pub(super) fn height(labels: &[SideLabel], column: Column) -> f64 {
    labels.iter().map(|l| size(l, column)).sum()
}

fn size(label: &SideLabel, column: Column) -> f64 {
    wrap(&label.words, LABEL, column.room, MOST_LINES).len() as f64 * LABEL * LINE + AIR
}

/// Draws lines and texts between `top` and `bottom`, which are at least `height` apart.
pub(super) fn draw(canvas: &mut Canvas, mut labels: Vec<SideLabel>, column: Column, top: f64, bottom: f64) {
    labels.sort_by(|a, b| a.y.total_cmp(&b.y));
    let items: Vec<(f64, f64)> = labels.iter().map(|l| (l.y, size(l, column))).collect();
    let centres = spread(&items, top, bottom);
    for ((label, (_, height)), centre) in labels.iter().zip(&items).zip(centres) {
        let path = vec![[label.x, label.y], [column.bend, label.y], [column.text - 5.0, centre]];
        canvas.runs("leader", &[path], "");
        let lines = wrap(&label.words, LABEL, column.room, MOST_LINES);
        canvas.lines_of_text(label.class, [column.text, centre - (height - AIR) / 2.0], &lines);
    }
}

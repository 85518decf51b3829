//! The key below a chart: what found no place beside the thing it names.

use super::canvas::{Canvas, LABEL};
use super::geometry::Rect;
use super::look::{STRAIGHT, classes, ornaments, symbol};
use super::text::{LINE, wrap};
use super::{MARGIN, WIDTH};
use finding::chart::Purpose;

/// An entry: a sample and its words.
pub(super) struct Entry {
    pub(super) sample: Sample,
    pub(super) words: String,
}

/// What an entry stands for.
#[derive(Clone, Copy)]
pub(super) enum Sample {
    /// A curve with its dashes.
    Curve(Purpose, &'static str),
    /// A straight limit.
    Limit,
    /// A band with its pattern.
    Band(&'static str),
    /// A forbidden area.
    Forbidden,
    /// A mark by its number.
    Mark(usize),
}

const SAMPLE: f64 = 36.0;

/// Draws the key in two columns below `top`; the result is its lower edge.
pub(super) fn draw(canvas: &mut Canvas, entries: &[Entry], top: f64) -> f64 {
    let line = LABEL * LINE;
    let column = (WIDTH - 2.0 * MARGIN) / 2.0;
    let mut y = top;
    for row in entries.chunks(2) {
        let mut height = line;
        for (i, entry) in row.iter().enumerate() {
            let x = MARGIN + i as f64 * column;
            let lines = wrap(&entry.words, LABEL, column - SAMPLE - 20.0, 4);
            sample(canvas, entry.sample, &Rect::new(x, y, SAMPLE, line));
            canvas.lines_of_text("t-label", [x + SAMPLE + 8.0, y], &lines);
            height = height.max(lines.len() as f64 * line);
        }
        y += height + 6.0;
    }
    y
}

fn sample(canvas: &mut Canvas, sample: Sample, room: &Rect) {
    let middle = room.y + room.h / 2.0;
    let stroke = [vec![[room.x, middle], [room.right(), middle]]];
    let patch = room.grown(-2.0);
    match sample {
        Sample::Curve(purpose, dash) => {
            canvas.runs(classes(purpose).0, &stroke, dash);
            ornaments(canvas, purpose, &stroke);
        }
        Sample::Limit => canvas.runs("c-limit", &stroke, STRAIGHT),
        Sample::Band(fill) => {
            canvas.filled_rect("band", &patch, fill);
            canvas.rect("band-edge", &patch);
        }
        Sample::Forbidden => canvas.filled_rect("forbidden", &patch, "hatch"),
        Sample::Mark(index) => symbol(canvas, index, [room.x + room.w / 2.0, middle]),
    }
}

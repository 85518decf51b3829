//! What totals are made of: one row for each part.

use super::canvas::{Canvas, LABEL};
use super::geometry::Rect;
use super::number::percent;
use super::text::{self, wrap};
use super::{MARGIN, WIDTH};
use finding::chart::{Part, Shares};

/// Width of the column of names, and of the column of numbers.
const NAMES: f64 = 190.0;
const NUMBERS: f64 = 150.0;
const BAR: f64 = 13.0;

/// Draws the chart; the result is its height.
pub(super) fn draw(canvas: &mut Canvas, spec: &Shares) -> f64 {
    let line = LABEL * text::LINE;
    let parts = || spec.totals.iter().flat_map(|t| &t.parts).map(|p| p.share).filter(|s| s.is_finite());
    let low = parts().fold(0.0, f64::min).max(-10.0);
    let high = parts().fold(1.0, f64::max).min(10.0);
    let left = MARGIN + NAMES + 10.0;
    let room = WIDTH - MARGIN - NUMBERS - left;
    let x = |share: f64| left + (share.clamp(low, high) - low) / (high - low) * room;
    let mut y = MARGIN;
    for total in &spec.totals {
        let name = wrap(&total.name, LABEL, WIDTH - 2.0 * MARGIN, 3);
        canvas.lines_of_text("t-title", [MARGIN, y], &name);
        y += name.len() as f64 * line + 4.0;
        let first = y;
        for part in &total.parts {
            let name = wrap(&part.name, LABEL, NAMES, 3);
            let words = wrap(&words(part), LABEL, NUMBERS - 10.0, 3);
            let height = name.len().max(words.len()) as f64 * line + 5.0;
            let middle = y + height / 2.0;
            canvas.lines_of_text("t-label", [MARGIN, middle - name.len() as f64 * line / 2.0], &name);
            let share = if part.share.is_finite() { part.share } else { 0.0 };
            let (from, to) = (x(share.min(0.0)), x(share.max(0.0)));
            let bar = Rect::new(from, middle - BAR / 2.0, to - from, BAR);
            // A part that takes away is hatched.
            let fill = if share < 0.0 { "hatch" } else { "" };
            canvas.filled_rect(if share < 0.0 { "bar destroys" } else { "bar present" }, &bar, fill);
            let corner = [WIDTH - MARGIN - NUMBERS + 10.0, middle - words.len() as f64 * line / 2.0];
            canvas.lines_of_text("t-label", corner, &words);
            y += height;
        }
        canvas.line("axis", [x(0.0), first], [x(0.0), y]);
        y += 14.0;
    }
    y - 14.0 + 2.0 * MARGIN
}

fn words(part: &Part) -> String {
    let percent = percent(part.share);
    if part.text.is_empty() { percent } else { format!("{percent}, {}", part.text) }
}

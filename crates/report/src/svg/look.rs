//! How curves and marks look: class, dashes, dots, arrows and shapes, so that no two are told apart by colour
//! alone.

use super::canvas::Canvas;
use super::geometry::{Pixel, Rect};
use finding::chart::{Purpose, Series};

/// Dashes of straight limits.
pub(super) const STRAIGHT: &str = "20 3 4 3";

/// Patterns of bands that lie over one another: the first is a plain tint.
pub(super) const BAND_FILLS: [&str; 3] = ["", "dots", "bars"];

/// Classes of line and label.
pub(super) fn classes(purpose: Purpose) -> (&'static str, &'static str) {
    match purpose {
        Purpose::Nominal => ("c-nominal", "t-nominal"),
        Purpose::Bound => ("c-bound", "t-bound"),
        Purpose::Measured => ("c-measured", "t-measured"),
        Purpose::Limit => ("c-limit", "t-limit"),
        Purpose::Course => ("c-course", "t-course"),
    }
}

/// Dashes of each series: the same purpose again gets another pattern, so that no two look alike.
pub(super) fn dashes(series: &[Series]) -> Vec<&'static str> {
    let mut seen: Vec<Purpose> = Vec::new();
    series
        .iter()
        .map(|s| {
            let before = seen.iter().filter(|p| **p == s.purpose).count();
            seen.push(s.purpose);
            let patterns: &[&str] = match s.purpose {
                Purpose::Nominal | Purpose::Measured | Purpose::Course => {
                    &["", "14 4", "9 3 2 3", "5 3", "14 3 2 3 2 3", "2 3"]
                }
                Purpose::Bound => &["6 4", "3 3", "9 4 3 4", "12 3", "2 4"],
                Purpose::Limit => &["12 3 2 3", "18 4", "7 3", "12 3 2 3 2 3", "3 3", "18 3 5 3"],
            };
            patterns[before % patterns.len()]
        })
        .collect()
}

pub(super) fn curve(canvas: &mut Canvas, series: &Series, runs: &[Vec<Pixel>], dash: &str) {
    canvas.open(&series.name);
    canvas.runs(classes(series.purpose).0, runs, dash);
    ornaments(canvas, series.purpose, runs);
    canvas.close();
}

/// What tells a purpose apart without colour: dots on what was measured, arrows on a course of events.
pub(super) fn ornaments(canvas: &mut Canvas, purpose: Purpose, runs: &[Vec<Pixel>]) {
    match purpose {
        Purpose::Measured => {
            let mut last = [f64::NEG_INFINITY; 2];
            for p in runs.iter().flatten() {
                if libm::hypot(p[0] - last[0], p[1] - last[1]) >= 12.0 {
                    canvas.circle("dot", *p, 2.6);
                    last = *p;
                }
            }
        }
        Purpose::Course => {
            let mut since = 60.0;
            for run in runs {
                for s in run.windows(2) {
                    let length = libm::hypot(s[1][0] - s[0][0], s[1][1] - s[0][1]);
                    since += length;
                    if since >= 130.0 && length > 0.5 {
                        arrow(canvas, s[0], s[1]);
                        since = 0.0;
                    }
                }
            }
            if let Some([.., a, b]) = runs.last().map(Vec::as_slice) {
                arrow(canvas, *a, *b);
            }
        }
        Purpose::Nominal | Purpose::Bound | Purpose::Limit => {}
    }
}

fn arrow(canvas: &mut Canvas, from: Pixel, tip: Pixel) {
    let length = libm::hypot(tip[0] - from[0], tip[1] - from[1]);
    if length == 0.0 {
        return;
    }
    let (ux, uy) = ((tip[0] - from[0]) / length, (tip[1] - from[1]) / length);
    let back = [tip[0] - 10.0 * ux, tip[1] - 10.0 * uy];
    let points = [tip, [back[0] - 4.5 * uy, back[1] + 4.5 * ux], [back[0] + 4.5 * uy, back[1] - 4.5 * ux]];
    canvas.polygon("arrow", &points, "");
}

/// Marks of one chart differ in shape; from the seventh on they are hollow.
pub(super) fn symbol(canvas: &mut Canvas, index: usize, at: Pixel) {
    let class = if (index / 6).is_multiple_of(2) { "mark" } else { "mark hollow" };
    let around =
        |points: &[Pixel]| -> Vec<Pixel> { points.iter().map(|p| [at[0] + p[0], at[1] + p[1]]).collect() };
    match index % 6 {
        0 => canvas.circle(class, at, 4.5),
        1 => canvas.rect(class, &Rect::new(at[0] - 4.2, at[1] - 4.2, 8.4, 8.4)),
        2 => canvas.polygon(class, &around(&[[0.0, -5.5], [5.2, 4.0], [-5.2, 4.0]]), ""),
        3 => canvas.polygon(class, &around(&[[0.0, -5.8], [5.8, 0.0], [0.0, 5.8], [-5.8, 0.0]]), ""),
        4 => canvas.polygon(class, &around(&[[0.0, 5.5], [5.2, -4.0], [-5.2, -4.0]]), ""),
        _ => {
            let arm = 4.6;
            let strokes = [
                vec![[at[0] - arm, at[1] - arm], [at[0] + arm, at[1] + arm]],
                vec![[at[0] - arm, at[1] + arm], [at[0] + arm, at[1] - arm]],
            ];
            canvas.runs("mark-cross", &strokes, "");
        }
    }
}

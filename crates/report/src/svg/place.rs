//! Where labels go: each beside the thing it names, on free paper; what finds no free place goes into the
//! key below the chart.

use super::canvas::{Canvas, LABEL, text_block};
use super::geometry::{Pixel, Rect, box_in_polygon, clip_segment, in_polygon};
use super::text::wrap;

/// Widest label inside a chart; longer ones break into lines.
const WIDEST: f64 = 190.0;
const MOST_LINES: usize = 4;
/// Paper between a label and what it names.
const GAP: f64 = 6.0;
/// Cost of a line that runs through a label, in the same measure as the distances of `Wish`.
const CROSSED: f64 = 4.0;

/// Cost of hatching behind a label.
const HATCHED: f64 = 1.0;

/// What is drawn already, that labels should not lie on.
#[derive(Default)]
pub(super) struct Drawn {
    /// Curves, limits and marks.
    pub(super) curves: Vec<Obstacle>,
    /// Forbidden areas.
    pub(super) hatched: Vec<Vec<Pixel>>,
}

/// Something that is a line, to labels.
pub(super) struct Obstacle {
    runs: Vec<Vec<Pixel>>,
    bounds: Rect,
}

impl Obstacle {
    pub(super) fn new(runs: Vec<Vec<Pixel>>) -> Self {
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for p in runs.iter().flatten() {
            for axis in 0..2 {
                low[axis] = low[axis].min(p[axis]);
                high[axis] = high[axis].max(p[axis]);
            }
        }
        let bounds = Rect::new(low[0] - 1.0, low[1] - 1.0, high[0] - low[0] + 2.0, high[1] - low[1] + 2.0);
        Self { runs, bounds }
    }

    fn touches(&self, r: &Rect) -> bool {
        self.bounds.overlaps(r)
            && self.runs.iter().flat_map(|run| run.windows(2)).any(|s| clip_segment(s[0], s[1], r).is_some())
    }
}

/// A place that a label would take: its centre, and how gladly (0 is best).
pub(super) struct Wish {
    centre: Pixel,
    cost: f64,
}

/// A label looking for its place.
pub(super) struct Label {
    pub(super) class: &'static str,
    lines: Vec<String>,
    size: [f64; 2],
}

impl Label {
    pub(super) fn new(class: &'static str, words: &str) -> Self {
        let lines = wrap(words, LABEL, WIDEST, MOST_LINES);
        let room = text_block([0.0, 0.0], &lines).map_or([0.0, 0.0], |r| [r.w, r.h]);
        Self { class, lines, size: room }
    }

    fn is_empty(&self) -> bool {
        self.size[0] <= 0.0
    }

    fn at(&self, centre: Pixel) -> Rect {
        let [w, h] = self.size;
        Rect::new(centre[0] - w / 2.0, centre[1] - h / 2.0, w, h)
    }

    /// Places around a point, at a distance; right and above first.
    pub(super) fn around(&self, p: Pixel, distance: f64, cost: f64) -> Vec<Wish> {
        let [w, h] = self.size;
        let (dx, dy) = (w / 2.0 + distance, h / 2.0 + distance * 0.6);
        [(1.0, -1.0), (1.0, 1.0), (-1.0, -1.0), (-1.0, 1.0), (1.0, 0.0), (-1.0, 0.0), (0.0, -1.0), (0.0, 1.0)]
            .iter()
            .enumerate()
            .map(|(i, (sx, sy))| Wish {
                centre: [p[0] + sx * dx, p[1] + sy * dy],
                cost: cost + 0.05 * i as f64,
            })
            .collect()
    }

    /// Places along a curve, best at `best` of its length; `cost` is that of the best.
    pub(super) fn along(&self, runs: &[Vec<Pixel>], best: f64, cost: f64) -> Vec<Wish> {
        const SAMPLES: usize = 24;
        let step = |s: &[Pixel]| libm::hypot(s[1][0] - s[0][0], s[1][1] - s[0][1]);
        let total: f64 = runs.iter().flat_map(|run| run.windows(2)).map(step).sum();
        let mut wishes = Vec::new();
        let mut passed = 0.0;
        let mut next = 0;
        for s in runs.iter().flat_map(|run| run.windows(2)) {
            let length = step(s);
            while next <= SAMPLES && total * next as f64 / SAMPLES as f64 <= passed + length {
                let along = next as f64 / SAMPLES as f64;
                let t = if length > 0.0 { ((total * along - passed) / length).clamp(0.0, 1.0) } else { 0.0 };
                let p = [s[0][0] + t * (s[1][0] - s[0][0]), s[0][1] + t * (s[1][1] - s[0][1])];
                wishes.extend(self.around(p, GAP, cost + 2.0 * (along - best).abs()));
                next += 1;
            }
            passed += length;
        }
        wishes
    }

    /// Places inside an area, best near its middle.
    pub(super) fn within(&self, area: &[Pixel]) -> Vec<Wish> {
        const STEPS: usize = 14;
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for p in area {
            for axis in 0..2 {
                low[axis] = low[axis].min(p[axis]);
                high[axis] = high[axis].max(p[axis]);
            }
        }
        let mut wishes = Vec::new();
        for i in 0..=STEPS {
            for j in 0..=STEPS {
                let f = [i as f64 / STEPS as f64, j as f64 / STEPS as f64];
                let centre = [
                    low[0] + self.size[0] / 2.0 + f[0] * (high[0] - low[0] - self.size[0]),
                    low[1] + self.size[1] / 2.0 + f[1] * (high[1] - low[1] - self.size[1]),
                ];
                if box_in_polygon(&self.at(centre).grown(2.0), area) {
                    let cost = (f[0] - 0.5).abs() + (f[1] - 0.5).abs();
                    wishes.push(Wish { centre, cost });
                }
            }
        }
        wishes
    }
}

/// Draws a label at the best free place among its wishes. `false` where there is none.
pub(super) fn place(canvas: &mut Canvas, plot: &Rect, drawn: &Drawn, label: &Label, wishes: &[Wish]) -> bool {
    if label.is_empty() {
        return true;
    }
    let inner = plot.grown(-3.0);
    let mut best: Option<(f64, Rect)> = None;
    for wish in wishes {
        let room = label.at(wish.centre);
        let cheaper = |cost: f64| best.is_none_or(|(least, _)| cost < least);
        if !cheaper(wish.cost) || !room.lies_in(&inner) || !canvas.is_free(&room.grown(3.0)) {
            continue;
        }
        let crossed = drawn.curves.iter().filter(|o| o.touches(&room)).take(3).count();
        let hatched = drawn.hatched.iter().any(|area| in_polygon(wish.centre, area));
        let cost = wish.cost + CROSSED * crossed as f64 + if hatched { HATCHED } else { 0.0 };
        // One line behind a label is legible, for it stands on a halo; more are not.
        if crossed <= 1 && cheaper(cost) {
            best = Some((cost, room));
        }
    }
    let Some((_, room)) = best else { return false };
    canvas.lines_of_text(label.class, [room.x, room.y], &label.lines);
    true
}

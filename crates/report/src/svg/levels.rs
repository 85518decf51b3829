//! Voltage levels: for each path one vertical scale with bars and lines.

use super::axes::{Ruler, range};
use super::canvas::{Anchor, Canvas, LABEL, TICK, text_box};
use super::geometry::Rect;
use super::number::number;
use super::side::{self, Column, SideLabel};
use super::text::{self, wrap};
use super::{MARGIN, WIDTH};
use finding::chart::{Axis, AxisScale, LevelMark, LevelPath, LevelRole, LevelSpan, Levels};

const GUTTER: f64 = 24.0;
const PANEL: f64 = (WIDTH - 2.0 * MARGIN - GUTTER) / 2.0;
const LANE: f64 = 20.0;
const LEAST_HEIGHT: f64 = 260.0;
/// Width kept for the numbers of the scale.
const NUMBERS: f64 = 48.0;
/// Least width of the column of labels.
const WORDS: f64 = 130.0;

/// Draws the chart; the result is its height.
pub(super) fn draw(canvas: &mut Canvas, spec: &Levels) -> f64 {
    let mut y = MARGIN;
    for row in spec.paths.chunks(2) {
        // Panels of a row have the same height, so that they line up.
        let panels: Vec<Panel<'_>> = row.iter().map(|path| Panel::new(path, &spec.unit)).collect();
        let title = panels.iter().map(|p| p.title.len()).max().unwrap_or(0) as f64 * LABEL * text::LINE;
        let height = panels.iter().map(|p| p.height).fold(LEAST_HEIGHT, f64::max);
        for (i, panel) in panels.iter().enumerate() {
            let x = MARGIN + i as f64 * (PANEL + GUTTER);
            canvas.lines_of_text("t-title", [x, y], &panel.title);
            panel.draw(canvas, &spec.unit, x, y + title + 12.0, y + title + 12.0 + height);
        }
        y += title + 12.0 + height + 26.0;
    }
    y - 26.0 + 2.0 * MARGIN
}

struct Panel<'a> {
    path: &'a LevelPath,
    title: Vec<String>,
    low: f64,
    high: f64,
    height: f64,
}

impl<'a> Panel<'a> {
    fn new(path: &'a LevelPath, unit: &str) -> Self {
        let mut levels: Vec<f64> = path.spans.iter().flat_map(|s| [s.low, s.high]).collect();
        levels.extend(path.marks.iter().map(|m| m.at));
        levels.push(0.0);
        let axis = Axis { scale: AxisScale::Linear, range: path.range, ..Axis::default() };
        let (low, high) = range(&axis, &levels);
        let mut panel =
            Self { path, title: wrap(&path.name, LABEL, PANEL, 3), low, high, height: LEAST_HEIGHT };
        let labels = panel.labels(unit, 0.0, &panel.ruler(0.0, LEAST_HEIGHT));
        panel.height = side::height(&labels, panel.column(0.0)).max(LEAST_HEIGHT);
        panel
    }

    fn ruler(&self, top: f64, bottom: f64) -> Ruler {
        Ruler::even(self.low, self.high, bottom, top)
    }

    /// Lanes become narrower where there are many bars.
    fn lane(&self) -> f64 {
        let room = PANEL - NUMBERS - WORDS - 2.0 * GUTTER;
        (room / self.path.spans.len().max(1) as f64).min(LANE)
    }

    fn lanes_end(&self, x: f64) -> f64 {
        x + NUMBERS + self.lane() * self.path.spans.len().max(3) as f64
    }

    fn column(&self, x: f64) -> Column {
        let bend = self.lanes_end(x) + 8.0;
        let text = bend + GUTTER;
        Column { bend, text, room: x + PANEL - text }
    }

    fn bar(&self, x: f64, index: usize, ruler: &Ruler) -> Rect {
        let span = &self.path.spans[index];
        let (a, b) = (ruler.edge(span.low), ruler.edge(span.high));
        let (top, bottom) = (a.min(b), a.max(b));
        let lane = self.lane();
        Rect::new(x + NUMBERS + lane * index as f64 + 2.0, top, lane - 4.0, (bottom - top).max(1.5))
    }

    /// A label for every bar and every line. How many there are must not depend on the height of the panel,
    /// which is made to hold them: what the scale does not show stands at its end, and says so.
    fn labels(&self, unit: &str, x: f64, ruler: &Ruler) -> Vec<SideLabel> {
        let bars: Vec<Rect> = (0..self.path.spans.len()).map(|i| self.bar(x, i, ruler)).collect();
        let (top, bottom) = (ruler.edge(self.high), ruler.edge(self.low));
        let mut taken: Vec<f64> = self.path.marks.iter().map(|m| ruler.pixel(m.at)).collect();
        let mut labels = Vec::new();
        for (i, (span, bar)) in self.path.spans.iter().zip(&bars).enumerate() {
            // Where bars further right leave a view of this one, its line starts there.
            let heights = [0.5, 0.25, 0.75, 0.12, 0.88, 0.98, 0.02].map(|f| bar.y + f * bar.h);
            let covered = |y: f64| bars[i + 1..].iter().any(|b| y >= b.y - 3.0 && y <= b.bottom() + 3.0);
            let alone = |y: f64| taken.iter().all(|t| (t - y).abs() > 5.0);
            let first = |fits: &dyn Fn(f64) -> bool| {
                heights.iter().copied().find(|y| *y >= top && *y <= bottom && fits(*y))
            };
            let y = first(&|y| !covered(y) && alone(y))
                .or_else(|| first(&alone))
                .unwrap_or_else(|| within(heights[0], top, bottom));
            taken.push(y);
            let shown = span.low.max(span.high) >= self.low && span.low.min(span.high) <= self.high;
            let words = shown_or_not(span_words(span, unit), shown);
            labels.push(SideLabel { class: "t-label", words, y, x: bar.right() - 3.0 });
        }
        for mark in &self.path.marks {
            let y = within(ruler.pixel(mark.at), top, bottom);
            let words = shown_or_not(mark_words(mark, unit), mark.at >= self.low && mark.at <= self.high);
            labels.push(SideLabel { class: mark_text(mark.role), words, y, x: self.lanes_end(x) });
        }
        labels
    }

    fn draw(&self, canvas: &mut Canvas, unit: &str, x: f64, top: f64, bottom: f64) {
        let ruler = self.ruler(top, bottom);
        let (left, right) = (x + NUMBERS, self.lanes_end(x));
        let area = Rect::new(left, top, right - left, bottom - top);
        for tick in ruler.ticks(6.0) {
            let y = ruler.pixel(tick.at);
            canvas.line("grid", [left - 4.0, y], [right, y]);
            let words = format!("{} {unit}", tick.label);
            let words = if text::width(&words, TICK) < NUMBERS - 6.0 { words } else { tick.label };
            let at = [left - 6.0, y + 0.36 * TICK];
            let room = text_box(at, Anchor::End, TICK, &words);
            if room.x >= 0.0 && canvas.is_free(&room) {
                canvas.text("t-tick", at, Anchor::End, TICK, &words);
            }
        }
        canvas.line("axis", [left, top], [left, bottom]);
        let inside = |r: Rect| {
            let (y0, y1) = (r.y.clamp(top, bottom), r.bottom().clamp(top, bottom));
            Rect::new(r.x, y0, r.w, y1 - y0)
        };
        let labels = self.labels(unit, x, &ruler);
        // What lies above a destroying level above zero, or below one below zero, is hatched.
        for mark in self.path.marks.iter().filter(|m| m.role == LevelRole::Destroys) {
            let y = ruler.edge(mark.at).clamp(top, bottom);
            let beyond = if mark.at > 0.0 { [top, y] } else { [y, bottom] };
            let zone = Rect::new(area.x, beyond[0], area.w, beyond[1] - beyond[0]);
            canvas.filled_rect("forbidden", &zone, "hatch");
        }
        side::draw(canvas, labels, self.column(x), top, bottom);
        for (i, span) in self.path.spans.iter().enumerate() {
            let bar = inside(self.bar(x, i, &ruler));
            canvas.open(&span_words(span, unit));
            let (class, fill) = bar_look(span.role);
            canvas.filled_rect(class, &bar, fill);
            canvas.close();
        }
        for mark in &self.path.marks {
            let y = ruler.pixel(mark.at);
            if y.is_finite() && y >= top && y <= bottom {
                canvas.open(&mark_words(mark, unit));
                let (class, dash) = mark_look(mark.role);
                canvas.runs(class, &[vec![[left - 4.0, y], [right, y]]], dash);
                canvas.close();
            }
        }
    }
}

/// A height on the panel; what has no height stands at the bottom.
fn within(y: f64, top: f64, bottom: f64) -> f64 {
    if y.is_nan() { bottom } else { y.clamp(top, bottom) }
}

fn shown_or_not(words: String, shown: bool) -> String {
    if shown { words } else { format!("{words} (outside this scale)") }
}

fn span_words(span: &LevelSpan, unit: &str) -> String {
    format!("{} {}\u{a0}..\u{a0}{}\u{a0}{unit}", span.label, number(span.low), number(span.high))
        .trim_end()
        .to_owned()
}

fn mark_words(mark: &LevelMark, unit: &str) -> String {
    format!("{} {}\u{a0}{unit}", mark.label, number(mark.at)).trim_end().to_owned()
}

/// Class and pattern of a bar: what is there is solid, what may be there is open, the rest is patterned.
fn bar_look(role: LevelRole) -> (&'static str, &'static str) {
    match role {
        LevelRole::Present => ("bar present", ""),
        LevelRole::Excursion => ("bar excursion", "bars"),
        LevelRole::Permitted => ("bar permitted", ""),
        LevelRole::Threshold => ("bar threshold", "dots"),
        LevelRole::Rating => ("bar rating", "dots"),
        LevelRole::Destroys => ("bar destroys", "hatch"),
    }
}

fn mark_look(role: LevelRole) -> (&'static str, &'static str) {
    match role {
        LevelRole::Present => ("c-nominal", ""),
        LevelRole::Excursion => ("c-course", "2 3"),
        LevelRole::Permitted => ("c-measured", "9 3"),
        LevelRole::Threshold => ("c-bound", "5 3"),
        LevelRole::Rating => ("c-measured", "9 3 2 3"),
        LevelRole::Destroys => ("c-limit", ""),
    }
}

fn mark_text(role: LevelRole) -> &'static str {
    match role {
        LevelRole::Destroys => "t-limit",
        LevelRole::Excursion => "t-course",
        LevelRole::Present | LevelRole::Permitted | LevelRole::Threshold | LevelRole::Rating => "t-label",
    }
}

//! Axes: the range shown, the way from data to pixels, divisions and their labels.

use super::canvas::{Anchor, Canvas, LABEL, TICK, text_box};
use super::geometry::{Pixel, Rect, tame};
use super::number::{Tick, linear_ticks, log_ticks};
use super::text::{self, wrap};
use super::{MARGIN, WIDTH};
use finding::chart::{self, AxisScale};

/// The way from values to pixels along one axis.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Ruler {
    low: f64,
    high: f64,
    log: bool,
    from: f64,
    to: f64,
}

impl Ruler {
    /// An even ruler; `low` at pixel `from`, `high` at pixel `to`. `low` may be above `high`.
    pub(super) fn even(low: f64, high: f64, from: f64, to: f64) -> Self {
        Self { low, high, log: false, from, to }
    }

    /// Pixel of a value. Not a number where the value has no place: not finite, or not above zero on a
    /// logarithmic axis.
    pub(super) fn pixel(&self, v: f64) -> f64 {
        if !v.is_finite() || (self.log && v <= 0.0) { f64::NAN } else { self.edge(v) }
    }

    /// Like `pixel`, but a value that has no place on a logarithmic axis lies far beyond its lower end: right
    /// for edges of areas.
    pub(super) fn edge(&self, v: f64) -> f64 {
        let fraction = if !self.log {
            (v - self.low) / (self.high - self.low)
        } else if v > 0.0 {
            (libm::log10(v) - libm::log10(self.low)) / (libm::log10(self.high) - libm::log10(self.low))
        } else {
            f64::NEG_INFINITY
        };
        tame(self.from + fraction * (self.to - self.from))
    }

    pub(super) fn ticks(&self, wanted: f64) -> Vec<Tick> {
        let (low, high) = (self.low.min(self.high), self.low.max(self.high));
        if self.log { log_ticks(low, high, wanted) } else { linear_ticks(low, high, wanted) }
    }
}

/// The frame of a chart with two axes.
pub(super) struct Frame {
    pub(super) x: Ruler,
    pub(super) y: Ruler,
    /// Where curves are drawn.
    pub(super) plot: Rect,
    /// Below axis and labels.
    pub(super) bottom: f64,
}

impl Frame {
    pub(super) fn pixel(&self, p: &chart::Point) -> Pixel {
        [self.x.pixel(p[0]), self.y.pixel(p[1])]
    }

    /// Corner of an area: always has a place, unless it is not a number.
    pub(super) fn corner(&self, p: &chart::Point) -> Pixel {
        [self.x.edge(p[0]), self.y.edge(p[1])]
    }
}

const PLOT_HEIGHT: f64 = 380.0;

/// Draws grid, ticks and axis labels. `xs` and `ys` are the data, for axes without a range of their own.
pub(super) fn draw(
    canvas: &mut Canvas,
    (x, xs): (&chart::Axis, Vec<f64>),
    (y, ys): (&chart::Axis, Vec<f64>),
) -> Frame {
    let title = |axis: &chart::Axis, room: f64| {
        let words = match (axis.label.trim(), axis.unit.trim()) {
            (label, "") => label.to_owned(),
            ("", unit) => format!("in {unit}"),
            (label, unit) => format!("{label} in {unit}"),
        };
        wrap(&words, LABEL, room, 3)
    };
    let y_title = title(y, WIDTH - 2.0 * MARGIN);
    let line = LABEL * text::LINE;
    canvas.lines_of_text("t-axis", [MARGIN, MARGIN], &y_title);
    let top = MARGIN + y_title.len() as f64 * line + 10.0;
    let (y_low, y_high) = range(y, &ys);
    let (x_low, x_high) = range(x, &xs);
    let is_log = |axis: &chart::Axis| axis.scale == AxisScale::Log;
    let y_ruler = Ruler { low: y_low, high: y_high, log: is_log(y), from: top + PLOT_HEIGHT, to: top };
    let y_ticks = y_ruler.ticks(if y_ruler.log { 12.0 } else { 7.0 });
    let widest = y_ticks.iter().map(|t| text::width(&t.label, TICK)).fold(0.0, f64::max);
    let left = MARGIN + widest + 8.0;
    let plot = Rect::new(left, top, WIDTH - MARGIN - 16.0 - left, PLOT_HEIGHT);
    let x_ruler = Ruler { low: x_low, high: x_high, log: is_log(x), from: plot.x, to: plot.right() };

    for tick in &y_ticks {
        let at = y_ruler.pixel(tick.at);
        canvas.line(grid_class(tick), [plot.x, at], [plot.right(), at]);
        label(canvas, tick, [plot.x - 7.0, at + 0.36 * TICK], Anchor::End);
    }
    for tick in x_ruler.ticks(9.0) {
        let at = x_ruler.pixel(tick.at);
        canvas.line(grid_class(&tick), [at, plot.y], [at, plot.bottom()]);
        label(canvas, &tick, [at, plot.bottom() + 6.0 + TICK], Anchor::Middle);
    }
    canvas.line("axis", [plot.x, plot.bottom()], [plot.right(), plot.bottom()]);
    canvas.line("axis", [plot.x, plot.y], [plot.x, plot.bottom()]);

    let mut bottom = plot.bottom() + 10.0 + TICK * text::LINE;
    for words in &title(x, plot.w) {
        canvas.text("t-axis", [plot.right(), bottom + LABEL], Anchor::End, LABEL, words);
        bottom += line;
    }
    Frame { x: x_ruler, y: y_ruler, plot, bottom }
}

pub(super) fn grid_class(tick: &Tick) -> &'static str {
    if tick.label.is_empty() { "grid minor" } else { "grid" }
}

/// Draws the label of a tick unless another label is in the way or it would leave the paper.
pub(super) fn label(canvas: &mut Canvas, tick: &Tick, at: Pixel, anchor: Anchor) {
    let room = text_box(at, anchor, TICK, &tick.label);
    let fits = room.x >= 0.0 && room.right() <= WIDTH;
    if !tick.label.is_empty() && fits && canvas.is_free(&room.grown(1.0)) {
        canvas.text("t-tick", at, anchor, TICK, &tick.label);
    }
}

/// Lowest and highest value that an axis shows: its own range where it is usable, else what the data need
/// with a little room, zero included where it is near.
pub(super) fn range(axis: &chart::Axis, data: &[f64]) -> (f64, f64) {
    let log = axis.scale == AxisScale::Log;
    let usable = |v: f64| v.is_finite() && v.abs() < 1e290 && (!log || v > 1e-290);
    if let Some([low, high]) = axis.range
        && usable(low)
        && usable(high)
        && high - low > 1e-9 * low.abs().max(high.abs())
    {
        return (low, high);
    }
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for v in data.iter().copied().filter(|v| usable(*v)) {
        low = low.min(v);
        high = high.max(v);
    }
    if low > high {
        return if log { (1.0, 10.0) } else { (0.0, 1.0) };
    }
    if log {
        return if high / low < 1.5 { (low / 2.0, high * 2.0) } else { (low / 1.3, high * 1.3) };
    }
    if low > 0.0 && low < 0.5 * high {
        low = 0.0;
    } else if high < 0.0 && high > 0.5 * low {
        high = 0.0;
    }
    let span = high - low;
    if span <= 1e-6 * low.abs().max(high.abs()) || span == 0.0 {
        let half = if low == 0.0 { 1.0 } else { 0.1 * low.abs() };
        return (low - half, high + half);
    }
    let room = 0.06 * span;
    (if low == 0.0 { 0.0 } else { low - room }, if high == 0.0 { 0.0 } else { high + room })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn axis(scale: AxisScale, range: Option<[f64; 2]>) -> chart::Axis {
        chart::Axis { scale, range, ..chart::Axis::default() }
    }

    #[test]
    fn ranges_follow_the_data_where_none_is_given() {
        let linear = axis(AxisScale::Linear, None);
        // By hand: zero included where it is near, 6 % room at ends that are not zero.
        assert_eq!(range(&linear, &[]), (0.0, 1.0));
        assert_eq!(range(&linear, &[2.0, 100.0, f64::NAN]), (0.0, 106.0));
        assert_eq!(range(&linear, &[-10.0, 10.0]), (-11.2, 11.2));
        assert_eq!(range(&linear, &[5.0, 5.0]), (4.5, 5.5));
        assert_eq!(range(&linear, &[0.0]), (-1.0, 1.0));
        let log = axis(AxisScale::Log, None);
        assert_eq!(range(&log, &[-1.0, 0.0]), (1.0, 10.0));
        assert_eq!(range(&log, &[0.0, 1.3, 10.0]), (1.0, 13.0));
    }

    #[test]
    fn unusable_ranges_are_not_taken() {
        for range_given in [[1.0, 1.0], [2.0, 1.0], [f64::NAN, 1.0], [0.0, f64::INFINITY]] {
            assert_eq!(range(&axis(AxisScale::Linear, Some(range_given)), &[]), (0.0, 1.0));
        }
        assert_eq!(range(&axis(AxisScale::Log, Some([0.0, 5.0])), &[]), (1.0, 10.0));
    }

    #[test]
    fn a_decade_is_as_long_as_the_next() {
        let ruler = Ruler { low: 1.0, high: 100.0, log: true, from: 0.0, to: 200.0 };
        assert_eq!(ruler.pixel(10.0), 100.0);
        assert!(ruler.pixel(0.0).is_nan());
        assert!(ruler.edge(0.0) < -1e6);
    }
}

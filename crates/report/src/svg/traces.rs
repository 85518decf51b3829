//! A column of small plots over one common time.

use super::axes::{self, Ruler};
use super::canvas::{Anchor, Canvas, LABEL, TICK, text_box};
use super::geometry::{Pixel, Rect, clip_polygon, clip_polyline};
use super::look::{BAND_FILLS, STRAIGHT, classes, curve, dashes};
use super::number::Tick;
use super::side::{self, Column, SideLabel};
use super::text::{self, wrap};
use super::{MARGIN, WIDTH};
use finding::chart::{self, Named, Panel, Point, Traces};

/// Height of a plot that has few labels.
const HEIGHT: f64 = 56.0;
/// Height of lines of one bit.
const LOGIC_HEIGHT: f64 = 24.0;
/// Width of the column of labels with its lines.
const WORDS: f64 = 190.0;
/// Room for the numbers of the vertical axes.
const NUMBERS: f64 = 64.0;
/// Paper between plots.
const GAP: f64 = 12.0;
/// Dashes of moments.
const MOMENT: &str = "2 4";

/// Draws the chart; the result is its height.
pub(super) fn draw(canvas: &mut Canvas, spec: &Traces) -> f64 {
    let (left, right) = (MARGIN + NUMBERS, WIDTH - MARGIN - WORDS);
    let times = |panel: &Panel| -> Vec<f64> { points(panel).map(|p| p[0]).collect() };
    let all: Vec<f64> =
        spec.panels.iter().flat_map(times).chain(spec.moments.iter().map(|moment| moment.at)).collect();
    let (start, end) = axes::range(&spec.time, &all);
    let time = Ruler::even(start, end, left, right);
    let ticks = time.ticks(7.0);

    let moments: Vec<(f64, &Named)> = spec
        .moments
        .iter()
        .map(|moment| (time.pixel(moment.at), moment))
        .filter(|(x, _)| *x >= left && *x <= right)
        .collect();
    let mut bottom = heads(canvas, &moments, right);
    for panel in &spec.panels {
        let unit = if panel.unit.is_empty() { String::new() } else { format!(" in {}", panel.unit) };
        let title = wrap(&format!("{}{unit}", panel.title), LABEL, WIDTH - 2.0 * MARGIN, 2);
        canvas.lines_of_text("t-title", [MARGIN, bottom], &title);
        let from = bottom + title.len() as f64 * LABEL * text::LINE + 5.0;
        let body = plot(canvas, panel, &time, &ticks, [left, right, from]);
        // The name of a moment stands once, above all plots.
        for (x, moment) in &moments {
            canvas.open(&moment.label);
            canvas.runs("c-bound", &[vec![[*x, body.y], [*x, body.bottom()]]], MOMENT);
            canvas.close();
        }
        bottom = body.bottom() + GAP;
    }
    bottom -= GAP;
    for tick in &ticks {
        axes::label(canvas, tick, [time.pixel(tick.at), bottom + 6.0 + TICK], Anchor::Middle);
    }
    bottom += 10.0 + TICK * text::LINE;
    let words = match (spec.time.label.trim(), spec.time.unit.trim()) {
        (label, "") => label.to_owned(),
        ("", unit) => format!("in {unit}"),
        (label, unit) => format!("{label} in {unit}"),
    };
    for line in wrap(&words, LABEL, right - MARGIN, 3) {
        canvas.text("t-axis", [right, bottom + LABEL], Anchor::End, LABEL, &line);
        bottom += LABEL * text::LINE;
    }
    bottom + MARGIN
}

/// Names of moments above the plots, in as many lines as they need; the result is where the plots begin.
fn heads(canvas: &mut Canvas, moments: &[(f64, &Named)], right: f64) -> f64 {
    let line = LABEL * text::LINE;
    let mut top = MARGIN;
    for (x, moment) in moments {
        let words = wrap(&moment.label, LABEL, right - MARGIN, 1);
        let Some(words) = words.first().filter(|words| !words.is_empty()) else { continue };
        let wide = text::width(words, LABEL);
        // On its moment, moved so that it stays on the paper.
        let x = (x - wide / 2.0).clamp(MARGIN, (WIDTH - MARGIN - wide).max(MARGIN));
        let rows = (0_u32..).map(|row| MARGIN + f64::from(row) * line + LABEL);
        let free = |y: &f64| canvas.is_free(&text_box([x, *y], Anchor::Start, LABEL, words).grown(2.0));
        if let Some(y) = rows.take(moments.len()).find(free) {
            canvas.text("t-label", [x, y], Anchor::Start, LABEL, words);
            top = top.max(y - LABEL + line);
        }
    }
    top + if top > MARGIN { 6.0 } else { 0.0 }
}

/// Draws a plot between two columns of the paper; the result is where its curves are.
fn plot(
    canvas: &mut Canvas,
    panel: &Panel,
    time: &Ruler,
    ticks: &[Tick],
    [left, right, top]: [f64; 3],
) -> Rect {
    let column = Column { bend: right + 8.0, text: right + 26.0, room: WORDS - 26.0 };
    // How many lines the labels take does not depend on the height, nor on the way from values to pixels.
    let flat = Ruler::even(0.0, 1.0, top, top);
    let least = if panel.logic { LOGIC_HEIGHT } else { HEIGHT };
    let inside = |height: f64| Rect::new(left, top, right - left, height);
    let height = side::height(&labels(panel, time, &flat, &inside(0.0)), column).max(least);
    let body = inside(height);
    let axis = chart::Axis { range: panel.range, ..chart::Axis::default() };
    let values =
        points(panel).map(|p| p[1]).chain(panel.limits.iter().map(|limit| limit.at)).collect::<Vec<_>>();
    let (low, high) = axes::range(&axis, &values);
    let value = Ruler::even(low, high, body.bottom(), body.y);

    for tick in ticks {
        let x = time.pixel(tick.at);
        canvas.line(axes::grid_class(tick), [x, body.y], [x, body.bottom()]);
    }
    for tick in value.ticks(if panel.logic { 2.0 } else { height / 16.0 }) {
        let y = value.pixel(tick.at);
        canvas.line(axes::grid_class(&tick), [body.x, y], [body.right(), y]);
        axes::label(canvas, &tick, [body.x - 7.0, y + 0.36 * TICK], Anchor::End);
    }
    canvas.line("axis", [body.x, body.bottom()], [body.right(), body.bottom()]);
    canvas.line("axis", [body.x, body.y], [body.x, body.bottom()]);

    for (number, band) in panel.bands.iter().enumerate() {
        let edge = band.upper.iter().chain(band.lower.iter().rev());
        let corners: Vec<Pixel> = edge
            .map(|p| [time.edge(p[0]), value.edge(p[1])])
            .filter(|p| p.iter().all(|v| v.is_finite()))
            .collect();
        canvas.open(&band.name);
        canvas.polygon("band", &clip_polygon(&corners, &body), BAND_FILLS[number % BAND_FILLS.len()]);
        for edge in [&band.upper, &band.lower] {
            canvas.runs("band-edge", &runs(edge, time, &value, &body), "");
        }
        canvas.close();
    }
    for limit in &panel.limits {
        let y = value.pixel(limit.at);
        canvas.open(&limit.label);
        let run = clip_polyline(&[[body.x, y], [body.right(), y]], &body);
        canvas.runs("c-limit", &run, STRAIGHT);
        canvas.close();
    }
    for (series, dash) in panel.series.iter().zip(dashes(&panel.series)) {
        curve(canvas, series, &runs(&series.points, time, &value, &body), dash);
    }
    side::draw(canvas, labels(panel, time, &value, &body), column, body.y, body.bottom());
    body
}

/// What stands beside a plot: each name at the height where the eye leaves the thing that it names.
fn labels(panel: &Panel, time: &Ruler, value: &Ruler, body: &Rect) -> Vec<SideLabel> {
    let inside = |y: f64| if y.is_finite() { y.clamp(body.y, body.bottom()) } else { body.bottom() };
    let label = |class, words: &str, at: Option<Pixel>| {
        let end =
            at.map_or([body.right(), body.bottom()], |p| [p[0].clamp(body.x, body.right()), inside(p[1])]);
        SideLabel { class, words: words.to_owned(), y: end[1], x: end[0] }
    };
    let last = |points: &[Point]| {
        points
            .iter()
            .rev()
            .map(|p| [time.pixel(p[0]), value.pixel(p[1])])
            .find(|p| p.iter().all(|v| v.is_finite()))
    };
    let series = panel.series.iter().map(|s| label(classes(s.purpose).1, &s.name, last(&s.points)));
    let limits =
        panel.limits.iter().map(|l| label("t-limit", &l.label, Some([body.right(), value.pixel(l.at)])));
    let bands = panel.bands.iter().map(|b| {
        let middle = last(&b.upper).zip(last(&b.lower)).map(|(u, l)| [u[0].min(l[0]), 0.5 * (u[1] + l[1])]);
        label("t-bound", &b.name, middle)
    });
    series.chain(limits).chain(bands).filter(|label| !label.words.trim().is_empty()).collect()
}

fn points(panel: &Panel) -> impl Iterator<Item = &Point> {
    let edges = panel.bands.iter().flat_map(|b| [&b.upper, &b.lower]);
    panel.series.iter().map(|s| &s.points).chain(edges).flatten()
}

/// The visible runs of a curve, thinned to what a print can show.
fn runs(points: &[Point], time: &Ruler, value: &Ruler, body: &Rect) -> Vec<Vec<Pixel>> {
    let pixels: Vec<Pixel> = points.iter().map(|p| [time.pixel(p[0]), value.pixel(p[1])]).collect();
    clip_polyline(&pixels, body).iter().map(|run| thinned(run)).collect()
}

/// Of all points over one column of pixels, the first, the highest, the lowest and the last: every peak stays.
fn thinned(run: &[Pixel]) -> Vec<Pixel> {
    let mut kept: Vec<Pixel> = Vec::new();
    for part in run.chunk_by(|a, b| libm::floor(a[0]) == libm::floor(b[0])) {
        let by_height = |a: &(usize, &Pixel), b: &(usize, &Pixel)| a.1[1].total_cmp(&b.1[1]);
        let highest = part.iter().enumerate().min_by(by_height).map_or(0, |(place, _)| place);
        let lowest = part.iter().enumerate().max_by(by_height).map_or(0, |(place, _)| place);
        let mut places = [0, highest.min(lowest), highest.max(lowest), part.len() - 1].to_vec();
        places.dedup();
        kept.extend(places.into_iter().map(|place| part[place]));
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn thinning_keeps_every_peak(steps in proptest::collection::vec((0.0..0.4_f64, 0.0..60.0_f64), 2..800)) {
            let mut x = 0.0;
            let run: Vec<Pixel> = steps.iter().map(|(step, y)| { x += step; [x, *y] }).collect();
            let thin = thinned(&run);
            prop_assert!(thin.len() <= 4 * (x as usize + 1));
            prop_assert_eq!((thin.first(), thin.last()), (run.first(), run.last()));
            prop_assert!(thin.windows(2).all(|pair| pair[0][0] <= pair[1][0]));
            for column in 0..=(x as usize) {
                let within = |points: &[Pixel]| -> Vec<f64> {
                    points.iter().filter(|p| p[0] as usize == column).map(|p| p[1]).collect()
                };
                let bounds = |ys: Vec<f64>| ys.iter().fold((f64::MAX, f64::MIN), |(l, h), y| (l.min(*y), h.max(*y)));
                prop_assert_eq!(bounds(within(&thin)), bounds(within(&run)));
            }
        }
    }
}

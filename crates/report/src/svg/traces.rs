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
/// Paper between plots, and between two that share a title.
const GAP: f64 = 12.0;
const SMALL_GAP: f64 = 5.0;
/// Part of the height that curves and bands keep whatever limits are drawn in: one that would leave them less stays
/// outside, and its label says on which side.
const LEAST_PART: f64 = 0.1;
/// Height of a plot at least, as a part of the largest value in it: what lies below is not drawn large.
const FINEST: f64 = 0.02;
/// Changes of a line of one bit that stand closer than this on paper are no lines of their own, and so many of them on
/// end are drawn as a block.
const DENSE: f64 = 3.0;
const BLOCK: usize = 6;
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
    let mut title_before = None;
    for panel in &spec.panels {
        let unit = if panel.unit.is_empty() { String::new() } else { format!(" in {}", panel.unit) };
        let title = format!("{}{unit}", panel.title);
        let from = if title_before.as_ref() == Some(&title) {
            // Plots of one title stand under it together.
            bottom - GAP + SMALL_GAP
        } else {
            let lines = wrap(&title, LABEL, WIDTH - 2.0 * MARGIN, 2);
            canvas.lines_of_text("t-title", [MARGIN, bottom], &lines);
            bottom + lines.len() as f64 * LABEL * text::LINE + 5.0
        };
        title_before = Some(title);
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
    let (low, high) = range(panel);
    // How many lines the labels take does not depend on the height, nor on the way from values to pixels.
    let flat = Ruler::even(low, high, top, top);
    let least = if panel.logic { LOGIC_HEIGHT } else { HEIGHT };
    let inside = |height: f64| Rect::new(left, top, right - left, height);
    let height = side::height(&labels(panel, (time, &flat), &inside(0.0), (low, high)), column).max(least);
    let body = inside(height);
    let value = Ruler::even(low, high, body.bottom(), body.y);

    for tick in ticks {
        let x = time.pixel(tick.at);
        canvas.line(axes::grid_class(tick), [x, body.y], [x, body.bottom()]);
    }
    for tick in divisions(panel, &value, (low, high), height) {
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
    for limit in panel.limits.iter().filter(|limit| (low..=high).contains(&limit.at)) {
        let y = value.pixel(limit.at);
        canvas.open(&limit.label);
        let run = clip_polyline(&[[body.x, y], [body.right(), y]], &body);
        canvas.runs("c-limit", &run, STRAIGHT);
        canvas.close();
    }
    for (series, dash) in panel.series.iter().zip(dashes(&panel.series)) {
        let runs = runs(&series.points, time, &value, &body);
        if panel.logic {
            let (lines, blocks) = without_blocks(&runs);
            for [from, to] in blocks {
                canvas.open(&series.name);
                let (top, bottom) = (value.pixel(1.0), value.pixel(0.0));
                let corners = [[from, top], [to, top], [to, bottom], [from, bottom]];
                canvas.polygon("busy", &clip_polygon(&corners, &body), "");
                canvas.close();
            }
            curve(canvas, series, &lines, dash);
        } else {
            curve(canvas, series, &runs, dash);
        }
    }
    let names = labels(panel, (time, &value), &body, (low, high));
    side::draw(canvas, names, column, body.y, body.bottom());
    body
}

/// What stands beside a plot: each name at the height where the eye leaves the thing that it names. Of a limit that lies
/// outside of what is shown it says on which side.
fn labels(
    panel: &Panel,
    (time, value): (&Ruler, &Ruler),
    body: &Rect,
    (low, high): (f64, f64),
) -> Vec<SideLabel> {
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
    let limits = panel.limits.iter().map(|l| {
        let words = match l.label.trim() {
            "" => String::new(),
            words if l.at > high => format!("↑ {words}"),
            words if l.at < low => format!("↓ {words}"),
            words => words.to_owned(),
        };
        label("t-limit", &words, Some([body.right(), value.pixel(l.at)]))
    });
    let bands = panel.bands.iter().map(|b| {
        let middle = last(&b.upper).zip(last(&b.lower)).map(|(u, l)| [u[0].min(l[0]), 0.5 * (u[1] + l[1])]);
        label("t-bound", &b.name, middle)
    });
    series.chain(limits).chain(bands).filter(|label| !label.words.trim().is_empty()).collect()
}

/// Lowest and highest value shown: what curves and bands need, and limits as far as they leave those their part.
fn range(panel: &Panel) -> (f64, f64) {
    let axis = chart::Axis { range: panel.range, ..chart::Axis::default() };
    let mut values: Vec<f64> = points(panel).map(|p| p[1]).filter(|v| v.is_finite()).collect();
    let ends = |values: &[f64]| {
        values.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(*v), high.max(*v)))
    };
    let (low, high) = ends(&values);
    let finest = FINEST * low.abs().max(high.abs());
    if high - low < finest {
        let middle = 0.5 * (low + high);
        values.extend([middle - 0.5 * finest, middle + 0.5 * finest]);
    }
    // Of a curve that lies still there is nothing to see but its distance from its limits.
    let is_still = high <= low && low == 0.0;
    let drawn = axes::range(&chart::Axis::default(), &values);
    let part = drawn.1 - drawn.0;
    let mut limits: Vec<f64> =
        panel.limits.iter().map(|limit| limit.at).filter(|at| at.is_finite()).collect();
    let away = |at: &f64| (drawn.0 - at).max(at - drawn.1);
    limits.sort_by(|a, b| away(a).total_cmp(&away(b)));
    for at in limits {
        let (low, high) = ends(&values);
        let whole = high.max(at) - low.min(at);
        if is_still || values.is_empty() || part >= LEAST_PART * whole {
            values.push(at);
        }
    }
    axes::range(&axis, &values)
}

/// Divisions of the vertical axis: two with numbers at least.
fn divisions(panel: &Panel, value: &Ruler, (low, high): (f64, f64), height: f64) -> Vec<Tick> {
    if panel.logic {
        let levels = [(0.0, "0"), (1.0, "1")].into_iter().filter(|(at, _)| (low..=high).contains(at));
        return levels.map(|(at, label)| Tick { at, label: label.to_owned() }).collect();
    }
    let wanted = height / 16.0;
    let told = |ticks: &[Tick]| ticks.iter().filter(|tick| !tick.label.is_empty()).count();
    let tries = [1.0, 1.5, 2.0, 3.0].map(|more| value.ticks(wanted * more));
    tries.into_iter().find(|ticks| told(ticks) > 1).unwrap_or_else(|| value.ticks(wanted))
}

/// Runs of a line of one bit without the parts in which it changes more often than paper can show, and those parts,
/// each from pixel to pixel.
fn without_blocks(runs: &[Vec<Pixel>]) -> (Vec<Vec<Pixel>>, Vec<[f64; 2]>) {
    let (mut lines, mut blocks) = (Vec::new(), Vec::new());
    for run in runs {
        // Places at which the line changes: the second one of two points.
        let changes: Vec<usize> = (1..run.len()).filter(|at| run[*at][1] != run[at - 1][1]).collect();
        let mut from = 0;
        for dense in changes.chunk_by(|a, b| run[*b][0] - run[*a][0] < DENSE) {
            let (Some(first), Some(last)) = (dense.first(), dense.last()) else { continue };
            if dense.len() < BLOCK {
                continue;
            }
            lines.push(run[from..*first].to_vec());
            blocks.push([run[*first][0], run[*last][0]]);
            from = *last;
        }
        lines.push(run[from..].to_vec());
    }
    lines.retain(|line| line.len() > 1);
    (lines, blocks)
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
    use finding::chart::{Purpose, Series};
    use proptest::prelude::*;

    fn panel(points: &[Point], limits: &[f64]) -> Panel {
        let series = Series { name: "x".into(), purpose: Purpose::Nominal, points: points.to_vec() };
        let limits = limits.iter().map(|at| Named { label: "limit".into(), at: *at }).collect();
        Panel { series: vec![series], limits, ..Panel::default() }
    }

    #[test]
    fn a_limit_that_would_flatten_its_curve_stays_outside() {
        let shown = |limit: f64| range(&panel(&[[0.0, 23.0], [1.0, 25.0]], &[limit]));
        // 2.2 V of 20 V are more than a tenth, of 25 V they are less.
        assert!(shown(43.0).1 > 43.0 && shown(5.0).0 < 5.0);
        assert!(shown(48.0).1 < 26.0 && shown(0.0).0 > 22.0);
        // Of several that are far away the near ones show.
        let (low, high) = range(&panel(&[[0.0, 23.0], [1.0, 25.0]], &[400.0, 30.0]));
        assert!(low > 20.0 && high > 30.0 && high < 31.0);
        // A curve at zero has nothing to lose.
        assert!(range(&panel(&[[0.0, 0.0], [1.0, 0.0]], &[400.0])).1 > 400.0);
        // Millivolts of a bus are not drawn large.
        let (low, high) = range(&panel(&[[0.0, 24.0], [1.0, 23.99]], &[]));
        assert!(high - low > 0.4, "{low} .. {high}");
        let (outside, inside) = (panel(&[[0.0, 24.0]], &[80.0, -80.0]), panel(&[[0.0, 24.0]], &[24.1]));
        let words = |panel: &Panel| {
            let (flat, body) = (Ruler::even(0.0, 1.0, 0.0, 0.0), Rect::new(0.0, 0.0, 1.0, 1.0));
            let labels = labels(panel, (&flat, &flat), &body, range(panel));
            labels.into_iter().skip(1).map(|label| label.words).collect::<Vec<_>>()
        };
        assert_eq!(words(&outside), ["↑ limit", "↓ limit"]);
        assert_eq!(words(&inside), ["limit"]);
    }

    #[test]
    fn a_line_that_changes_faster_than_paper_shows_is_a_block() {
        // Slow, then 20 changes a pixel apart, then slow.
        let mut x = [0.0, 10.0, 20.0].to_vec();
        x.extend((0..20).map(|n| 30.0 + f64::from(n)));
        x.extend([60.0, 70.0]);
        let run: Vec<Pixel> = x
            .iter()
            .enumerate()
            .flat_map(|(n, x)| [[*x, (n % 2) as f64], [*x, ((n + 1) % 2) as f64]])
            .collect();
        let (lines, blocks) = without_blocks(std::slice::from_ref(&run));
        assert_eq!(blocks, [[30.0, 49.0]]);
        assert_eq!(lines.len(), 2);
        assert_eq!((lines[0].first(), lines[1].last()), (run.first(), run.last()));
        assert_eq!((lines[0].last().map(|p| p[0]), lines[1].first().map(|p| p[0])), (Some(30.0), Some(49.0)));
        // Four pixels apart each is a line of its own; so are five changes that are near.
        for (step, count) in [(4.0, 40), (1.0, 5)] {
            let run: Vec<Pixel> =
                (0..=count).map(|n| [step * f64::from(n / 2), f64::from((n + 1) / 2 % 2)]).collect();
            let (lines, blocks) = without_blocks(std::slice::from_ref(&run));
            assert_eq!((lines, blocks), (vec![run], vec![]));
        }
    }

    /// Every plot has two numbers beside it, wherever its values lie.
    #[test]
    fn an_axis_has_two_numbers_at_least() {
        for (low, high) in [(-150.0, 170.0), (-45.0, 45.0), (23.99, 24.0), (0.0, 0.93), (-2.0, 2.0)] {
            let panel = panel(&[[0.0, low], [1.0, high]], &[]);
            let (low, high) = range(&panel);
            let ticks = divisions(&panel, &Ruler::even(low, high, 56.0, 0.0), (low, high), 56.0);
            let told = ticks.iter().filter(|tick| !tick.label.is_empty()).count();
            assert!((2..=8).contains(&told), "{low} .. {high}: {ticks:?}");
        }
    }

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

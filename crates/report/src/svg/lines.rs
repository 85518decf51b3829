//! Curves over two axes.

use super::MARGIN;
use super::axes::{self, Frame};
use super::canvas::Canvas;
use super::geometry::{Pixel, clip_polygon, clip_polyline};
use super::key::{self, Entry, Sample};
use super::look::{BAND_FILLS, STRAIGHT, classes, curve, dashes, symbol};
use super::number::number;
use super::place::{Drawn, Label, Obstacle, place};
use finding::chart::{Area, LimitAt, Lines, Mark, Point, Region};

/// Draws the chart; the result is its height.
pub(super) fn draw(canvas: &mut Canvas, spec: &Lines) -> f64 {
    let frame = axes::draw(canvas, (&spec.x, values(spec, 0)), (&spec.y, values(spec, 1)));
    let plot = frame.plot;

    let bands: Vec<Vec<Pixel>> = spec
        .bands
        .iter()
        .map(|band| {
            let edge = band.upper.iter().chain(band.lower.iter().rev());
            let corners: Vec<Pixel> = edge.map(|p| frame.corner(p)).filter(is_number).collect();
            clip_polygon(&corners, &plot)
        })
        .collect();
    let regions: Vec<Vec<Pixel>> =
        spec.forbidden.iter().map(|region| clip_polygon(&outline(&frame, region), &plot)).collect();
    let curves: Vec<Vec<Vec<Pixel>>> = spec.series.iter().map(|s| runs(&frame, &s.points)).collect();
    let limits: Vec<Vec<Vec<Pixel>>> = spec.limits.iter().map(|limit| straight(&frame, limit.at)).collect();
    let marks: Vec<Option<Pixel>> = spec
        .marks
        .iter()
        .map(|mark| Some(frame.pixel(&mark.at)).filter(|p| is_number(p) && plot.has(*p)))
        .collect();

    for (i, (band, area)) in spec.bands.iter().zip(&bands).enumerate() {
        canvas.open(&band.name);
        canvas.polygon("band", area, BAND_FILLS[i % BAND_FILLS.len()]);
        for edge in [&band.upper, &band.lower] {
            canvas.runs("band-edge", &runs(&frame, edge), "");
        }
        canvas.close();
    }
    for (region, area) in spec.forbidden.iter().zip(&regions) {
        canvas.open(&region.name);
        canvas.polygon("forbidden", area, "hatch");
        canvas.close();
    }
    for (limit, run) in spec.limits.iter().zip(&limits) {
        canvas.open(&limit.label);
        canvas.runs("c-limit", run, STRAIGHT);
        canvas.close();
    }
    let dashes = dashes(&spec.series);
    for ((series, runs), dash) in spec.series.iter().zip(&curves).zip(&dashes) {
        curve(canvas, series, runs, dash);
    }
    for (i, (mark, at)) in spec.marks.iter().zip(&marks).enumerate() {
        if let Some(at) = at {
            canvas.open(&mark.label);
            symbol(canvas, i, *at);
            canvas.close();
        }
    }

    let edges = spec.bands.iter().flat_map(|b| [&b.upper, &b.lower]);
    let drawn = Drawn {
        curves: curves
            .iter()
            .chain(&limits)
            .cloned()
            .chain(edges.map(|edge| runs(&frame, edge)))
            // A mark is as wide as its shape.
            .chain(marks.iter().flatten().map(|p| vec![vec![[p[0] - 5.0, p[1]], [p[0] + 5.0, p[1]]]]))
            .map(Obstacle::new)
            .collect(),
        hatched: regions.clone(),
    };

    let mut rest: Vec<Entry> = Vec::new();
    for (i, (mark, at)) in spec.marks.iter().zip(&marks).enumerate() {
        let label = Label::new("t-mark", &mark.label);
        let placed = at.is_some_and(|p| {
            let wishes: Vec<_> = [9.0, 16.0].iter().flat_map(|d| label.around(p, *d, 0.1 * d)).collect();
            place(canvas, &plot, &drawn, &label, &wishes)
        });
        if !placed {
            let words = mark_words(spec, mark, at.is_some());
            rest.push(Entry { sample: Sample::Mark(i), words });
        }
    }
    for (region, area) in spec.forbidden.iter().zip(&regions) {
        let label = Label::new("t-limit", &region.name);
        if !area.is_empty() && !place(canvas, &plot, &drawn, &label, &label.within(area)) {
            rest.push(Entry { sample: Sample::Forbidden, words: region.name.clone() });
        }
    }
    for ((series, runs), dash) in spec.series.iter().zip(&curves).zip(&dashes) {
        let label = Label::new(classes(series.purpose).1, &series.name);
        if !place(canvas, &plot, &drawn, &label, &label.along(runs, 0.7, 0.0)) {
            rest.push(Entry {
                sample: Sample::Curve(series.purpose, dash),
                words: named(&series.name, runs),
            });
        }
    }
    for (limit, runs) in spec.limits.iter().zip(&limits) {
        let label = Label::new("t-limit", &limit.label);
        // At the upper or the right end, where the eye leaves the chart.
        if !place(canvas, &plot, &drawn, &label, &label.along(runs, 0.95, 0.0)) {
            rest.push(Entry { sample: Sample::Limit, words: named(&limit.label, runs) });
        }
    }
    for (i, (band, area)) in spec.bands.iter().zip(&bands).enumerate() {
        let label = Label::new("t-bound", &band.name);
        let mut wishes = label.within(area);
        wishes.extend(label.along(&runs(&frame, &band.upper), 0.3, 1.5));
        if !area.is_empty() && !place(canvas, &plot, &drawn, &label, &wishes) {
            let sample = Sample::Band(BAND_FILLS[i % BAND_FILLS.len()]);
            rest.push(Entry { sample, words: band.name.clone() });
        }
    }
    let bottom = if rest.is_empty() { frame.bottom } else { key::draw(canvas, &rest, frame.bottom + 14.0) };
    bottom + MARGIN
}

/// All values of one axis that an automatic range must show. Areas and limits that lie far out do not count:
/// straight limits do, so that a chart never hides the limit that it is about.
fn values(spec: &Lines, axis: usize) -> Vec<f64> {
    let curves = spec.series.iter().map(|s| &s.points);
    let edges = spec.bands.iter().flat_map(|b| [&b.upper, &b.lower]);
    let limits = spec.limits.iter().filter_map(|limit| match (limit.at, axis) {
        (LimitAt::X(v), 0) | (LimitAt::Y(v), 1) => Some(v),
        _ => None,
    });
    curves
        .chain(edges)
        .flatten()
        .map(|p| p[axis])
        .chain(limits)
        .chain(spec.marks.iter().map(|m| m.at[axis]))
        .collect()
}

fn is_number(p: &Pixel) -> bool {
    p.iter().all(|v| v.is_finite())
}

/// The visible runs of a curve, without points closer than a quarter of a pixel to the one before.
fn runs(frame: &Frame, points: &[Point]) -> Vec<Vec<Pixel>> {
    let pixels: Vec<Pixel> = points.iter().map(|p| frame.pixel(p)).collect();
    let mut runs = clip_polyline(&pixels, &frame.plot);
    for run in &mut runs {
        let last = run.len() - 1;
        let mut kept: Vec<Pixel> = Vec::with_capacity(run.len());
        for (i, p) in run.iter().enumerate() {
            let near = |q: &Pixel| libm::hypot(p[0] - q[0], p[1] - q[1]) < 0.25;
            if i == last || !kept.last().is_some_and(near) {
                kept.push(*p);
            }
        }
        *run = kept;
    }
    runs
}

fn straight(frame: &Frame, at: LimitAt) -> Vec<Vec<Pixel>> {
    let plot = &frame.plot;
    let ends = match at {
        LimitAt::X(v) => [[frame.x.pixel(v), plot.bottom()], [frame.x.pixel(v), plot.y]],
        LimitAt::Y(v) => [[plot.x, frame.y.pixel(v)], [plot.right(), frame.y.pixel(v)]],
    };
    clip_polyline(&ends, plot)
}

/// The outline of a region, before it is cut to the chart.
fn outline(frame: &Frame, region: &Region) -> Vec<Pixel> {
    let plot = frame.plot.grown(10.0);
    let against = |curve: &[Point], y: f64| {
        let mut points: Vec<Pixel> = curve.iter().map(|p| frame.corner(p)).filter(is_number).collect();
        if let (Some(first), Some(last)) = (points.first().copied(), points.last().copied()) {
            points.insert(0, [plot.x.min(first[0]), first[1]]);
            points.push([plot.right().max(last[0]), last[1]]);
            points.push([plot.right().max(last[0]), y]);
            points.push([plot.x.min(first[0]), y]);
        }
        points
    };
    let upright = |from: f64, to: f64| {
        let corners = [[from, plot.y], [to, plot.y], [to, plot.bottom()], [from, plot.bottom()]];
        if from.is_nan() || to.is_nan() { Vec::new() } else { corners.to_vec() }
    };
    match &region.area {
        Area::Above(curve) => against(curve, plot.y),
        Area::Below(curve) => against(curve, plot.bottom()),
        Area::RightOf(v) => upright(frame.x.edge(*v), plot.right()),
        Area::LeftOf(v) => upright(plot.x, frame.x.edge(*v)),
        Area::Inside(points) => points.iter().map(|p| frame.corner(p)).filter(is_number).collect(),
    }
}

/// Words of a mark in the key: with its coordinates, for there it stands apart from its place.
fn mark_words(spec: &Lines, mark: &Mark, shown: bool) -> String {
    let at =
        |axis: &finding::chart::Axis, v: f64| format!("{} {}", number(v), axis.unit).trim_end().to_owned();
    let words = format!("{} ({}, {})", mark.label, at(&spec.x, mark.at[0]), at(&spec.y, mark.at[1]));
    if shown { words } else { beyond(&words) }
}

/// A name in the key; a curve that the chart does not show says so.
fn named(name: &str, runs: &[Vec<Pixel>]) -> String {
    if runs.is_empty() { beyond(name) } else { name.to_owned() }
}

fn beyond(name: &str) -> String {
    format!("{name} (outside this chart)")
}

//! One quantity on several vertical scales side by side.

use super::axes::Ruler;
use super::canvas::{Anchor, Canvas, LABEL, TICK, text_box};
use super::geometry::Rect;
use super::number::number;
use super::side::{self, Column, SideLabel};
use super::text::{self, wrap};
use super::{MARGIN, WIDTH};
use finding::chart::{Scale, ScaleMark, ScaleRole, Scales};

const LEAST_HEIGHT: f64 = 300.0;
/// Width of the column of labels with its lines.
const WORDS: f64 = 270.0;
/// Width of the strip of a scale, where clip zones are hatched.
const STRIP: f64 = 34.0;

/// Draws the chart; the result is its height.
pub(super) fn draw(canvas: &mut Canvas, spec: &Scales) -> f64 {
    let pitch = (WIDTH - 2.0 * MARGIN - WORDS) / spec.scales.len().max(1) as f64;
    let strip = STRIP.min(pitch / 2.0);
    let heads: Vec<Vec<String>> =
        spec.scales.iter().map(|s| wrap(&head(s), LABEL, pitch - 12.0, 4)).collect();
    let line = LABEL * text::LINE;
    let most = heads.iter().map(Vec::len).max().unwrap_or(0);
    let top = MARGIN + most as f64 * line + 12.0;
    let strips: Vec<f64> =
        (0..spec.scales.len()).map(|i| MARGIN + (i + 1) as f64 * pitch - strip - 6.0).collect();
    let end = strips.last().map_or(MARGIN, |x| x + strip);
    let column = Column { bend: end + 10.0, text: end + 36.0, room: WIDTH - MARGIN - end - 36.0 };
    let needed = side::height(&labels(spec, &strips, strip, top, top + LEAST_HEIGHT), column);
    let bottom = top + needed.max(LEAST_HEIGHT);

    if let Some(first) = strips.first() {
        for mark in &spec.marks {
            let (y, shown) = height_of(spec, mark, top, bottom);
            if shown {
                canvas.open(&mark_words(spec, mark));
                let (class, dash) = look(mark.role);
                // Between the strips the line is thin, so that numbers stay legible.
                canvas.runs("leader", &[vec![[*first, y], [end, y]]], "");
                for x in &strips {
                    canvas.runs(class, &[vec![[*x, y], [x + strip, y]]], dash);
                }
                canvas.close();
            }
        }
    }
    for (i, scale) in spec.scales.iter().enumerate() {
        let corner = MARGIN + i as f64 * pitch;
        canvas.lines_of_text("t-title", [corner, MARGIN], &heads[i]);
        let ruler = ruler(scale, top, bottom);
        let body = Rect::new(strips[i], top, strip, bottom - top);
        canvas.rect("strip", &body);
        for (from, to) in clip_zones(scale, top, bottom) {
            let zone = Rect::new(body.x, from, body.w, to - from);
            canvas.filled_rect("forbidden", &zone, "hatch");
        }
        for tick in ruler.ticks(6.0) {
            let y = ruler.pixel(tick.at);
            canvas.line("axis", [body.x - 4.0, y], [body.x, y]);
            let at = [body.x - 7.0, y + 0.36 * TICK];
            let room = text_box(at, Anchor::End, TICK, &tick.label);
            let own = corner.max(if i == 0 { 0.0 } else { strips[i - 1] + strip });
            if room.x >= own && canvas.is_free(&room) {
                canvas.text("t-tick", at, Anchor::End, TICK, &tick.label);
            }
        }
        canvas.line("axis", [body.x, top], [body.x, bottom]);
    }
    side::draw(canvas, labels(spec, &strips, strip, top, bottom), column, top, bottom);
    let resolution = wrap(&spec.resolution, LABEL, WIDTH - 2.0 * MARGIN, 3);
    canvas.lines_of_text("t-label", [MARGIN, bottom + 14.0], &resolution);
    let words = if resolution.iter().all(String::is_empty) { 0.0 } else { resolution.len() as f64 * line };
    bottom + 14.0 + words + MARGIN
}

fn head(scale: &Scale) -> String {
    if scale.unit.is_empty() { scale.label.clone() } else { format!("{} in {}", scale.label, scale.unit) }
}

fn ruler(scale: &Scale, top: f64, bottom: f64) -> Ruler {
    let usable = scale.bottom.is_finite() && scale.top.is_finite() && scale.bottom != scale.top;
    let (low, high) = if usable { (scale.bottom, scale.top) } else { (0.0, 1.0) };
    Ruler::even(low, high, bottom, top)
}

/// How far up a value lies: 0 at the bottom, 1 at the top. In numbers rather than pixels, so that what is
/// shown does not depend on the height of the chart, which is made to hold the labels.
fn fraction(scale: &Scale, v: f64) -> f64 {
    (v - scale.bottom) / (scale.top - scale.bottom)
}

/// Heights of the zones outside the valid part, from above to below.
fn clip_zones(scale: &Scale, top: f64, bottom: f64) -> Vec<(f64, f64)> {
    let Some([a, b]) = scale.valid else { return Vec::new() };
    let (a, b) = (fraction(scale, a), fraction(scale, b));
    if a.is_nan() || b.is_nan() {
        return Vec::new();
    }
    let (lower, upper) = (a.min(b).clamp(0.0, 1.0), a.max(b).clamp(0.0, 1.0));
    let y = |fraction: f64| bottom + fraction * (top - bottom);
    let mut zones = Vec::new();
    if upper < 0.998 {
        zones.push((top, y(upper)));
    }
    if lower > 0.002 {
        zones.push((y(lower), bottom));
    }
    zones
}

/// Height of a mark, and whether the scale shows it; what it does not show stands at its end.
fn height_of(spec: &Scales, mark: &ScaleMark, top: f64, bottom: f64) -> (f64, bool) {
    let at = spec.scales.first().map_or(f64::NAN, |first| fraction(first, mark.at));
    let shown = (0.0..=1.0).contains(&at);
    let at = if at.is_nan() { 0.0 } else { at.clamp(0.0, 1.0) };
    (bottom + at * (top - bottom), shown)
}

fn labels(spec: &Scales, strips: &[f64], strip: f64, top: f64, bottom: f64) -> Vec<SideLabel> {
    let end = strips.last().map_or(MARGIN, |x| x + strip);
    let mut labels = Vec::new();
    for (scale, x) in spec.scales.iter().zip(strips) {
        if scale.beyond.trim().is_empty() {
            continue;
        }
        for (from, to) in clip_zones(scale, top, bottom) {
            let words = scale.beyond.clone();
            labels.push(SideLabel { class: "t-limit", words, y: (from + to) / 2.0, x: x + strip });
        }
    }
    for mark in &spec.marks {
        let (y, shown) = height_of(spec, mark, top, bottom);
        let class = if mark.role == ScaleRole::Limit { "t-limit" } else { "t-label" };
        let words = mark_words(spec, mark);
        let words = if shown { words } else { format!("{words} (outside this scale)") };
        labels.push(SideLabel { class, words, y, x: end });
    }
    labels
}

/// A level with its number on each scale.
fn mark_words(spec: &Scales, mark: &ScaleMark) -> String {
    let Some(first) = spec.scales.first() else { return mark.label.clone() };
    let at = fraction(first, mark.at);
    let numbers: Vec<String> = spec
        .scales
        .iter()
        .map(|s| {
            let v = s.bottom + at * (s.top - s.bottom);
            // A sum that should be zero and is not by rounding alone.
            let v = if v.abs() < 1e-9 * (s.top - s.bottom).abs() { 0.0 } else { v };
            // A number stays with its unit or its name: the spaces do not break.
            if s.unit.is_empty() {
                format!("{}\u{a0}{}", s.label, number(v))
            } else {
                format!("{}\u{a0}{}", number(v), s.unit)
            }
        })
        .collect();
    format!("{}: {}", mark.label, numbers.join(", "))
}

fn look(role: ScaleRole) -> (&'static str, &'static str) {
    match role {
        ScaleRole::Zero => ("c-nominal", ""),
        ScaleRole::Rating => ("c-measured", "5 3"),
        ScaleRole::Limit => ("c-limit", "12 3 2 3"),
    }
}

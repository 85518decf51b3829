//! A layout as SVG: lines below, boxes above them, marks of findings, legend and list.

use super::layout::{Anchor, Arrow, Face, Kind, Label, Layout, Look, Node, SIGN, Sign, Wire};
use super::paper::{self, Paper};
use super::{Drawing, Mark, Scene, Stage};
use crate::escape::escape;
use crate::svg::geometry::{Pixel, Rect};
use crate::svg::{coordinate as n, number};
use finding::Severity;
use std::fmt::Write;

/// Thickness of the line with the most power, and of one without a figure.
const THICKEST: f64 = 11.0;
const THINNEST: f64 = 1.6;
const PLAIN: f64 = 3.0;
/// Height of a mark.
const MARK: f64 = 15.0;
const EDGE: f64 = 14.0;

/// The drawing up to a stage.
pub(super) fn paint(scene: &Scene, stage: Stage, prefix: &str) -> Drawing {
    let layout = &scene.layout;
    let mut out = String::new();
    let scale = Scale::of(layout, stage);
    body(&mut out, layout, stage, &scale);
    let seated = seat(layout, &scene.marks);
    on_boxes(&mut out, layout, stage, &seated, &scene.marks);
    let [right, bottom] = layout.extent(stage);
    let width = (right + EDGE).max(560.0);
    let below = bottom + 26.0;
    let mut y = legend(&mut out, scene, stage, &scale, (below, width));
    y = list(&mut out, layout, stage, &seated, &scene.marks, (y, width));
    let title = format!("{}: {}", scene.name, stage.name());
    let words = scene.words.get(stage as usize).map(String::as_str).unwrap_or_default();
    let mut whole = layout.whole(stage);
    whole.extend(paper::rows(below, y, width));
    frame(prefix, [width, y + 8.0], (&title, words), (&out, &whole))
}

/// The `<svg>` element round a drawing, with its place on paper: cuts avoid what has to stay whole.
pub(super) fn frame(
    prefix: &str,
    [w, h]: [f64; 2],
    (title, words): (&str, &str),
    (body, whole): (&str, &[Rect]),
) -> Drawing {
    let (w, h) = (libm::ceil(w), libm::ceil(h));
    let id = format!("{prefix}-drawn");
    let (title, described) = (escape(title), escape(words));
    let svg = format!(
        r#"<svg xmlns="http://www.w3.org/2000/svg" class="picture" viewBox="0 0 {w} {h}" width="{w}" height="{h}" role="img" aria-labelledby="{prefix}-title {prefix}-desc">
<title id="{prefix}-title">{title}</title>
<desc id="{prefix}-desc">{described}</desc>
<g id="{id}" class="picture">
{body}</g>
</svg>
"#
    );
    let paper = Paper::of([w, h], words, whole);
    Drawing { svg, id, words: words.to_owned(), width: w as u32, paper }
}

/// Lines, boxes and labels of a layout.
pub(super) fn body(out: &mut String, layout: &Layout, stage: Stage, scale: &Scale) {
    let shown = |s: Stage| s <= stage;
    // A box that others lie in is drawn before the lines that go to these.
    let mut holds = vec![false; layout.boxes.len()];
    for parent in layout.boxes.iter().filter_map(|node| node.parent) {
        if let Some(slot) = holds.get_mut(parent) {
            *slot = true;
        }
    }
    let boxes = |outer: bool| layout.boxes.iter().zip(&holds).filter(move |(_, holds)| **holds == outer);
    for (node, _) in boxes(true).filter(|(node, _)| shown(node.stage)) {
        draw_box(out, node, stage);
    }
    for wire in layout.wires.iter().filter(|wire| shown(wire.stage)) {
        draw_wire(out, layout, wire, stage, scale);
    }
    for (node, _) in boxes(false).filter(|(node, _)| shown(node.stage)) {
        draw_box(out, node, stage);
    }
    for label in layout.labels.iter().filter(|label| shown(label.stage)) {
        draw_label(out, label);
    }
}

/// How thick a line is for its power.
pub(super) struct Scale {
    /// The largest power that is drawn; `None` where the caller gives no figures.
    most: Option<f64>,
}

impl Scale {
    pub(super) fn of(layout: &Layout, stage: Stage) -> Self {
        let shown = layout.wires.iter().filter(|wire| wire.stage <= stage && wire.kind == Kind::Energy);
        let powers = shown.filter_map(|wire| layout.power(wire)).map(f64::abs).filter(|p| p.is_finite());
        let most = powers.fold(0.0, f64::max);
        Self { most: (most > 0.0).then_some(most) }
    }

    fn thickness(&self, power: f64) -> f64 {
        match self.most {
            Some(most) if power.is_finite() => (THICKEST * power.abs() / most).max(THINNEST),
            _ => PLAIN,
        }
    }
}

fn draw_box(out: &mut String, node: &Node, stage: Stage) {
    let class = match node.look {
        Look::Machine => "machine",
        Look::Frame => "frame",
        Look::Cell => "cell",
        Look::Idle => "idle",
        Look::Cable => "cable",
        Look::Sensor => "sensor",
        Look::Guard => "guard",
        Look::Pin | Look::FirstPin | Look::LeftPin => "pin",
        Look::Connector => "frame",
    };
    let new = if node.stage == stage && stage > Stage::Power { " new" } else { "" };
    let r = &node.rect;
    let round = if node.look == Look::Sensor { r#" rx="12""# } else { "" };
    let _ = write!(out, "<g><title>{}</title>", escape(&node.title));
    rect(out, &format!("{class}{new}"), r, round);
    match node.look {
        Look::Guard => rect(out, "inner", &r.grown(-3.5), ""),
        Look::FirstPin => {
            let corner = [[r.x, r.y], [r.x + 9.0, r.y], [r.x, r.y + 9.0]];
            polygon(out, "solid", &corner);
        }
        Look::LeftPin => {
            let [x, y] = [r.right(), r.y];
            polygon(out, "sign", &[[x - 4.5, y], [x, y - 4.5], [x + 4.5, y], [x, y + 4.5]]);
        }
        _ => {}
    }
    out.push_str("</g>\n");
}

fn draw_wire(out: &mut String, layout: &Layout, wire: &Wire, stage: Stage, scale: &Scale) {
    let new = if wire.stage == stage && stage > Stage::Power { " new" } else { "" };
    let _ = write!(out, "<g><title>{}</title>", escape(&wire.title));
    match wire.kind {
        Kind::Energy => energy(out, layout, wire, scale),
        kind => {
            let dashed = kind == Kind::Loose && wire.signs.contains(&Sign::Planned);
            let dashed = if dashed { " w-planned" } else { "" };
            path(out, &format!("{}{dashed}{new}", class(kind)), &wire.points, "");
        }
    }
    arrows(out, wire);
    for (sign, at) in wire.sign_places() {
        draw_sign(out, sign, at);
    }
    // A line that ends nowhere.
    if wire.ends.len() == 1
        && !matches!(wire.kind, Kind::Energy | Kind::Linked)
        && let Some([x, y]) = wire.points.last()
    {
        let _ = write!(out, r#"<circle class="open" cx="{}" cy="{}" r="3.2"/>"#, n(*x), n(*y));
    }
    out.push_str("</g>\n");
}

pub(super) fn class(kind: Kind) -> &'static str {
    match kind {
        Kind::Energy => "w-energy",
        Kind::Rail => "w-rail",
        Kind::Command => "w-command",
        Kind::Measure => "w-measure",
        Kind::Flag => "w-flag",
        Kind::Linked => "w-linked",
        Kind::Loose => "w-loose",
    }
}

fn energy(out: &mut String, layout: &Layout, wire: &Wire, scale: &Scale) {
    let power = layout.power(wire);
    let t = match power {
        Some(power) => scale.thickness(power),
        None if scale.most.is_some() => 2.0,
        None => PLAIN,
    };
    // A branch to a clamp or capacitor carries no figure, and is drawn thin.
    let t = if wire.power.is_empty() { 2.0 } else { t };
    let back = power.is_some_and(|p| p < 0.0);
    let t = if back { t.max(5.0) } else { t };
    let unknown = power.is_none() && scale.most.is_some() && !wire.power.is_empty();
    let dash = if unknown { r#" stroke-dasharray="7 4""# } else { "" };
    path(out, "w-energy", &wire.points, &format!(r#" stroke-width="{}"{dash}"#, n(t)));
    if back {
        path(out, "w-hollow", &wire.points, &format!(r#" stroke-width="{}""#, n(t - 2.6)));
    }
}

/// A diamond where a line leaves its plug; in a ring, plus, arrow or cross for what a plan does.
fn draw_sign(out: &mut String, sign: Sign, [x, y]: Pixel) {
    let strokes: &[[Pixel; 2]] = match sign {
        Sign::Leaves => {
            polygon(out, "sign", &[[x - SIGN, y], [x, y - SIGN], [x + SIGN, y], [x, y + SIGN]]);
            return;
        }
        Sign::Planned => &[[[-3.0, 0.0], [3.0, 0.0]], [[0.0, -3.0], [0.0, 3.0]]],
        Sign::Moves => &[[[-3.0, 0.0], [3.0, 0.0]], [[0.5, -2.5], [3.0, 0.0]], [[0.5, 2.5], [3.0, 0.0]]],
        Sign::Goes => &[[[-2.3, -2.3], [2.3, 2.3]], [[-2.3, 2.3], [2.3, -2.3]]],
    };
    let _ = write!(out, r#"<circle class="sign" cx="{}" cy="{}" r="{}"/>"#, n(x), n(y), n(SIGN));
    for [a, b] in strokes {
        path(out, "stroke", &[[x + a[0], y + a[1]], [x + b[0], y + b[1]]], "");
    }
}

fn arrows(out: &mut String, wire: &Wire) {
    let ends = match wire.arrow {
        Arrow::None => None,
        Arrow::Start => wire.points.first().zip(wire.points.get(1)),
        Arrow::End => wire.points.last().zip(wire.points.iter().rev().nth(1)),
    };
    let Some((tip, from)) = ends else { return };
    let length = libm::hypot(tip[0] - from[0], tip[1] - from[1]);
    if length > 0.0 {
        let (ux, uy) = ((tip[0] - from[0]) / length, (tip[1] - from[1]) / length);
        let back = [tip[0] - 7.0 * ux, tip[1] - 7.0 * uy];
        let side = [-3.2 * uy, 3.2 * ux];
        let points = [*tip, [back[0] + side[0], back[1] + side[1]], [back[0] - side[0], back[1] - side[1]]];
        polygon(out, "solid", &points);
    }
}

fn draw_label(out: &mut String, label: &Label) {
    let r = &label.rect;
    let size = label.face.size();
    let class = label.face.class();
    let text = escape(&label.text);
    let (anchor, at) = match label.anchor {
        Anchor::Start => ("", 0.0),
        Anchor::Middle => (r#" text-anchor="middle""#, 0.5),
        Anchor::End => (r#" text-anchor="end""#, 1.0),
    };
    if label.upright {
        let (x, y) = (r.x + r.w / 2.0 + 0.36 * size, r.bottom() - at * r.h);
        let turn = format!(r#" transform="rotate(-90 {} {})""#, n(x), n(y));
        let _ =
            writeln!(out, r#"<text class="{class}" x="{}" y="{}"{anchor}{turn}>{text}</text>"#, n(x), n(y));
    } else {
        let (x, y) = (r.x + at * r.w, r.y + r.h / 2.0 + 0.36 * size);
        let _ = writeln!(out, r#"<text class="{class}" x="{}" y="{}"{anchor}>{text}</text>"#, n(x), n(y));
    }
}

/// For each mark the box that it belongs to: the one with the longest path that the mark's begins with.
pub(super) fn seat(layout: &Layout, marks: &[Mark]) -> Vec<Option<usize>> {
    let fits = |path: &str, own: &str| {
        path == own || path.strip_prefix(own).is_some_and(|rest| rest.starts_with('.'))
    };
    let best = |mark: &Mark| {
        let mut best: Option<(usize, usize)> = None;
        for (number, node) in layout.boxes.iter().enumerate() {
            for own in node.paths.iter().filter(|own| fits(&mark.path, own)) {
                if best.is_none_or(|(length, _)| own.len() > length) {
                    best = Some((own.len(), number));
                }
            }
        }
        best.map(|(_, number)| number)
    };
    marks.iter().map(best).collect()
}

/// Marks on their boxes: above the right end of the upper edge, the first one leftmost. Those for which there is no
/// room stand in the list alone, and three dots tell of them.
fn on_boxes(out: &mut String, layout: &Layout, stage: Stage, seated: &[Option<usize>], marks: &[Mark]) {
    for (number, node) in layout.boxes.iter().enumerate().filter(|(_, node)| node.stage <= stage) {
        let own: Vec<usize> = (0..marks.len()).filter(|m| seated.get(*m) == Some(&Some(number))).collect();
        let width = |m: &usize| mark_width(m + 1) + 2.0;
        let mut room = node.rect.w - 2.0;
        let total: f64 = own.iter().map(width).sum();
        let cut = total > room;
        if cut {
            room -= 14.0;
        }
        let mut shown: Vec<usize> = Vec::new();
        for m in own {
            if room < width(&m) {
                break;
            }
            room -= width(&m);
            shown.push(m);
        }
        let y = node.rect.y - MARK / 2.0 - 0.5;
        let mut x = node.rect.right() - shown.iter().map(width).sum::<f64>() - if cut { 14.0 } else { 0.0 };
        for m in shown {
            if let Some(mark) = marks.get(m) {
                draw_mark(out, mark, m + 1, [x, y]);
            }
            x += width(&m);
        }
        if cut {
            let _ = writeln!(out, r#"<text class="b-figure" x="{}" y="{}">…</text>"#, n(x), n(y + 3.0));
        }
    }
}

fn mark_width(number: usize) -> f64 {
    // Digits of a bold 10.5 px face, and the pointed ends.
    12.0 + 6.9 * (number.max(1).ilog10() + 1) as f64
}

/// A mark: a filled block for a blocker, a six-sided ring for a weakness, a round one for a note, each with its
/// number. `at` is the middle of its left end.
fn draw_mark(out: &mut String, mark: &Mark, number: usize, [x, y]: Pixel) {
    let (w, h) = (mark_width(number), MARK / 2.0);
    let word = match mark.severity {
        Severity::Blocker => "blocker",
        Severity::Weakness => "weakness",
        Severity::Note => "note",
    };
    let title = format!("{number}: {word}, {}", mark.id);
    let _ = write!(out, r#"<g class="find f-{word}"><title>{}</title>"#, escape(&title));
    match mark.severity {
        Severity::Blocker => rect(out, "shape", &Rect::new(x, y - h, w, MARK), ""),
        Severity::Weakness => {
            let points = [
                [x, y],
                [x + 5.0, y - h],
                [x + w - 5.0, y - h],
                [x + w, y],
                [x + w - 5.0, y + h],
                [x + 5.0, y + h],
            ];
            polygon(out, "shape", &points);
        }
        Severity::Note => rect(out, "shape", &Rect::new(x, y - h, w, MARK), r#" rx="7.5""#),
    }
    let _ = writeln!(
        out,
        r#"<text class="f-number" x="{}" y="{}" text-anchor="middle">{number}</text></g>"#,
        n(x + w / 2.0),
        n(y + 3.7)
    );
}

/// What the lines mean; gives the lower edge.
fn legend(out: &mut String, scene: &Scene, stage: Stage, scale: &Scale, (top, width): (f64, f64)) -> f64 {
    let layout = &scene.layout;
    let mut y = top;
    let mut items: Vec<(Sample, String)> = Vec::new();
    if let Some(most) = scale.most {
        let nice = nice(most);
        let moment = if scene.power.moment.is_empty() { "the chosen moment" } else { &scene.power.moment };
        items.push((
            Sample::Energy(scale.thickness(nice)),
            format!("{} W, thickness follows the power ({moment})", number(nice)),
        ));
        let shown = || {
            layout.wires.iter().filter(|w| w.stage <= stage && w.kind == Kind::Energy && !w.power.is_empty())
        };
        if shown().any(|w| layout.power(w).is_some_and(|p| p < 0.0)) {
            items.push((Sample::Hollow, "power that flows back".to_owned()));
        }
        if shown().any(|w| layout.power(w).is_none()) {
            items.push((Sample::Unknown, "power without a figure".to_owned()));
        }
    } else {
        items.push((Sample::Energy(PLAIN), "power; one line stands for both poles".to_owned()));
    }
    for (kind, words) in [
        (Kind::Rail, "rail for logic"),
        (Kind::Command, "command"),
        (Kind::Measure, "measurement"),
        (Kind::Flag, "flag, or selection of a limit"),
        (Kind::Linked, "joined mechanically"),
    ] {
        if layout.wires.iter().any(|wire| wire.kind == kind && wire.stage <= stage) {
            items.push((Sample::Line(kind), words.to_owned()));
        }
    }
    let shown = || layout.wires.iter().filter(|wire| wire.stage <= stage);
    for (sign, words) in [
        (Sign::Leaves, "leaves the plug: goes by a wire of its own"),
        (Sign::Planned, "planned: does not lie yet"),
        (Sign::Moves, "moves: from the first pin to the second"),
        (Sign::Goes, "the plan takes it away"),
    ] {
        if shown().any(|wire| wire.signs.contains(&sign)) {
            items.push((Sample::Sign(sign, Kind::Command), words.to_owned()));
        }
    }
    if shown().any(|w| w.ends.len() == 1 && !matches!(w.kind, Kind::Energy | Kind::Linked)) {
        items.push((Sample::Open, "has no pin yet".to_owned()));
    }
    let mut x = EDGE;
    for (sample, words) in items {
        let w = 44.0 + Face::Detail.width(&words) + 18.0;
        if x > EDGE && x + w > width {
            x = EDGE;
            y += 20.0;
        }
        draw_sample(out, sample, [x, y]);
        let text = Face::Detail.fit(&words, (width - x - 50.0).max(60.0));
        self::text(out, Face::Detail, [x + 44.0, y + 4.0], &text);
        x += w;
    }
    y + 20.0
}

pub(super) enum Sample {
    Energy(f64),
    Hollow,
    Unknown,
    Line(Kind),
    Sign(Sign, Kind),
    Open,
}

pub(super) fn draw_sample(out: &mut String, sample: Sample, [x, y]: Pixel) {
    let ends = [[x, y], [x + 36.0, y]];
    match sample {
        Sample::Energy(t) => path(out, "w-energy sample", &ends, &format!(r#" stroke-width="{}""#, n(t))),
        Sample::Hollow => {
            path(out, "w-energy", &ends, r#" stroke-width="6""#);
            path(out, "w-hollow", &ends, r#" stroke-width="3.4""#);
        }
        Sample::Unknown => path(out, "w-energy", &ends, r#" stroke-width="2" stroke-dasharray="7 4""#),
        Sample::Line(kind) => path(out, class(kind), &ends, ""),
        Sample::Sign(sign, kind) => {
            let dashed = kind == Kind::Loose && sign == Sign::Planned;
            path(out, &format!("{}{}", class(kind), if dashed { " w-planned" } else { "" }), &ends, "");
            draw_sign(out, sign, [x + 18.0, y]);
        }
        Sample::Open => {
            path(out, "w-command", &[[x + 8.0, y], [x + 20.0, y]], "");
            let _ = write!(out, r#"<circle class="open" cx="{}" cy="{}" r="3.2"/>"#, n(x + 20.0), n(y));
        }
    }
    out.push('\n');
}

/// A cell with the corner of the first pin.
pub(super) fn pin_sample(out: &mut String, [x, y]: Pixel) {
    rect(out, "pin", &Rect::new(x - 8.0, y - 8.0, 16.0, 16.0), "");
    polygon(out, "solid", &[[x - 8.0, y - 8.0], [x + 1.0, y - 8.0], [x - 8.0, y + 1.0]]);
}

/// A text that begins at a point.
pub(super) fn text(out: &mut String, face: Face, [x, y]: Pixel, words: &str) {
    let _ =
        writeln!(out, r#"<text class="{}" x="{}" y="{}">{}</text>"#, face.class(), n(x), n(y), escape(words));
}

/// The largest of 1, 2, 5 times a power of ten that a value reaches.
fn nice(most: f64) -> f64 {
    let ten = libm::pow(10.0, libm::floor(libm::log10(most)));
    [5.0, 2.0, 1.0].into_iter().map(|k| k * ten).find(|v| *v <= most * (1.0 + 1e-9)).unwrap_or(ten)
}

/// The findings by number; gives the lower edge. Those of elements that come later wait for their stage.
fn list(
    out: &mut String,
    layout: &Layout,
    stage: Stage,
    seated: &[Option<usize>],
    marks: &[Mark],
    (top, width): (f64, f64),
) -> f64 {
    let mut y = top;
    for (at, mark) in marks.iter().enumerate() {
        let seat = seated.get(at).copied().flatten().and_then(|number| layout.boxes.get(number));
        if seat.is_some_and(|node| node.stage > stage) {
            continue;
        }
        y += 20.0;
        draw_mark(out, mark, at + 1, [EDGE, y]);
        let place =
            if seat.is_some() { mark.path.clone() } else { format!("{} (the bench as a whole)", mark.path) };
        let word = match mark.severity {
            Severity::Blocker => "blocker",
            Severity::Weakness => "weakness",
            Severity::Note => "note",
        };
        let text = Face::Detail.fit(&format!("{word} {}, at {place}", mark.id), width - 60.0);
        self::text(out, Face::Detail, [EDGE + 44.0, y + 4.0], &text);
    }
    y + 8.0
}

fn rect(out: &mut String, class: &str, r: &Rect, more: &str) {
    let (x, y, w, h) = (n(r.x), n(r.y), n(r.w.max(0.0)), n(r.h.max(0.0)));
    let _ = write!(out, r#"<rect class="{class}" x="{x}" y="{y}" width="{w}" height="{h}"{more}/>"#);
}

fn path(out: &mut String, class: &str, points: &[Pixel], more: &str) {
    let mut d = String::new();
    for (i, p) in points.iter().enumerate() {
        let _ = write!(d, "{}{} {}", if i == 0 { "M" } else { "L" }, n(p[0]), n(p[1]));
    }
    let _ = write!(out, r#"<path class="{class}" d="{d}"{more}/>"#);
}

fn polygon(out: &mut String, class: &str, points: &[Pixel]) {
    let list: Vec<String> = points.iter().map(|p| format!("{},{}", n(p[0]), n(p[1]))).collect();
    let _ = write!(out, r#"<polygon class="{class}" points="{}"/>"#, list.join(" "));
}

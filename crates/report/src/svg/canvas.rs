//! The sheet of paper that charts are drawn on: SVG elements with classes, fixed decimals, and the boxes of
//! all labels.

use super::geometry::{Pixel, Rect};
use super::number::coordinate as n;
use super::text;
use crate::escape::escape;
use std::fmt::Write;

/// Font size of labels and of ticks, in pixels of the view box.
pub(super) const LABEL: f64 = 13.0;
pub(super) const TICK: f64 = 12.0;

/// Where the given x of a text lies in it.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// A drawing in the making.
pub(super) struct Canvas {
    /// Stands before every id, so that several drawings fit on one page.
    pub(super) prefix: String,
    body: String,
    labels: Vec<Rect>,
}

impl Canvas {
    pub(super) fn new(prefix: &str) -> Self {
        Self { prefix: prefix.to_owned(), body: String::new(), labels: Vec::new() }
    }

    pub(super) fn line(&mut self, class: &str, a: Pixel, b: Pixel) {
        let (x1, y1, x2, y2) = (n(a[0]), n(a[1]), n(b[0]), n(b[1]));
        self.add(format_args!(r#"<line class="{class}" x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}"/>"#));
    }

    pub(super) fn rect(&mut self, class: &str, r: &Rect) {
        let (x, y, w, h) = (n(r.x), n(r.y), n(r.w.max(0.0)), n(r.h.max(0.0)));
        self.add(format_args!(r#"<rect class="{class}" x="{x}" y="{y}" width="{w}" height="{h}"/>"#));
    }

    /// An open path of several runs; `dashes` overrides those of the class.
    pub(super) fn runs(&mut self, class: &str, runs: &[Vec<Pixel>], dashes: &str) {
        if runs.is_empty() {
            return;
        }
        let mut d = String::new();
        for run in runs {
            for (i, p) in run.iter().enumerate() {
                d.push_str(if i == 0 { "M" } else { "L" });
                let _ = write!(d, "{} {}", n(p[0]), n(p[1]));
            }
        }
        let dash = if dashes.is_empty() { String::new() } else { format!(r#" stroke-dasharray="{dashes}""#) };
        self.add(format_args!(r#"<path class="{class}" d="{d}"{dash}/>"#));
    }

    /// A filled polygon; `fill` names a pattern of this drawing, or is empty for the fill of the class.
    pub(super) fn polygon(&mut self, class: &str, points: &[Pixel], fill: &str) {
        if points.len() < 3 {
            return;
        }
        let list: Vec<String> = points.iter().map(|p| format!("{},{}", n(p[0]), n(p[1]))).collect();
        let fill = self.fill(fill);
        self.add(format_args!(r#"<polygon class="{class}" points="{}"{fill}/>"#, list.join(" ")));
    }

    /// A box filled with a pattern of this drawing.
    pub(super) fn filled_rect(&mut self, class: &str, r: &Rect, fill: &str) {
        let (x, y, w, h) = (n(r.x), n(r.y), n(r.w.max(0.0)), n(r.h.max(0.0)));
        let fill = self.fill(fill);
        self.add(format_args!(r#"<rect class="{class}" x="{x}" y="{y}" width="{w}" height="{h}"{fill}/>"#));
    }

    pub(super) fn circle(&mut self, class: &str, at: Pixel, radius: f64) {
        let (x, y, r) = (n(at[0]), n(at[1]), n(radius));
        self.add(format_args!(r#"<circle class="{class}" cx="{x}" cy="{y}" r="{r}"/>"#));
    }

    /// One line of text on its baseline; its box counts as taken.
    pub(super) fn text(&mut self, class: &str, at: Pixel, anchor: Anchor, size: f64, words: &str) {
        self.labels.push(text_box(at, anchor, size, words));
        let anchor = match anchor {
            Anchor::Start => "",
            Anchor::Middle => r#" text-anchor="middle""#,
            Anchor::End => r#" text-anchor="end""#,
        };
        let (x, y, words) = (n(at[0]), n(at[1]), escape(words));
        self.add(format_args!(r#"<text class="{class}" x="{x}" y="{y}"{anchor}>{words}</text>"#));
    }

    /// Lines of text in a box whose top left corner is given; the boxes of the lines count as one.
    pub(super) fn lines_of_text(&mut self, class: &str, corner: Pixel, lines: &[String]) {
        let Some(block) = text_block(corner, lines) else { return };
        let first_line = self.labels.len();
        for (i, line) in lines.iter().enumerate() {
            let baseline = corner[1] + LABEL * (0.98 + text::LINE * i as f64);
            self.text(class, [corner[0], baseline], Anchor::Start, LABEL, line);
        }
        self.labels.truncate(first_line);
        self.labels.push(block);
    }

    /// Opens a group that readers see named when they point at it.
    pub(super) fn open(&mut self, title: &str) {
        let title = escape(title).into_owned();
        self.add(format_args!("<g><title>{title}</title>"));
    }

    pub(super) fn close(&mut self) {
        self.add(format_args!("</g>"));
    }

    /// Whether a label may come to lie here.
    pub(super) fn is_free(&self, r: &Rect) -> bool {
        !self.labels.iter().any(|l| l.overlaps(r))
    }

    pub(super) fn finish(self) -> (String, Vec<Rect>) {
        (self.body, self.labels)
    }

    fn fill(&self, pattern: &str) -> String {
        if pattern.is_empty() { String::new() } else { format!(r#" fill="url(#{}-{pattern})""#, self.prefix) }
    }

    fn add(&mut self, element: std::fmt::Arguments<'_>) {
        // Writing to a string cannot fail.
        let _ = self.body.write_fmt(element);
        self.body.push('\n');
    }
}

/// The room that one line of text takes.
pub(super) fn text_box(at: Pixel, anchor: Anchor, size: f64, words: &str) -> Rect {
    let w = text::width(words, size);
    let x = match anchor {
        Anchor::Start => at[0],
        Anchor::Middle => at[0] - w / 2.0,
        Anchor::End => at[0] - w,
    };
    Rect::new(x, at[1] - 0.98 * size, w, text::LINE * size)
}

/// The room that lines of label text take; `None` where there is no text.
pub(super) fn text_block(corner: Pixel, lines: &[String]) -> Option<Rect> {
    let w = lines.iter().map(|l| text::width(l, LABEL)).fold(0.0, f64::max);
    (w > 0.0).then(|| Rect::new(corner[0], corner[1], w, LABEL * text::LINE * lines.len() as f64))
}

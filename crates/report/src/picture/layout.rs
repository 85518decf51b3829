//! A drawing before it is SVG: boxes, lines and labels with their places, so that tests can look at it.

use super::Stage;
use crate::svg::geometry::{Pixel, Rect};
use crate::svg::text::{LINE, width, wrap};
use std::collections::BTreeMap;

/// Everything of one drawing.
#[derive(Default)]
pub(super) struct Layout {
    pub(super) boxes: Vec<Node>,
    pub(super) wires: Vec<Wire>,
    pub(super) labels: Vec<Label>,
    /// Watts by path.
    pub(super) figures: BTreeMap<String, f64>,
}

/// A box: a device, or a piece of one.
pub(super) struct Node {
    pub(super) rect: Rect,
    /// The box that it lies in.
    pub(super) parent: Option<usize>,
    pub(super) look: Look,
    pub(super) stage: Stage,
    /// What it is, in full: its label may be cut.
    pub(super) title: String,
    /// Paths in the bench that mean it; the first one names it.
    pub(super) paths: Vec<String>,
}

/// How a box is drawn.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Look {
    /// Something that power passes through or ends in.
    Machine,
    /// A driver board or the controller: others lie in it.
    Frame,
    /// A bridge or a servo output of a board.
    Cell,
    /// A bridge that drives nothing.
    Idle,
    /// A cable.
    Cable,
    /// Something that measures.
    Sensor,
    /// Something that protects.
    Guard,
    /// A pin of a connector.
    Pin,
    /// The first pin of a connector.
    FirstPin,
    /// A pin whose signal goes by a wire of its own instead.
    LeftPin,
    /// The body of a connector.
    Connector,
}

/// A line from box to box, of upright and level pieces.
pub(super) struct Wire {
    pub(super) points: Vec<Pixel>,
    /// Boxes that it begins or ends at, or that sit in it.
    pub(super) ends: Vec<usize>,
    pub(super) kind: Kind,
    pub(super) stage: Stage,
    /// What its thickness follows: the sum of the figures of all that it leads to, for each the first path that
    /// has one.
    pub(super) power: Vec<Vec<String>>,
    pub(super) arrow: Arrow,
    pub(super) signs: Vec<Sign>,
    /// Where its signs begin; nothing where they stand on its first long piece.
    pub(super) signs_at: Option<Pixel>,
    pub(super) title: String,
}

/// What a line carries.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Kind {
    /// Power on its way to a load.
    Energy,
    /// Supply of logic.
    Rail,
    /// A command.
    Command,
    /// A measurement.
    Measure,
    /// A flag or a setting of a limit.
    Flag,
    /// Two boxes that move together.
    Linked,
    /// A single wire.
    Loose,
}

/// Which end of a line bears an arrow.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Arrow {
    None,
    Start,
    End,
}

/// What a small sign tells of a line.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Sign {
    /// It leaves the plug's position.
    Leaves,
    /// The plan lays it; it does not lie yet.
    Planned,
    /// The plan leads it elsewhere.
    Moves,
    /// The plan takes it away.
    Goes,
}

/// Half of what a sign takes, and the distance of two signs.
pub(super) const SIGN: f64 = 5.0;
const SIGNS: f64 = 13.0;

impl Wire {
    /// The middle of each of its signs.
    pub(super) fn sign_places(&self) -> Vec<(Sign, Pixel)> {
        let length = |p: &[Pixel]| libm::hypot(p[1][0] - p[0][0], p[1][1] - p[0][1]);
        let room = Self::signs_room(self.signs.len());
        let pieces = || self.points.windows(2);
        let piece = pieces().find(|p| length(p) > room).or_else(|| pieces().find(|p| length(p) > 24.0));
        let along = piece.map(|p| {
            let unit = [(p[1][0] - p[0][0]) / length(p), (p[1][1] - p[0][1]) / length(p)];
            ([p[0][0] + 16.0 * unit[0], p[0][1] + 16.0 * unit[1]], unit)
        });
        let Some((first, unit)) = self.signs_at.map(|at| (at, [1.0, 0.0])).or(along) else {
            return Vec::new();
        };
        let at = |n: usize| {
            let way = SIGNS * n as f64;
            [first[0] + way * unit[0], first[1] + way * unit[1]]
        };
        self.signs.iter().enumerate().map(|(n, sign)| (*sign, at(n))).collect()
    }

    /// Length of the piece of a line that takes so many signs.
    pub(super) fn signs_room(signs: usize) -> f64 {
        24.0 + SIGNS * signs.saturating_sub(1) as f64
    }

    /// Room that signs take in front of a text.
    pub(super) fn signs_width(signs: &[Sign]) -> f64 {
        SIGNS * signs.len() as f64
    }
}

/// A line of text.
pub(super) struct Label {
    /// The room that it takes at most.
    pub(super) rect: Rect,
    pub(super) text: String,
    pub(super) face: Face,
    pub(super) anchor: Anchor,
    /// Reads upwards instead of from left to right.
    pub(super) upright: bool,
    /// The box that it belongs to.
    pub(super) owner: Option<usize>,
    pub(super) stage: Stage,
}

/// How a label is set.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Face {
    /// What kind of thing it is.
    Kind,
    /// What it is called.
    Name,
    /// A datum of it.
    Detail,
    /// A power.
    Figure,
    /// A signal or pin.
    Pin,
}

/// Which part of the room a text begins from.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

impl Face {
    /// Size of the smallest letters of a drawing.
    pub(super) const SMALLEST: f64 = 10.5;

    /// Size of the letters in pixels.
    pub(super) fn size(self) -> f64 {
        match self {
            Self::Kind => Self::SMALLEST,
            Self::Name => 12.5,
            Self::Detail | Self::Figure | Self::Pin => 11.0,
        }
    }

    /// Class in the style sheet.
    pub(super) fn class(self) -> &'static str {
        match self {
            Self::Kind => "b-kind",
            Self::Name => "b-name",
            Self::Detail => "b-detail",
            Self::Figure => "b-figure",
            Self::Pin => "b-pin",
        }
    }

    /// Width that a text takes at most; names and figures are bold.
    pub(super) fn width(self, text: &str) -> f64 {
        let bold = if matches!(self, Self::Name | Self::Figure) { 1.06 } else { 1.0 };
        width(text, self.size()) * bold
    }

    /// The text as it fits into a width: what is too long ends in an ellipsis.
    pub(super) fn fit(self, text: &str, room: f64) -> String {
        let bold = if matches!(self, Self::Name | Self::Figure) { 1.06 } else { 1.0 };
        wrap(text, self.size(), room / bold, 1).into_iter().next().unwrap_or_default()
    }
}

impl Layout {
    /// Adds a box and gives its number.
    pub(super) fn node(&mut self, node: Node) -> usize {
        self.boxes.push(node);
        self.boxes.len() - 1
    }

    /// Adds a line; one without length is left out.
    pub(super) fn wire(&mut self, mut wire: Wire) {
        wire.points.dedup();
        if wire.points.len() > 1 {
            self.wires.push(wire);
        }
    }

    /// Writes lines of text into the middle of a box; empty ones are left out.
    pub(super) fn write(&mut self, owner: usize, lines: &[Line]) {
        let Some(node) = self.boxes.get(owner) else { return };
        let (rect, stage) = (node.rect, node.stage);
        let texts: Vec<(Face, String)> = lines.iter().map(|line| (line.face, self.text_of(line))).collect();
        let texts: Vec<_> = texts.into_iter().filter(|(_, text)| !text.is_empty()).collect();
        let heights: f64 = texts.iter().map(|(face, _)| face.size() * LINE).sum();
        let mut y = rect.y + (rect.h - heights) / 2.0;
        for (face, text) in texts {
            let text = face.fit(&text, rect.w - 8.0);
            let (w, h) = (face.width(&text), face.size() * LINE);
            let rect = Rect::new(rect.x + (rect.w - w) / 2.0, y, w, h);
            let (anchor, owner) = (Anchor::Middle, Some(owner));
            self.labels.push(Label { rect, text, face, anchor, upright: false, owner, stage });
            y += h;
        }
    }

    fn text_of(&self, line: &Line) -> String {
        match line.face {
            Face::Figure => {
                self.figures.get(&line.text).map(|watts| super::watts(*watts)).unwrap_or_default()
            }
            _ => line.text.clone(),
        }
    }

    /// Power through a line; `None` where a figure is missing.
    pub(super) fn power(&self, wire: &Wire) -> Option<f64> {
        let one = |paths: &Vec<String>| paths.iter().find_map(|path| self.figures.get(path).copied());
        let all: Option<Vec<f64>> = wire.power.iter().map(one).collect();
        all.filter(|all| !all.is_empty()).map(|all| all.iter().sum())
    }

    /// Writes a text that begins (or ends) at a point and stands in the middle of its line.
    pub(super) fn text(
        &mut self,
        (at, anchor): (Pixel, Anchor),
        room: f64,
        (face, text): (Face, &str),
        (owner, stage): (Option<usize>, Stage),
    ) {
        let text = face.fit(text, room);
        let (w, h) = (face.width(&text), face.size() * LINE);
        let x = match anchor {
            Anchor::Start => at[0],
            Anchor::Middle => at[0] - w / 2.0,
            Anchor::End => at[0] - w,
        };
        let rect = Rect::new(x, at[1] - h / 2.0, w, h);
        self.labels.push(Label { rect, text, face, anchor, upright: false, owner, stage });
    }

    /// The lowest and rightmost points of what a stage shows.
    pub(super) fn extent(&self, stage: Stage) -> [f64; 2] {
        let mut far = [0.0_f64; 2];
        let rects = self.boxes.iter().filter(|b| b.stage <= stage).map(|b| &b.rect);
        let rects = rects.chain(self.labels.iter().filter(|l| l.stage <= stage).map(|l| &l.rect));
        let corners = rects.map(|r| [r.right(), r.bottom()]);
        let points = self.wires.iter().filter(|w| w.stage <= stage).flat_map(|w| w.points.iter().copied());
        for p in corners.chain(points) {
            far = [far[0].max(p[0]), far[1].max(p[1])];
        }
        far
    }
}

/// A line of text for a box.
pub(super) struct Line {
    face: Face,
    text: String,
}

impl Line {
    pub(super) fn kind(text: &str) -> Self {
        Self { face: Face::Kind, text: text.to_owned() }
    }

    pub(super) fn name(text: &str) -> Self {
        Self { face: Face::Name, text: text.to_owned() }
    }

    pub(super) fn detail(text: &str) -> Self {
        Self { face: Face::Detail, text: text.to_owned() }
    }

    /// The figure at a path, where the caller gives it.
    pub(super) fn power(path: &str) -> Self {
        Self { face: Face::Figure, text: path.to_owned() }
    }
}

//! How a drawing goes onto printed pages: which way up, how large, and where it is cut where one page is too small.
//!
//! A page has room for what both A4 and US letter have room for, less the margins of the style sheet.

use super::Stage;
use super::layout::{Face, Layout, SIGN};
use super::place::MARKS;
use crate::svg::geometry::Rect;

/// Room on an upright page and on one that lies, width and height in millimetres.
const ROOMS: [[f64; 2]; 2] = [[194.0, 255.0], [263.0, 186.0]];
/// What the heading of a stage takes, and one of its lines with the letters in it, in millimetres.
const HEADING: f64 = 16.0;
const LINE: [f64; 2] = [5.8, 0.55];
/// What the caption of a part takes, in millimetres.
const CAPTION: f64 = 9.0;
/// Smallest letters on paper, in millimetres: 6 pt (common practice, no source).
const LETTERS: f64 = 6.0 * 25.4 / 72.0;
/// Pixels of a millimetre at full size (CSS: 96 pixels an inch).
const PIXELS: f64 = 96.0 / 25.4;
/// What is cut is begun anew on the next part, from as many pixels before the cut at most.
const OVERLAP: f64 = 140.0;

/// A drawing on paper.
#[derive(Clone, PartialEq, Debug)]
pub struct Paper {
    /// The page lies on its long side.
    pub turned: bool,
    /// Millimetres of a pixel.
    pub scale: f64,
    /// Pieces of the drawing in reading order, in its pixels: left, top, width, height.
    pub parts: Vec<[f64; 4]>,
}

impl Paper {
    /// Lays a drawing of a size onto pages, below its heading and its words, so that no letters get too small. Cuts
    /// avoid what the drawing must not be cut through.
    pub(super) fn of([w, h]: [f64; 2], words: &str, whole: &[Rect]) -> Self {
        let upright = Self::on(ROOMS[0], false, [w, h], words, whole);
        let turned = Self::on(ROOMS[1], true, [w, h], words, whole);
        let better = turned.parts.len() < upright.parts.len()
            || turned.parts.len() == upright.parts.len() && turned.scale > upright.scale;
        if better { turned } else { upright }
    }

    fn on(room: [f64; 2], turned: bool, [w, h]: [f64; 2], words: &str, whole: &[Rect]) -> Self {
        let text = HEADING + LINE[0] * libm::ceil(words.chars().count() as f64 / (room[0] * LINE[1]));
        // A text that fills the page leaves the drawing to the next one.
        let first = if text < room[1] / 2.0 { room[1] - text } else { room[1] };
        let least = LETTERS / Face::SMALLEST;
        let largest = (1.0 / PIXELS).min(room[0] / w);
        let fitting = largest.min(first / h);
        if fitting >= least {
            return Self { turned, scale: fitting, parts: vec![[0.0, 0.0, w, h]] };
        }
        let spans = |across: bool| -> Vec<(f64, f64)> {
            whole.iter().map(|r| if across { (r.x, r.right()) } else { (r.y, r.bottom()) }).collect()
        };
        let cut = |scale: f64| {
            let columns = cuts(w, [room[0] / scale; 2], &spans(true));
            let below = if columns.len() > 1 { room[1] - CAPTION } else { first - CAPTION };
            (columns, cuts(h, [below / scale, (room[1] - CAPTION) / scale], &spans(false)))
        };
        // As large as it can be without a further page.
        let fewest = |(columns, rows): &(Vec<_>, Vec<_>)| columns.len() * rows.len();
        let pages = fewest(&cut(least));
        let steps =
            (0..=8).map(|step| largest.max(least) + (least - largest.max(least)) * f64::from(step) / 8.0);
        let scale = steps.into_iter().find(|scale| fewest(&cut(*scale)) <= pages).unwrap_or(least);
        let (columns, rows) = cut(scale);
        let parts = rows.iter().flat_map(|(top, bottom)| {
            columns.iter().map(move |(left, right)| [*left, *top, right - left, bottom - top])
        });
        Self { turned, scale, parts: parts.collect() }
    }
}

/// Pieces of a length, none longer than the room (the first one has a room of its own). What would be cut in the
/// middle is begun anew on the next piece.
fn cuts(length: f64, [first, room]: [f64; 2], whole: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut pieces: Vec<(f64, f64)> = Vec::new();
    let (mut from, mut room_here) = (0.0, first);
    while length - from > room_here && pieces.len() < 99 {
        let hit = |at: f64| whole.iter().filter(move |(a, b)| *a < at && at < *b);
        let tries = (0..=60).map(|step| from + room_here * (1.0 - 0.5 * f64::from(step) / 60.0));
        // The fewest things cut, and of equals the longest piece.
        let best = tries.min_by_key(|at| hit(*at).count()).unwrap_or(from + room_here);
        pieces.push((from, best));
        let again = hit(best).map(|(a, _)| *a).filter(|a| best - a <= OVERLAP).fold(best, f64::min);
        from = again.max(from + room_here / 4.0);
        room_here = room;
    }
    pieces.push((from, length));
    pieces
}

impl Layout {
    /// What a cut must not go through, as far as a stage shows it: texts, signs, boxes that hold no others.
    pub(super) fn whole(&self, stage: Stage) -> Vec<Rect> {
        let mut holds = vec![false; self.boxes.len()];
        for parent in self.boxes.iter().filter_map(|node| node.parent) {
            holds.iter_mut().skip(parent).take(1).for_each(|slot| *slot = true);
        }
        let boxes = self.boxes.iter().zip(holds).filter(|(node, holds)| !holds && node.stage <= stage);
        let boxes = boxes.map(|(node, _)| {
            // Marks of findings stand above.
            let marks = if node.paths.is_empty() { 0.0 } else { MARKS + 2.0 };
            Rect::new(node.rect.x, node.rect.y - marks, node.rect.w, node.rect.h + marks)
        });
        let labels = self.labels.iter().filter(|label| label.stage <= stage).map(|label| label.rect);
        let signs = self.wires.iter().filter(|wire| wire.stage <= stage).flat_map(|wire| wire.sign_places());
        let signs = signs.map(|(_, [x, y])| Rect::new(x - SIGN, y - SIGN, 2.0 * SIGN, 2.0 * SIGN));
        boxes.chain(labels).chain(signs).collect()
    }
}

/// Rows of a legend or list from a height down to another, 20 pixels each.
pub(super) fn rows(from: f64, to: f64, width: f64) -> Vec<Rect> {
    let count = ((to - from) / 20.0).clamp(0.0, 10_000.0) as usize + 1;
    (0..count).map(|row| Rect::new(0.0, from + 20.0 * row as f64 - 10.0, width, 18.0)).collect()
}

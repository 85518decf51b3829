//! What a layout must keep, each breach as one line.

use crate::picture::layout::{Kind, Layout, SIGN, Wire};
use crate::svg::geometry::{Pixel, Rect};

/// Everything that lies on something else.
pub(super) fn violations(layout: &Layout) -> Vec<String> {
    let mut wrong = Vec::new();
    boxes(layout, &mut wrong);
    labels(layout, &mut wrong);
    wires(layout, &mut wrong);
    signs(layout, &mut wrong);
    wrong
}

fn within(layout: &Layout, mut child: usize, ancestor: usize) -> bool {
    while let Some(parent) = layout.boxes[child].parent {
        if parent == ancestor {
            return true;
        }
        child = parent;
    }
    false
}

fn boxes(layout: &Layout, wrong: &mut Vec<String>) {
    for (i, a) in layout.boxes.iter().enumerate() {
        if !(a.rect.x >= 0.0 && a.rect.y >= 0.0 && a.rect.w > 0.0 && a.rect.h > 0.0) {
            wrong.push(format!("{}: no place: {:?}", a.title, a.rect));
        }
        for (j, b) in layout.boxes.iter().enumerate().skip(i + 1) {
            let nested = within(layout, i, j) || within(layout, j, i);
            if nested {
                let (inner, outer) = if within(layout, i, j) { (a, b) } else { (b, a) };
                if !inner.rect.lies_in(&outer.rect) {
                    wrong.push(format!("{} sticks out of {}", inner.title, outer.title));
                }
            } else if a.rect.overlaps(&b.rect) {
                wrong.push(format!("{} lies on box {}", a.title, b.title));
            }
        }
    }
}

fn labels(layout: &Layout, wrong: &mut Vec<String>) {
    for (i, a) in layout.labels.iter().enumerate() {
        for b in layout.labels.iter().skip(i + 1) {
            if a.rect.grown(-0.3).overlaps(&b.rect.grown(-0.3)) {
                wrong.push(format!("`{}` lies on label `{}`", a.text, b.text));
            }
        }
        for (number, node) in layout.boxes.iter().enumerate() {
            let own = a.owner.is_some_and(|owner| owner == number || within(layout, owner, number));
            if !own && a.rect.overlaps(&node.rect) {
                wrong.push(format!("`{}` lies on a box: {}", a.text, node.title));
            }
            // Marks of findings stand above the upper edge of what a finding can name.
            let marks = Rect::new(node.rect.x, node.rect.y - 14.0, node.rect.w, 13.0);
            if !node.paths.is_empty() && a.rect.overlaps(&marks) {
                wrong.push(format!("`{}` where the marks of {} go", a.text, node.title));
            }
        }
        if let Some(owner) = a.owner
            && !a.upright
            && !a.rect.lies_in(&layout.boxes[owner].rect.grown(0.6))
        {
            wrong.push(format!("`{}` sticks out of {}", a.text, layout.boxes[owner].title));
        }
    }
}

/// Signs of lines hide no text and no box, and each can be told from the others.
fn signs(layout: &Layout, wrong: &mut Vec<String>) {
    let mut before: Vec<Rect> = Vec::new();
    for wire in &layout.wires {
        for (sign, [x, y]) in wire.sign_places() {
            let rect = Rect::new(x - SIGN, y - SIGN, 2.0 * SIGN, 2.0 * SIGN);
            if let Some(label) = layout.labels.iter().find(|label| label.rect.grown(-1.0).overlaps(&rect)) {
                wrong.push(format!("sign {sign:?} of {} on `{}`", wire.title, label.text));
            }
            let leaf = |n: usize| layout.boxes.iter().all(|other| other.parent != Some(n));
            let hit = layout.boxes.iter().enumerate().find(|(n, node)| leaf(*n) && node.rect.overlaps(&rect));
            if let Some((_, node)) = hit {
                wrong.push(format!("sign {sign:?} of {} on {}", wire.title, node.title));
            }
            if before.iter().any(|other| other.grown(-1.0).overlaps(&rect)) {
                wrong.push(format!("sign {sign:?} of {} on another", wire.title));
            }
            before.push(rect);
        }
    }
}

fn wires(layout: &Layout, wrong: &mut Vec<String>) {
    let pieces: Vec<(usize, Pixel, Pixel)> = layout
        .wires
        .iter()
        .enumerate()
        .flat_map(|(n, wire)| wire.points.windows(2).map(move |p| (n, p[0], p[1])))
        .collect();
    for (n, a, b) in &pieces {
        let wire = &layout.wires[*n];
        if a[0] != b[0] && a[1] != b[1] {
            wrong.push(format!("{} slants: {a:?} {b:?}", wire.title));
        }
        let piece = span(*a, *b);
        for (number, node) in layout.boxes.iter().enumerate() {
            let own = wire.ends.iter().any(|end| *end == number || within(layout, *end, number));
            if !own && piece.overlaps(&node.rect.grown(-0.2)) {
                wrong.push(format!("{} runs through {}", wire.title, node.title));
            }
        }
    }
    for (i, (n, a, b)) in pieces.iter().enumerate() {
        for (m, c, d) in pieces.iter().skip(i + 1) {
            if n != m && level(*a, *b) == level(*c, *d) {
                beside(&layout.wires[*n], &layout.wires[*m], (*a, *b), (*c, *d), wrong);
            }
        }
    }
}

/// Parallel pieces of two lines keep their distance.
fn beside(one: &Wire, other: &Wire, (a, b): (Pixel, Pixel), (c, d): (Pixel, Pixel), wrong: &mut Vec<String>) {
    let (along, across) = if level(a, b) { (0, 1) } else { (1, 0) };
    let from = a[along].min(b[along]).max(c[along].min(d[along]));
    let to = a[along].max(b[along]).min(c[along].max(d[along]));
    // Lines of power can be 11 px thick, others take 2 px, and so do branches to a clamp.
    let half = |wire: &Wire| if wire.kind == Kind::Energy && !wire.power.is_empty() { 5.5 } else { 1.0 };
    if to - from > 0.5 && (a[across] - c[across]).abs() < half(one) + half(other) - 0.1 {
        wrong.push(format!("{} on top of {}: {a:?} {b:?} and {c:?} {d:?}", one.title, other.title));
    }
}

fn level(a: Pixel, b: Pixel) -> bool {
    a[1] == b[1]
}

/// The box of a piece, with a little body.
fn span(a: Pixel, b: Pixel) -> Rect {
    let (x, y) = (a[0].min(b[0]), a[1].min(b[1]));
    Rect::new(x - 0.1, y - 0.1, (a[0] - b[0]).abs() + 0.2, (a[1] - b[1]).abs() + 0.2)
}

//! Connectors as one looks at them, with the single wires of the bench from pin to pin.
//!
//! Ports of the controller stand right, all other connectors left. Each wire has a lane of its own between them and a
//! level of its own at either connector, so that none lies on another and none crosses a connector.

mod block;
mod grid;

use super::layout::{Anchor, Arrow, Face, Kind, Layout, SIGN, Sign, Wire};
use super::planned::{Planned, Plug};
use super::{Drawing, Stage, paint};
use crate::svg::geometry::Pixel;
use bench::{Bench, Device, Place};
use block::{Block, Column, End, LEVEL};

const EDGE: f64 = 14.0;
/// Room for what a wire is called.
const NAMES: f64 = 232.0;
const LANE: f64 = 8.0;

/// From which side connectors are looked at.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Side {
    /// From the side that the part states.
    Stated,
    /// From the other one: the columns are mirrored.
    Behind,
}

/// Ports of the controller, the connectors of boards that are plugged in, and all connectors that single wires
/// end at, with these wires. Ids inside begin with `connectors` or `connectors-behind`.
///
/// Wires that a plan lays are dashed and signed, those that it takes away are signed.
pub fn connectors(bench: &Bench, wiring: &Planned, side: Side) -> Drawing {
    let (layout, words) = lay_out(Shown { bench, wiring, side });
    let mut body = String::new();
    paint::body(&mut body, &layout, Stage::Power, &paint::Scale::of(&layout, Stage::Power));
    let [right, bottom] = layout.extent(Stage::Power);
    let width = libm::ceil((right + EDGE).max(560.0));
    let below = bottom + 24.0;
    let mut y = below;
    let mut lines = vec![(None, "a filled corner marks pin 1")];
    for (sign, text) in [
        (
            Sign::Leaves,
            "leaves the plug by a wire of its own; the pin of the plug with the same sign is to stay an input",
        ),
        (Sign::Planned, "planned: does not lie yet"),
        (Sign::Goes, "the plan takes it from here; where one of the same label is planned, it moves there"),
    ] {
        if layout.wires.iter().any(|wire| wire.signs.contains(&sign)) {
            lines.push((Some(paint::Sample::Sign(sign, Kind::Loose)), text));
        }
    }
    for (sample, text) in lines {
        match sample {
            Some(sample) => paint::draw_sample(&mut body, sample, [EDGE, y]),
            None => paint::pin_sample(&mut body, [EDGE + 12.0, y]),
        }
        paint::text(&mut body, Face::Detail, [EDGE + 44.0, y + 4.0], text);
        y += 20.0;
    }
    let title = format!("{}: connectors", bench.name());
    let prefix = match side {
        Side::Stated => "connectors",
        Side::Behind => "connectors-behind",
    };
    let mut whole = layout.whole(Stage::Power);
    whole.extend(super::paper::rows(below, y, width));
    paint::frame(prefix, [width, y], (&title, &words), (&body, &whole))
}

/// What is drawn, and from where.
#[derive(Clone, Copy)]
pub(super) struct Shown<'b> {
    pub(super) bench: &'b Bench,
    pub(super) wiring: &'b Planned,
    pub(super) side: Side,
}

/// The drawing as data, and what it shows in words.
pub(super) fn lay_out(shown: Shown<'_>) -> (Layout, String) {
    let mut blocks = block::blocks(shown);
    let wires = joined(shown);
    let mut ends = Vec::new();
    for wire in &wires {
        ends.push([&wire.from, &wire.to].map(|place| block::end_of(&mut blocks, shown, place)));
    }
    for (number, [a, b]) in ends.iter().enumerate() {
        for (at, end) in [a, b].into_iter().enumerate() {
            if let Some(block) = blocks.get_mut(end.block) {
                block.end(end, (number, at));
            }
        }
    }
    let mut layout = Layout::default();
    let left = blocks.iter().filter(|b| b.column == Column::Left).map(Block::width).fold(0.0, f64::max);
    let is_right = |end: &End| blocks.get(end.block).is_some_and(|b| b.column == Column::Right);
    let both_right = ends.iter().any(|[a, b]| is_right(a) && is_right(b));
    let has_left = ends.iter().any(|[a, b]| !is_right(a) || !is_right(b));
    let lanes = EDGE + left + if has_left { NAMES } else { 0.0 } + 14.0;
    let right = lanes + LANE * wires.len() as f64 + if both_right { NAMES } else { 0.0 } + 14.0;
    let (mut y_left, mut y_right) = (EDGE, EDGE);
    for block in &mut blocks {
        match block.column {
            Column::Left => y_left = block.place(&mut layout, [EDGE, y_left]) + 18.0,
            Column::Right => y_right = block.place(&mut layout, [right, y_right]) + 18.0,
        }
    }
    let paths = ends.iter().enumerate().map(|(number, _)| {
        [0, 1].map(|at| blocks.iter().find_map(|block| block.way((number, at))).unwrap_or_default())
    });
    let paths: Vec<[Way; 2]> = paths.collect();
    for (number, lane) in lanes_of(&paths).into_iter().enumerate() {
        let (Some(wire), Some([a, b])) = (wires.get(number), paths.get(number)) else { continue };
        let x = lanes + LANE * lane as f64;
        // Named where it comes out of the left column; a wire between two ports where it goes into the right one.
        let from_left = [a, b].into_iter().find(|way| way.column == Some(Column::Left));
        let (name_x, level) = match from_left {
            Some(way) => (EDGE + left + 8.0, way.level()),
            None => (lanes + LANE * wires.len() as f64 + 6.0, a.level()),
        };
        let owner = (None, Stage::Power);
        // Signs stand in front of the name, where no other wire is near.
        let signs = Wire::signs_width(&wire.signs);
        let at = ([name_x + signs, level - LEVEL / 2.0], Anchor::Start);
        layout.text(at, NAMES - 14.0 - signs, (Face::Pin, &wire.name), owner);
        let mut points = a.points.clone();
        points.push([x, a.level()]);
        points.push([x, b.level()]);
        points.extend(b.points.iter().rev());
        layout.wire(Wire {
            points,
            ends: a.node.into_iter().chain(b.node).collect(),
            kind: Kind::Loose,
            stage: Stage::Power,
            power: Vec::new(),
            arrow: Arrow::None,
            signs: wire.signs.clone(),
            signs_at: Some([name_x + SIGN, level - LEVEL / 2.0]),
            title: wire.name.clone(),
        });
    }
    let words = words(shown, &wires);
    (layout, words)
}

/// How a wire gets from a pin to the level at which it leaves its connector.
#[derive(Clone, Debug, Default)]
struct Way {
    points: Vec<Pixel>,
    node: Option<usize>,
    column: Option<Column>,
}

impl Way {
    fn level(&self) -> f64 {
        self.points.last().map_or(0.0, |p| p[1])
    }
}

/// A wire that lies, or that a plan lays.
struct Joined {
    from: Place,
    to: Place,
    name: String,
    signs: Vec<Sign>,
}

/// The wires of the bench file, then those that the plan adds.
fn joined(Shown { bench, wiring, .. }: Shown<'_>) -> Vec<Joined> {
    let join = |from: Place, to: Place, name: [&str; 3], more: Option<Sign>| {
        let name: Vec<&str> = name.into_iter().filter(|part| !part.is_empty()).collect();
        let leaves = [&from, &to].into_iter().any(|place| block::leaves_plug(bench, place).is_some());
        Joined {
            from,
            to,
            name: if name.is_empty() { "wire without a name".to_owned() } else { name.join(" ") },
            signs: leaves.then_some(Sign::Leaves).into_iter().chain(more).collect(),
        }
    };
    let laid = bench.wires().iter().enumerate().map(|(number, (wire, from, to))| {
        let area = super::plan::written(wire, "area");
        let name = [wire.id().unwrap_or(""), wire.carries().unwrap_or(""), &area];
        join(from.clone(), to.clone(), name, wiring.gone.contains(&number).then_some(Sign::Goes))
    });
    let added = wiring.added.iter().filter_map(|wire| {
        let (from, to) = (bench.place_named(&wire.from)?, bench.place_named(&wire.to)?);
        Some(join(from, to, [&wire.id, &wire.carries, ""], Some(Sign::Planned)))
    });
    laid.chain(added).collect()
}

/// The lane of each wire. Those that go down take their lanes from right to left, those that go up from left to
/// right, from the uppermost on: so they cross least.
fn lanes_of(paths: &[[Way; 2]]) -> Vec<usize> {
    let level = |n: &usize| {
        paths.get(*n).map_or((0.0, 0.0), |[a, b]| {
            if a.column == Some(Column::Left) { (a.level(), b.level()) } else { (b.level(), a.level()) }
        })
    };
    let (mut down, mut up): (Vec<usize>, Vec<usize>) =
        (0..paths.len()).partition(|n| level(n).1 > level(n).0);
    down.sort_by(|a, b| level(b).0.total_cmp(&level(a).0));
    up.sort_by(|a, b| level(a).0.total_cmp(&level(b).0));
    let mut lanes = vec![0; paths.len()];
    for (lane, wire) in down.into_iter().chain(up).enumerate() {
        if let Some(slot) = lanes.get_mut(wire) {
            *slot = lane;
        }
    }
    lanes
}

fn words(Shown { bench, wiring, side }: Shown<'_>, wires: &[Joined]) -> String {
    let mut text = match side {
        Side::Stated => {
            "Connectors as their part files number them, each seen from the side that stands beside its name."
                .to_owned()
        }
        Side::Behind => {
            "Connectors seen from behind: against the part files the columns are mirrored.".to_owned()
        }
    };
    for Plug { board, connector, port, .. } in wiring.plugs(bench) {
        text.push_str(&format!(
            " {}.{connector} sits on controller.{port}: pins of equal numbers meet.",
            board.name
        ));
    }
    let with = |sign: Sign| wires.iter().filter(|wire| wire.signs.contains(&sign)).count();
    let (left, planned, gone) = (with(Sign::Leaves), with(Sign::Planned), with(Sign::Goes));
    match wires.len() - planned {
        0 => text.push_str(" No single wire is laid."),
        1 => text.push_str(" One single wire is laid."),
        loose => text.push_str(&format!(" {loose} single wires are laid.")),
    }
    match planned {
        0 => {}
        1 => text.push_str(" One is planned and does not lie yet: it is dashed, with a plus."),
        _ => text
            .push_str(&format!(" {planned} are planned and do not lie yet: they are dashed, with a plus.")),
    }
    match gone {
        0 => {}
        1 => text.push_str(" One is taken from where it lies, marked with a cross."),
        _ => text.push_str(&format!(" {gone} are taken from where they lie, marked with a cross.")),
    }
    if left > 0 {
        let carry = if left > 1 { "carry" } else { "carries" };
        text.push_str(&format!(
            " {left} of them {carry} what leaves the plug; a diamond marks it, and the pins of the plug that it replaces."
        ));
    }
    text
}

/// What a place is called where it is no pin of a connector.
fn called(place: &Place) -> String {
    match place {
        Place::Device(Device::Controller) => "controller".to_owned(),
        other => other.to_string(),
    }
}

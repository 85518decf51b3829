//! Supplies with fuse, stop and clamp, and their lines to what they feed.
//!
//! A supply stands at the height of the first thing that it feeds, so that the way of the power is a straight line.
//! Where it feeds several, an upright line of its own leads to their heights.

use super::Stage;
use super::layout::{Arrow, Kind, Line, Look, Node, Wire};
use super::place::{BOX, CABLE, MARKS, Placer};
use super::plan::{SupplyPlan, Target};
use super::route::Controller;
use crate::svg::geometry::Rect;
use bench::{Device, Place};

const SUPPLY: f64 = 94.0;
const FUSE: f64 = 60.0;
const STOP: f64 = 66.0;
const HANGING: [f64; 2] = [62.0, 50.0];
/// Two level lines are never nearer than this.
const APART: f64 = 16.0;

/// Something that a supply feeds, with its place.
struct Fed {
    /// Where its line ends.
    x: f64,
    y: f64,
    ends: Vec<usize>,
    power: Vec<String>,
    stage: Stage,
    title: String,
}

pub(super) fn supplies(placer: &mut Placer<'_>, controller: Option<Controller>) {
    let plan = placer.plan;
    let mut rows: Vec<(usize, Vec<Fed>)> = Vec::new();
    for (number, supply) in plan.supplies.iter().enumerate() {
        let fed =
            supply.targets.iter().filter_map(|target| fed(placer, supply, target, controller)).collect();
        rows.push((number, fed));
    }
    let first = |fed: &[Fed]| fed.iter().map(|f| f.y).fold(f64::INFINITY, f64::min);
    rows.sort_by(|a, b| first(&a.1).total_cmp(&first(&b.1)));
    let mut taken: Vec<(f64, usize)> =
        rows.iter().flat_map(|(n, fed)| fed.iter().map(|f| (f.y, *n))).collect();
    // Marks of findings above the first one stay on the paper.
    let mut bottom = 2.0_f64;
    let mut above: Option<usize> = None;
    for (lane, (number, fed)) in rows.iter().enumerate() {
        let Some(supply) = plan.supplies.get(*number) else { continue };
        let wanted = if fed.is_empty() { 0.0 } else { first(fed) };
        let mut y = wanted.max(bottom + MARKS + BOX / 2.0);
        // Not at the height of a line that belongs to another supply.
        while taken.iter().any(|(at, of)| of != number && (at - y).abs() < APART) {
            y += APART / 2.0;
        }
        taken.push((y, *number));
        bottom = row(placer, supply, fed, (lane, y), &mut above);
    }
}

/// A supply, what sits behind it, and its lines; gives the lower edge.
fn row(
    placer: &mut Placer<'_>,
    supply: &SupplyPlan,
    fed: &[Fed],
    (lane, y): (usize, f64),
    above: &mut Option<usize>,
) -> f64 {
    let name = &supply.name;
    let path = format!("supplies.{name}");
    let stage = fed.iter().map(|f| f.stage).min().unwrap_or(Stage::Power);
    let upper = y - BOX / 2.0;
    let own = put(
        placer,
        Rect::new(placer.lanes.supply, upper, SUPPLY, BOX),
        (Look::Machine, stage),
        path.clone(),
        &[Line::kind("supply"), Line::name(name), Line::detail(&supply.voltage), Line::power(&path)],
        format!("supply {name} {}", supply.voltage),
    );
    let mut ends = vec![own];
    for (at, (fuse, rating)) in supply.fuses.iter().enumerate() {
        ends.push(put(
            placer,
            Rect::new(placer.lanes.fuses + (FUSE + 14.0) * at as f64, upper, FUSE, BOX),
            (Look::Guard, Stage::Protection),
            format!("fuses.{fuse}"),
            &[Line::kind("fuse"), Line::name(fuse), Line::detail(rating)],
            format!("fuse {fuse} {rating} behind supply {name}"),
        ));
    }
    let mut contact = None;
    if supply.cut {
        let number = put(
            placer,
            Rect::new(placer.lanes.stop, upper, STOP, BOX),
            (Look::Guard, Stage::Protection),
            "stop".to_owned(),
            &[Line::kind("contact of"), Line::name("stop")],
            format!("contact of the stop in the line of supply {name}"),
        );
        ends.push(number);
        contact = Some(number);
    }
    let mut bottom = y + BOX / 2.0;
    for (at, (kind, hung, datum, path)) in supply.hanging.iter().enumerate() {
        let top = bottom + MARKS + 6.0;
        let right = placer.lanes.stop + STOP + 2.0;
        let number = put(
            placer,
            Rect::new(right - HANGING[0], top, HANGING[0], HANGING[1]),
            (Look::Guard, Stage::Protection),
            path.clone(),
            &[Line::kind(kind), Line::name(hung), Line::detail(datum)],
            format!("{kind} {hung} {datum} on the line of supply {name}"),
        );
        let x = placer.lanes.stop + STOP + 9.0 + 8.0 * at as f64;
        let middle = top + HANGING[1] / 2.0;
        placer.layout.wire(Wire {
            points: vec![[x, y], [x, middle], [right, middle]],
            ends: vec![number],
            kind: Kind::Energy,
            stage: Stage::Protection,
            power: Vec::new(),
            arrow: Arrow::None,
            signs: Vec::new(),
            signs_at: None,
            title: format!("{kind} {hung}"),
        });
        bottom = top + HANGING[1];
    }
    if let Some(contact) = contact
        && let Some(before) = above.replace(contact)
    {
        link(placer, before, contact);
    }
    feed(placer, name, fed, ends, (lane, y, stage));
    bottom
}

/// A box with its text.
fn put(
    placer: &mut Placer<'_>,
    rect: Rect,
    (look, stage): (Look, Stage),
    path: String,
    lines: &[Line],
    title: String,
) -> usize {
    let number = placer.layout.node(Node { rect, parent: None, look, stage, title, paths: vec![path] });
    placer.layout.write(number, lines);
    number
}

/// The lines of a supply: level to its lane, upright along it, level to all that it feeds.
fn feed(
    placer: &mut Placer<'_>,
    name: &str,
    fed: &[Fed],
    ends: Vec<usize>,
    (lane, y, stage): (usize, f64, Stage),
) {
    let own = ends.first().copied();
    let x = placer.lanes.buses + 16.0 * lane as f64 + 8.0;
    let start = placer.lanes.supply + SUPPLY;
    let path = format!("supplies.{name}");
    let has_figure = placer.layout.figures.contains_key(&path);
    let power = if has_figure { vec![vec![path]] } else { fed.iter().map(|f| f.power.clone()).collect() };
    let mut wire = |points, ends, power, stage, title| {
        let (kind, arrow) = (Kind::Energy, Arrow::None);
        placer.layout.wire(Wire {
            points,
            ends,
            kind,
            stage,
            power,
            arrow,
            signs: Vec::new(),
            signs_at: None,
            title,
        });
    };
    wire(vec![[start, y], [x, y]], ends, power, stage, format!("supply {name}"));
    // Pieces along the lane, from its ends towards the supply: each carries what lies beyond it.
    let mut heights: Vec<f64> = fed.iter().map(|f| f.y).chain([y]).collect();
    heights.sort_by(f64::total_cmp);
    heights.dedup();
    for pair in heights.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        let beyond = |f: &&Fed| if to <= y { f.y <= from } else { f.y >= to };
        let power = fed.iter().filter(beyond).map(|f| f.power.clone()).collect();
        let stage = fed.iter().filter(beyond).map(|f| f.stage).min().unwrap_or(stage);
        let ends = own.into_iter().collect();
        wire(vec![[x, from], [x, to]], ends, power, stage, format!("supply {name}"));
    }
    for f in fed {
        let mut ends: Vec<usize> = f.ends.clone();
        ends.extend(own);
        wire(vec![[x, f.y], [f.x, f.y]], ends, vec![f.power.clone()], f.stage, f.title.clone());
    }
}

/// Contacts of one stop open together.
fn link(placer: &mut Placer<'_>, upper: usize, lower: usize) {
    let boxes = &placer.layout.boxes;
    let (Some(a), Some(b)) = (boxes.get(upper), boxes.get(lower)) else { return };
    let (x, from, to) = (a.rect.x - 7.0, a.rect.bottom() - 8.0, b.rect.y + 8.0);
    placer.layout.wire(Wire {
        points: vec![[a.rect.x, from], [x, from], [x, to], [b.rect.x, to]],
        ends: vec![upper, lower],
        kind: Kind::Linked,
        stage: Stage::Protection,
        power: Vec::new(),
        arrow: Arrow::None,
        signs: Vec::new(),
        signs_at: None,
        title: "contacts of one stop".to_owned(),
    });
}

/// Where the line to something ends, with the cable that lies in it.
fn fed(
    placer: &mut Placer<'_>,
    supply: &SupplyPlan,
    target: &Target,
    controller: Option<Controller>,
) -> Option<Fed> {
    let plan = placer.plan;
    let bench = placer.bench;
    let edge = placer.lanes.board;
    let (mut found, cable) = match target {
        Target::Rows { board, input } => {
            let (node, y) = placer.row_inputs.get(*board)?.get(*input).copied()?;
            let of = plan.boards.get(*board)?;
            let name = &of.inputs.get(*input)?.name;
            let path = format!("drivers.{}.{name}", of.board.name);
            let title = format!("supply {} to input {name} of {}", supply.name, of.board.name);
            let x = edge + 14.0 * *input as f64 + 10.0;
            let fed = Fed { x, y, ends: vec![node], power: vec![path], stage: Stage::Power, title };
            (fed, bench.cable_to_input(&of.board.name, name))
        }
        Target::Common { board, line } => {
            let y = placer.common.get(*board)?.get(*line).copied()?;
            let node = placer.boards.get(*board).copied()?;
            let of = plan.boards.get(*board)?;
            let name = &of.common.get(*line)?.name;
            let path = format!("drivers.{}.{name}", of.board.name);
            let title = format!("supply {} to input {name} of {}", supply.name, of.board.name);
            let fed = Fed { x: edge, y, ends: vec![node], power: vec![path], stage: Stage::Logic, title };
            (fed, bench.cable_to_input(&of.board.name, name))
        }
        Target::Free(row) => {
            let (chain, y) = placer.free.get(*row)?.clone();
            let machine = chain.last().copied()?;
            let path = placer.layout.boxes.get(machine)?.paths.first()?.clone();
            let title = format!("supply {} to {path}", supply.name);
            let x = placer.lanes.motor;
            (Fed { x, y, ends: chain, power: vec![path], stage: Stage::Power, title }, None)
        }
        Target::Controller => {
            let controller = controller?;
            let own = Device::Supply(supply.name.as_str().into());
            let cable = bench
                .cables()
                .iter()
                .find(|run| Place::join((&run.from, &run.to), &own, &Device::Controller));
            let title = format!("supply {} to the controller", supply.name);
            let power = vec!["controller".to_owned()];
            let ends = vec![controller.node];
            (Fed { x: edge, y: controller.feed, ends, power, stage: Stage::Logic, title }, cable)
        }
    };
    if let Some(run) = cable {
        let rect = Rect::new(placer.lanes.feeds, found.y - CABLE[1] / 2.0, CABLE[0], CABLE[1]);
        found.ends.push(placer.cable(run, rect, found.stage));
    }
    Some(found)
}

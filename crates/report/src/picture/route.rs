//! Lines to the controller: those of the boards left of it, those of motors and sensors right of it.
//!
//! Each line has a lane of its own, a height of its own at either end, and so three pieces that no other line lies
//! on. The order is that in which they do not cross one another: left, the uppermost line of a board takes the outer
//! lane and the lowest pin; right, the uppermost line takes the inner lane and the uppermost pin.

use super::Stage;
use super::layout::{Anchor, Arrow, Face, Kind, Look, Node, Sign, Wire};
use super::place::{CABLE, PITCH, Placer};
use super::plan::{Machine, PinLine, Plan, Row};
use super::sides::SideEnd;
use crate::svg::geometry::{Pixel, Rect};
use bench::{Bench, Feed};

/// Distance of neighbouring lanes, and of two that power goes along.
const LANE: f64 = 7.0;
pub(super) const POWER_LANE: f64 = 12.0;
/// Height of the controller's heading.
const HEADING: f64 = 48.0;

/// A line at the left edge of a board.
pub(super) struct LeftLine {
    name: String,
    kind: Kind,
    stage: Stage,
    inward: bool,
    to: Option<String>,
    signs: Vec<Sign>,
    board: usize,
    /// Where it ends, if not at the edge of the board.
    pub(super) at: Option<f64>,
    y: f64,
}

/// A line that comes from the right.
pub(super) struct RightLine {
    /// From its box to the height at which it goes to the left.
    pub(super) points: Vec<Pixel>,
    pub(super) from: usize,
    pub(super) to: RightEnd,
    pub(super) name: String,
    pub(super) kind: Kind,
    pub(super) stage: Stage,
    pub(super) inward: bool,
    pub(super) power: Vec<Vec<String>>,
    pub(super) signs: Vec<Sign>,
}

pub(super) enum RightEnd {
    Controller(String),
    /// The board that drives the axis: it stands at the same height.
    OwnBoard(usize),
    OtherBoard(usize),
}

/// The box of the controller, and where lines go to it.
#[derive(Clone, Copy)]
pub(super) struct Controller {
    pub(super) node: usize,
    /// Height at which its supply comes in.
    pub(super) feed: f64,
    first: f64,
    /// Room for the names of its pins, left and right.
    rooms: [f64; 2],
}

impl LeftLine {
    pub(super) fn new(line: &PinLine, board_name: &str, board: usize, y: f64) -> Self {
        Self {
            name: format!("{board_name}:{}", line.name),
            kind: line.kind,
            stage: line.stage,
            inward: line.inward,
            to: line.to.clone(),
            signs: line.signs.clone(),
            board,
            at: None,
            y,
        }
    }

    fn pin_text(&self, place: &str) -> String {
        format!("{place} {}", short(&self.name))
    }

    /// Power of outputs that comes from a rail of the controller.
    pub(super) fn rail(input: &str, rail: &str, board_name: &str, board: usize, y: f64) -> Self {
        Self {
            name: format!("{board_name}:{input}"),
            kind: Kind::Energy,
            stage: Stage::Logic,
            inward: true,
            to: Some(rail.to_owned()),
            signs: Vec::new(),
            board,
            at: None,
            y,
        }
    }
}

impl RightLine {
    /// The height at which it goes to the left.
    pub(super) fn y(&self) -> f64 {
        self.points.last().map_or(0.0, |p| p[1])
    }
}

/// Most room that lanes take left of the boards and right of them.
pub(super) fn widths(bench: &Bench, plan: &Plan<'_>) -> (f64, f64) {
    let rows = || plan.boards.iter().flat_map(|b| b.rows.iter());
    let of_rail = |board: &super::plan::BoardPlan<'_>| {
        board.inputs.iter().filter(|input| matches!(input.feed, Some(Feed::ControllerRail(_)))).count()
    };
    let left = rows().map(|row| row.lines.len()).sum::<usize>()
        + plan.boards.iter().map(|b| b.common.len()).sum::<usize>();
    let left_power: usize = plan.boards.iter().map(of_rail).sum();
    let sides = rows().chain(&plan.free).flat_map(|row| row.sides.iter()).map(|side| side.lines.len());
    let servos = plan.free.iter().filter(|row| matches!(row.machine, Some(Machine::Servo(_)))).count();
    let further = rows().filter(|row| row.further).count();
    let strangers: usize = plan.boards.iter().map(|b| strangers(plan, &b.board.name)).sum();
    let width = |thin: usize, thick: usize| LANE * thin as f64 + POWER_LANE * thick as f64;
    // Signs stand between the lanes and the box that a line begins at.
    let at_boards = rows().flat_map(|row| row.lines.iter()).chain(plan.boards.iter().flat_map(|b| &b.common));
    let of_sides =
        rows().chain(&plan.free).flat_map(|row| row.sides.iter()).flat_map(|side| side.lines.iter());
    let at_servos = plan.free.iter().filter_map(|row| match row.machine {
        Some(Machine::Servo(servo)) => Some(plan.pulse(bench, servo).signs.len()),
        _ => None,
    });
    let signs_left = at_boards.map(|line| line.signs.len()).max().unwrap_or(0);
    let signs_right = of_sides.map(|line| line.signs.len()).chain(at_servos).max().unwrap_or(0);
    let room = |signs: usize| if signs > 0 { Wire::signs_room(signs) } else { 0.0 };
    (
        width(left, left_power) + room(signs_left),
        width(sides.sum::<usize>() + servos, servos + further + strangers) + room(signs_right),
    )
}

/// How many lines of sensors in rows of others end at a board.
pub(super) fn strangers(plan: &Plan<'_>, board: &str) -> usize {
    let to_board = |row: &Row<'_>| {
        let lines = row.sides.iter().flat_map(|side| side.lines.iter());
        lines.filter(|line| matches!(&line.to, SideEnd::Board(name) if name == board)).count()
    };
    let others = plan.boards.iter().filter(|b| *b.board.name != *board).flat_map(|b| b.rows.iter());
    others.chain(&plan.free).map(to_board).sum()
}

/// Puts the controller below everything; `None` where the bench has none.
pub(super) fn controller(placer: &mut Placer<'_>, top: f64) -> Option<Controller> {
    let unit = placer.bench.controller()?;
    let left = placer.left.iter().filter(|line| line.to.is_some()).count();
    let right = placer.right.iter().filter(|line| matches!(line.to, RightEnd::Controller(_))).count();
    let (x, end) = (placer.lanes.board, placer.lanes.right);
    let height = HEADING + PITCH * left.max(right) as f64 + 8.0;
    let about = unit.part.about();
    let part = about.name().unwrap_or("");
    // Fuses of its rails have no line of their own here.
    let mut paths = vec!["controller".to_owned()];
    for (name, fuse) in placer.bench.fuses() {
        let on = fuse.on().and_then(|text| placer.bench.feed_named(text));
        if matches!(on, Some(Feed::ControllerRail(_))) {
            paths.push(format!("fuses.{name}"));
        }
    }
    let node = placer.layout.node(Node {
        rect: Rect::new(x, top, end - x, height),
        parent: None,
        look: Look::Frame,
        stage: Stage::Logic,
        title: format!("controller: {part}"),
        paths,
    });
    let owner = (Some(node), Stage::Logic);
    let middle = (x + end) / 2.0;
    let room = end - x - 10.0;
    placer.layout.text(([middle, top + 11.0], Anchor::Middle), room, (Face::Kind, "controller"), owner);
    placer.layout.text(([middle, top + 27.0], Anchor::Middle), room, (Face::Name, part), owner);
    let widest =
        |texts: &mut dyn Iterator<Item = String>| texts.map(|t| Face::Pin.width(&t)).fold(0.0, f64::max);
    let left = widest(&mut placer.left.iter().filter_map(|line| Some(line.pin_text(line.to.as_deref()?))));
    let right = |text: fn(&str) -> &str| {
        widest(&mut placer.right.iter().filter_map(|line| match &line.to {
            RightEnd::Controller(place) => Some(format!("{place} {}", text(&line.name))),
            _ => None,
        }))
    };
    // What is too much for both sides is taken from the devices' names on the right, then from the left.
    let both = end - x - 16.0;
    let at_right = right(|name| name).min((both - left).max(right(short))).min(both / 2.0);
    let rooms = [left.min(both - at_right) + 0.1, at_right + 0.1];
    Some(Controller { node, feed: top + CABLE[1] / 2.0, first: top + HEADING + PITCH / 2.0, rooms })
}

/// Draws all lines to the controller, and those of encoders to boards.
pub(super) fn lines(placer: &mut Placer<'_>, controller: Option<Controller>) {
    left(placer, controller);
    let mut lines = std::mem::take(&mut placer.right);
    lines.sort_by(|a, b| a.y().total_cmp(&b.y()));
    let mut pin = 0;
    let mut lane = Lane { x: placer.lanes.right + 12.0, power: None };
    let mut slots: Vec<_> = placer.slots.iter().map(|slots| slots.clone().into_iter()).collect();
    for line in lines {
        let RightLine { mut points, from, to, name, kind, stage, inward, power, signs } = line;
        let y = points.last().map_or(0.0, |p| p[1]);
        let board_edge = placer.lanes.board + placer.lanes.board_width;
        let (end, title) = match &to {
            RightEnd::Controller(place) => {
                let Some(controller) = controller else { continue };
                let x = lane.next(kind);
                let at = controller.first + PITCH * pin as f64;
                pin += 1;
                let edge = placer.lanes.right;
                points.extend([[x, y], [x, at], [edge, at]]);
                let room = controller.rooms[1];
                let text =
                    fitting([format!("{place} {name}"), format!("{place} {}", short(&name))], place, room);
                let owner = (Some(controller.node), stage);
                placer.layout.text(([edge - 5.0, at], Anchor::End), room, (Face::Pin, &text), owner);
                (controller.node, format!("{name}, pin {place} of the controller{}", told(&signs)))
            }
            RightEnd::OwnBoard(number) => {
                let Some(board) = placer.boards.get(*number).copied() else { continue };
                points.push([board_edge, y]);
                (board, format!("{name}, to the board"))
            }
            RightEnd::OtherBoard(number) => {
                let board = placer.boards.get(*number).copied();
                let (Some(board), Some(at)) = (board, slots.get_mut(*number).and_then(Iterator::next)) else {
                    continue;
                };
                let x = placer.outer_lane();
                points.extend([[x, y], [x, at], [board_edge, at]]);
                (board, format!("{name}, to another board"))
            }
        };
        let arrow = match (kind, inward) {
            (Kind::Energy, _) => Arrow::None,
            (_, true) => Arrow::Start,
            (_, false) => Arrow::End,
        };
        let ends = vec![from, end];
        placer.layout.wire(Wire { points, ends, kind, stage, power, arrow, signs, signs_at: None, title });
    }
}

/// The first text that fits; the place alone where none does.
fn fitting<const N: usize>(texts: [String; N], place: &str, room: f64) -> String {
    texts.into_iter().find(|text| Face::Pin.width(text) <= room).unwrap_or_else(|| place.to_owned())
}

/// What signs say, after the name of a line.
fn told(signs: &[Sign]) -> String {
    let said = signs.iter().filter_map(|sign| match sign {
        Sign::Leaves => None,
        Sign::Planned => Some(", planned"),
        Sign::Moves => Some(", the plan moves it"),
        Sign::Goes => Some(", the plan takes it away"),
    });
    said.collect()
}

/// The signal without its device.
fn short(name: &str) -> &str {
    name.split_once(':').map_or("", |(_, signal)| signal)
}

/// Hands out lanes from left to right.
struct Lane {
    x: f64,
    /// Whether the lane before carries power; `None` before the first one.
    power: Option<bool>,
}

impl Lane {
    fn next(&mut self, kind: Kind) -> f64 {
        let power = kind == Kind::Energy;
        if let Some(before) = self.power.replace(power) {
            self.x += if before && power { POWER_LANE } else { LANE };
        }
        self.x
    }
}

/// Lines between the left edges of boards and controller.
fn left(placer: &mut Placer<'_>, controller: Option<Controller>) {
    let mut lines = std::mem::take(&mut placer.left);
    lines.sort_by(|a, b| a.y.total_cmp(&b.y));
    let joined = |line: &LeftLine| line.to.is_some() && controller.is_some();
    let all = lines.iter().filter(|line| joined(line)).count();
    let mut pin = 0;
    let mut lane = Lane { x: placer.lanes.left + 8.0, power: None };
    for line in lines {
        let edge = placer.lanes.board;
        let start = line.at.unwrap_or(edge);
        let mut wire = Wire {
            points: vec![[start, line.y], [edge - 9.0, line.y]],
            ends: vec![line.board],
            kind: line.kind,
            stage: line.stage,
            power: Vec::new(),
            arrow: Arrow::None,
            signs: line.signs.clone(),
            signs_at: None,
            title: format!("{}, no pin of the controller", line.name),
        };
        if let (Some(place), Some(controller)) = (&line.to, controller) {
            let x = lane.next(line.kind);
            let at = controller.first + PITCH * (all - 1 - pin) as f64;
            pin += 1;
            wire.points = vec![[start, line.y], [x, line.y], [x, at], [edge, at]];
            wire.ends.push(controller.node);
            wire.title = format!("{}, {place} of the controller{}", line.name, told(&line.signs));
            wire.arrow = match (line.kind, line.inward) {
                (Kind::Energy, _) => Arrow::None,
                (_, true) => Arrow::Start,
                (_, false) => Arrow::End,
            };
            let room = controller.rooms[0];
            let text = fitting([line.pin_text(place)], place, room);
            let owner = (Some(controller.node), line.stage);
            placer.layout.text(([edge + 5.0, at], Anchor::Start), room, (Face::Pin, &text), owner);
        }
        placer.layout.wire(wire);
    }
}

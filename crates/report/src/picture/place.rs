//! Places for everything of a plan: fixed lanes from left to right, one row for each output.
//!
//! ```text
//! supply | fuses | stop | buses | feed cables | lines | board | cable | lines | motor | gear | load
//! ```
//!
//! Lines between board and controller run in the lanes left of the board, lines from motors and sensors in the
//! lanes left of the motors, each in a lane of its own. Both reach the controller below the board at its sides, in
//! the order in which they do not cross.

use super::layout::{Anchor, Arrow, Face, Kind, Layout, Line, Look, Node, Wire};
use super::machines::{GEAR, MACHINE, has_gear};
use super::plan::{BoardPlan, Plan, Row};
use super::route::{self, LeftLine, RightEnd, RightLine};
use super::supply;
use super::{Power, Stage};
use crate::svg::geometry::{Pixel, Rect};
use bench::{Bench, Feed};

/// Height of a box on the way of the power.
pub(super) const BOX: f64 = 60.0;
/// Room above a box for the marks of findings.
pub(super) const MARKS: f64 = 14.0;
/// Distance of neighbouring lines of text at an edge.
pub(super) const PITCH: f64 = 14.0;
/// Size of a cable's box.
pub(super) const CABLE: [f64; 2] = [66.0, 48.0];
/// Paper around the drawing.
pub(super) const EDGE: f64 = 14.0;

/// Where the lanes are, from left to right.
pub(super) struct Lanes {
    pub(super) supply: f64,
    pub(super) fuses: f64,
    pub(super) stop: f64,
    pub(super) buses: f64,
    pub(super) feeds: f64,
    /// First lane of the lines to the controller.
    pub(super) left: f64,
    pub(super) board: f64,
    pub(super) board_width: f64,
    pub(super) cable: f64,
    /// First lane of the lines from the right.
    pub(super) right: f64,
    pub(super) motor: f64,
    pub(super) gear: f64,
    pub(super) load: f64,
}

/// A drawing in the making.
pub(super) struct Placer<'b> {
    pub(super) bench: &'b Bench,
    pub(super) plan: &'b Plan<'b>,
    pub(super) layout: Layout,
    pub(super) lanes: Lanes,
    pub(super) left: Vec<LeftLine>,
    pub(super) right: Vec<RightLine>,
    /// For each board its box and, for each input with rows, box and height of the first row.
    pub(super) boards: Vec<usize>,
    pub(super) row_inputs: Vec<Vec<(usize, f64)>>,
    /// For each board the heights of its common lines.
    pub(super) common: Vec<Vec<f64>>,
    /// For each free row its first box (cable or machine) and its height.
    pub(super) free: Vec<(Vec<usize>, f64)>,
    /// Boxes and heights of the machines of axes, for their further phases.
    pub(super) axes: Vec<(String, usize, f64)>,
    /// Free places at the right edge of each board, from encoders of other boards.
    pub(super) slots: Vec<Vec<f64>>,
    /// The load drawn last, and how many boards had been begun then.
    pub(super) last_load: Option<(usize, usize)>,
    /// Lanes taken right of the lines to the controller.
    pub(super) outer: usize,
}

/// Lays out a plan.
pub(super) fn place(bench: &Bench, plan: &Plan<'_>, power: &Power) -> Layout {
    let mut placer = Placer {
        bench,
        plan,
        layout: Layout { figures: power.watts.clone(), ..Layout::default() },
        lanes: Lanes::of(bench, plan),
        left: Vec::new(),
        right: Vec::new(),
        boards: Vec::new(),
        row_inputs: Vec::new(),
        common: Vec::new(),
        free: Vec::new(),
        axes: Vec::new(),
        slots: Vec::new(),
        last_load: None,
        outer: 0,
    };
    let mut y = EDGE + MARKS;
    for board in &plan.boards {
        y = placer.board(board, y) + 2.0 * MARKS;
    }
    for row in &plan.free {
        y = placer.free_row(row, y + MARKS) + 8.0;
    }
    let controller = route::controller(&mut placer, y + MARKS);
    supply::supplies(&mut placer, controller);
    route::lines(&mut placer, controller);
    placer.layout
}

impl Lanes {
    fn of(bench: &Bench, plan: &Plan<'_>) -> Self {
        let most =
            |of: fn(&super::plan::SupplyPlan) -> usize| plan.supplies.iter().map(of).max().unwrap_or(0);
        let fuse_columns = most(|s| s.fuses.len()) as f64;
        let hanging = most(|s| s.hanging.len());
        let has_stop = hanging > 0 || plan.supplies.iter().any(|s| s.cut);
        let (left, right) = route::widths(bench, plan);
        let inputs = plan.boards.iter().map(|b| b.inputs.len()).max().unwrap_or(0);
        let supply = EDGE;
        let fuses = supply + 94.0 + 14.0;
        let stop = fuses + fuse_columns * (60.0 + 14.0);
        let stubs = stop + if has_stop { 66.0 + 8.0 + 8.0 * hanging as f64 } else { 0.0 };
        let buses = stubs + 4.0;
        let feeds = buses + 16.0 * plan.supplies.len().max(1) as f64;
        let has_feed_cable = bench.cables().iter().any(|run| !matches!(run.from, bench::Place::Channel(_)));
        let left_lane = feeds + if has_feed_cable { CABLE[0] + 12.0 } else { 0.0 };
        let board = left_lane + left + 14.0;
        let board_width = 118.0 + 14.0 * inputs.max(1) as f64;
        let cable = board + board_width + 12.0;
        let right_lane = cable + CABLE[0] + 14.0;
        let motor = right_lane + right + 18.0;
        let has_gear = bench.axes().iter().any(has_gear);
        let gear = motor + MACHINE + 18.0;
        let load = gear + if has_gear { GEAR + 18.0 } else { 0.0 };
        Self {
            supply,
            fuses,
            stop,
            buses,
            feeds,
            left: left_lane,
            board,
            board_width,
            cable,
            right: right_lane,
            motor,
            gear,
            load,
        }
    }
}

impl<'b> Placer<'b> {
    /// A board with all its rows, its upper edge at `top`; gives its lower edge.
    fn board(&mut self, plan: &BoardPlan<'b>, top: f64) -> f64 {
        let name = plan.board.name.to_string();
        let (x, w) = (self.lanes.board, self.lanes.board_width);
        let title = format!("driver board {name}: {}", plan.board.part.about().name().unwrap_or("no name"));
        let number = self.layout.node(Node {
            rect: Rect::new(x, top, w, 0.0),
            parent: None,
            look: Look::Frame,
            stage: Stage::Power,
            title,
            paths: vec![format!("drivers.{name}")],
        });
        self.boards.push(number);
        let owner = (Some(number), Stage::Power);
        let middle = x + w / 2.0;
        self.layout.text(
            ([middle, top + 11.0], Anchor::Middle),
            w - 10.0,
            (Face::Kind, "driver board"),
            owner,
        );
        self.layout.text(([middle, top + 26.0], Anchor::Middle), w - 10.0, (Face::Name, &name), owner);
        let inner = x + 14.0 * plan.inputs.len().max(1) as f64;
        let mut y = top + 36.0;
        let mut cells = Vec::new();
        // Lower edge of what stands right of the board.
        let mut beside = y;
        for row in &plan.rows {
            let start = if row.machine.is_some() { y.max(beside) } else { y };
            let (cell, middle, [own, right]) = self.output_row(plan, row, number, inner, start);
            cells.push((cell, middle));
            (y, beside) = (own, beside.max(right));
        }
        self.input_buses(plan, number, &cells);
        let below = self.common_part(plan, number, inner, y);
        // Encoders end at the edge of the board at their own height.
        let own = |line: &RightLine| matches!(line.to, RightEnd::OwnBoard(of) if of + 1 == self.boards.len());
        let ends = self.right.iter().filter(|line| own(line)).filter_map(|line| line.points.last());
        let bottom = ends.map(|p| p[1] + PITCH).fold(below, f64::max);
        if let Some(node) = self.layout.boxes.get_mut(number) {
            node.rect.h = bottom - top;
        }
        bottom.max(beside)
    }

    /// A row of a board: its cell, cable, machines, sensors and lines. Gives cell, height of the line of power, and
    /// the lower edges in the board and right of it.
    fn output_row(
        &mut self,
        plan: &BoardPlan<'b>,
        row: &Row<'b>,
        board: usize,
        inner: f64,
        top: f64,
    ) -> (usize, f64, [f64; 2]) {
        let Some(output) = &row.output else { return (board, top, [top, top]) };
        let name = plan.board.name.to_string();
        let idle = row.machine.is_none();
        let height = if idle { 34.0 } else { BOX };
        let middle = top + MARKS + height / 2.0;
        let path = format!("drivers.{name}.{}", output.name);
        let right = self.lanes.board + self.lanes.board_width;
        let what = if output.table == "channels" { "bridge" } else { "servo output" };
        let cell = self.layout.node(Node {
            rect: Rect::new(inner + 8.0, middle - height / 2.0, right - inner - 16.0, height),
            parent: Some(board),
            look: if idle { Look::Idle } else { Look::Cell },
            stage: Stage::Power,
            title: format!("{what} {} of {name}{}", output.name, if idle { ", drives nothing" } else { "" }),
            paths: vec![path.clone(), format!("drivers.{name}.{}.{}", output.table, output.name)],
        });
        let mut lines = vec![Line::kind(if idle { "idle bridge" } else { what }), Line::name(&output.name)];
        if !idle {
            lines.push(Line::power(&path));
        }
        self.layout.write(cell, &lines);
        let mut y = middle + height / 2.0 + 3.0;
        for limit in &output.limits {
            let at = ([inner + 6.0, y + PITCH / 2.0], Anchor::Start);
            let room = right - inner - 12.0;
            self.layout.text(
                at,
                room,
                (Face::Kind, &format!("limit {limit}")),
                (Some(board), Stage::Protection),
            );
            y += PITCH;
        }
        for line in &row.lines {
            y += PITCH;
            self.left.push(LeftLine::new(line, &name, board, y - PITCH / 2.0));
            let at = ([inner + 6.0, y - PITCH / 2.0], Anchor::Start);
            self.layout.text(at, right - inner - 12.0, (Face::Pin, &line.name), (Some(board), line.stage));
        }
        let bottom = y.max(middle + height / 2.0) + 8.0;
        let beside =
            if row.machine.is_some() { self.machines(row, Some((cell, &path)), middle) + 4.0 } else { top };
        (cell, middle, [bottom, beside])
    }

    /// Inside a board: from each input to the outputs that it feeds.
    fn input_buses(&mut self, plan: &BoardPlan<'b>, board: usize, cells: &[(usize, f64)]) {
        let name = &plan.board.name;
        let mut inputs = Vec::new();
        for (at, input) in plan.inputs.iter().enumerate() {
            let x = self.lanes.board + 14.0 * at as f64 + 10.0;
            let of: Vec<(usize, f64)> =
                input.rows.iter().filter_map(|row| cells.get(*row).copied()).collect();
            let Some(first) = of.first().copied() else { continue };
            let figure = |row: usize| -> Vec<String> {
                let output = plan.rows.get(row).and_then(|row| row.output.as_ref());
                output.map(|output| format!("drivers.{name}.{}", output.name)).into_iter().collect()
            };
            let title = format!("from input {} of {name} to its outputs", input.name);
            for (k, (cell, y)) in of.iter().enumerate() {
                let left = self.layout.boxes.get(*cell).map_or(x, |node| node.rect.x);
                let power = input.rows.get(k).map(|row| figure(*row)).into_iter().collect();
                self.energy(vec![[x, *y], [left, *y]], vec![board, *cell], power, &title);
                if let Some((_, above)) = k.checked_sub(1).and_then(|above| of.get(above)) {
                    let beyond = input.rows.iter().skip(k).map(|row| figure(*row)).collect();
                    self.energy(vec![[x, *above], [x, *y]], vec![board], beyond, &title);
                }
            }
            if let Some(Feed::ControllerRail(rail)) = &input.feed {
                let mut line = LeftLine::rail(&input.name, rail, name, board, first.1);
                line.at = Some(x);
                self.left.push(line);
            }
            inputs.push((board, first.1));
        }
        self.row_inputs.push(inputs);
    }

    /// What concerns the whole board: logic inputs, signals without a channel, limits of the sum.
    fn common_part(&mut self, plan: &BoardPlan<'b>, board: usize, inner: f64, top: f64) -> f64 {
        let room = self.lanes.board + self.lanes.board_width - inner - 12.0;
        let name = plan.board.name.to_string();
        let mut y = top + 4.0;
        let mut heights = Vec::new();
        for line in &plan.common {
            let height = if line.fed.is_some() { CABLE[1] + 2.0 * MARKS } else { PITCH };
            let middle = y + height / 2.0;
            y += height;
            heights.push(middle);
            if line.fed.is_none() {
                self.left.push(LeftLine::new(line, &name, board, middle));
            }
            let at = ([inner + 6.0, middle], Anchor::Start);
            self.layout.text(at, room, (Face::Pin, &line.name), (Some(board), line.stage));
        }
        for limit in &plan.limits {
            let at = ([inner + 6.0, y + PITCH / 2.0], Anchor::Start);
            self.layout.text(at, room, (Face::Kind, limit), (Some(board), Stage::Protection));
            y += PITCH;
        }
        self.common.push(heights);
        // Encoders of other boards' axes come in below.
        let mut slots = Vec::new();
        let mut bottom = y + 6.0;
        for _ in 0..route::strangers(self.plan, &name) {
            let mut at = bottom + PITCH / 2.0;
            let taken = |at: f64| self.right.iter().any(|line| (line.y() - at).abs() < 4.0);
            while taken(at) {
                at += 2.0;
            }
            slots.push(at);
            bottom = at + PITCH / 2.0;
        }
        self.slots.push(slots);
        bottom
    }

    fn free_row(&mut self, row: &Row<'b>, top: f64) -> f64 {
        let middle = top + BOX / 2.0;
        let bottom = self.machines(row, None, middle);
        bottom.max(middle + BOX / 2.0)
    }

    pub(super) fn energy(
        &mut self,
        points: Vec<Pixel>,
        ends: Vec<usize>,
        power: Vec<Vec<String>>,
        title: &str,
    ) {
        let stage = ends.iter().filter_map(|end| self.layout.boxes.get(*end)).map(|b| b.stage);
        let stage = stage.filter(|s| *s <= Stage::Logic).max().unwrap_or(Stage::Power);
        self.layout.wire(Wire {
            points,
            ends,
            kind: Kind::Energy,
            stage,
            power,
            arrow: Arrow::None,
            signs: Vec::new(),
            signs_at: None,
            title: title.to_owned(),
        });
    }
}

//! Places for everything of a plan: fixed lanes from left to right, one row for each output.
//!
//! ```text
//! supply | fuses | stop | buses of supplies | feed cables | lines to the controller | board | cable | lines | motor | gear | load
//! ```
//!
//! Lines between board and controller run in the lanes left of the board, lines from motors and sensors in the
//! lanes left of the motors, each in a lane of its own. Both reach the controller below the board at its sides, in
//! the order in which they do not cross.

use super::layout::{Anchor, Arrow, Face, Kind, Layout, Line, Look, Node, Wire};
use super::plan::{BoardPlan, Machine, Plan, Row, Side, SideEnd, SideLine, fuses_on_cable, written};
use super::route::{self, LeftLine, RightEnd, RightLine};
use super::supply;
use super::{Power, Stage};
use crate::svg::geometry::{Pixel, Rect};
use crate::svg::number;
use bench::{Axis, Bench, Carried, Feed, ServoUnit};

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
/// Size of a sensor's box, and the paper between two.
const SENSOR: [f64; 2] = [102.0, 50.0];
const BETWEEN: f64 = 14.0;
const MACHINE: f64 = 106.0;
const GEAR: f64 = 90.0;

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
    axes: Vec<(String, usize, f64)>,
    /// Free places at the right edge of each board, from encoders of other boards.
    pub(super) slots: Vec<Vec<f64>>,
    /// The load drawn last, and how many boards had been begun then.
    last_load: Option<(usize, usize)>,
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
        let (left, right) = route::widths(plan);
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
        let motor = right_lane + right + 10.0;
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

    /// What stands right of an output, or by itself; gives the lower edge.
    fn machines(&mut self, row: &Row<'b>, from: Option<(usize, &str)>, middle: f64) -> f64 {
        let mut chain: Vec<usize> = Vec::new();
        let rail = match row.machine {
            Some(Machine::Servo(servo)) if from.is_none() => match &servo.feed {
                Some(Feed::ControllerRail(rail)) => Some(rail.to_string()),
                _ => None,
            },
            _ => None,
        };
        let cable = row.cable.filter(|_| rail.is_none()).map(|run| {
            let rect = Rect::new(self.lanes.cable, middle - CABLE[1] / 2.0, CABLE[0], CABLE[1]);
            self.cable(run, rect, if from.is_some() { Stage::Power } else { self.free_stage(row) })
        });
        if let Some(cable) = cable {
            chain.push(cable);
        }
        let path = |row: &Row<'_>| match row.machine {
            Some(Machine::Axis(axis)) => format!("axes.{}.motor", axis.name),
            Some(Machine::Servo(servo)) => format!("servos.{}", servo.name),
            None => String::new(),
        };
        let into = path(row);
        let start = from.and_then(|(cell, _)| self.layout.boxes.get(cell)).map(|node| node.rect.right());
        if row.further {
            self.further_phase(row, from.map(|(cell, _)| cell), &chain, middle);
            return middle + CABLE[1] / 2.0;
        }
        let machine = match row.machine {
            Some(Machine::Axis(axis)) => self.axis(axis, middle),
            Some(Machine::Servo(servo)) => self.servo(servo, middle, from.is_some(), rail.as_deref()),
            None => return middle,
        };
        if let (Some((cell, own)), Some(start)) = (from, start) {
            let mut power: Vec<String> =
                row.cable.map(|run| format!("cables.{}", run.name)).into_iter().collect();
            // The phases of a stepper share its figure.
            let alone = !matches!(row.machine, Some(Machine::Axis(axis)) if axis.channels.len() > 1);
            power.push(if alone { into } else { own.to_owned() });
            let mut ends = vec![cell];
            ends.extend(&chain);
            ends.push(machine);
            let title = "power to the motor";
            self.energy(vec![[start, middle], [self.lanes.motor, middle]], ends, vec![power], title);
        } else {
            chain.push(machine);
            self.free.push((chain, middle));
        }
        self.sides(row, machine, middle)
    }

    fn free_stage(&self, row: &Row<'_>) -> Stage {
        match row.machine {
            Some(Machine::Servo(servo)) if matches!(servo.feed, Some(Feed::ControllerRail(_))) => {
                Stage::Logic
            }
            _ => Stage::Power,
        }
    }

    /// From the output of a further phase to the motor that stands in an earlier row.
    fn further_phase(&mut self, row: &Row<'b>, cell: Option<usize>, chain: &[usize], middle: f64) {
        let Some(Machine::Axis(axis)) = row.machine else { return };
        let Some(cell) = cell else { return };
        let Some((_, motor, at)) = self.axes.iter().find(|(name, ..)| **name == *axis.name) else { return };
        let (motor, at) = (*motor, *at);
        let before = self.axes_phases(axis, row);
        // Below, above, further below, further above the first one.
        let offset = 12.0 * (before / 2 + 1) as f64;
        let target = if before % 2 == 0 { at + offset } else { at - offset };
        let x = self.outer_lane();
        let start = self.layout.boxes.get(cell).map_or(0.0, |node| node.rect.right());
        let mut ends = vec![cell];
        ends.extend(chain);
        ends.push(motor);
        let paths = self.layout.boxes.get(cell).and_then(|node| node.paths.first().cloned());
        let points = vec![[start, middle], [x, middle], [x, target], [self.lanes.motor, target]];
        self.energy(
            points,
            ends,
            vec![paths.into_iter().collect()],
            "power to a further phase of the stepper",
        );
    }

    /// The next lane right of the lines to the controller.
    pub(super) fn outer_lane(&mut self) -> f64 {
        self.outer += 1;
        self.lanes.motor - route::POWER_LANE * self.outer as f64
    }

    /// How many further phases of the axis stand before this row.
    fn axes_phases(&self, axis: &Axis, row: &Row<'_>) -> usize {
        let output = row.output.as_ref().map(|output| output.name.as_str());
        axis.channels.iter().skip(1).position(|c| Some(c.channel.name()) == output).unwrap_or(0)
    }

    fn axis(&mut self, axis: &Axis, middle: f64) -> usize {
        let name = axis.name.to_string();
        let path = format!("axes.{name}.motor");
        let (kind, datum) = match (axis.motor(), axis.stepper()) {
            (Some(motor), _) => ("motor", written(motor, "nominal_voltage")),
            (_, Some(stepper)) => ("stepper", written(stepper, "phase_current")),
            _ => ("motor", String::new()),
        };
        let motor = self.machine(
            Rect::new(self.lanes.motor, middle - BOX / 2.0, MACHINE, BOX),
            kind,
            &name,
            &datum,
            &[&path, &format!("axes.{name}.stepper"), &format!("axes.{name}")],
        );
        self.axes.push((name.clone(), motor, middle));
        let mut last = (motor, self.lanes.motor + MACHINE);
        if has_gear(axis) {
            let ratio = axis.gearbox.as_ref().map(|gear| gear.ratio()).filter(|ratio| !ratio.is_missing());
            let ratio = ratio.map(|ratio| format!("{} : 1", number(ratio.value())));
            let stage = axis.stage().map(|stage| stage.ratio()).filter(|ratio| !ratio.is_missing());
            let stage = stage.map(|ratio| format!("and {} : 1", number(ratio.value()))).unwrap_or_default();
            let rect = Rect::new(self.lanes.gear, middle - BOX / 2.0, GEAR, BOX);
            let path = format!("axes.{name}.gearbox");
            let paths = [path.as_str(), &format!("axes.{name}.stage")];
            let gear = self.machine(rect, "gear", ratio.as_deref().unwrap_or("no ratio"), &stage, &paths);
            let points = vec![[last.1, middle], [rect.x, middle]];
            self.energy(points, vec![last.0, gear], vec![vec![path]], "turning power");
            last = (gear, rect.right());
        }
        if let Some(carried) = &axis.load {
            let load = self.load(axis, carried, middle);
            let points = vec![[last.1, middle], [self.lanes.load, middle]];
            let power = vec![vec![format!("axes.{name}.load")]];
            self.energy(points, vec![last.0, load], power, "turning power");
        }
        motor
    }

    /// The load of an axis; one that the row above moves too is made longer.
    fn load(&mut self, axis: &Axis, carried: &Carried, middle: f64) -> usize {
        let figure = format!("axes.{}.load", axis.name);
        let paths = [figure, format!("axes.{}.coupling", axis.name)];
        let own = format!("loads.{}", carried.name);
        let kind = carried.load.kind().value.map(|kind| kind.to_string()).unwrap_or("load".to_owned());
        let board = self.boards.len();
        if let Some((before, number)) = self.last_load
            && before == board
            && let Some(node) = self.layout.boxes.get_mut(number)
            && node.paths.first() == Some(&own)
        {
            node.rect.h = middle + BOX / 2.0 - node.rect.y;
            node.paths.extend(paths);
            let figures = node.paths.iter().filter(|path| path.ends_with(".load"));
            let mut lines = vec![Line::kind(&kind), Line::name(&carried.name)];
            lines.extend(figures.map(|path| Line::power(path)));
            self.layout.labels.retain(|label| label.owner != Some(number));
            self.layout.write(number, &lines);
            return number;
        }
        let rect = Rect::new(self.lanes.load, middle - BOX / 2.0, MACHINE, BOX);
        let number = self.layout.node(Node {
            rect,
            parent: None,
            look: Look::Machine,
            stage: Stage::Power,
            title: format!("{kind} {}", carried.name),
            paths: vec![own],
        });
        self.layout.write(number, &[Line::kind(&kind), Line::name(&carried.name), Line::power(&paths[0])]);
        if let Some(node) = self.layout.boxes.get_mut(number) {
            node.paths.extend(paths);
        }
        self.last_load = Some((board, number));
        number
    }

    fn servo(&mut self, servo: &ServoUnit, middle: f64, on_board: bool, rail: Option<&str>) -> usize {
        let name = servo.name.to_string();
        let rect = Rect::new(self.lanes.motor, middle - BOX / 2.0, MACHINE, BOX);
        let path = format!("servos.{name}");
        let number = self.machine(rect, "servo", &name, "", &[&path]);
        let stage = if rail.is_some() { Stage::Logic } else { Stage::Power };
        let labels = self.layout.labels.iter_mut().filter(|label| label.owner == Some(number));
        labels.for_each(|label| label.stage = stage);
        if let Some(node) = self.layout.boxes.get_mut(number) {
            node.stage = stage;
        }
        if let Some(rail) = rail {
            self.right.push(RightLine {
                points: vec![[rect.x, middle]],
                from: number,
                to: RightEnd::Controller(rail.to_owned()),
                name: format!("{name}:supply"),
                kind: Kind::Energy,
                stage: Stage::Logic,
                inward: true,
                power: vec![vec![path]],
            });
        }
        if !on_board && let Some(connection) = self.bench.pulse_pins(servo).last() {
            self.right.push(RightLine {
                points: vec![[rect.x, middle + 18.0]],
                from: number,
                to: RightEnd::Controller(connection.pin.place()),
                name: format!("{name}:pulse"),
                kind: Kind::Command,
                stage: Stage::Drive,
                inward: true,
                power: Vec::new(),
            });
        }
        number
    }

    /// A box on the way of the power.
    fn machine(&mut self, rect: Rect, kind: &str, name: &str, datum: &str, paths: &[&str]) -> usize {
        let number = self.layout.node(Node {
            rect,
            parent: None,
            look: Look::Machine,
            stage: Stage::Power,
            title: format!("{kind} {name} {datum}").trim().to_owned(),
            paths: paths.iter().map(|path| (*path).to_owned()).collect(),
        });
        let mut lines = vec![Line::kind(kind), Line::name(name)];
        if !datum.is_empty() {
            lines.push(Line::detail(datum));
        }
        if let Some(path) = paths.first() {
            lines.push(Line::power(path));
        }
        self.layout.write(number, &lines);
        number
    }

    /// A cable with its length, and the fuse on it.
    pub(super) fn cable(&mut self, run: &bench::CableRun, rect: Rect, stage: Stage) -> usize {
        let fuses = fuses_on_cable(self.bench, &run.name);
        let length = written(&run.entry, "length");
        let mut paths = vec![format!("cables.{}", run.name)];
        paths.extend(fuses.iter().map(|(name, _)| format!("fuses.{name}")));
        let number = self.layout.node(Node {
            rect,
            parent: None,
            look: Look::Cable,
            stage,
            title: format!("cable {} {length}", run.name),
            paths,
        });
        let lines = [Line::kind("cable"), Line::name(&run.name), Line::detail(&length)];
        match fuses.first() {
            None => self.layout.write(number, &lines),
            Some((_, fuse)) => {
                self.layout.write(number, &[Line::name(&run.name), Line::detail(&length), Line::kind(" ")]);
                // The fuse comes into the picture with what protects.
                if let Some(last) = self.layout.labels.pop() {
                    let at = [rect.x + rect.w / 2.0, last.rect.y + last.rect.h / 2.0];
                    let text = format!("fuse {}", written(fuse, "rating"));
                    let owner = (Some(number), Stage::Protection);
                    self.layout.text((at, Anchor::Middle), rect.w - 8.0, (Face::Kind, &text), owner);
                }
            }
        }
        number
    }

    /// Sensors, switches, stops and brakes of a row, below its motor; gives the lower edge.
    fn sides(&mut self, row: &Row<'b>, machine: usize, middle: f64) -> f64 {
        let mut top = middle + BOX / 2.0;
        if row.sides.is_empty() {
            return top;
        }
        // A load that several axes move stands beside all their rows.
        let shared = self.bench.axes().iter().any(|axis| axis.load.as_ref().is_some_and(|c| c.shared_by > 1));
        let limit = if shared { self.lanes.load } else { self.lanes.load + MACHINE + BETWEEN };
        let most = ((limit - self.lanes.motor) / (SENSOR[0] + BETWEEN)).max(1.0) as usize;
        for lane in row.sides.chunks(most) {
            top += 8.0 + MARKS;
            let below = top + SENSOR[1];
            let mut track = below;
            for (at, side) in lane.iter().enumerate() {
                let rect = Rect::new(
                    self.lanes.motor + (SENSOR[0] + BETWEEN) * at as f64,
                    top,
                    SENSOR[0],
                    SENSOR[1],
                );
                let number = self.side(side, rect);
                self.linked(machine, number, side.stage);
                for (k, line) in side.lines.iter().enumerate() {
                    track += 9.0;
                    let x = rect.x + 14.0 + 10.0 * k as f64;
                    self.side_line(row, side, line, number, ([x, below], track));
                }
            }
            top = track + 6.0;
        }
        top
    }

    fn side(&mut self, side: &Side, rect: Rect) -> usize {
        let guards = side.stage == Stage::Protection;
        let number = self.layout.node(Node {
            rect,
            parent: None,
            look: if guards { Look::Guard } else { Look::Sensor },
            stage: side.stage,
            title: format!("{} {} {}", side.kind, side.name, side.detail).trim().to_owned(),
            paths: vec![side.path.clone()],
        });
        let mut lines = vec![Line::kind(side.kind), Line::name(&side.name)];
        if !side.detail.is_empty() {
            lines.push(Line::detail(&side.detail));
        }
        self.layout.write(number, &lines);
        number
    }

    /// A short link from a motor to what sits right below it.
    fn linked(&mut self, machine: usize, side: usize, stage: Stage) {
        let (Some(upper), Some(lower)) = (self.layout.boxes.get(machine), self.layout.boxes.get(side)) else {
            return;
        };
        let near = lower.rect.y - upper.rect.bottom() < 30.0;
        if near && lower.rect.x == upper.rect.x {
            let x = lower.rect.x + 20.0;
            let points = vec![[x, upper.rect.bottom()], [x, lower.rect.y]];
            self.layout.wire(Wire {
                points,
                ends: vec![machine, side],
                kind: Kind::Linked,
                stage,
                power: Vec::new(),
                arrow: Arrow::None,
                rerouted: false,
                title: "joined mechanically".to_owned(),
            });
        }
    }

    /// From a sensor down to a lane below it and on to the left.
    fn side_line(&mut self, row: &Row<'b>, side: &Side, line: &SideLine, from: usize, (at, y): (Pixel, f64)) {
        let to = match &line.to {
            SideEnd::Controller(pin) => RightEnd::Controller(pin.clone()),
            SideEnd::Board(name) => {
                let number = self.plan.boards.iter().position(|b| *b.board.name == **name);
                let Some(number) = number else { return };
                // The board that the row belongs to is the one that was begun last.
                let own = row.output.is_some() && number + 1 == self.boards.len();
                if own { RightEnd::OwnBoard(number) } else { RightEnd::OtherBoard(number) }
            }
        };
        self.right.push(RightLine {
            points: vec![at, [at[0], y]],
            from,
            to,
            name: format!("{}:{}", side.name, line.name),
            kind: line.kind,
            stage: side.stage,
            inward: line.inward,
            power: Vec::new(),
        });
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
            rerouted: false,
            title: title.to_owned(),
        });
    }
}

fn has_gear(axis: &Axis) -> bool {
    axis.gearbox.is_some() || axis.stage().is_some()
}

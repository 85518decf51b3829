//! What stands right of a board: cables, motors, gears, loads, servos, and the sensors and stops below them.

use super::Stage;
use super::layout::{Anchor, Arrow, Face, Kind, Line, Look, Node, Wire};
use super::place::{BOX, CABLE, MARKS, Placer};
use super::plan::{Machine, Row, fuses_on_cable, written};
use super::planned::Lead;
use super::route::{POWER_LANE, RightEnd, RightLine};
use super::sides::{Side, SideEnd, SideLine};
use crate::svg::geometry::{Pixel, Rect};
use crate::svg::number;
use bench::{Axis, Carried, Feed, ServoUnit};

/// Size of a sensor's box, and the paper between two.
const SENSOR: [f64; 2] = [102.0, 50.0];
const BETWEEN: f64 = 14.0;
/// Widths of a motor or load, and of a gear.
pub(super) const MACHINE: f64 = 106.0;
pub(super) const GEAR: f64 = 90.0;

impl<'b> Placer<'b> {
    /// What stands right of an output, or by itself; gives the lower edge.
    pub(super) fn machines(&mut self, row: &Row<'b>, from: Option<(usize, &str)>, middle: f64) -> f64 {
        let rail = match row.machine {
            Some(Machine::Servo(servo)) if from.is_none() => match &servo.feed {
                Some(Feed::ControllerRail(rail)) => Some(rail.to_string()),
                _ => None,
            },
            _ => None,
        };
        // A line from the controller's rail comes in beside the motors: no room for a cable's box there.
        let cable = row.cable.filter(|_| rail.is_none()).map(|run| {
            let rect = Rect::new(self.lanes.cable, middle - CABLE[1] / 2.0, CABLE[0], CABLE[1]);
            self.cable(run, rect, Stage::Power)
        });
        let mut chain: Vec<usize> = cable.into_iter().collect();
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
            power.push(match row.machine {
                Some(Machine::Axis(axis)) if axis.channels.len() == 1 => format!("axes.{}.motor", axis.name),
                Some(Machine::Servo(servo)) => format!("servos.{}", servo.name),
                _ => own.to_owned(),
            });
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

    /// From the output of a further phase to the motor that stands in an earlier row.
    fn further_phase(&mut self, row: &Row<'b>, cell: Option<usize>, chain: &[usize], middle: f64) {
        let Some(Machine::Axis(axis)) = row.machine else { return };
        let Some(cell) = cell else { return };
        let Some((_, motor, at)) = self.axes.iter().find(|(name, ..)| **name == *axis.name) else { return };
        let (motor, at) = (*motor, *at);
        let before = self.axes_phases(axis, row);
        // Below, above, further below, further above the first one.
        let offset = 12.0 * (before / 2 + 1) as f64;
        let target = if before.is_multiple_of(2) { at + offset } else { at - offset };
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
        self.lanes.motor - POWER_LANE * self.outer as f64
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
                signs: Vec::new(),
            });
        }
        let pulse = if on_board { Lead::default() } else { self.plan.pulse(self.bench, servo) };
        if let Some(to) = pulse.to {
            self.right.push(RightLine {
                points: vec![[rect.x, middle + 18.0]],
                from: number,
                to: RightEnd::Controller(to),
                name: format!("{name}:pulse"),
                kind: Kind::Command,
                stage: Stage::Drive,
                inward: true,
                power: Vec::new(),
                signs: pulse.signs,
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
                signs: Vec::new(),
                signs_at: None,
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
            signs: line.signs.clone(),
        });
    }
}

pub(super) fn has_gear(axis: &Axis) -> bool {
    axis.gearbox.is_some() || axis.stage().is_some()
}

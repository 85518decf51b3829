//! One connector: its pins in rows and columns, what each carries, and where wires leave it.

use super::super::Stage;
use super::super::layout::{Anchor, Face, Label, Layout, Look, Node};
use super::grid::{cells, opposite};
use super::{Plug, Shown, Side, Way, called};
use crate::svg::geometry::{Pixel, Rect};
use bench::part::{Connector, Numbering, View};
use bench::{Bench, Board, Device, Place};

const CELL: f64 = 24.0;
/// Distance of two rows.
const ROW: f64 = 30.0;
/// Room that an upright label takes across, and at most along.
const ACROSS: f64 = 15.0;
const ALONG: f64 = 96.0;
/// Distance of neighbouring levels of wires.
pub(super) const LEVEL: f64 = 15.0;
/// Distance of wires between two columns.
const WIRE: f64 = 6.0;
const HEADING: f64 = 50.0;

#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Column {
    Left,
    Right,
}

/// A connector with the wires that end at it.
pub(super) struct Block {
    key: (String, String),
    heading: [String; 3],
    pub(super) column: Column,
    pins: Vec<Pin>,
    rows: usize,
    columns: usize,
    ends: Vec<(usize, (usize, usize))>,
    ways: Vec<((usize, usize), Way)>,
}

struct Pin {
    name: String,
    carries: String,
    row: usize,
    column: usize,
    /// Its signal goes by a wire of its own instead.
    left: bool,
}

/// Which pin of which block.
pub(super) struct End {
    pub(super) block: usize,
    pin: usize,
}

/// Ports in use and connectors that are plugged in; those of wires are added as wires ask for them.
pub(super) fn blocks(shown: Shown<'_>) -> Vec<Block> {
    let mut blocks = Vec::new();
    for Plug { board, connector, port, .. } in shown.wiring.plugs(shown.bench) {
        let place = Place::Pin {
            device: Device::Board(board.name.clone()),
            connector: connector.into(),
            pin: "".into(),
        };
        find(&mut blocks, shown, &place);
        let place =
            Place::Pin { device: Device::Controller, connector: port.as_str().into(), pin: "".into() };
        find(&mut blocks, shown, &place);
    }
    blocks
}

/// The pin that a wire ends at; its connector is added where it is not there yet.
pub(super) fn end_of(blocks: &mut Vec<Block>, shown: Shown<'_>, place: &Place) -> End {
    let block = find(blocks, shown, place);
    let name = match place {
        Place::Pin { pin, .. } => pin.to_string(),
        other => called(other),
    };
    let Some(of) = blocks.get_mut(block) else { return End { block, pin: 0 } };
    let pin = of.pins.iter().position(|pin| pin.name == name).unwrap_or_else(|| {
        // A lead that the part does not list stands behind the others.
        of.pins.push(Pin { carries: String::new(), row: 0, column: of.columns, left: false, name });
        of.columns += 1;
        of.pins.len() - 1
    });
    End { block, pin }
}

fn find(blocks: &mut Vec<Block>, shown: Shown<'_>, place: &Place) -> usize {
    let key = match place {
        Place::Pin { device, connector, .. } => (device.to_string(), connector.to_string()),
        other => (called(other), String::new()),
    };
    if let Some(at) = blocks.iter().position(|block| block.key == key) {
        return at;
    }
    blocks.push(Block::of(shown, place, key));
    blocks.len() - 1
}

/// Where a plug has the signal that a place on a breakout leads elsewhere: board, connector and pin.
pub(super) fn leaves_plug<'b>(bench: &'b Bench, place: &Place) -> Option<(&'b Board, String, String)> {
    let Place::Pin { device: Device::Board(name), connector, pin } = place else { return None };
    let board = bench.board(name)?;
    let from = board.connector(connector)?;
    let passes = from.passes().or(from.same_as()).filter(|passed| board.is_plugged(passed))?.to_owned();
    let is_signal =
        board.pins_of(&from).iter().any(|(at, carries)| at == pin && board.signal(carries).is_some());
    is_signal.then(|| (&**board, passes, pin.to_string()))
}

impl Block {
    fn of(shown: Shown<'_>, place: &Place, key: (String, String)) -> Self {
        let Shown { bench, wiring, side } = shown;
        let mut counted: Counted = (None, None, None);
        let mut pins: Vec<(String, String)> = Vec::new();
        let mut remark = String::new();
        let mut sits = false;
        let mut column = Column::Left;
        let of = |connector: &Connector| {
            let rows = connector.has("rows").then(|| connector.rows().value() as usize);
            (connector.numbering().value, connector.view().value, rows)
        };
        match place {
            Place::Pin { device: Device::Controller, connector, .. } => {
                column = Column::Right;
                let controller = bench.controller();
                counted = of_port(bench, connector).unwrap_or(counted);
                let own = controller.iter().flat_map(|c| c.pins.iter()).filter(|pin| pin.port == *connector);
                pins = own
                    .map(|pin| (pin.position.to_string(), on_port(shown, connector, &pin.position)))
                    .collect();
                let plugs = wiring.plugs(bench);
                let sits = plugs.iter().find(|plug| *plug.port == **connector);
                if let Some(plug) = sits {
                    remark = format!("{} sits on it", plug.board.name);
                }
            }
            Place::Pin { device: Device::Board(name), connector, .. } => {
                if let Some(board) = bench.board(name)
                    && let Some(connector) = board.connector(connector)
                {
                    // One that passes another, or stands for it, has its pins where the other has them.
                    let other =
                        connector.passes().or(connector.same_as()).and_then(|name| board.connector(name));
                    counted = of(&connector);
                    if counted.0.is_none()
                        && let Some(other) = other
                    {
                        counted = of(&other);
                    }
                    pins = board
                        .pins_of(&connector)
                        .iter()
                        .map(|(at, what)| (at.to_string(), what.to_string()))
                        .collect();
                    let plugs = wiring.plugs(bench);
                    let own = |plug: &&Plug<'_>| {
                        plug.board.name == board.name && plug.connector == connector.name()
                    };
                    if let Some(plug) = plugs.iter().find(own) {
                        remark = format!("sits on controller.{}", plug.port);
                        // Equal numbers meet: as it sits its pins lie as those of the port do, whose face they cover. Seen on
                        // its own face they would be mirrored.
                        (counted, sits) = (of_port(bench, &plug.port).unwrap_or(counted), true);
                    }
                }
            }
            Place::Pin { device, connector, .. } => {
                let connectors = of_device(bench, device);
                if let Some(connector) = connectors.iter().find(|c| c.name() == &**connector) {
                    counted = of(connector);
                    let pin = |e: &bench::Entry| (e.key.to_string(), e.text().unwrap_or("").to_owned());
                    pins = connector.pins().iter().map(pin).collect();
                }
            }
            _ => {}
        }
        let names: Vec<&str> = pins.iter().map(|(name, _)| name.as_str()).collect();
        let cells = cells(&names, counted.0, counted.2);
        let columns = cells.iter().map(|(_, column)| column + 1).max().unwrap_or(0);
        let rows = cells.iter().map(|(row, _)| row + 1).max().unwrap_or(1);
        let mirrored = |column: usize| match side {
            Side::Stated => column,
            Side::Behind => columns - 1 - column,
        };
        let replaced = replaced(shown, place);
        let pins = pins.into_iter().zip(cells).map(|((name, carries), (row, column))| Pin {
            left: replaced.contains(&name),
            row,
            column: mirrored(column),
            name,
            carries,
        });
        let view = match (counted.1, side) {
            _ if sits => "as it sits, seen with the port".to_owned(),
            (None, _) => "side not stated".to_owned(),
            (Some(view), Side::Stated) => format!("seen on the {view}"),
            (Some(view), Side::Behind) => format!("seen on the {}", opposite(view)),
        };
        let numbering =
            counted.0.map_or("in the order of the file".to_owned(), |numbering| numbering.to_string());
        let title = if key.1.is_empty() { key.0.clone() } else { format!("{}.{}", key.0, key.1) };
        let second = if key.1.is_empty() { String::new() } else { format!("{numbering}, {view}") };
        Self {
            key,
            heading: [title, second, remark],
            column,
            pins: pins.collect(),
            rows,
            columns,
            ends: Vec::new(),
            ways: Vec::new(),
        }
    }

    /// Notes that a wire ends at a pin.
    pub(super) fn end(&mut self, end: &End, wire: (usize, usize)) {
        self.ends.push((end.pin, wire));
    }

    pub(super) fn way(&self, wire: (usize, usize)) -> Option<Way> {
        self.ways.iter().find(|(own, _)| *own == wire).map(|(_, way)| way.clone())
    }

    /// Rows from the upper edge whose wires and labels go up; the others go down.
    fn upper(&self) -> usize {
        self.rows.div_ceil(2)
    }

    /// How far a row is from the edge that it goes out by, and whether that is the upper one.
    fn depth(&self, row: usize) -> (usize, bool) {
        if row < self.upper() { (row, true) } else { (self.rows - 1 - row, false) }
    }

    /// Wires of a column that go out by one edge, in the order of their lanes: those nearest to the edge first.
    fn leaving(&self, column: usize, up: bool) -> Vec<(usize, (usize, usize))> {
        let goes = |(pin, _): &&(usize, (usize, usize))| {
            self.pins.get(*pin).is_some_and(|p| p.column == column && self.depth(p.row).1 == up)
        };
        let mut all: Vec<_> = self.ends.iter().filter(goes).copied().collect();
        all.sort_by_key(|(pin, wire)| (self.pins.get(*pin).map_or(0, |p| self.depth(p.row).0), *wire));
        all
    }

    /// What each column takes: its cell or its labels, then the lanes of its wires. All take the same, as the pins of
    /// a connector do.
    fn pitch(&self) -> [f64; 2] {
        let wires = |column: usize| self.leaving(column, true).len().max(self.leaving(column, false).len());
        let most = (0..self.columns).map(wires).max().unwrap_or(0);
        let body = CELL.max(ACROSS * self.upper() as f64);
        [body, if most > 0 { 4.0 + WIRE * most as f64 } else { 4.0 }]
    }

    fn body_width(&self) -> f64 {
        12.0 + self.pitch().iter().sum::<f64>() * self.columns as f64
    }

    pub(super) fn width(&self) -> f64 {
        let heading = [Face::Name, Face::Kind, Face::Kind].into_iter().zip(&self.heading);
        let widest = heading.map(|(face, text)| face.width(text)).fold(0.0, f64::max);
        self.body_width().max(widest.min(420.0) + 2.0)
    }

    /// Draws the connector with its upper left corner at a point, and finds the ways of its wires; gives the lower
    /// edge.
    pub(super) fn place(&mut self, layout: &mut Layout, [x, y]: Pixel) -> f64 {
        let owner = (None, Stage::Power);
        for ((face, text), dy) in
            [Face::Name, Face::Kind, Face::Kind].into_iter().zip(&self.heading).zip([8.0, 23.0, 36.0])
        {
            layout.text(([x, y + dy], Anchor::Start), 420.0, (face, text), owner);
        }
        let count =
            |up: bool| (0..self.columns).map(|column| self.leaving(column, up).len()).sum::<usize>() as f64;
        let levels = [LEVEL * count(true), LEVEL * count(false)];
        let longest = |up: bool| {
            let own = self.pins.iter().filter(|pin| self.depth(pin.row).1 == up && !pin.carries.is_empty());
            own.map(|pin| Face::Pin.width(&Face::Pin.fit(&pin.carries, ALONG)) + 8.0).fold(4.0, f64::max)
        };
        let (above, below) = (longest(true), longest(false));
        let last_above = snap(y + HEADING + levels[0] - LEVEL / 2.0, self.column);
        let top = last_above + LEVEL / 2.0 + above;
        let height = ROW * self.rows as f64 + 8.0;
        let bottom = top + height;
        let body = layout.node(Node {
            rect: Rect::new(x, top, self.body_width(), height),
            parent: None,
            look: Look::Connector,
            stage: Stage::Power,
            title: self.heading.join(", "),
            paths: Vec::new(),
        });
        let pitch: f64 = self.pitch().iter().sum();
        let column_x: Vec<f64> = (0..self.columns).map(|column| x + 8.0 + pitch * column as f64).collect();
        let mut nodes = Vec::new();
        for pin in &self.pins {
            let cx = column_x.get(pin.column).copied().unwrap_or(x);
            let cy = top + 4.0 + ROW * pin.row as f64 + (ROW - CELL) / 2.0;
            nodes.push(self.pin(layout, pin, body, [cx, cy], [top, bottom]));
        }
        let first_below = snap(bottom + below + LEVEL / 2.0, self.column);
        self.ways = self.ways_of(&nodes, layout, &column_x, [last_above, first_below]);
        first_below - LEVEL / 2.0 + levels[1]
    }

    /// The cell of a pin with its number and, beyond the edge, what it carries.
    fn pin(
        &self,
        layout: &mut Layout,
        pin: &Pin,
        body: usize,
        [x, y]: Pixel,
        [top, bottom]: [f64; 2],
    ) -> usize {
        let look = match (pin.left, pin.name == "1") {
            (true, _) => Look::LeftPin,
            (_, true) => Look::FirstPin,
            _ => Look::Pin,
        };
        let node = layout.node(Node {
            rect: Rect::new(x, y, CELL, CELL),
            parent: Some(body),
            look,
            stage: Stage::Power,
            title: format!("pin {} of {}: {}", pin.name, self.heading[0], pin.carries),
            paths: Vec::new(),
        });
        let owner = (Some(node), Stage::Power);
        layout.text(
            ([x + CELL / 2.0, y + CELL / 2.0 + 1.0], Anchor::Middle),
            CELL - 2.0,
            (Face::Pin, &pin.name),
            owner,
        );
        if !pin.carries.is_empty() {
            let (depth, up) = self.depth(pin.row);
            let text = Face::Pin.fit(&pin.carries, ALONG);
            let w = Face::Pin.width(&text);
            let lone = if self.upper() == 1 { (CELL - ACROSS) / 2.0 } else { 0.0 };
            let lx = x + lone + ACROSS * depth as f64;
            let ly = if up { top - 4.0 - w } else { bottom + 4.0 };
            layout.labels.push(Label {
                rect: Rect::new(lx, ly, ACROSS - 1.0, w),
                text,
                face: Face::Pin,
                anchor: if up { Anchor::Start } else { Anchor::End },
                upright: true,
                owner: Some(node),
                stage: Stage::Power,
            });
        }
        node
    }

    /// From each pin that a wire ends at to the level at which the wire leaves.
    fn ways_of(
        &self,
        nodes: &[usize],
        layout: &Layout,
        column_x: &[f64],
        [above, below]: [f64; 2],
    ) -> Vec<((usize, usize), Way)> {
        let mut ways = Vec::new();
        for up in [true, false] {
            // The column next to the lanes takes the level next to the pins: so wires of one connector do not cross.
            let mut order: Vec<usize> = (0..self.columns).collect();
            if self.column == Column::Left {
                order.reverse();
            }
            let mut level = 0;
            for column in order {
                let mut leaving: Vec<_> = self.leaving(column, up).into_iter().enumerate().collect();
                if self.column == Column::Left {
                    leaving.reverse();
                }
                for (slot, (pin, wire)) in leaving {
                    let (Some(node), Some(x)) = (nodes.get(pin), column_x.get(column)) else { continue };
                    let Some(rect) = layout.boxes.get(*node).map(|node| node.rect) else { continue };
                    let lane = x + self.pitch()[0] + 4.0 + WIRE * slot as f64;
                    // Several wires of one pin leave it one below the other.
                    let before = self.ends.iter().filter(|(p, w)| *p == pin && *w < wire).count() as f64;
                    let shift = 4.0 * before - 4.0;
                    let out = rect.y + CELL / 2.0 + if up { shift } else { -shift };
                    let y = match up {
                        true => above - LEVEL * level as f64,
                        false => below + LEVEL * level as f64,
                    };
                    level += 1;
                    let points = vec![[rect.right(), out], [lane, out], [lane, y]];
                    ways.push((wire, Way { points, node: Some(*node), column: Some(self.column) }));
                }
            }
        }
        ways
    }
}

/// The next level on which wires of a column may lie: those of the two columns lie half a level apart, so that they
/// never meet between them.
fn snap(y: f64, column: Column) -> f64 {
    let offset = if column == Column::Left { 0.0 } else { LEVEL / 2.0 };
    LEVEL * libm::ceil((y - offset) / LEVEL) + offset
}

/// What a pin of a port carries: the signal of the board that sits on the port, what a wire brings, or its rail.
fn on_port(Shown { bench, wiring, .. }: Shown<'_>, port: &str, pin: &str) -> String {
    for plug in wiring.plugs(bench).into_iter().filter(|plug| plug.port == port) {
        let of_plug = plug.board.pins_of(&plug.plugged.connector);
        if let Some((_, carries)) = of_plug.iter().find(|(at, _)| **at == *pin) {
            return carries.to_string();
        }
    }
    for (from, to, carries) in wiring.wires(bench) {
        let here = |place: &Place| matches!(place, Place::Pin { device: Device::Controller, connector, pin: own } if **connector == *port && **own == *pin);
        if let (true, Some(carries)) = (here(&from) || here(&to), carries) {
            return carries.to_owned();
        }
    }
    let place = format!("{port}.{pin}");
    let carries = bench.controller().and_then(|c| c.pin(&place)?.carries.clone());
    carries.map(|carries| carries.to_string()).unwrap_or_default()
}

/// How pins are counted: the way, from where it is seen, and in how many rows.
type Counted = (Option<Numbering>, Option<View>, Option<usize>);

/// How the pins of a port are counted.
fn of_port(bench: &Bench, name: &str) -> Option<Counted> {
    let port = bench.controller()?.part.ports().iter().find(|port| port.name() == name)?.clone();
    let rows = port.has("rows").then(|| port.rows().value() as usize);
    Some((port.numbering().value, port.view().value, rows))
}

/// Pins of a plug, or of the port below it, whose signals go by wires of their own instead.
fn replaced(Shown { bench, wiring, .. }: Shown<'_>, place: &Place) -> Vec<String> {
    let Place::Pin { device, connector, .. } = place else { return Vec::new() };
    let mut pins = Vec::new();
    for (from, to, _) in wiring.wires(bench) {
        for (board, passed, pin) in [from, to].iter().filter_map(|end| leaves_plug(bench, end)) {
            let own = |plug: &&Plug<'_>| plug.board.name == board.name && plug.connector == passed;
            let plugs = wiring.plugs(bench);
            let Some(plug) = plugs.iter().find(own) else { continue };
            let here = match device {
                Device::Controller => *plug.port == **connector,
                Device::Board(name) => *name == board.name && *passed == **connector,
                _ => false,
            };
            if here {
                pins.push(pin);
            }
        }
    }
    pins
}

fn of_device(bench: &Bench, device: &Device) -> Vec<Connector> {
    match device {
        Device::Supply(name) => bench.supply(name).map(|supply| supply.part.connectors()),
        Device::Servo(name) => bench.servo(name).map(|servo| servo.part.connectors()),
        Device::Motor(name) => bench.axis(name).and_then(|axis| axis.motor()).map(|motor| motor.connectors()),
        Device::Encoder(name) => {
            bench.axis(name).and_then(|axis| axis.encoder.as_ref()).map(|e| e.connectors())
        }
        Device::Controller | Device::Board(_) | Device::Sensor(_) => None,
    }
    .unwrap_or_default()
}

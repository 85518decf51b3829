//! Questions about a bench: where a figure stands, what a signal is connected to, what hangs on a rail.

use super::{Bench, Board, CableRun, Device, Feed, Place, PortPin};
use crate::file::{Adapter, Brake, Capacitor, Clamp, Fuse, Sensor};
use crate::part::{Connector, Role};
use crate::record::{Data, Home, Record, Value};
use finding::Span;
use std::sync::Arc;

/// A pin of the controller that a signal is connected to.
#[derive(Clone, Debug)]
pub struct Connection {
    /// The pin.
    pub pin: PortPin,
    /// By what.
    pub via: Via,
}

/// How a signal gets to a pin.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Via {
    /// The board's connector sits on the port.
    Plug,
    /// A single wire; its span is that of its table.
    Wire(Span),
}

/// Something that draws current from a supply or rail.
#[derive(Clone, Debug)]
pub enum Consumer {
    /// A supply input of a board.
    Input {
        /// The board.
        board: Arc<str>,
        /// The input.
        input: Arc<str>,
    },
    /// The controller.
    Controller,
    /// A servo.
    Servo(Arc<str>),
    /// The encoder of an axis.
    Encoder(Arc<str>),
    /// A rail that is made from an input fed by it.
    Rail(Feed),
    /// A sensor.
    Sensor(Arc<str>),
    /// A holding brake.
    Brake(Arc<str>),
}

impl Bench {
    /// What draws current from a supply or rail directly.
    ///
    /// An encoder that a board's input passes on to hangs on the input's feed, like the input itself.
    pub fn consumers_of(&self, feed: &Feed) -> Vec<Consumer> {
        let mut consumers = Vec::new();
        if self.controller.as_ref().is_some_and(|c| c.feed.as_ref() == Some(feed)) {
            consumers.push(Consumer::Controller);
            let rails = self.controller.iter().flat_map(|c| c.part.rails());
            consumers.extend(rails.map(|rail| Consumer::Rail(Feed::ControllerRail(rail.name().into()))));
        }
        for board in &self.boards {
            for fed in board.inputs.iter().filter(|fed| fed.feed.as_ref() == Some(feed)) {
                let input = fed.input.name();
                consumers.push(Consumer::Input { board: board.name.clone(), input: input.into() });
                for rail in board.part.rails().iter().filter(|rail| rail.from() == Some(input)) {
                    consumers.push(Consumer::Rail(Feed::BoardRail { board: board.name.clone(), rail: rail.name().into() }));
                }
            }
        }
        let servos = self.servos.iter().filter(|servo| servo.feed.as_ref() == Some(feed));
        consumers.extend(servos.map(|servo| Consumer::Servo(servo.name.clone())));
        let axes = self.axes.iter().filter(|axis| axis.encoder.is_some() && axis.encoder_feed.as_ref() == Some(feed));
        consumers.extend(axes.map(|axis| Consumer::Encoder(axis.name.clone())));
        for (name, sensor) in self.file.sensors() {
            if sensor.supply().and_then(|text| self.feed_named(text)).as_ref() == Some(feed) {
                consumers.push(Consumer::Sensor(name));
            }
        }
        for (name, brake) in self.file.brakes() {
            if brake.supply().and_then(|text| self.feed_named(text)).as_ref() == Some(feed) {
                consumers.push(Consumer::Brake(name));
            }
        }
        consumers
    }

    /// What a text such as `drive` or `controller.J1.5V` stands for.
    pub fn feed_named(&self, text: &str) -> Option<Feed> {
        super::resolve::find_feed(self, text)
    }

    /// What a place such as `board.host.3` stands for.
    pub fn place_named(&self, text: &str) -> Option<Place> {
        super::resolve::find_place(self, text)
    }

    /// Every supply and rail that something hangs on or could.
    pub fn feeds(&self) -> Vec<Feed> {
        let mut feeds: Vec<Feed> = self.supplies.iter().map(|s| Feed::Supply(s.name.clone())).collect();
        let rails = self.controller.iter().flat_map(|c| c.part.rails());
        feeds.extend(rails.map(|rail| Feed::ControllerRail(rail.name().into())));
        for board in &self.boards {
            let rails = board.part.rails();
            feeds.extend(rails.iter().map(|r| Feed::BoardRail { board: board.name.clone(), rail: r.name().into() }));
        }
        feeds
    }

    /// The supply behind a rail, through boards and controller.
    pub fn supply_behind(&self, feed: &Feed) -> Option<&Arc<super::SupplyUnit>> {
        let mut at = feed.clone();
        // A circle of rails is a finding of its own; here it only has to end.
        for _ in 0..16 {
            at = match at {
                Feed::Supply(name) => return self.supply(&name),
                Feed::ControllerRail(_) => self.controller.as_ref()?.feed.clone()?,
                Feed::BoardRail { board, rail } => {
                    let board = self.board(&board)?;
                    let from = board.rail(&rail)?.from()?.to_owned();
                    board.input(&from)?.feed.clone()?
                }
            };
        }
        None
    }

    /// Fuses on a supply, rail or cable.
    pub fn fuses_on(&self, feed: &Feed) -> Vec<(Arc<str>, Fuse)> {
        let on = |fuse: &Fuse| fuse.on().and_then(|text| self.feed_named(text));
        self.file.fuses().into_iter().filter(|(_, fuse)| on(fuse).as_ref() == Some(feed)).collect()
    }

    /// Fuses on a cable.
    pub fn fuses_on_cable(&self, cable: &str) -> Vec<(Arc<str>, Fuse)> {
        self.file.fuses().into_iter().filter(|(_, fuse)| fuse.on() == Some(cable)).collect()
    }

    /// Clamps on the line of a supply.
    pub fn clamps_on(&self, feed: &Feed) -> Vec<(Arc<str>, Clamp)> {
        let on = |clamp: &Clamp| clamp.on().and_then(|text| self.feed_named(text));
        self.file.clamps().into_iter().filter(|(_, clamp)| on(clamp).as_ref() == Some(feed)).collect()
    }

    /// Added capacitors on the line of a supply.
    pub fn capacitors_on(&self, feed: &Feed) -> Vec<(Arc<str>, Capacitor)> {
        let on = |capacitor: &Capacitor| capacitor.on().and_then(|text| self.feed_named(text));
        self.file.capacitors().into_iter().filter(|(_, c)| on(c).as_ref() == Some(feed)).collect()
    }

    /// Axes whose channels a supply or rail feeds.
    pub fn axes_on(&self, feed: &Feed) -> Vec<&super::Axis> {
        let on = |axis: &&super::Axis| {
            axis.channels.iter().any(|c| c.input.as_ref().and_then(|i| i.feed.as_ref()) == Some(feed))
        };
        self.axes.iter().filter(on).collect()
    }

    /// Axes that a board drives.
    pub fn axes_of(&self, board: &str) -> Vec<&super::Axis> {
        self.axes.iter().filter(|axis| axis.channels.iter().any(|c| &*c.board.name == board)).collect()
    }

    /// The axis that a channel drives.
    pub fn axis_of_channel(&self, board: &str, channel: &str) -> Option<&super::Axis> {
        self.axes.iter().find(|axis| {
            axis.channels.iter().any(|c| &*c.board.name == board && c.channel.name() == channel)
        })
    }

    /// The cable between two places, either way round.
    pub fn cable_between(&self, a: &Place, b: &Place) -> Option<&CableRun> {
        self.cables.iter().find(|run| run.joins(a, b))
    }

    /// The cable from its feed to a supply input of a board.
    pub fn cable_to_input(&self, board: &str, input: &str) -> Option<&CableRun> {
        let place = Place::Input { board: board.into(), input: input.into() };
        self.cables.iter().find(|run| run.ends_at(&place))
    }

    /// The cable to a servo.
    pub fn cable_to_servo(&self, servo: &str) -> Option<&CableRun> {
        let place = Place::Device(Device::Servo(servo.into()));
        self.cables.iter().find(|run| run.ends_at(&place))
    }

    /// Small circuits in the line of a signal, such as `board:A.current`.
    pub fn adapters_on(&self, board: &str, signal: &str) -> Vec<(Arc<str>, Adapter)> {
        let name = format!("{board}:{signal}");
        self.file.adapters().into_iter().filter(|(_, adapter)| adapter.on() == Some(&name)).collect()
    }

    /// Sensors that measure an axis or device.
    pub fn sensors_of(&self, what: &str) -> Vec<(Arc<str>, Sensor)> {
        self.file.sensors().into_iter().filter(|(_, sensor)| sensor.of() == Some(what)).collect()
    }

    /// Brakes that hold an axis.
    pub fn brakes_of(&self, axis: &str) -> Vec<(Arc<str>, Brake)> {
        self.file.brakes().into_iter().filter(|(_, brake)| brake.axis() == Some(axis)).collect()
    }

    /// Pins of the controller that a signal of a board is connected to: by its plug, by wires, or both.
    pub fn connections(&self, board: &Board, signal: &str) -> Vec<Connection> {
        let Some(controller) = &self.controller else { return Vec::new() };
        let mut found: Vec<Connection> = Vec::new();
        if let Some(plugged) = &board.plugged {
            for (pin, carries) in board.pins_of(&plugged.connector) {
                let place = format!("{}.{pin}", plugged.port.name());
                if &*carries == signal
                    && let Some(pin) = controller.pin(&place)
                {
                    found.push(Connection { pin: pin.clone(), via: Via::Plug });
                }
            }
        }
        let device = Device::Board(board.name.clone());
        let at_board = |place: &Place| match place {
            Place::Pin { device: d, connector, pin } if *d == device => {
                let pins = board.connector(connector).map(|c| board.pins_of(&c)).unwrap_or_default();
                pins.iter().any(|(at, carries)| at == pin && &**carries == signal)
            }
            _ => false,
        };
        found.extend(self.wired(&format!("{}:{signal}", board.name), at_board));
        found
    }

    /// Pins of the controller that a servo's pulse comes from.
    pub fn pulse_pins(&self, servo: &super::ServoUnit) -> Vec<Connection> {
        if let Some((board, output)) = &servo.output
            && let (Some(board), Some(signal)) = (self.board(board), output.signal())
        {
            return self.connections(board, signal);
        }
        let mut found = Vec::new();
        if let Some(text) = servo.entry.signal()
            && let Some(pin) = self.place_named(text).and_then(|place| self.controller_pin(&place))
        {
            found.push(Connection { pin: pin.clone(), via: Via::Wire(servo.entry.span_of("signal")) });
        }
        let connectors = servo.part.connectors();
        let at_servo = |place: &Place| match place {
            Place::Pin { device: Device::Servo(name), connector, pin } if *name == servo.name => {
                carries(&connectors, connector, pin, "pulse")
            }
            _ => false,
        };
        found.extend(self.wired(&format!("{}:pulse", servo.name), at_servo));
        found
    }

    /// Pins of the controller that a line of an encoder (`a`, `b`, `index`) is connected to: through the board
    /// that it is plugged into, or by wires of its own.
    pub fn encoder_pins(&self, axis: &super::Axis, line: &str) -> Vec<Connection> {
        if let Some((board, channel)) = &axis.encoder_at {
            let role = match line {
                "a" => Role::EncoderA,
                "b" => Role::EncoderB,
                _ => Role::EncoderIndex,
            };
            let signal = board.signals_of(channel).into_iter().find(|signal| signal.role().is(role));
            return signal.map(|signal| self.connections(board, signal.name())).unwrap_or_default();
        }
        let connectors = axis.encoder.iter().flat_map(|encoder| encoder.connectors()).collect::<Vec<_>>();
        let at_encoder = |place: &Place| match place {
            Place::Pin { device: Device::Encoder(name), connector, pin } if *name == axis.name => {
                carries(&connectors, connector, pin, line)
            }
            _ => false,
        };
        self.wired(&format!("{}.encoder:{line}", axis.name), at_encoder)
    }

    /// Pins of the controller that wires lead to which carry a signal by name or begin at a given place.
    fn wired(&self, signal: &str, at: impl Fn(&Place) -> bool) -> Vec<Connection> {
        let mut found = Vec::new();
        for (wire, from, to) in &self.wires {
            let carried = wire.carries().is_some_and(|text| {
                text == signal || text.strip_suffix(signal).is_some_and(|kind| kind.ends_with('.'))
            });
            for (near, far) in [(from, to), (to, from)] {
                if (carried || at(near))
                    && let Some(pin) = self.controller_pin(far)
                {
                    found.push(Connection { pin: pin.clone(), via: Via::Wire(wire.span()) });
                }
            }
        }
        found
    }

    fn controller_pin(&self, place: &Place) -> Option<&PortPin> {
        match place {
            Place::Pin { device: Device::Controller, connector, pin } => {
                self.controller.as_ref()?.pin(&format!("{connector}.{pin}"))
            }
            _ => None,
        }
    }

    /// The record at a path such as `axes.left.motor`, or the one that a figure's path lies in, with the rest.
    pub fn record_at(&self, path: &str) -> Option<(Record, String)> {
        let top = Record::new(self.file.data.clone(), "");
        Some(descend(top, path))
    }

    /// Where the value of a figure stands, `axes.left.motor.resistance`; the table it would stand in where it is
    /// not given.
    pub fn span_of(&self, path: &str) -> Option<Span> {
        let (record, rest) = self.record_at(path)?;
        let key = rest.split('.').next().unwrap_or("");
        Some(if key.is_empty() { record.span() } else { record.span_of(key) })
    }

    /// The table of the file that a figure belongs to, and its key there: where a missing datum goes.
    pub fn home_of(&self, path: &str) -> Option<(Home, String)> {
        let (record, rest) = self.record_at(path)?;
        Some((record.home().clone(), rest))
    }
}

/// Whether a pin of a part's connector carries a line; a lead without a connector is called like the line.
fn carries(connectors: &[Connector], connector: &str, pin: &str, line: &str) -> bool {
    let of = connectors.iter().find(|c| c.name() == connector);
    of.map_or(pin == line, |c| c.pins().iter().any(|e| *e.key.text == *pin && e.text() == Some(line)))
}

/// Walks down a path as far as tables go; what is left is the key (and what follows it).
fn descend(record: Record, path: &str) -> (Record, String) {
    if path.is_empty() {
        return (record, String::new());
    }
    // A part that stands under `part` shares the path of its device: its keys are looked for there first.
    for (field, slot) in record.data.kind.fields.iter().zip(&record.data.slots) {
        if field.key == "part"
            && let Some(slot) = slot
            && let Value::Table(data) = &slot.value
        {
            let part = Record::new(data.clone(), record.path());
            let head = path.split('.').next().unwrap_or("");
            if !crate::read::keys_of(record.kind()).contains(&head) || part.has(head) && !record.has(head) {
                return descend(part, path);
            }
        }
    }
    for (at, field) in record.data.kind.fields.iter().enumerate() {
        if let crate::kind::Form::Flat(_) = field.form {
            let flat = record.child(at);
            let head = path.split('.').next().unwrap_or("");
            if crate::read::keys_of(flat.kind()).contains(&head) {
                return descend(flat, path);
            }
            continue;
        }
        let Some(rest) = path.strip_prefix(field.key) else { continue };
        let rest = match rest.strip_prefix('.') {
            Some(rest) => rest,
            None if rest.is_empty() => "",
            None => continue,
        };
        let child_path = record.path_of(field.key);
        let value = record.data.slots.get(at).and_then(|slot| slot.as_ref()).map(|slot| &slot.value);
        match (&field.form, value) {
            (crate::kind::Form::Table(_) | crate::kind::Form::Part(_), _) if !rest.is_empty() => {
                return descend(record.child(at), rest);
            }
            (_, Some(Value::Table(data))) if rest.is_empty() => return (Record::new(data.clone(), child_path), String::new()),
            (_, Some(Value::Named(items))) => {
                if let Some((data, name, rest)) = pick(items.iter().map(|(n, d)| (&*n.text, d)), rest) {
                    return descend(Record::new(data.clone(), format!("{child_path}.{name}")), rest);
                }
            }
            (_, Some(Value::Tables(items))) => {
                let numbers: Vec<String> = (1..=items.len()).map(|n| n.to_string()).collect();
                let names = items.iter().zip(&numbers).map(|(d, n)| (crate::record::name_of(d).unwrap_or(n), d));
                if let Some((data, name, rest)) = pick(names, rest) {
                    return descend(Record::new(data.clone(), format!("{child_path}.{name}")), rest);
                }
            }
            _ => {}
        }
    }
    (record, path.to_owned())
}

/// The item that a path begins with; names may hold dots themselves, so the longest wins.
fn pick<'a, 'b>(
    items: impl Iterator<Item = (&'a str, &'a Arc<Data>)>,
    path: &'b str,
) -> Option<(&'a Arc<Data>, &'a str, &'b str)> {
    let fit = |(name, data): (&'a str, &'a Arc<Data>)| {
        let rest = path.strip_prefix(name)?;
        match rest.strip_prefix('.') {
            Some(rest) => Some((data, name, rest)),
            None => rest.is_empty().then_some((data, name, "")),
        }
    };
    items.filter_map(fit).max_by_key(|(_, name, _)| name.len())
}

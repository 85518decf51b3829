//! Which pins of the controller a signal is connected to.

use super::{Axis, Bench, Board, Device, Feed, Place, PortPin, ServoUnit};
use crate::file::{AxisEntry, Wire};
use crate::part::{Connector, Role};
use finding::Span;

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

impl Bench {
    /// Pins of the controller that a signal of a board is connected to: by its plug, by wires, or both.
    pub fn connections(&self, board: &Board, signal: &str) -> Vec<Connection> {
        let Some(controller) = &self.controller else { return Vec::new() };
        let mut found: Vec<Connection> = Vec::new();
        for plugged in board.plugs() {
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
    pub fn pulse_pins(&self, servo: &ServoUnit) -> Vec<Connection> {
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
    pub fn encoder_pins(&self, axis: &Axis, line: &str) -> Vec<Connection> {
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

    /// What the supply pin of an encoder is wired to, with the wire: the rail of a pin, what feeds the board input
    /// behind a pin, or a supply. `None` where no wire leads from it to any of these.
    pub fn wired_encoder_feed(&self, axis: &str) -> Option<(&Wire, Feed)> {
        let entry: AxisEntry = self.file.one_named("axes", axis)?;
        let connectors = entry.encoder().map(|encoder| encoder.connectors()).unwrap_or_default();
        let at_supply = |place: &Place| match place {
            Place::Pin { device: Device::Encoder(name), connector, pin } if **name == *axis => {
                carries(&connectors, connector, pin, "supply")
            }
            _ => false,
        };
        self.wires.iter().find_map(|(wire, from, to)| {
            let far = match (at_supply(from), at_supply(to)) {
                (true, false) => to,
                (false, true) => from,
                _ => return None,
            };
            Some((wire, self.feed_at(far)?))
        })
    }

    /// The supply or rail that a place gives, where it gives one.
    fn feed_at(&self, place: &Place) -> Option<Feed> {
        match place {
            Place::Device(Device::Supply(name)) => Some(Feed::Supply(name.clone())),
            Place::Pin { device: Device::Supply(name), pin, .. } if **pin != *"-" => {
                Some(Feed::Supply(name.clone()))
            }
            Place::Pin { device: Device::Controller, .. } => {
                let rail = self.controller_pin(place)?.carries.clone()?;
                self.controller.as_ref()?.rail(&rail).map(|rail| Feed::ControllerRail(rail.name().into()))
            }
            Place::Pin { device: Device::Board(name), connector, pin } => {
                let board = self.board(name)?;
                let carried =
                    board.pins_of(&board.connector(connector)?).into_iter().find(|(at, _)| at == pin)?.1;
                match board.input(&carried) {
                    Some(fed) => fed.feed.clone(),
                    None => board
                        .rail(&carried)
                        .map(|rail| Feed::BoardRail { board: name.clone(), rail: rail.name().into() }),
                }
            }
            _ => None,
        }
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
}

/// Whether a pin of a part's connector carries a line; a lead without a connector is called like the line.
fn carries(connectors: &[Connector], connector: &str, pin: &str, line: &str) -> bool {
    let of = connectors.iter().find(|c| c.name() == connector);
    of.map_or(pin == line, |c| c.pins().iter().any(|e| *e.key.text == *pin && e.text() == Some(line)))
}

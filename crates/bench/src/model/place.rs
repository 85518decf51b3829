//! Places of the bench: devices, connectors, pins, signals, and what they are called.

use std::fmt;
use std::sync::Arc;

/// A device of the bench, or the part of one that a lead can go to.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Device {
    /// The controller.
    Controller,
    /// A supply.
    Supply(Arc<str>),
    /// A driver board.
    Board(Arc<str>),
    /// The motor or stepper of an axis.
    Motor(Arc<str>),
    /// The encoder of an axis.
    Encoder(Arc<str>),
    /// A hobby servo.
    Servo(Arc<str>),
    /// A separate sensor.
    Sensor(Arc<str>),
}

/// Where a lead begins or ends.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Place {
    /// A device as a whole.
    Device(Device),
    /// A supply input of a board.
    Input {
        /// The board.
        board: Arc<str>,
        /// The input's name.
        input: Arc<str>,
    },
    /// A channel of a board.
    Channel(ChannelName),
    /// A servo output of a board.
    ServoOutput {
        /// The board.
        board: Arc<str>,
        /// The output's name.
        output: Arc<str>,
    },
    /// A pin of a connector; of the controller, of a port.
    Pin {
        /// The device.
        device: Device,
        /// Connector or port.
        connector: Arc<str>,
        /// Number or name of the pin.
        pin: Arc<str>,
    },
}

impl Place {
    /// Whether it is a device as a whole or one of its pins.
    pub fn is_on(&self, device: &Device) -> bool {
        matches!(self, Self::Device(own) | Self::Pin { device: own, .. } if own == device)
    }

    /// Whether two places are on these two devices, either way round.
    pub fn join(ends: (&Self, &Self), a: &Device, b: &Device) -> bool {
        let (from, to) = ends;
        from.is_on(a) && to.is_on(b) || from.is_on(b) && to.is_on(a)
    }
}

/// A channel of a board of the bench: `board.A`.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub struct ChannelName {
    /// The board in the bench.
    pub board: Arc<str>,
    /// The channel of the board.
    pub channel: Arc<str>,
}

/// What feeds something.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Feed {
    /// A supply of the bench.
    Supply(Arc<str>),
    /// A rail of the controller.
    ControllerRail(Arc<str>),
    /// A rail that a board makes.
    BoardRail {
        /// The board.
        board: Arc<str>,
        /// The rail's name.
        rail: Arc<str>,
    },
}

impl ChannelName {
    /// Names a channel.
    pub fn new(board: &str, channel: &str) -> Self {
        Self { board: board.into(), channel: channel.into() }
    }
}

impl fmt::Display for Device {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Controller => f.write_str("controller"),
            Self::Supply(name) => write!(f, "supplies.{name}"),
            Self::Board(name) => write!(f, "drivers.{name}"),
            Self::Motor(axis) => write!(f, "axes.{axis}.motor"),
            Self::Encoder(axis) => write!(f, "axes.{axis}.encoder"),
            Self::Servo(name) => write!(f, "servos.{name}"),
            Self::Sensor(name) => write!(f, "sensors.{name}"),
        }
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Device(device) => write!(f, "{device}"),
            Self::Input { board, input } => write!(f, "drivers.{board}.{input}"),
            Self::Channel(channel) => write!(f, "{channel}"),
            Self::ServoOutput { board, output } => write!(f, "drivers.{board}.{output}"),
            Self::Pin { device, connector, pin } => write!(f, "{device}.{connector}.{pin}"),
        }
    }
}

impl fmt::Display for ChannelName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}.{}", self.board, self.channel)
    }
}

impl fmt::Display for Feed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Supply(name) => write!(f, "supplies.{name}"),
            Self::ControllerRail(rail) => write!(f, "controller.rails.{rail}"),
            Self::BoardRail { board, rail } => write!(f, "drivers.{board}.rails.{rail}"),
        }
    }
}

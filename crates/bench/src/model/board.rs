//! Driver boards of the bench.

use crate::file::DriverEntry;
use crate::model::Feed;
use crate::part::{Channel, Connector, Driver, Limit, Port, Rail, Role, Signal, SupplyInput, Use};
use crate::record::Entry;
use std::sync::Arc;
use worked::Worked;

/// A driver board of the bench.
#[derive(Clone, Debug)]
pub struct Board {
    /// Its name in the bench.
    pub name: Arc<str>,
    /// What the bench file says.
    pub entry: DriverEntry,
    /// The part.
    pub part: Driver,
    /// The use that is made of it, where the part offers several.
    pub in_use: Option<Use>,
    /// Its supply inputs with what feeds them.
    pub inputs: Vec<FedInput>,
    /// Its limits with the setting in force.
    pub limits: Vec<LimitInForce>,
    /// Where it is plugged in: its connector and the port.
    pub plugged: Option<Plugged>,
    /// Further connectors that sit on ports at the same time.
    pub also_plugged: Vec<Plugged>,
    pub(super) lists: Arc<Lists>,
}

/// Pins with what each carries.
type Pins = Vec<(Arc<str>, Arc<str>)>;

/// What the part lists, gathered once: rules ask for it again and again.
#[derive(Debug)]
pub(super) struct Lists {
    channels: Vec<Channel>,
    /// Signals with the channel that each belongs to.
    signals: Vec<(Signal, Option<Arc<str>>)>,
    /// Connectors with what each pin carries.
    connectors: Vec<(Connector, Pins)>,
}

/// A connector of a board on a port of the controller; equal numbers meet.
#[derive(Clone, Debug)]
pub struct Plugged {
    /// Connector of the board.
    pub connector: Connector,
    /// Port of the controller.
    pub port: Port,
}

/// A supply input of a board with what feeds it.
#[derive(Clone, Debug)]
pub struct FedInput {
    /// The input.
    pub input: SupplyInput,
    /// What feeds it; `None` where nothing does.
    pub feed: Option<Feed>,
}

/// A limit of a board with the value at which it acts.
#[derive(Clone)]
pub struct LimitInForce {
    /// The limit.
    pub limit: Limit,
    /// Current at which it acts. Missing where nothing says which setting holds.
    pub threshold: Worked,
    /// Name of the setting in force.
    pub setting: Option<Arc<str>>,
    /// What decides the setting.
    pub decided_by: DecidedBy,
    /// All settings that it has.
    pub settings: Vec<(Arc<str>, Worked)>,
}

/// What decides the setting of a limit.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum DecidedBy {
    /// It has one value.
    Fixed,
    /// The bench file, under `limits`.
    Bench,
    /// A line that is held at a level.
    Line(Arc<str>),
    /// A line that is left to its default level.
    Undriven(Arc<str>),
    /// A line that the firmware drives, at a level that the bench does not say; the default level is taken.
    Firmware(Arc<str>),
    /// A jumper.
    Jumper(Arc<str>),
    /// The setting that the part leaves the factory with.
    Factory,
    /// Nothing.
    Nothing,
}

impl Board {
    /// A channel by name.
    pub fn channel(&self, name: &str) -> Option<Channel> {
        self.lists.channels.iter().find(|channel| channel.name() == name).cloned()
    }

    /// All its channels.
    pub fn channels(&self) -> &[Channel] {
        &self.lists.channels
    }

    /// The input that feeds a channel.
    pub fn input_of(&self, channel: &Channel) -> Option<&FedInput> {
        self.input(channel.supply().unwrap_or("motor"))
    }

    /// Every connector that sits on a port.
    pub fn plugs(&self) -> impl Iterator<Item = &Plugged> {
        self.plugged.iter().chain(&self.also_plugged)
    }

    /// Whether a connector sits on a port.
    pub fn is_plugged(&self, connector: &str) -> bool {
        self.plugs().any(|plugged| plugged.connector.name() == connector)
    }

    /// A supply input by name.
    pub fn input(&self, name: &str) -> Option<&FedInput> {
        self.inputs.iter().find(|fed| fed.input.name() == name)
    }

    /// A rail that the board makes.
    pub fn rail(&self, name: &str) -> Option<Rail> {
        self.part.rails().into_iter().find(|rail| rail.name() == name)
    }

    /// Limits that see the current of a channel.
    pub fn limits_of(&self, channel: &str) -> Vec<LimitInForce> {
        self.limits.iter().filter(|limit| covers(&limit.limit, channel)).cloned().collect()
    }

    /// All its signals.
    pub fn signals(&self) -> Vec<Signal> {
        self.lists.signals.iter().map(|(signal, _)| signal.clone()).collect()
    }

    /// A signal by name.
    pub fn signal(&self, name: &str) -> Option<Signal> {
        self.lists.signals.iter().find(|(signal, _)| signal.name() == name).map(|(signal, _)| signal.clone())
    }

    /// The channel that a signal belongs to; `None` for one of the whole board.
    pub fn channel_of(&self, signal: &Signal) -> Option<Arc<str>> {
        let known = self.lists.signals.iter().find(|(known, _)| known.name() == signal.name());
        known.and_then(|(_, channel)| channel.clone())
    }

    /// Signals of one channel.
    pub fn signals_of(&self, channel: &str) -> Vec<Signal> {
        let own = self.lists.signals.iter().filter(|(_, of)| of.as_deref() == Some(channel));
        own.map(|(signal, _)| signal.clone()).collect()
    }

    /// The signal with a role for a channel: its own, else one of the whole board.
    pub fn signal_for(&self, channel: &str, role: Role) -> Option<Signal> {
        let find = |of: Option<&str>| {
            let fits =
                |(signal, own): &&(Signal, Option<Arc<str>>)| signal.role().is(role) && own.as_deref() == of;
            self.lists.signals.iter().find(fits).map(|(signal, _)| signal.clone())
        };
        find(Some(channel)).or_else(|| find(None))
    }

    /// All its connectors.
    pub fn connectors(&self) -> Vec<Connector> {
        self.lists.connectors.iter().map(|(connector, _)| connector.clone()).collect()
    }

    /// A connector by name.
    pub fn connector(&self, name: &str) -> Option<Connector> {
        self.lists.connectors.iter().find(|(c, _)| c.name() == name).map(|(connector, _)| connector.clone())
    }

    /// What each pin of a connector carries; one that passes another or is an alternative to it carries the same.
    pub fn pins_of(&self, connector: &Connector) -> Vec<(Arc<str>, Arc<str>)> {
        let known = self.lists.connectors.iter().find(|(c, _)| c.name() == connector.name());
        known.map(|(_, pins)| pins.clone()).unwrap_or_default()
    }

    /// Connectors and pins that carry a signal, rail or lead.
    pub fn pins_carrying(&self, what: &str) -> Vec<(Connector, Arc<str>)> {
        let mut found = Vec::new();
        for (connector, pins) in &self.lists.connectors {
            let carrying = pins.iter().filter(|(_, carries)| &**carries == what);
            found.extend(carrying.map(|(pin, _)| (connector.clone(), pin.clone())));
        }
        found
    }

    /// Whether a connector that has alternatives is the one in use. One without alternatives is always in use.
    pub fn is_populated(&self, connector: &Connector) -> bool {
        let has_alternatives = connector.same_as().is_some()
            || self.lists.connectors.iter().any(|(other, _)| other.same_as() == Some(connector.name()));
        !has_alternatives || self.entry.populated().contains(&connector.name())
    }

    /// The supply input that passes on to a consumer such as `A.encoder`.
    pub fn input_feeding(&self, consumer: &str) -> Option<&FedInput> {
        self.inputs.iter().find(|fed| fed.input.also_feeds().contains(&consumer))
    }

    /// The level that the bench holds a line in.
    pub fn line_state(&self, signal: &str) -> Option<&str> {
        self.entry.lines().iter().find(|entry| &*entry.key == signal).and_then(|entry| entry.text())
    }
}

impl LimitInForce {
    /// Whether reaching it switches a channel off. A limit that does not say acts on what it sees.
    pub fn stops(&self, channel: &str) -> bool {
        let stops = self.limit.stops();
        if stops.is_empty() { covers(&self.limit, channel) } else { stops.contains(&channel) }
    }
}

impl std::fmt::Debug for LimitInForce {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("LimitInForce")
            .field("limit", &self.limit.name())
            .field("setting", &self.setting)
            .finish()
    }
}

impl Lists {
    pub(super) fn of(part: &Driver) -> Self {
        let channels = part.channels();
        let signal = |signal: Signal| {
            let named =
                signal.channel().or_else(|| signal.name().split_once('.').map(|(channel, _)| channel));
            let channel = named.and_then(|named| channels.iter().find(|channel| channel.name() == named));
            let channel = channel.map(|channel| channel.name().into());
            (signal, channel)
        };
        let signals = part.signals().into_iter().map(signal).collect();
        let all = part.connectors();
        let connectors = all.iter().map(|connector| (connector.clone(), pins_of(connector, &all))).collect();
        Self { channels, signals, connectors }
    }
}

fn pins_of(connector: &Connector, all: &[Connector]) -> Pins {
    let mut at = connector;
    // A circle among connectors is a finding of its own; here it only has to end.
    for _ in 0..8 {
        if !at.pins().is_empty() {
            break;
        }
        let next = at.passes().or_else(|| at.same_as());
        let Some(next) = next.and_then(|name| all.iter().find(|c| c.name() == name)) else { break };
        at = next;
    }
    let pin = |entry: &Entry| Some((entry.key.text.clone(), Arc::from(entry.text()?)));
    at.pins().iter().filter_map(pin).collect()
}

/// Whether a limit sees the current of a channel; one that names none sees all.
fn covers(limit: &Limit, channel: &str) -> bool {
    let covers = limit.covers();
    covers.is_empty() || covers.contains(&channel)
}

//! Questions about a bench: what hangs on a rail, what protects a line, which axis a channel drives.

use super::{Axis, Bench, CableRun, Device, Feed, Place, SupplyUnit};
use crate::file::{Adapter, Brake, Capacitor, Clamp, Fuse, Sensor};
use std::sync::Arc;

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
                    consumers.push(Consumer::Rail(Feed::BoardRail {
                        board: board.name.clone(),
                        rail: rail.name().into(),
                    }));
                }
            }
        }
        let servos = self.servos.iter().filter(|servo| servo.feed.as_ref() == Some(feed));
        consumers.extend(servos.map(|servo| Consumer::Servo(servo.name.clone())));
        let axes = self
            .axes
            .iter()
            .filter(|axis| axis.encoder.is_some() && axis.encoder_feed.as_ref() == Some(feed));
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
            feeds.extend(
                rails.iter().map(|r| Feed::BoardRail { board: board.name.clone(), rail: r.name().into() }),
            );
        }
        feeds
    }

    /// The supply behind a rail, through boards and controller.
    pub fn supply_behind(&self, feed: &Feed) -> Option<&Arc<SupplyUnit>> {
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
    pub fn axes_on(&self, feed: &Feed) -> Vec<&Axis> {
        let on = |axis: &&Axis| {
            axis.channels.iter().any(|c| c.input.as_ref().and_then(|i| i.feed.as_ref()) == Some(feed))
        };
        self.axes.iter().filter(on).collect()
    }

    /// Axes that a board drives.
    pub fn axes_of(&self, board: &str) -> Vec<&Axis> {
        self.axes.iter().filter(|axis| axis.channels.iter().any(|c| &*c.board.name == board)).collect()
    }

    /// The axis that a channel drives.
    pub fn axis_of_channel(&self, board: &str, channel: &str) -> Option<&Axis> {
        self.axes
            .iter()
            .find(|axis| axis.channels.iter().any(|c| &*c.board.name == board && c.channel.name() == channel))
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
}

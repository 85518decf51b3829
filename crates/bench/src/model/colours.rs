//! Colours of wires: the table `colours` of the bench file, looked up by what a wire carries.

use super::resolve::bare;
use super::{Bench, Device, Feed, Place};
use crate::part::{Connector, Role};
use crate::record::{Entry, Text};

/// What the table calls the conductor that keeps cases at earth.
pub(super) const PROTECTIVE: &str = "protective-conductor";

/// What the table calls the common return.
pub(super) const GROUND: &str = "ground";

impl Bench {
    /// The colour that the bench file gives to wires that carry this: `board:A.pwm`, `ground`. The most specific key
    /// of the table decides; `None` where none fits.
    pub fn colour_of(&self, carries: &str) -> Option<&str> {
        let entry = self.colour_entry(&self.names_of(carries))?;
        colour(entry).map(|text| &*text.text)
    }

    /// The entry of the table under the first of these names that it has.
    pub(super) fn colour_entry(&self, names: &[String]) -> Option<&Entry> {
        let table: Vec<(String, &Entry)> = self
            .file
            .colours()
            .iter()
            .filter(|entry| colour(entry).is_some())
            .map(|entry| (self.canonical(&entry.key), entry))
            .collect();
        names.iter().find_map(|name| table.iter().find(|(key, _)| key == name).map(|(_, entry)| *entry))
    }

    /// A key as it is compared: without the kind of its device, and one name for each supply, rail and protective
    /// conductor, whichever way it is written.
    pub(super) fn canonical(&self, key: &str) -> String {
        if is_protective(key) {
            return PROTECTIVE.to_owned();
        }
        match self.feed_named(key) {
            Some(feed) => full_name(&feed),
            None if key.contains(':') => bare(key).to_owned(),
            None => key.to_owned(),
        }
    }

    /// What the table can call a wire that carries this, the most specific name first.
    pub(super) fn names_of(&self, carries: &str) -> Vec<String> {
        let mut names = vec![self.canonical(carries)];
        if let Some((device, what)) = bare(carries).split_once(':') {
            names.extend(self.names_on(device, what));
        } else if let Some(feed) = self.feed_named(carries).or_else(|| self.rail_of_controller(carries)) {
            names.extend(names_of_feed(&feed));
        }
        names
    }

    /// What the table can call a wire that ends here; nothing where the place does not say what it carries.
    pub(super) fn names_at(&self, place: &Place) -> Vec<String> {
        match place {
            Place::Device(Device::Supply(name)) => vec![name.to_string()],
            Place::Input { board, input } => self.names_of(&format!("{board}:{input}")),
            Place::Pin { device, connector, pin } => {
                let Some(what) = self.carried_at(device, connector, pin) else { return Vec::new() };
                match device {
                    _ if is_protective(&what) => vec![PROTECTIVE.to_owned()],
                    Device::Controller if what == GROUND => vec![what],
                    Device::Controller => self.names_on("controller", &what),
                    Device::Supply(_) if ["-", GROUND].contains(&&*what) => vec![GROUND.to_owned()],
                    Device::Supply(name) => vec![name.to_string()],
                    Device::Encoder(axis) => self.names_of(&format!("{axis}.encoder:{what}")),
                    Device::Board(name) | Device::Servo(name) | Device::Sensor(name) => {
                        self.names_of(&format!("{name}:{what}"))
                    }
                    Device::Motor(_) => Vec::new(),
                }
            }
            _ => Vec::new(),
        }
    }

    /// Names of what a device has under this name: the role of a signal, the feed of an input, a rail, ground.
    fn names_on(&self, device: &str, what: &str) -> Vec<String> {
        if what == GROUND {
            return vec![GROUND.to_owned()];
        }
        if device == "controller" {
            return self.rail_of_controller(what).iter().flat_map(names_of_feed).collect();
        }
        let role = |role: Role| vec![role.word().to_owned()];
        let fed = |feed: Option<&Feed>| feed.map(names_of_feed).unwrap_or_default();
        if let Some(board) = self.board(device) {
            if let Some(signal) = board.signal(what) {
                return signal.role().value.map(role).unwrap_or_default();
            }
            if let Some(input) = board.input(what) {
                return fed(input.feed.as_ref());
            }
            let rail = board.rail(what);
            let rail = rail.map(|rail| Feed::BoardRail { board: device.into(), rail: rail.name().into() });
            return fed(rail.as_ref());
        }
        if let Some(axis) = self.axis(device.strip_suffix(".encoder").unwrap_or(device)) {
            return match what {
                "a" => role(Role::EncoderA),
                "b" => role(Role::EncoderB),
                "index" => role(Role::EncoderIndex),
                "supply" => fed(axis.encoder_feed.as_ref()),
                _ => Vec::new(),
            };
        }
        if let Some(servo) = self.servo(device) {
            return match what {
                "pulse" => role(Role::ServoPulse),
                "supply" => fed(servo.feed.as_ref()),
                _ => Vec::new(),
            };
        }
        let sensors = self.sensors();
        let sensor = sensors.iter().find(|(name, _)| **name == *device).map(|(_, sensor)| sensor);
        match (sensor, what) {
            (Some(sensor), "signal") => {
                sensor.measures().value.map(|measures| measures.word().to_owned()).into_iter().collect()
            }
            (Some(sensor), "supply") => fed(sensor.supply().and_then(|text| self.feed_named(text)).as_ref()),
            _ => Vec::new(),
        }
    }

    fn rail_of_controller(&self, name: &str) -> Option<Feed> {
        let rail = self.controller.as_ref()?.rail(name)?;
        Some(Feed::ControllerRail(rail.name().into()))
    }

    /// What the files say that a pin carries.
    fn carried_at(&self, device: &Device, connector: &str, pin: &str) -> Option<String> {
        let on = |connectors: Vec<Connector>| match connector {
            "leads" => Some(pin.to_owned()),
            _ => {
                let found = connectors.into_iter().find(|known| known.name() == connector)?;
                let entry = found.pins().iter().find(|entry| &*entry.key == pin)?;
                entry.text().map(str::to_owned)
            }
        };
        match device {
            Device::Controller => {
                let mut pins = self.controller.as_ref()?.pins.iter();
                let found = pins.find(|known| &*known.port == connector && &*known.position == pin)?;
                found.carries.as_deref().map(str::to_owned)
            }
            Device::Board(name) => {
                let board = self.board(name)?;
                let pins = board.pins_of(&board.connector(connector)?);
                pins.into_iter().find(|(at, _)| &**at == pin).map(|(_, what)| what.to_string())
            }
            Device::Supply(name) => on(self.supply(name)?.part.connectors()),
            Device::Servo(name) => on(self.servo(name)?.part.connectors()),
            Device::Encoder(axis) => on(self.axis(axis)?.encoder.as_ref()?.connectors()),
            Device::Motor(_) | Device::Sensor(_) => on(Vec::new()),
        }
    }
}

/// The colour of an entry of the table: one text.
pub(super) fn colour(entry: &Entry) -> Option<&Text> {
    match entry.texts.as_slice() {
        [one] if !entry.list => Some(one),
        _ => None,
    }
}

/// Whether a name is that of the protective conductor.
pub(super) fn is_protective(name: &str) -> bool {
    ["protective conductor", "protective earth", "pe"].contains(&&*folded(name))
}

/// Whether a colour is the two of the protective conductor, whichever way it is written: `green/yellow`,
/// `yellow-green`, and GNYE, the code of IEC 60757 (from memory).
pub(super) fn is_green_yellow(colour: &str) -> bool {
    let plain = folded(colour);
    let letters = plain.replace(' ', "");
    (plain.contains("green") && plain.contains("yellow")) || ["gnye", "yegn"].contains(&&*letters)
}

/// Whether two texts name one colour.
pub(super) fn same_colour(one: &str, other: &str) -> bool {
    folded(one) == folded(other) || (is_green_yellow(one) && is_green_yellow(other))
}

/// Lower case, with one space for whatever stands between words.
fn folded(text: &str) -> String {
    let lower = text.to_lowercase();
    let words = lower.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty());
    words.collect::<Vec<_>>().join(" ")
}

/// A supply by its name; a rail with what gives it, then by its own name.
pub(super) fn names_of_feed(feed: &Feed) -> Vec<String> {
    let mut names = vec![full_name(feed)];
    match feed {
        Feed::Supply(_) => {}
        Feed::ControllerRail(rail) | Feed::BoardRail { rail, .. } => names.push(rail.to_string()),
    }
    names
}

fn full_name(feed: &Feed) -> String {
    match feed {
        Feed::Supply(name) => name.to_string(),
        Feed::ControllerRail(rail) => format!("controller.{rail}"),
        Feed::BoardRail { board, rail } => format!("{board}.{rail}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn green_and_yellow_together_are_known_however_they_are_written() {
        for colour in [
            "green-yellow",
            "green/yellow",
            "yellow-green",
            "Green and Yellow",
            "GREENYELLOW",
            "GNYE",
            "gn/ye",
        ] {
            assert!(is_green_yellow(colour), "{colour}");
        }
        for colour in ["green", "yellow", "green-red", "", "yellow-black", "signet"] {
            assert!(!is_green_yellow(colour), "{colour}");
        }
    }

    #[test]
    fn a_colour_is_the_same_in_other_letters_only() {
        assert!(same_colour("Light Blue", "light-blue") && same_colour("green/yellow", "yellow green"));
        assert!(!same_colour("blue", "light blue"));
    }

    #[test]
    fn the_protective_conductor_has_three_names() {
        for name in ["protective-conductor", "Protective earth", "PE"] {
            assert!(is_protective(name), "{name}");
        }
        for name in ["ground", "earth", "pe.1", "open"] {
            assert!(!is_protective(name), "{name}");
        }
    }
}

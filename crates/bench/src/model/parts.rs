//! Names inside of one part file: signals, channels, rails, connectors that refer to one another.

use crate::nearest;
use crate::part::{Connector, Controller, Driver};
use crate::problem::{Build, listed, problem, quoted};
use crate::read::unknown_name;
use crate::record::{Entry, Record};
use finding::{Finding, Severity, Span};

/// Names in a driver board that refer to nothing.
pub(super) fn driver(part: &Driver) -> Vec<Finding> {
    let mut names = Names { findings: Vec::new() };
    let channels = part.channels();
    let channels: Vec<&str> = channels.iter().map(|c| c.name()).collect();
    let inputs = part.supply_inputs();
    let rails = part.rails();
    let sources: Vec<&str> = inputs.iter().map(|i| i.name()).chain(rails.iter().map(|r| r.name())).collect();
    let outputs = part.servo_outputs();
    let outputs: Vec<&str> = outputs.iter().map(|o| o.name()).collect();
    let signals = part.signals();
    let signals: Vec<&str> = signals.iter().map(|s| s.name()).collect();

    for used in part.uses() {
        for key in ["channels", "phases", "joined"] {
            names.known(&used, key, "channels of the board", &channels);
        }
        names.known(&used, "servos", "servo outputs of the board", &outputs);
    }
    for limit in part.limits() {
        names.known(&limit, "covers", "channels of the board", &channels);
        names.known(&limit, "stops", "channels of the board", &channels);
        names.known(&limit, "selected_by", "signals of the board", &signals);
        names.known(&limit, "reports", "signals of the board", &signals);
        let settings = limit.settings();
        let settings: Vec<&str> = settings.iter().map(|s| &*s.name.text).collect();
        names.known(&limit, "default", "settings of the limit", &settings);
        names.known(&limit.jumper(), "fitted", "settings of the limit", &settings);
        names.known(&limit.jumper(), "open", "settings of the limit", &settings);
        for entry in limit.selects() {
            names.entry(&limit, "selects", entry, "settings of the limit", &settings);
        }
    }
    names.known(&part.overtemperature(), "reports", "signals of the board", &signals);
    for channel in part.channels() {
        names.known(&channel, "supply", "supply inputs of the board", &sources);
        names.known(&channel, "off_state_selected_by", "signals of the board", &signals);
    }
    for output in part.servo_outputs() {
        names.known(&output, "supply", "supply inputs and rails of the board", &sources);
        names.known(&output, "signal", "signals of the board", &signals);
    }
    for rail in part.rails() {
        names.known(&rail, "from", "supply inputs and rails of the board", &sources);
    }
    let with_ground: Vec<&str> = sources.iter().copied().chain(["ground"]).collect();
    for signal in part.signals() {
        names.known(&signal, "channel", "channels of the board", &channels);
        names.known(&signal, "zero_from", "supply inputs and rails of the board", &sources);
        names.known(&signal, "feeds_servo", "servo outputs of the board", &outputs);
        names.known(&signal.pull(), "to", "supply inputs and rails of the board", &with_ground);
    }
    let mut carried: Vec<String> =
        signals.iter().chain(&with_ground).chain(&outputs).map(|s| (*s).to_owned()).collect();
    for channel in &channels {
        carried.extend(["+", "-"].map(|pole| format!("{channel}{pole}")));
    }
    for output in &outputs {
        carried.extend(["supply", "pulse", "out", "ground"].map(|lead| format!("{output}.{lead}")));
    }
    for input in &inputs {
        carried.extend(["+", "-"].map(|pole| format!("{}{pole}", input.name())));
    }
    let carried: Vec<&str> = carried.iter().map(String::as_str).collect();
    names.connectors(&part.connectors(), &carried);
    names.findings
}

/// Names in a controller that refer to nothing.
pub(super) fn controller(part: &Controller) -> Vec<Finding> {
    let mut names = Names { findings: Vec::new() };
    let (rails, timers, counters, adcs, banks) =
        (part.rails(), part.timers(), part.counters(), part.adcs(), part.banks());
    let carried: Vec<&str> = rails.iter().map(|r| r.name()).chain(["ground", "free"]).collect();
    let timers: Vec<&str> = timers.iter().map(|t| t.name()).collect();
    let counters: Vec<&str> = counters.iter().map(|c| c.name()).collect();
    let adcs: Vec<&str> = adcs.iter().filter_map(|a| a.name()).collect();
    let banks: Vec<&str> = banks.iter().map(|b| b.name()).collect();
    let mut places: Vec<String> = Vec::new();
    let mut reached: Vec<&str> = Vec::new();
    let mut named: Vec<(String, Span)> = Vec::new();
    let ports = part.ports();
    for port in &ports {
        for entry in port.pins() {
            places.push(format!("{}.{}", port.name(), &*entry.key));
            let pin: Option<crate::part::Pin> = entry.table(port.path());
            if let Some(pin) = &pin {
                names.known(pin, "bank", "banks of the controller", &banks);
                names.pin_name(pin, &mut named);
            }
            if !entry.list && pin.is_none() {
                names.entry(
                    port,
                    "pins",
                    entry,
                    "rails of the controller, nor `ground`; functions stand in a list",
                    &carried,
                );
                continue;
            }
            for text in &entry.texts {
                let (word, unit) = text.split_once(':').unwrap_or((text, ""));
                let (what, known, unit) = match word {
                    "pwm" => ("timers of the controller", &timers, unit),
                    "quadrature" => (
                        "counters of the controller",
                        &counters,
                        unit.rsplit_once('.').map_or(unit, |(u, _)| u),
                    ),
                    "analog-in" if !unit.is_empty() => ("converters of the controller", &adcs, unit),
                    _ => {
                        names.function(port, word, &text.span);
                        continue;
                    }
                };
                if word == "quadrature" {
                    names.input(port, unit_input(text), &text.span);
                }
                reached.push(unit);
                if !known.contains(&unit) {
                    names.findings.push(unknown_name(&port.path_of("pins"), unit, &text.span, what, known));
                }
            }
        }
    }
    for (what, record) in
        part.timers().iter().map(|t| ("timer", &**t)).chain(part.counters().iter().map(|c| ("counter", &**c)))
    {
        let name = crate::record::name_of(&record.data).unwrap_or_default();
        if !reached.contains(&name) {
            let message = format!("the {what} {} is on no pin, so nothing can use it", quoted(name));
            let mut finding = problem("unit-on-no-pin", record.path(), message, record.span_of("name"));
            finding.severity = Severity::Weakness;
            names.findings.push(finding.remedy("name it among the functions of its pins, or take it away"));
        }
    }
    let places: Vec<&str> = places.iter().map(String::as_str).collect();
    for key in ["reserved", "boot_straps"] {
        names.known(part, key, "pins of the controller", &places);
    }
    for entry in part.at_reset().pins() {
        if !places.contains(&&*entry.key) {
            let subject = part.at_reset().path_of("pins");
            names.findings.push(unknown_name(
                &subject,
                &entry.key,
                &entry.key.span,
                "pins of the controller",
                &places,
            ));
        }
        let words: Vec<&str> =
            <crate::part::ResetPull as crate::kind::Words>::WORDS.iter().map(|w| w.word).collect();
        names.entry(&part.at_reset(), "pins", entry, "states of a pin at reset", &words);
    }
    names.findings
}

struct Names {
    findings: Vec<Finding>,
}

/// What follows the name of a counter: `A` of `quadrature:Q0.A`.
fn unit_input(text: &str) -> &str {
    text.rsplit_once('.').map_or("", |(_, input)| input)
}

impl Names {
    /// A function that is nearly one of those with a meaning is a slip; other words name buses and the like.
    fn function(&mut self, port: &Record, word: &str, at: &Span) {
        const WITH_MEANING: [&str; 7] =
            ["digital", "input", "pwm", "analog-in", "analog-out", "quadrature", "capture"];
        if WITH_MEANING.contains(&word) {
            return;
        }
        if let Some(near) = nearest(word, WITH_MEANING) {
            let message = format!("{} is no function of a pin", quoted(word));
            let finding = problem("word-unknown", &port.path_of("pins"), message, at.clone());
            self.findings.push(finding.remedy(format!("write {}", quoted(near))));
        }
    }

    /// The input of a counter that a pin leads to.
    fn input(&mut self, port: &Record, input: &str, at: &Span) {
        if !["a", "b", "index", "z"].contains(&&*input.to_ascii_lowercase()) {
            let message = format!("{} is no input of a counter", quoted(input));
            let finding = problem("word-unknown", &port.path_of("pins"), message, at.clone());
            self.findings.push(finding.remedy("write the counter with `.A`, `.B` or `.index`"));
        }
    }

    /// Names of pins are as good as their places, so no two pins share one.
    fn pin_name(&mut self, pin: &crate::part::Pin, named: &mut Vec<(String, Span)>) {
        let Some(name) = pin.name() else { return };
        let at = pin.span_of("name");
        match named.iter().find(|(known, _)| known == name) {
            Some((_, first)) => {
                let message = format!("two pins are named {}", quoted(name));
                let finding = problem("name-twice", pin.path(), message, at);
                self.findings
                    .push(finding.also(first.clone(), "the first").remedy("give one of them another name"));
            }
            None => named.push((name.to_owned(), at)),
        }
    }

    fn known(&mut self, record: &Record, key: &str, what: &str, names: &[&str]) {
        for text in record.placed(key) {
            if !names.contains(&&*text.text) {
                self.findings.push(unknown_name(&record.path_of(key), text, &text.span, what, names));
            }
        }
    }

    fn entry(&mut self, record: &Record, key: &str, entry: &Entry, what: &str, names: &[&str]) {
        for text in &entry.texts {
            if !names.contains(&&*text.text) {
                self.findings.push(unknown_name(&record.path_of(key), text, &text.span, what, names));
            }
        }
    }

    fn connectors(&mut self, connectors: &[Connector], carried: &[&str]) {
        let all: Vec<&str> = connectors.iter().map(|c| c.name()).collect();
        for connector in connectors {
            self.known(connector, "passes", "connectors of the part", &all);
            self.known(connector, "same_as", "connectors of the part", &all);
            for entry in connector.pins() {
                self.entry(connector, "pins", entry, "signals, rails, inputs or leads of the part", carried);
            }
            self.circle(connector, connectors);
        }
    }

    /// Connectors that say to carry what the other carries.
    fn circle(&mut self, start: &Connector, connectors: &[Connector]) {
        let mut seen = vec![start.name()];
        let mut at = start;
        while let Some(next) = at.passes().or_else(|| at.same_as()) {
            let Some(found) = connectors.iter().find(|c| c.name() == next) else { return };
            if seen.contains(&found.name()) {
                // Told once, at the first connector of the circle.
                if found.name() == start.name() && seen.iter().all(|name| *name >= start.name()) {
                    let message = format!(
                        "connectors {} refer to one another in a circle",
                        listed(seen.iter().copied())
                    );
                    let key = if start.has("passes") { "passes" } else { "same_as" };
                    self.findings.push(
                        problem("name-circular", start.path(), message, start.span_of(key))
                            .remedy(format!("give {} its pins", quoted(start.name()))),
                    );
                }
                return;
            }
            seen.push(found.name());
            at = found;
        }
    }
}

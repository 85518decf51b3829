//! The table `colours`: keys that name nothing, the colour that is kept for the protective conductor, wires of the file
//! that have another colour.

use super::Resolver;
use super::places::hidden_by_a_problem;
use crate::file::{Measures, Wire};
use crate::kind::Words;
use crate::model::colours::{GROUND, PROTECTIVE, colour, is_green_yellow, names_of_feed, same_colour};
use crate::model::{Bench, Place};
use crate::part::Role;
use crate::problem::{Build, problem, quoted};
use crate::read::{quote, unknown_name};
use crate::record::Entry;
use finding::{Harm, Severity, Trust};

impl Resolver {
    /// What the table says, and whether the wires of the file agree with it.
    pub(super) fn colours(&mut self, bench: &Bench) {
        let names = if bench.file.colours().is_empty() { Vec::new() } else { known_names(bench) };
        let table = bench.file.colours();
        for (at, entry) in table.iter().enumerate() {
            self.colour_of_key(bench, entry, &names);
            let key = bench.canonical(&entry.key);
            if let Some(first) = table[..at].iter().find(|first| bench.canonical(&first.key) == key) {
                self.colour_said_twice(first, entry);
            }
        }
        for (wire, from, to) in &bench.wires {
            self.colour_of_wire(bench, wire, from, to);
        }
    }

    fn colour_of_key(&mut self, bench: &Bench, entry: &Entry, names: &[String]) {
        let subject = format!("colours.{}", &*entry.key);
        let plain = |text: &str| !text.trim().is_empty() && !text.contains(char::is_control);
        let Some(given) = colour(entry).filter(|text| plain(&text.text)) else {
            let message =
                format!("the colour of {} has to be one text on one line, not empty", quoted(&entry.key));
            let at = entry.texts.first().map_or(&entry.key.span, |text| &text.span);
            let finding = problem("wrong-type", &subject, message, at.clone());
            self.findings.push(finding.remedy("write one colour, such as \"white\" or \"white-blue\""));
            return;
        };
        let key = bench.canonical(&entry.key);
        if is_green_yellow(given) && key != PROTECTIVE {
            let message = format!(
                "{} is for the protective conductor only (IEC 60204-1), and `colours` gives it to {}",
                quoted(given),
                quoted(&entry.key)
            );
            let mut finding = problem("colour-reserved", &subject, message, given.span.clone());
            finding.harm = Harm::People;
            self.findings.push(finding.remedy(format!(
                "choose another colour; wires of the protective conductor have the key `{PROTECTIVE}`"
            )));
        }
        if !names.contains(&key) && !hidden_by_a_problem(bench, &entry.key) {
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            let what = "things that a wire of this bench can carry";
            let mut finding = unknown_name(&subject, &entry.key, &entry.key.span, what, &names);
            finding.id = "colour-for-nothing".to_owned();
            finding.severity = Severity::Weakness;
            self.findings.push(finding);
        }
    }

    fn colour_said_twice(&mut self, first: &Entry, second: &Entry) {
        let message =
            format!("{} has no effect: {} before it means the same", quoted(&second.key), quoted(&first.key));
        let subject = format!("colours.{}", &*second.key);
        let mut finding = problem("key-without-effect", &subject, message, second.key.span.clone());
        finding.severity = Severity::Weakness;
        self.findings
            .push(finding.also(first.key.span.clone(), "the first one").remedy("keep one of the two"));
    }

    fn colour_of_wire(&mut self, bench: &Bench, wire: &Wire, from: &Place, to: &Place) {
        let Some(own) = wire.colour() else { return };
        // What the wire says it carries; without it, either end may decide.
        let named: Vec<Vec<String>> = match wire.carries() {
            Some(carries) => vec![bench.names_of(carries)],
            None => vec![bench.names_at(from), bench.names_at(to)],
        };
        let wanted: Vec<&Entry> = named.iter().filter_map(|names| bench.colour_entry(names)).collect();
        let label = wire.id().map_or_else(|| "the wire".to_owned(), |id| format!("wire {id}"));
        let at = wire.span_of("colour");
        let first = wanted.first().and_then(|entry| Some((*entry, colour(entry)?)));
        let in_table = |(entry, given): &(&Entry, &crate::record::Text)| {
            format!("write {}, as the table has it for {}", quoted(given), quoted(&entry.key))
        };
        let ends = [bench.names_at(from), bench.names_at(to)];
        let is_protective = named.iter().chain(&ends).flatten().any(|name| name == PROTECTIVE);
        if is_green_yellow(own) && !is_protective {
            let message = format!(
                "{label} is {}, which is for the protective conductor only (IEC 60204-1): somebody may take it for one",
                quoted(own)
            );
            let mut finding = problem("wire-green-yellow", wire.path(), message, at.clone());
            (finding.severity, finding.harm) = (Severity::Weakness, Harm::People);
            let finding = finding.remedy("lay a wire of another colour");
            self.findings.push(match first.filter(|(_, given)| !is_green_yellow(given)) {
                Some(known) => finding.edit(in_table(&known), at, quote(known.1), Trust::Ask),
                None => finding.remedy(format!(
                    "where it is the protective conductor, write `carries = \"{PROTECTIVE}\"`"
                )),
            });
            return;
        }
        let agrees = |entry: &&Entry| colour(entry).is_some_and(|given| same_colour(given, own));
        let Some(known) = first.filter(|_| !wanted.iter().any(agrees)) else { return };
        let message = format!(
            "{label} is {}, and `colours` has {} for {}",
            quoted(own),
            quoted(known.1),
            quoted(&known.0.key)
        );
        let mut finding = problem("colour-contradicts", wire.path(), message, at.clone());
        finding.severity = Severity::Note;
        self.findings.push(
            finding
                .also(known.1.span.clone(), "the table")
                .edit(in_table(&known), at, quote(known.1), Trust::Ask)
                .remedy("or change the table; a key for this line alone, such as `\"board:A.pwm\"`, goes before all others"),
        );
    }
}

/// Everything that a key of the table can name on this bench.
fn known_names(bench: &Bench) -> Vec<String> {
    let mut names = vec![GROUND.to_owned(), PROTECTIVE.to_owned()];
    names.extend(bench.file.supplies().iter().map(|(name, _)| name.to_string()));
    names.extend(bench.feeds().iter().flat_map(names_of_feed));
    names.extend(Role::WORDS.iter().chain(Measures::WORDS).map(|word| word.word.to_owned()));
    for board in &bench.boards {
        let signals = board.signals();
        let inputs = board.inputs.iter().map(|fed| fed.input.name().to_owned());
        let own = signals.iter().map(|signal| signal.name().to_owned()).chain(inputs);
        let pins = board.connectors().into_iter().flat_map(|connector| board.pins_of(&connector));
        let own = own.chain(pins.map(|(_, what)| what.to_string()));
        names.extend(own.map(|what| format!("{}:{what}", board.name)));
    }
    let lines = |device: &str, lines: &[&str]| {
        lines.iter().map(|line| format!("{device}:{line}")).collect::<Vec<_>>()
    };
    for axis in bench.axes.iter().filter(|axis| axis.encoder.is_some()) {
        names.extend(lines(&format!("{}.encoder", axis.name), &["a", "b", "index", "supply", GROUND]));
    }
    for servo in &bench.servos {
        names.extend(lines(&servo.name, &["pulse", "supply", GROUND]));
    }
    for (sensor, _) in bench.sensors() {
        names.extend(lines(&sensor, &["signal", "supply", GROUND]));
    }
    // In words of the owner's own.
    let carried = bench.wires.iter().filter_map(|(wire, ..)| wire.carries());
    names.extend(carried.filter(|text| !text.contains(':')).map(|text| bench.canonical(text)));
    let mut known = std::collections::BTreeSet::new();
    names.retain(|name| known.insert(name.clone()));
    names
}

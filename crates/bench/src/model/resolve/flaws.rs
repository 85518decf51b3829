//! Flaws that show as soon as names are resolved: keys that exclude each other, channels used twice, inputs that
//! nothing feeds, rails that feed themselves.

use super::Resolver;
use crate::model::{Bench, Board, ChannelName, Feed};
use crate::part::Encoder;
use crate::problem::{Build, listed, problem, quoted};
use crate::record::Datum;
use finding::{Finding, Span};
use std::collections::BTreeMap;
use std::sync::Arc;

impl Resolver {
    /// Keys that exclude each other, channels used twice.
    pub(super) fn exclusions(&mut self, bench: &Bench) {
        let mut taken: BTreeMap<ChannelName, (Arc<str>, Span)> = BTreeMap::new();
        for axis in &bench.axes {
            let entry = &axis.entry;
            if entry.has("motor") && entry.has("stepper") {
                let message = format!("axis {} has a motor and a stepper", quoted(&axis.name));
                let finding = problem("keys-exclude", axis.path(), message, entry.span_of("stepper"));
                self.findings
                    .push(finding.also(entry.span_of("motor"), "the motor").remedy("keep one of the two"));
            } else if !entry.has("motor") && !entry.has("stepper") {
                let message = format!("axis {} has neither a `motor` nor a `stepper`", quoted(&axis.name));
                let at = header_of(bench, &entry.span());
                self.findings.push(
                    problem("keys-exclude", axis.path(), message, at).remedy("name the part that drives it"),
                );
            }
            if entry.has("driver") && entry.has("phases") {
                let message = "a `driver` channel and `phases` exclude each other".to_owned();
                let finding = problem("keys-exclude", axis.path(), message, entry.span_of("phases"));
                self.findings.push(
                    finding
                        .also(entry.span_of("driver"), "the channel")
                        .remedy("a DC motor has a `driver`, a stepper has `phases`"),
                );
            } else if !entry.has("driver") && !entry.has("phases") {
                let message = format!("no channel drives axis {}", quoted(&axis.name));
                let at = header_of(bench, &entry.span());
                self.findings.push(
                    problem("keys-exclude", axis.path(), message, at)
                        .remedy("write `driver = \"BOARD.CHANNEL\"`, or `phases` for a stepper"),
                );
            } else if entry.has("motor") && entry.has("phases") {
                let message = "`phases` belong to a stepper; a DC motor hangs on one channel";
                self.findings.push(
                    problem("keys-exclude", axis.path(), message, entry.span_of("phases"))
                        .remedy("write `driver` in its place"),
                );
            } else if entry.has("stepper") && !entry.has("motor") && entry.has("driver") {
                let message = "a stepper needs two channels: `phases = { a = \"…\", b = \"…\" }`";
                self.findings.push(
                    problem("keys-exclude", axis.path(), message, entry.span_of("driver"))
                        .remedy("write `phases` in its place"),
                );
            }
            for used in &axis.channels {
                let name = ChannelName::new(&used.board.name, used.channel.name());
                let at = entry.span_of(if entry.has("driver") { "driver" } else { "phases" });
                // What an axis takes over stands in another's table: then its own header is marked.
                let own =
                    |first: &Span| if *first == at { header_of(bench, &entry.span()) } else { at.clone() };
                match taken.get(&name) {
                    Some((other, first)) => {
                        let message =
                            format!("channel {name} drives two axes: `{other}` and `{}`", axis.name);
                        let finding = problem("channel-taken", axis.path(), message, own(first));
                        self.findings.push(
                            finding
                                .also(first.clone(), "taken here")
                                .remedy("give one of them another channel"),
                        );
                    }
                    None => {
                        taken.insert(name, (axis.name.clone(), at));
                    }
                }
            }
            if let Some(encoder) = &axis.encoder {
                self.findings.extend(counts_contradict(encoder));
            }
        }
        for board in &bench.boards {
            self.unfed_inputs(bench, board);
        }
    }

    /// Inputs that the use needs and nothing feeds.
    fn unfed_inputs(&mut self, bench: &Bench, board: &Board) {
        let used: Vec<&str> = bench
            .axes
            .iter()
            .flat_map(|axis| &axis.channels)
            .filter(|used| used.board.name == board.name)
            .map(|used| used.channel.name())
            .collect();
        let outputs =
            bench.servos.iter().filter_map(|s| s.output.as_ref()).filter(|(name, _)| *name == board.name);
        let outputs: Vec<&str> = outputs.map(|(_, output)| output.name()).collect();
        for fed in board.inputs.iter().filter(|fed| fed.feed.is_none()) {
            let needed_by = fed.input.needed_by();
            let needs: Vec<&str> =
                needed_by.iter().copied().filter(|n| used.contains(n) || outputs.contains(n)).collect();
            let given = board.entry.supplies().iter().any(|entry| &*entry.key == fed.input.name());
            if !given && (needed_by.is_empty() || !needs.is_empty()) {
                let name = fed.input.name();
                let by = if needs.is_empty() { "the board".to_owned() } else { listed(needs) };
                let message = format!(
                    "nothing feeds the input {} of {}; {by} cannot do without it",
                    quoted(name),
                    quoted(&board.name)
                );
                let at = match board.entry.has("supplies") {
                    true => board.entry.span_of("supplies"),
                    false => header_of(bench, &board.entry.span()),
                };
                let finding = problem("input-not-fed", board.entry.path(), message, at);
                self.findings.push(
                    finding
                        .also(fed.input.span(), "the input")
                        .remedy(format!("add `{name} = \"SUPPLY\"` to `supplies`")),
                );
            }
        }
    }

    /// Supplies and rails that feed one another in a circle.
    pub(super) fn feeds_in_circles(&mut self, bench: &Bench) {
        self.controller_in_a_circle(bench);
        for board in &bench.boards {
            for fed in &board.inputs {
                let mut at = fed.feed.clone();
                for _ in 0..16 {
                    let Some(Feed::BoardRail { board: name, rail }) = at else { break };
                    if name == board.name {
                        let own = board.rail(&rail).and_then(|rail| rail.from().map(str::to_owned));
                        if own.as_deref() == Some(fed.input.name()) {
                            let message = format!(
                                "rail {} of {} feeds the input that it is made from",
                                quoted(&rail),
                                quoted(&name)
                            );
                            let at = board.entry.span_of("supplies");
                            self.findings.push(
                                problem("source-circular", board.entry.path(), message, at)
                                    .remedy("feed the input from a supply"),
                            );
                            break;
                        }
                    }
                    at = behind_rail(bench, &name, &rail);
                }
            }
        }
    }

    /// A controller that is fed from a rail that it makes itself, straight or through boards.
    fn controller_in_a_circle(&mut self, bench: &Bench) {
        let Some(controller) = &bench.controller else { return };
        let mut way: Vec<String> = Vec::new();
        let mut at = controller.feed.clone();
        for _ in 0..16 {
            at = match at {
                Some(Feed::ControllerRail(rail)) => {
                    let through = if way.is_empty() {
                        String::new()
                    } else {
                        format!(", by way of {}", listed(way.iter().map(String::as_str)))
                    };
                    let message = format!(
                        "the controller is fed from its own rail {}{through}: nothing brings power in",
                        quoted(&rail)
                    );
                    let at = controller.entry.span_of("supply");
                    self.findings.push(
                        problem("source-circular", controller.entry.path(), message, at)
                            .remedy("name a supply in `supply` of [controller]"),
                    );
                    return;
                }
                Some(Feed::BoardRail { board, rail }) => {
                    way.push(format!("{board}.{rail}"));
                    behind_rail(bench, &board, &rail)
                }
                Some(Feed::Supply(_)) | None => return,
            };
        }
    }

    /// An encoder whose `encoder_supply` names another feed than the one that its supply pin is wired to.
    pub(super) fn encoder_feeds_contradict(&mut self, bench: &Bench) {
        for axis in bench.axes.iter().filter(|axis| axis.entry.has("encoder_supply")) {
            let Some((wire, wired)) = bench.wired_encoder_feed(&axis.name) else { continue };
            let Some(stated) = axis.encoder_feed.as_ref().filter(|stated| **stated != wired) else {
                continue;
            };
            let message = format!(
                "`encoder_supply` of axis {} says `{stated}`, but the encoder's supply pin is wired to `{wired}`",
                quoted(&axis.name)
            );
            let at = axis.entry.span_of("encoder_supply");
            self.findings.push(
                problem("encoder-supply-contradicts", axis.path(), message, at)
                    .also(wire.span(), "the wire")
                    .remedy("take `encoder_supply` away, so that the wire counts, or wire the pin to what it names"),
            );
        }
    }
}

/// What feeds the input of a board that one of its rails is made from.
fn behind_rail(bench: &Bench, board: &str, rail: &str) -> Option<Feed> {
    let board = bench.board(board)?;
    let from = board.rail(rail)?.from()?.to_owned();
    board.input(&from)?.feed.clone()
}

/// Lines and edges that do not belong to one encoder: four edges make a line.
fn counts_contradict(encoder: &Encoder) -> Option<Finding> {
    let (lines, edges) = (encoder.datum("lines_per_rev")?, encoder.datum("edges_per_rev")?);
    if (edges.value - 4.0 * lines.value).abs() < 0.5 * lines.value {
        return None;
    }
    let count = |datum: &Datum| datum.written.split(' ').next().unwrap_or_default().to_owned();
    let message = format!(
        "{} lines and {} edges a revolution contradict each other: a line makes four edges",
        count(lines),
        count(edges)
    );
    let finding = problem("encoder-counts-contradict", encoder.path(), message, edges.span.clone());
    Some(
        finding
            .also(lines.span.clone(), "the lines")
            .remedy("keep the one that the sheet means; ten turns by hand show which it is"),
    )
}

/// The first line of a table.
fn header_of(bench: &Bench, span: &Span) -> Span {
    let text = bench.sources.text(&span.file).map_or("", |text| text);
    let end = text.get(span.start..).and_then(|rest| rest.find('\n')).map_or(text.len(), |n| span.start + n);
    Span { end: span.end.min(end), ..span.clone() }
}

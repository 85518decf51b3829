//! What the bench says beside a drive, drawn into the picture of its trials: logic rails, limits of the bus and of what
//! counts the encoder.

use bench::Bench;
use bench::model::{Axis, Board, Feed};
use bench::part::SupplyInput;
use drive::assembly::Bus;
use drive::assembly::budget::rail;
use drive::assembly::encoder::{Counted, EncoderPath};
use drive::assembly::levels::logic_inputs;
use drive::assembly::power::feed_voltage;
use worked::Worked;

/// Of an axis or a servo.
#[derive(Clone, PartialEq, Debug, Default)]
pub(crate) struct Beside {
    /// Rails of the controller, of the board's logic and of the encoder.
    pub(crate) rails: Vec<LogicRail>,
    /// Where the bus switches something off, or destroys it.
    pub(crate) bus: Vec<Line>,
    /// Edges in a second that are counted at most.
    pub(crate) edge_rate: Option<Line>,
}

/// A limit with its words.
#[derive(Clone, PartialEq, Debug)]
pub(crate) struct Line {
    pub(crate) words: String,
    pub(crate) at: f64,
}

/// A rail that feeds logic.
#[derive(Clone, PartialEq, Debug)]
pub(crate) struct LogicRail {
    pub(crate) name: String,
    pub(crate) comes_from: ComesFrom,
    /// It is no higher than this, whatever it comes from, V: each regulator on the way gives its voltage as long as it
    /// gets that much.
    pub(crate) most: f64,
    pub(crate) limits: Vec<Line>,
}

/// What a rail is made from in the end.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) enum ComesFrom {
    /// Something that the trial does not load, at this voltage, V.
    Elsewhere(f64),
    /// The terminals of the supply that moves something in the trial.
    Terminals,
    /// The bus at the bridge.
    Bus,
}

/// What moves something in a trial, by what feeds it.
#[derive(Clone, Copy)]
struct Loaded<'a> {
    feed: &'a Feed,
    /// The input of the board through which it gets there.
    input: Option<&'a SupplyInput>,
}

impl Beside {
    /// Of an axis, on the bus that feeds it.
    pub(crate) fn of_axis(bench: &Bench, axis: &Axis, bus: Option<&Bus>) -> Self {
        let input = axis.input().map(|fed| &fed.input);
        let loaded = axis.feed().map(|feed| Loaded { feed, input });
        let mut rails = Rails { bench, loaded, found: Vec::new() };
        rails.of_controller();
        let mut boards: Vec<&Board> = axis.channels.iter().map(|used| &*used.board).collect();
        boards.dedup_by(|a, b| a.name == b.name);
        boards.into_iter().for_each(|board| rails.of_board(board));
        if let (Some(feed), Some(part)) = (&axis.encoder_feed, &axis.encoder) {
            let works = part.has("supply").then(|| part.supply());
            rails.add(feed, works.map(|works| line("encoder works from", &works.low)).into_iter().collect());
        }
        let edge_rate = axis.motor().and_then(|_| edge_rate(bench, axis));
        Self { rails: rails.found, bus: bus_lines(input, bus), edge_rate }
    }

    /// Of a servo, on what feeds it.
    pub(crate) fn of_servo(bench: &Bench, feed: Option<&Feed>) -> Self {
        let loaded = feed.map(|feed| Loaded { feed, input: None });
        let mut rails = Rails { bench, loaded, found: Vec::new() };
        rails.of_controller();
        bench.boards().iter().for_each(|board| rails.of_board(board));
        Self { rails: rails.found, ..Self::default() }
    }
}

impl LogicRail {
    /// Its voltage while the terminals of the supply and the bus are at these.
    pub(crate) fn voltage(&self, terminals: f64, bus: f64) -> f64 {
        let source = match self.comes_from {
            ComesFrom::Elsewhere(voltage) => voltage,
            ComesFrom::Terminals => terminals,
            ComesFrom::Bus => bus,
        };
        source.min(self.most)
    }
}

struct Rails<'b> {
    bench: &'b Bench,
    loaded: Option<Loaded<'b>>,
    found: Vec<LogicRail>,
}

impl Rails<'_> {
    fn of_controller(&mut self) {
        let Some(controller) = self.bench.controller() else { return };
        let Some(feed) = &controller.feed else { return };
        let input = controller.part.supply();
        let mut limits = Vec::new();
        if input.has("range") {
            limits.push(line("controller works from", &input.range().low));
        }
        if input.has("restart_below") {
            limits.push(line("controller restarts below", &input.restart_below()));
        }
        self.add(feed, limits);
    }

    fn of_board(&mut self, board: &Board) {
        for fed in logic_inputs(board) {
            let name = format!("{} of {}", fed.input.name(), board.name);
            self.of_input(&name, fed.feed.as_ref(), &fed.input);
        }
    }

    fn of_input(&mut self, name: &str, feed: Option<&Feed>, input: &SupplyInput) {
        let own = self.loaded.and_then(|loaded| loaded.input).map(|input| input.path());
        // The bus itself stands at its own test points.
        let Some(feed) = feed.filter(|_| own != Some(input.path())) else { return };
        let mut limits = Vec::new();
        if input.has("range") {
            limits.push(line(&format!("{name} works from"), &input.range().low));
        }
        if input.lockout().has("off") {
            limits.push(line(&format!("{name} locks out below"), &input.lockout().off()));
        }
        self.add(feed, limits);
    }

    /// A rail with what hangs on it; nothing where the bench does not tell its voltage.
    fn add(&mut self, feed: &Feed, limits: Vec<Line>) {
        let name = words(feed);
        let limits = limits.into_iter().filter(|limit| limit.at.is_finite());
        if let Some(known) = self.found.iter_mut().find(|known| known.name == name) {
            known.limits.extend(limits);
            return;
        }
        if let Some((comes_from, most)) = self.source(feed, 16) {
            self.found.push(LogicRail { name, comes_from, most, limits: limits.collect() });
        }
    }

    /// What a feed is made from in the end, and the most that it can be. A circle of rails is a finding of its own; here it
    /// only has to end.
    fn source(&self, feed: &Feed, deep: u32) -> Option<(ComesFrom, f64)> {
        if self.loaded.is_some_and(|loaded| loaded.feed == feed) {
            return Some((ComesFrom::Terminals, f64::INFINITY));
        }
        let voltage = Some(feed_voltage(self.bench, feed).value()).filter(|voltage| voltage.is_finite())?;
        let steady = Some((ComesFrom::Elsewhere(voltage), f64::INFINITY));
        let Some(behind) = deep.checked_sub(1).and_then(|deep| self.behind(feed, deep)) else {
            return steady;
        };
        match behind {
            (ComesFrom::Elsewhere(_), _) => steady,
            // What is above its source is made by a converter that steps up, of which no sheet says how far it holds.
            (source, most) if voltage < most && voltage < self.open_voltage() => Some((source, voltage)),
            _ => steady,
        }
    }

    /// What a rail is made from; none of a supply, and of a rail of which no sheet says it.
    fn behind(&self, feed: &Feed, deep: u32) -> Option<(ComesFrom, f64)> {
        match feed {
            Feed::Supply(_) => None,
            Feed::ControllerRail(_) => {
                let from = rail(self.bench, feed)?.from().map(|name| Feed::ControllerRail(name.into()));
                match from.filter(|from| rail(self.bench, from).is_some() && from != feed) {
                    Some(from) => self.source(&from, deep),
                    None => self.source(self.bench.controller()?.feed.as_ref()?, deep),
                }
            }
            Feed::BoardRail { board, .. } => {
                let (unit, from) = (self.bench.board(board)?, rail(self.bench, feed)?.from()?.to_owned());
                let Some(fed) = unit.input(&from) else {
                    let from = Feed::BoardRail { board: board.clone(), rail: from.as_str().into() };
                    return if from == *feed { None } else { self.source(&from, deep) };
                };
                let own = self.loaded.and_then(|loaded| loaded.input).map(|input| input.path());
                if own == Some(fed.input.path()) {
                    return Some((ComesFrom::Bus, f64::INFINITY));
                }
                self.source(fed.feed.as_ref()?, deep)
            }
        }
    }

    /// Voltage of the loaded supply without load.
    fn open_voltage(&self) -> f64 {
        self.loaded.map_or(f64::NAN, |loaded| feed_voltage(self.bench, loaded.feed).value())
    }
}

fn line(words: &str, at: &Worked) -> Line {
    Line { words: words.to_owned(), at: at.value() }
}

/// A supply or rail as a name of a curve.
fn words(feed: &Feed) -> String {
    match feed {
        Feed::Supply(name) => format!("supply {name}"),
        Feed::ControllerRail(rail) => format!("{rail} of the controller"),
        Feed::BoardRail { board, rail } => format!("{rail} of {board}"),
    }
}

/// Where the board switches off by its bus, where a clamp begins, what the input survives.
fn bus_lines(input: Option<&SupplyInput>, bus: Option<&Bus>) -> Vec<Line> {
    let mut lines = Vec::new();
    if let Some(input) = input {
        let lockout = input.lockout();
        for (key, words) in [("off", "board locks out below"), ("over", "board switches off above")] {
            if lockout.has(key) {
                lines.extend(lockout.figure(key).map(|figure| line(words, &figure)));
            }
        }
    }
    for (name, clamp) in bus.iter().flat_map(|bus| &bus.clamps) {
        if clamp.has("threshold") {
            lines.push(line(&format!("clamp {name}"), &clamp.threshold()));
        }
    }
    if let Some(input) = input.filter(|input| input.has("survives")) {
        lines.push(line("board survives", &input.survives()));
    }
    lines
}

/// What the encoder gives, or what counts its edges takes, whichever is less.
fn edge_rate(bench: &Bench, axis: &Axis) -> Option<Line> {
    let path = EncoderPath::of(bench, axis, None)?;
    let mut lines = Vec::new();
    if let Counted::Counter(counter) = &path.counted
        && counter.has("max_edge_rate")
    {
        lines.push(line("most that its counter takes", &counter.max_edge_rate()));
    }
    if path.part.has("max_frequency") {
        // A line gives two edges on each channel.
        let at = 4.0 * path.part.max_frequency().value();
        lines.push(Line { words: "most that the encoder gives".to_owned(), at });
    }
    lines.retain(|line| line.at > 0.0 && line.at.is_finite());
    lines.into_iter().min_by(|a, b| a.at.total_cmp(&b.at))
}

//! Makes the bench of its tables: resolves every name, and says which refer to nothing.

mod axes;
mod calibrations;
mod colours;
mod feeds;
mod flaws;
mod limits;
mod mixed;
mod names;
mod places;
mod trials;

pub(super) use feeds::find_feed;
pub(super) use places::{bare, find_place};

use super::board::Lists;
use super::{
    Bench, Board, CableRun, ControllerUnit, FedInput, Feed, Function, Place, Plugged, PortPin, ServoUnit,
    SupplyUnit, parts,
};
use crate::file::{BenchFile, DriverEntry};
use crate::part::{Driver, Pin, Port, ResetPull};
use crate::problem::{Build, problem, quoted};
use crate::read::unknown_name;
use crate::record::{Choice, Entry, Record};
use finding::{Finding, SourceMap};
use places::{hidden_by_a_problem, meanings, place_names};
use std::sync::Arc;

/// The bench of a bench file, and every name in it that refers to nothing.
pub(crate) fn resolve(file: BenchFile, sources: SourceMap) -> (Bench, Vec<Finding>) {
    let mut resolver = Resolver { findings: Vec::new() };
    let bench = resolver.bench(file, sources);
    resolver.names(&bench);
    resolver.exclusions(&bench);
    resolver.mixtures(&bench);
    resolver.trials(&bench);
    resolver.calibrations(&bench);
    resolver.feeds_in_circles(&bench);
    resolver.encoder_feeds_contradict(&bench);
    resolver.colours(&bench);
    (bench, resolver.findings)
}

struct Resolver {
    findings: Vec<Finding>,
}

impl Resolver {
    fn bench(&mut self, file: BenchFile, sources: SourceMap) -> Bench {
        let mut bench = Bench {
            file,
            sources,
            supplies: Vec::new(),
            boards: Vec::new(),
            controller: None,
            axes: Vec::new(),
            servos: Vec::new(),
            cables: Vec::new(),
            wires: Vec::new(),
        };
        for (name, entry) in bench.file.supplies() {
            if let Some(part) = entry.part() {
                bench.supplies.push(Arc::new(SupplyUnit { name, entry, part }));
            }
        }
        // Boards and controller may feed one another: first what they are, then what feeds them.
        self.controller(&mut bench);
        let (mut boards, mut judged) = (Vec::new(), Vec::new());
        for (name, entry) in bench.file.drivers() {
            if let Some(part) = entry.part() {
                // Boards of one file share its data: what is wrong in it is told once.
                if !judged.iter().any(|known| Arc::ptr_eq(known, &part.data)) {
                    self.findings.extend(parts::driver(&part));
                    judged.push(part.data.clone());
                }
                boards.push(self.board(&bench, name, entry, part));
            }
        }
        bench.boards = boards.into_iter().map(Arc::new).collect();
        self.feeds(&mut bench);
        self.servos(&mut bench);
        self.ends_of_cables(&mut bench);
        self.axes(&mut bench);
        bench
    }

    fn controller(&mut self, bench: &mut Bench) {
        let entry = bench.file.controller();
        let Some(part) = entry.part() else { return };
        self.findings.extend(parts::controller(&part));
        let mut pins = Vec::new();
        for port in part.ports() {
            for pin in port.pins() {
                pins.push(port_pin(&part, &port, pin));
            }
        }
        bench.controller = Some(Arc::new(ControllerUnit { entry, part, feed: None, pins }));
    }

    fn board(&mut self, bench: &Bench, name: Arc<str>, entry: DriverEntry, part: Driver) -> Board {
        let uses = part.uses();
        let in_use = match entry.r#use() {
            Some(wanted) => {
                let found = uses.iter().find(|u| u.name() == wanted).cloned();
                if found.is_none() {
                    let names: Vec<&str> = uses.iter().map(|u| u.name()).collect();
                    self.unknown(&entry, "use", wanted, "uses of the board", &names);
                }
                found
            }
            None if uses.len() == 1 => uses.first().cloned(),
            None => None,
        };
        let inputs = part.supply_inputs().into_iter().map(|input| FedInput { input, feed: None }).collect();
        let lists = Arc::new(Lists::of(&part));
        let mut board = Board {
            name,
            entry,
            part,
            in_use,
            inputs,
            limits: Vec::new(),
            plugged: None,
            also_plugged: Vec::new(),
            lists,
        };
        board.plugged = self.plugged(bench, &board);
        board.also_plugged = self.also_plugged(bench, &board);
        board.limits = self.limits(bench, &board);
        board
    }

    fn plugged(&mut self, bench: &Bench, board: &Board) -> Option<Plugged> {
        let ports = board.entry.plugged_into();
        let first = *ports.first()?;
        let controller = bench.controller.as_ref()?;
        let known = controller.part.ports();
        for port in &ports {
            if known.iter().all(|k| k.name() != *port) {
                let names: Vec<&str> = known.iter().map(|k| k.name()).collect();
                self.unknown(&board.entry, "plugged_into", port, "ports of the controller", &names);
            }
        }
        let port = known.into_iter().find(|port| port.name() == first)?;
        let connectors = board.connectors();
        let connector = match board.entry.plugs() {
            Some(name) => {
                let found = connectors.iter().find(|c| c.name() == name).cloned();
                if found.is_none() {
                    let names: Vec<&str> = connectors.iter().map(|c| c.name()).collect();
                    self.unknown(&board.entry, "plugs", name, "connectors of the board", &names);
                }
                found
            }
            None => {
                let fits = |c: &&crate::part::Connector| c.mates().is_some() && c.mates() == port.mates();
                connectors.iter().find(fits).cloned()
            }
        };
        if connector.is_none() && board.entry.plugs().is_none() {
            let message = format!("no connector of the board mates with port {}", quoted(first));
            let finding =
                problem("name-unknown", board.entry.path(), message, board.entry.span_of("plugged_into"));
            self.findings.push(
                finding.remedy("say with `plugs` which connector goes there, or give both the same `mates`"),
            );
        }
        Some(Plugged { connector: connector?, port })
    }

    /// Further connectors of a board on ports of their own.
    fn also_plugged(&mut self, bench: &Bench, board: &Board) -> Vec<Plugged> {
        let Some(controller) = bench.controller.as_ref() else { return Vec::new() };
        let (ports, connectors) = (controller.part.ports(), board.connectors());
        let mut found: Vec<Plugged> = Vec::new();
        for entry in board.entry.also_plugged() {
            let path = board.entry.path_of("also_plugged");
            let name = &*entry.key;
            let connector = connectors.iter().find(|connector| connector.name() == name).cloned();
            if connector.is_none() {
                let names: Vec<&str> = connectors.iter().map(|c| c.name()).collect();
                self.findings.push(unknown_name(
                    &path,
                    name,
                    &entry.key.span,
                    "connectors of the board",
                    &names,
                ));
            }
            let [wanted] = entry.texts.as_slice() else {
                let message = format!("connector {} of the board takes one port", quoted(name));
                let finding = problem("wrong-type", &path, message, entry.key.span.clone());
                self.findings.push(finding.remedy("name one port; only `plugged_into` may leave a choice"));
                continue;
            };
            let port = ports.iter().find(|port| port.name() == &**wanted).cloned();
            if port.is_none() {
                let names: Vec<&str> = ports.iter().map(|port| port.name()).collect();
                self.findings.push(unknown_name(
                    &path,
                    wanted,
                    &wanted.span,
                    "ports of the controller",
                    &names,
                ));
            }
            let known = || board.plugged.iter().chain(&found);
            if known().any(|plugged| plugged.connector.name() == name) {
                let message = format!("connector {} of the board sits on a port already", quoted(name));
                let finding = problem("name-twice", &path, message, entry.key.span.clone());
                self.findings.push(
                    finding.remedy("name each connector once; `plugs` says which one `plugged_into` means"),
                );
                continue;
            }
            if let (Some(connector), Some(port)) = (connector, port) {
                found.push(Plugged { connector, port });
            }
        }
        found
    }

    fn servos(&mut self, bench: &mut Bench) {
        for (name, entry) in bench.file.servos() {
            let Some(part) = entry.part() else { continue };
            let mut output = None;
            if let Some(text) = entry.output() {
                output = text.split_once('.').and_then(|(board, output)| {
                    let board = bench.board(board)?;
                    let found = board.part.servo_outputs().into_iter().find(|o| o.name() == output)?;
                    Some((board.name.clone(), found))
                });
                if output.is_none() {
                    let mut names = Vec::new();
                    for board in &bench.boards {
                        names.extend(
                            board.part.servo_outputs().iter().map(|o| format!("{}.{}", board.name, o.name())),
                        );
                    }
                    let names: Vec<&str> = names.iter().map(String::as_str).collect();
                    self.unknown(&entry, "output", text, "servo outputs of the boards", &names);
                }
            }
            let feed = match (entry.supply(), &output) {
                (Some(text), _) => self.feed(bench, entry.path(), text, &entry.span_of("supply")),
                (None, Some((board, output))) => output.supply().and_then(|rail| {
                    let board = bench.board(board)?;
                    match board.input(rail) {
                        Some(fed) => fed.feed.clone(),
                        None => {
                            let rail = board.rail(rail)?;
                            Some(Feed::BoardRail { board: board.name.clone(), rail: rail.name().into() })
                        }
                    }
                }),
                (None, None) => None,
            };
            bench.servos.push(ServoUnit { name, entry, part, feed, output });
        }
    }

    fn ends_of_cables(&mut self, bench: &mut Bench) {
        let mut cables = Vec::new();
        for (name, entry) in bench.file.cables() {
            let ends = self.ends(bench, &entry);
            if let (Some(part), Some((from, to))) = (entry.part(), ends) {
                cables.push(CableRun { name, entry, part, from, to });
            }
        }
        bench.cables = cables;
        let mut wires = Vec::new();
        for wire in bench.file.wires() {
            if let Some((from, to)) = self.ends(bench, &wire) {
                wires.push((wire, from, to));
            }
        }
        bench.wires = wires;
    }

    /// Both ends of a cable or wire. A supply and a servo of one name are two ends.
    fn ends(&mut self, bench: &Bench, record: &Record) -> Option<(Place, Place)> {
        let (from, to) = (self.place(bench, record, "from"), self.place(bench, record, "to"));
        let (from, to) = (from?, to?);
        if from != to {
            return Some((from, to));
        }
        let text = record.placed("to").first()?.clone();
        let other = meanings(bench, &text).into_iter().find(|place| *place != from);
        if other.is_none() {
            let message = format!("both ends are {}", quoted(&text));
            let finding = problem("name-unknown", record.path(), message, text.span);
            self.findings.push(finding.remedy("name the place where it ends"));
        }
        Some((from, other?))
    }

    pub(super) fn place(&mut self, bench: &Bench, record: &Record, key: &str) -> Option<Place> {
        let text = record.placed(key).first()?.clone();
        let found = find_place(bench, &text);
        if found.is_none() && !hidden_by_a_problem(bench, &text) {
            let names = place_names(bench, &text);
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            self.findings.push(unknown_name(record.path(), &text, &text.span, "places of the bench", &names));
        }
        found
    }

    pub(super) fn unknown(&mut self, record: &Record, key: &str, name: &str, what: &str, names: &[&str]) {
        let at = record.placed(key).iter().find(|text| &*text.text == name).map(|text| text.span.clone());
        let at = at.unwrap_or_else(|| record.span_of(key));
        self.findings.push(unknown_name(&record.path_of(key), name, &at, what, names));
    }
}

fn port_pin(part: &crate::part::Controller, port: &Port, entry: &Entry) -> PortPin {
    let own: Option<Pin> = entry.table(port.path());
    let place = format!("{}.{}", port.name(), &*entry.key);
    let at_reset = part.at_reset();
    let stated = at_reset.pins().iter().find(|e| *e.key == *place);
    let reset = match (own.as_ref().map(|pin| pin.reset()), stated.and_then(Entry::text)) {
        (Some(choice), _) if choice.stated => choice,
        (_, Some(word)) => Choice {
            value: <ResetPull as crate::kind::Words>::ALL.iter().copied().find(|pull| pull.word() == word),
            stated: true,
        },
        _ => at_reset.pull(),
    };
    let is_functions = entry.list || own.is_some();
    let functions = match is_functions {
        true => entry.texts.iter().map(|text| Function::read(text)).collect(),
        false => Vec::new(),
    };
    let bank_name = own.as_ref().and_then(|pin| pin.bank().map(Arc::<str>::from));
    let bank = part.banks().into_iter().find(|bank| Some(bank.name()) == bank_name.as_deref());
    let listed = |places: Vec<&str>| places.contains(&&*place);
    let flag = |choice: Option<Choice<bool>>| choice.is_some_and(|c| c.is(true));
    PortPin {
        port: port.name().into(),
        position: entry.key.text.clone(),
        name: own.as_ref().and_then(|pin| pin.name().map(Arc::<str>::from)),
        functions,
        carries: if is_functions { None } else { entry.text().map(Arc::<str>::from) },
        levels: bank.map_or_else(|| part.levels(), |bank| bank.levels()),
        bank: bank_name,
        reset,
        reserved: listed(part.reserved()) || flag(own.as_ref().map(|pin| pin.reserved())),
        boot_strap: listed(part.boot_straps()) || flag(own.as_ref().map(|pin| pin.boot_strap())),
        input_only: flag(own.as_ref().map(|pin| pin.input_only())),
        span: entry.key.span.clone(),
        own,
    }
}

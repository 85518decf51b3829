//! Makes the bench of its tables: resolves every name, and says which refer to nothing.

use super::{
    Axis, AxisChannel, Bench, Board, CableRun, Carried, ChannelName, ControllerUnit, DecidedBy, Device, Drive, FedInput, Feed,
    Function, LimitInForce, Place, Plugged, PortPin, ServoUnit, SupplyUnit, parts,
};
use crate::file::{AxisEntry, BenchFile, DriverEntry};
use crate::part::{Driver, Limit, Pin, Port, ResetPull};
use crate::problem::{Build, listed, problem, quoted};
use crate::read::unknown_name;
use crate::record::{Choice, Entry, Record, SettingValue, Text};
use finding::{Finding, SourceMap, Span};
use std::collections::BTreeMap;
use std::sync::Arc;

/// The bench of a bench file, and every name in it that refers to nothing.
pub(crate) fn resolve(file: BenchFile, sources: SourceMap) -> (Bench, Vec<Finding>) {
    let mut resolver = Resolver { findings: Vec::new() };
    let bench = resolver.bench(file, sources);
    resolver.names(&bench);
    resolver.exclusions(&bench);
    resolver.feeds_in_circles(&bench);
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
        let mut boards = Vec::new();
        for (name, entry) in bench.file.drivers() {
            if let Some(part) = entry.part() {
                self.findings.extend(parts::driver(&part));
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
        let mut board = Board { name, entry, part, in_use, inputs, limits: Vec::new(), plugged: None };
        board.plugged = self.plugged(bench, &board);
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
        let connectors = board.part.connectors();
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
            let finding = problem("name-unknown", board.entry.path(), message, board.entry.span_of("plugged_into"));
            self.findings.push(finding.remedy("say with `plugs` which connector goes there, or give both the same `mates`"));
        }
        Some(Plugged { connector: connector?, port })
    }

    /// Every limit of a board with the setting in force.
    fn limits(&mut self, bench: &Bench, board: &Board) -> Vec<LimitInForce> {
        let chosen = board.entry.limits();
        let limits = board.part.limits();
        for setting in &chosen {
            if limits.iter().all(|limit| limit.name() != &*setting.name) {
                let names: Vec<&str> = limits.iter().map(|limit| limit.name()).collect();
                let subject = board.entry.path_of("limits");
                self.findings.push(unknown_name(&subject, &setting.name, &setting.name.span, "limits of the board", &names));
            }
        }
        limits.into_iter().map(|limit| self.limit(bench, board, limit, &chosen)).collect()
    }

    fn limit(
        &mut self,
        bench: &Bench,
        board: &Board,
        limit: Limit,
        chosen: &[crate::record::Setting],
    ) -> LimitInForce {
        let settings: Vec<(Arc<str>, worked::Worked)> = limit
            .settings()
            .into_iter()
            .filter_map(|setting| match setting.value {
                SettingValue::Quantity(value) => Some((setting.name.text, value)),
                SettingValue::Name(_) => None,
            })
            .collect();
        let by_name = |name: &str| settings.iter().find(|(n, _)| &**n == name).cloned();
        let force = |picked: Option<(Arc<str>, worked::Worked)>, decided_by: DecidedBy| {
            let (setting, threshold) = match picked {
                Some((name, value)) => (Some(name), value),
                None => (None, limit.value()),
            };
            LimitInForce { limit: limit.clone(), threshold, setting, decided_by, settings: settings.clone() }
        };
        if let Some(setting) = chosen.iter().find(|setting| &*setting.name == limit.name()) {
            match &setting.value {
                SettingValue::Quantity(value) => {
                    return LimitInForce { threshold: value.clone(), ..force(None, DecidedBy::Bench) };
                }
                SettingValue::Name(name) => match by_name(name) {
                    Some(found) => return force(Some(found), DecidedBy::Bench),
                    None => {
                        let names: Vec<&str> = settings.iter().map(|(n, _)| &**n).collect();
                        let subject = board.entry.path_of("limits");
                        self.findings.push(unknown_name(&subject, name, &name.span, "settings of the limit", &names));
                    }
                },
            }
        }
        if limit.has("value") {
            return force(None, DecidedBy::Fixed);
        }
        if let Some(line) = limit.selected_by() {
            let (level, decided_by) = self.line_level(bench, board, line);
            if let Some(found) = level.and_then(|level| by_name(&selected(&limit, &level))) {
                return force(Some(found), decided_by);
            }
        }
        let jumper = limit.jumper();
        if jumper.is_given() {
            let state = board.entry.jumpers().iter().find(|entry| *entry.key == *jumper.name());
            let setting = match state.and_then(Entry::text) {
                Some("fitted") => jumper.fitted(),
                Some("open") => jumper.open(),
                _ => None,
            };
            if let Some(found) = setting.and_then(by_name) {
                return force(Some(found), DecidedBy::Jumper(jumper.name().into()));
            }
        }
        if let Some(found) = limit.default().and_then(by_name) {
            return force(Some(found), DecidedBy::Factory);
        }
        if limit.has("set_to") {
            return LimitInForce { threshold: limit.set_to(), ..force(None, DecidedBy::Factory) };
        }
        match settings.len() {
            1 => force(settings.first().cloned(), DecidedBy::Fixed),
            _ => force(None, DecidedBy::Nothing),
        }
    }

    /// Level of a control line as far as the bench says it.
    fn line_level(&mut self, bench: &Bench, board: &Board, line: &str) -> (Option<String>, DecidedBy) {
        if let Some(state) = board.line_state(line) {
            return (Some(state.to_owned()), DecidedBy::Line(line.into()));
        }
        let undriven = board.signal(line).and_then(|signal| signal.undriven().stated());
        let level = undriven.map(|level| level.word().to_owned());
        let left = board.entry.left_open().contains(&line);
        let plugged = board.plugged.as_ref().is_some_and(|plugged| {
            let pins = board.pins_of(&plugged.connector);
            pins.iter().any(|(_, carries)| &**carries == line)
        });
        let wired = bench.file.wires().iter().any(|wire| wire.carries() == Some(&format!("{}:{line}", board.name)));
        let decided_by = match !left && (plugged || wired) {
            true => DecidedBy::Firmware(line.into()),
            false => DecidedBy::Undriven(line.into()),
        };
        (level, decided_by)
    }

    /// What feeds the controller and every input of every board.
    fn feeds(&mut self, bench: &mut Bench) {
        if let Some(controller) = bench.controller.clone() {
            let feed = controller.entry.supply().and_then(|text| {
                self.feed(bench, controller.entry.path(), text, &controller.entry.span_of("supply"))
            });
            bench.controller = Some(Arc::new(ControllerUnit { feed, ..(*controller).clone() }));
        }
        let mut boards = Vec::new();
        for board in bench.boards.clone() {
            let mut fed = (*board).clone();
            for entry in board.entry.supplies() {
                let subject = board.entry.path_of("supplies");
                let Some(slot) = fed.inputs.iter_mut().find(|f| f.input.name() == &*entry.key) else {
                    let inputs = board.part.supply_inputs();
                    let names: Vec<&str> = inputs.iter().map(|i| i.name()).collect();
                    self.findings.push(unknown_name(&subject, &entry.key, &entry.key.span, "supply inputs of the board", &names));
                    continue;
                };
                if let Some(text) = entry.texts.first() {
                    slot.feed = self.feed(bench, &subject, text, &text.span);
                }
            }
            boards.push(Arc::new(fed));
        }
        bench.boards = boards;
    }

    /// Reads what feeds something: `drive`, `controller.J1.5V`, `board.5V`.
    fn feed(&mut self, bench: &Bench, subject: &str, text: &str, at: &Span) -> Option<Feed> {
        let found = find_feed(bench, text);
        if found.is_none() {
            let mut names: Vec<String> = bench.supplies.iter().map(|s| s.name.to_string()).collect();
            if let Some(controller) = &bench.controller {
                names.extend(controller.part.rails().iter().map(|rail| format!("controller.{}", rail.name())));
            }
            for board in &bench.boards {
                names.extend(board.part.rails().iter().map(|rail| format!("{}.{}", board.name, rail.name())));
            }
            // A supply whose part could not be read has its own finding.
            if bench.file.supplies().iter().all(|(name, _)| **name != *text) && (bench.controller.is_some() || !text.starts_with("controller")) {
                let names: Vec<&str> = names.iter().map(String::as_str).collect();
                self.findings.push(unknown_name(subject, text, at, "supplies and rails", &names));
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
                        names.extend(board.part.servo_outputs().iter().map(|o| format!("{}.{}", board.name, o.name())));
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
            let Some(part) = entry.part() else { continue };
            let from = self.place(bench, &entry, "from");
            let to = self.place(bench, &entry, "to");
            if let (Some(from), Some(to)) = (from, to) {
                cables.push(CableRun { name, entry, part, from, to });
            }
        }
        bench.cables = cables;
        let mut wires = Vec::new();
        for wire in bench.file.wires() {
            let from = self.place(bench, &wire, "from");
            let to = self.place(bench, &wire, "to");
            if let (Some(from), Some(to)) = (from, to) {
                wires.push((wire, from, to));
            }
        }
        bench.wires = wires;
    }

    fn place(&mut self, bench: &Bench, record: &Record, key: &str) -> Option<Place> {
        let text = record.placed(key).first()?.clone();
        let found = find_place(bench, &text);
        if found.is_none() && !hidden_by_a_problem(bench, &text) {
            let names = place_names(bench, &text);
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            self.findings.push(unknown_name(record.path(), &text, &text.span, "places of the bench", &names));
        }
        found
    }

    fn axes(&mut self, bench: &mut Bench) {
        let loads = bench.file.loads();
        let motions = bench.file.motions();
        let (end_stops, brakes, homing) = (bench.file.end_stops(), bench.file.brakes(), bench.file.homing());
        let mut axes = Vec::new();
        for (name, entry) in bench.file.axes() {
            let drive = match (entry.motor(), entry.stepper()) {
                (Some(motor), _) => Drive::Dc(motor),
                (None, Some(stepper)) => Drive::Stepper(stepper),
                (None, None) => Drive::Nothing,
            };
            let channels = self.channels(bench, &entry);
            let carried = |load: &crate::file::Load| load.carried_by().len().max(1);
            let load = match entry.load() {
                Some(wanted) => {
                    let found = loads.iter().find(|(n, _)| &**n == wanted);
                    if found.is_none() {
                        let names: Vec<&str> = loads.iter().map(|(n, _)| &**n).collect();
                        self.unknown(&entry, "load", wanted, "loads", &names);
                    }
                    found.cloned()
                }
                None => loads.iter().find(|(_, load)| load.carried_by().contains(&&*name)).cloned(),
            };
            let load = load.map(|(name, load)| Carried { shared_by: carried(&load), name, load });
            let motion = entry.moves().and_then(|wanted| {
                let found = motions.iter().find(|(n, _)| &**n == wanted).cloned();
                if found.is_none() {
                    let names: Vec<&str> = motions.iter().map(|(n, _)| &**n).collect();
                    self.unknown(&entry, "moves", wanted, "motions", &names);
                }
                found
            });
            let encoder_at = self.encoder_at(bench, &entry, &channels);
            let encoder_feed = self.encoder_feed(bench, &entry, encoder_at.as_ref());
            let motor_place = Place::Device(Device::Motor(name.clone()));
            let encoder_place = Place::Device(Device::Encoder(name.clone()));
            let cable = |place: &Place| bench.cables.iter().find(|run| run.ends_at(place)).cloned();
            axes.push(Axis {
                drive,
                channels,
                gearbox: entry.gearbox(),
                encoder: entry.encoder(),
                encoder_feed,
                encoder_at,
                load,
                motion,
                motor_cable: cable(&motor_place),
                encoder_cable: cable(&encoder_place),
                end_stops: end_stops.iter().filter(|(_, e)| e.axis() == Some(&*name)).cloned().collect(),
                brakes: brakes.iter().filter(|(_, b)| b.axis() == Some(&*name)).cloned().collect(),
                homing: homing.iter().find(|(_, h)| h.axis() == Some(&*name)).cloned(),
                name,
                entry,
            });
        }
        bench.axes = axes;
    }

    fn channels(&mut self, bench: &Bench, entry: &AxisEntry) -> Vec<AxisChannel> {
        let mut wanted: Vec<Text> = entry.placed("driver").to_vec();
        wanted.extend(entry.phases().iter().filter_map(|phase| phase.texts.first().cloned()));
        let mut channels = Vec::new();
        for text in wanted {
            match find_channel(bench, &text) {
                Some(channel) => channels.push(channel),
                None if hidden_by_a_problem(bench, &text) => {}
                None => {
                    let mut names = Vec::new();
                    for board in &bench.boards {
                        names.extend(board.part.channels().iter().map(|c| format!("{}.{}", board.name, c.name())));
                    }
                    let names: Vec<&str> = names.iter().map(String::as_str).collect();
                    self.findings.push(unknown_name(entry.path(), &text, &text.span, "channels of the boards", &names));
                }
            }
        }
        channels
    }

    /// The board that an encoder is plugged into, with the channel whose encoder lines it uses.
    fn encoder_at(
        &mut self,
        bench: &Bench,
        entry: &AxisEntry,
        channels: &[AxisChannel],
    ) -> Option<(Arc<Board>, Arc<str>)> {
        let has_lines = |board: &Board, channel: &str| {
            board.signals_of(channel).iter().any(|s| s.role().is(crate::part::Role::EncoderA))
        };
        if let Some(text) = entry.encoder_to() {
            let (name, rest) = text.split_once('.').unwrap_or((text, ""));
            if let Some(board) = bench.board(name) {
                if board.channel(rest).is_some() {
                    return Some((board.clone(), rest.into()));
                }
                if let Some(connector) = board.connector(rest) {
                    let channel = board.pins_of(&connector).into_iter().find_map(|(_, carries)| {
                        let signal = board.signal(&carries)?;
                        signal.role().is(crate::part::Role::EncoderA).then(|| board.channel_of(&signal)).flatten()
                    });
                    return channel.map(|channel| (board.clone(), channel));
                }
            }
            if !text.starts_with("controller") && !hidden_by_a_problem(bench, text) {
                let mut names: Vec<String> = Vec::new();
                for board in &bench.boards {
                    names.extend(board.part.channels().iter().map(|c| format!("{}.{}", board.name, c.name())));
                }
                let names: Vec<&str> = names.iter().map(String::as_str).collect();
                self.unknown(entry, "encoder_to", text, "channels and plugs of the boards", &names);
            }
            return None;
        }
        let first = channels.first()?;
        let channel = first.channel.name();
        has_lines(&first.board, channel).then(|| (first.board.clone(), channel.into()))
    }

    fn encoder_feed(
        &mut self,
        bench: &Bench,
        entry: &AxisEntry,
        at: Option<&(Arc<Board>, Arc<str>)>,
    ) -> Option<Feed> {
        if let Some(text) = entry.encoder_supply() {
            return self.feed(bench, entry.path(), text, &entry.span_of("encoder_supply"));
        }
        let (board, channel) = at?;
        let consumer = format!("{channel}.encoder");
        if let Some(fed) = board.input_feeding(&consumer) {
            return fed.feed.clone();
        }
        let rail = board.part.rails().into_iter().find(|rail| rail.feeds().contains(&&*consumer))?;
        Some(Feed::BoardRail { board: board.name.clone(), rail: rail.name().into() })
    }

    fn unknown(&mut self, record: &Record, key: &str, name: &str, what: &str, names: &[&str]) {
        let at = record.placed(key).iter().find(|text| &*text.text == name).map(|text| text.span.clone());
        let at = at.unwrap_or_else(|| record.span_of(key));
        self.findings.push(unknown_name(&record.path_of(key), name, &at, what, names));
    }

    /// Names that nothing above has looked up.
    fn names(&mut self, bench: &Bench) {
        let axes: Vec<&str> = bench.axes.iter().map(|a| &*a.name).collect();
        let movers: Vec<&str> = axes.iter().copied().chain(bench.servos.iter().map(|s| &*s.name)).collect();
        let supplies = bench.file.supplies();
        let supplies: Vec<&str> = supplies.iter().map(|(name, _)| &**name).collect();
        let motions = bench.file.motions();
        let motions: Vec<&str> = motions.iter().map(|(name, _)| &**name).collect();
        let trials = bench.file.trials();
        let trials: Vec<&str> = trials.iter().map(|(name, _)| &**name).collect();
        let all_servos = bench.file.servos();
        let movers: Vec<&str> =
            movers.into_iter().chain(all_servos.iter().map(|(name, _)| &**name)).collect();
        self.known(&bench.file.stop(), "cuts", "supplies", &supplies);
        for (_, load) in bench.file.loads() {
            self.known(&load, "carried_by", "axes and servos", &movers);
        }
        for (_, servo) in bench.file.servos() {
            self.known(&servo, "moves", "motions", &motions);
        }
        for (_, end) in bench.file.end_stops() {
            self.known(&end, "axis", "axes and servos", &movers);
        }
        for (_, brake) in bench.file.brakes() {
            self.known(&brake, "axis", "axes", &axes);
        }
        for (_, homing) in bench.file.homing() {
            self.known(&homing, "axis", "axes", &axes);
        }
        for (_, trial) in bench.file.trials() {
            self.known(&trial, "axis", "axes and servos", &movers);
            self.known(&trial.input(), "motion", "motions", &motions);
        }
        for (_, log) in bench.file.logs() {
            self.known(&log, "trial", "trials", &trials);
            self.known(&log, "axis", "axes and servos", &movers);
        }
        let cables = bench.file.cables();
        let cable_names: Vec<&str> = cables.iter().map(|(name, _)| &**name).collect();
        for (_, cable) in &cables {
            self.known(cable, "shares_run_with", "cables", &cable_names);
        }
        for (_, fuse) in bench.file.fuses() {
            let on = fuse.placed("on").first().cloned();
            if let Some(on) = on.filter(|on| !cable_names.contains(&&*on.text)) {
                self.feed(bench, fuse.path(), &on, &on.span);
            }
        }
        for (_, clamp) in bench.file.clamps() {
            self.fed_from(bench, &clamp, "on");
        }
        for (_, capacitor) in bench.file.capacitors() {
            self.fed_from(bench, &capacitor, "on");
        }
        for (_, brake) in bench.file.brakes() {
            self.fed_from(bench, &brake, "supply");
        }
        for (_, sensor) in bench.file.sensors() {
            self.fed_from(bench, &sensor, "supply");
            self.place(bench, &sensor, "to");
        }
        for servo in &bench.servos {
            self.place(bench, &servo.entry, "signal");
        }
        for (_, adapter) in bench.file.adapters() {
            self.signal_of_device(bench, &adapter, "on");
        }
        for (wire, _, _) in &bench.wires {
            if wire.carries().is_some_and(|text| text.contains(':')) {
                self.signal_of_device(bench, wire, "carries");
            }
        }
        for board in &bench.boards {
            self.board_names(board);
        }
    }

    fn board_names(&mut self, board: &Board) {
        let signals = board.part.signals();
        let signals: Vec<&str> = signals.iter().map(|s| s.name()).collect();
        self.known(&board.entry, "left_open", "signals of the board", &signals);
        for entry in board.entry.lines() {
            if !signals.contains(&&*entry.key) {
                let subject = board.entry.path_of("lines");
                self.findings.push(unknown_name(&subject, &entry.key, &entry.key.span, "signals of the board", &signals));
            }
        }
        let connectors = board.part.connectors();
        let connectors: Vec<&str> = connectors.iter().map(|c| c.name()).collect();
        self.known(&board.entry, "populated", "connectors of the board", &connectors);
        let limits = board.part.limits();
        let jumpers: Vec<_> = limits.iter().map(|l| l.jumper()).filter(|j| j.is_given()).collect();
        let jumpers: Vec<&str> = jumpers.iter().map(|j| j.name()).collect();
        for entry in board.entry.jumpers() {
            if !jumpers.contains(&&*entry.key) {
                let subject = board.entry.path_of("jumpers");
                self.findings.push(unknown_name(&subject, &entry.key, &entry.key.span, "jumpers of the board", &jumpers));
            }
        }
    }

    /// Every text of a key is one of the names.
    fn known(&mut self, record: &Record, key: &str, what: &str, names: &[&str]) {
        for text in record.placed(key) {
            if !names.contains(&&*text.text) {
                self.findings.push(unknown_name(&record.path_of(key), text, &text.span, what, names));
            }
        }
    }

    fn fed_from(&mut self, bench: &Bench, record: &Record, key: &str) {
        for text in record.placed(key).to_vec() {
            self.feed(bench, record.path(), &text, &text.span);
        }
    }

    /// `board:A.pwm`, `left.encoder:a`, `latch:pulse`.
    fn signal_of_device(&mut self, bench: &Bench, record: &Record, key: &str) {
        for text in record.placed(key).to_vec() {
            let (device, signal) = text.split_once(':').unwrap_or((&text, ""));
            if hidden_by_a_problem(bench, device) {
                continue;
            }
            let (kind, name) = split_kind(device);
            let mut names: Vec<String> = Vec::new();
            for board in bench.boards.iter().filter(|b| matches!(kind, "" | "drivers") && &*b.name == name) {
                names.extend(board.part.signals().iter().map(|s| s.name().to_owned()));
                names.extend(board.part.connectors().iter().flat_map(|c| board.pins_of(c)).map(|(_, what)| what.to_string()));
            }
            if matches!(kind, "" | "servos") && bench.servo(name).is_some() {
                names.push("pulse".to_owned());
            }
            let axis = name.strip_suffix(".encoder").unwrap_or(name);
            if matches!(kind, "" | "axes") && bench.axes.iter().any(|a| &*a.name == axis) {
                names.extend(["a", "b", "index"].map(str::to_owned));
            }
            if matches!(kind, "" | "sensors") && bench.file.sensors().iter().any(|(n, _)| &**n == name) {
                names.push("signal".to_owned());
            }
            if names.iter().any(|known| known == signal) || (device == "controller" && kind.is_empty()) {
                continue;
            }
            names.sort();
            names.dedup();
            let names: Vec<String> = match names.is_empty() {
                false => names.iter().map(|signal| format!("{device}:{signal}")).collect(),
                true => device_names(bench),
            };
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            self.findings.push(unknown_name(record.path(), &text, &text.span, "signals of the devices", &names));
        }
    }

    /// Keys that exclude each other, channels used twice.
    fn exclusions(&mut self, bench: &Bench) {
        let mut taken: BTreeMap<ChannelName, (Arc<str>, Span)> = BTreeMap::new();
        for axis in &bench.axes {
            let entry = &axis.entry;
            if entry.has("motor") && entry.has("stepper") {
                let message = format!("axis {} has a motor and a stepper", quoted(&axis.name));
                let finding = problem("keys-exclude", axis.path(), message, entry.span_of("stepper"));
                self.findings.push(finding.also(entry.span_of("motor"), "the motor").remedy("keep one of the two"));
            } else if !entry.has("motor") && !entry.has("stepper") {
                let message = format!("axis {} has neither a `motor` nor a `stepper`", quoted(&axis.name));
                let at = header_of(bench, &entry.span());
                self.findings.push(problem("keys-exclude", axis.path(), message, at).remedy("name the part that drives it"));
            }
            if entry.has("driver") && entry.has("phases") {
                let message = "a `driver` channel and `phases` exclude each other".to_owned();
                let finding = problem("keys-exclude", axis.path(), message, entry.span_of("phases"));
                self.findings.push(finding.also(entry.span_of("driver"), "the channel").remedy("a DC motor has a `driver`, a stepper has `phases`"));
            } else if !entry.has("driver") && !entry.has("phases") {
                let message = format!("no channel drives axis {}", quoted(&axis.name));
                let at = header_of(bench, &entry.span());
                self.findings.push(problem("keys-exclude", axis.path(), message, at).remedy("write `driver = \"BOARD.CHANNEL\"`, or `phases` for a stepper"));
            } else if entry.has("motor") && entry.has("phases") {
                let message = "`phases` belong to a stepper; a DC motor hangs on one channel";
                self.findings.push(problem("keys-exclude", axis.path(), message, entry.span_of("phases")).remedy("write `driver` in its place"));
            } else if entry.has("stepper") && !entry.has("motor") && entry.has("driver") {
                let message = "a stepper needs two channels: `phases = { a = \"…\", b = \"…\" }`";
                self.findings.push(problem("keys-exclude", axis.path(), message, entry.span_of("driver")).remedy("write `phases` in its place"));
            }
            for used in &axis.channels {
                let name = ChannelName::new(&used.board.name, used.channel.name());
                let at = entry.span_of(if entry.has("driver") { "driver" } else { "phases" });
                match taken.get(&name) {
                    Some((other, first)) => {
                        let message = format!("channel {name} drives two axes: `{other}` and `{}`", axis.name);
                        let finding = problem("channel-taken", axis.path(), message, at);
                        self.findings.push(finding.also(first.clone(), "taken here").remedy("give one of them another channel"));
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
        let outputs = bench.servos.iter().filter_map(|s| s.output.as_ref()).filter(|(name, _)| *name == board.name);
        let outputs: Vec<&str> = outputs.map(|(_, output)| output.name()).collect();
        for fed in board.inputs.iter().filter(|fed| fed.feed.is_none()) {
            let needed_by = fed.input.needed_by();
            let needs: Vec<&str> =
                needed_by.iter().copied().filter(|n| used.contains(n) || outputs.contains(n)).collect();
            let given = board.entry.supplies().iter().any(|entry| &*entry.key == fed.input.name());
            if !given && (needed_by.is_empty() || !needs.is_empty()) {
                let name = fed.input.name();
                let by = if needs.is_empty() { "the board".to_owned() } else { listed(needs) };
                let message = format!("nothing feeds the input {} of {}; {by} cannot do without it", quoted(name), quoted(&board.name));
                let at = match board.entry.has("supplies") {
                    true => board.entry.span_of("supplies"),
                    false => header_of(bench, &board.entry.span()),
                };
                let finding = problem("input-not-fed", board.entry.path(), message, at);
                self.findings.push(finding.also(fed.input.span(), "the input").remedy(format!("add `{name} = \"SUPPLY\"` to `supplies`")));
            }
        }
    }

    /// Supplies and rails that feed one another in a circle.
    fn feeds_in_circles(&mut self, bench: &Bench) {
        for board in &bench.boards {
            for fed in &board.inputs {
                let mut at = fed.feed.clone();
                for _ in 0..16 {
                    let Some(Feed::BoardRail { board: name, rail }) = at else { break };
                    if name == board.name {
                        let own = board.rail(&rail).and_then(|rail| rail.from().map(str::to_owned));
                        if own.as_deref() == Some(fed.input.name()) {
                            let message = format!("rail {} of {} feeds the input that it is made from", quoted(&rail), quoted(&name));
                            let at = board.entry.span_of("supplies");
                            self.findings.push(problem("source-circular", board.entry.path(), message, at).remedy("feed the input from a supply"));
                            break;
                        }
                    }
                    at = bench.board(&name).and_then(|b| {
                        let from = b.rail(&rail)?.from()?.to_owned();
                        b.input(&from)?.feed.clone()
                    });
                }
            }
        }
    }
}

/// Setting of a limit that a level of its line selects.
fn selected(limit: &Limit, level: &str) -> String {
    let mapped = limit.selects().iter().find(|entry| &*entry.key == level);
    mapped.and_then(Entry::text).unwrap_or(level).to_owned()
}

/// Lines and edges that do not belong to one encoder: four edges make a line.
fn counts_contradict(encoder: &crate::part::Encoder) -> Option<Finding> {
    let (lines, edges) = (encoder.datum("lines_per_rev")?, encoder.datum("edges_per_rev")?);
    if (edges.value - 4.0 * lines.value).abs() < 0.5 * lines.value {
        return None;
    }
    let message = format!(
        "{} and {} contradict each other: a line makes four edges",
        quoted(&lines.written),
        quoted(&edges.written)
    );
    let finding = problem("encoder-counts-contradict", encoder.path(), message, edges.span.clone());
    Some(
        finding
            .also(lines.span.clone(), "the lines")
            .remedy("keep the one that the sheet means; ten turns by hand show which it is"),
    )
}

/// `drivers.board` as `drivers` and `board`; a bare name has no kind.
fn split_kind(text: &str) -> (&str, &str) {
    let kinds = ["drivers", "supplies", "servos", "axes", "sensors"];
    let found = kinds.into_iter().find_map(|kind| Some((kind, text.strip_prefix(kind)?.strip_prefix('.')?)));
    found.unwrap_or(("", text))
}

fn device_names(bench: &Bench) -> Vec<String> {
    let boards = bench.boards.iter().map(|b| b.name.to_string());
    let axes = bench.axes.iter().map(|a| format!("{}.encoder", a.name));
    let servos = bench.servos.iter().map(|s| s.name.to_string());
    boards.chain(axes).chain(servos).collect()
}

/// The first line of a table.
fn header_of(bench: &Bench, span: &Span) -> Span {
    let text = bench.sources.text(&span.file).map_or("", |text| text);
    let end = text.get(span.start..).and_then(|rest| rest.find('\n')).map_or(text.len(), |n| span.start + n);
    Span { end: span.end.min(end), ..span.clone() }
}

/// Whether a device of that name stands in the file but could not be read: that has its own finding.
fn hidden_by_a_problem(bench: &Bench, text: &str) -> bool {
    let device = split_kind(text).1.split(['.', ':']).next().unwrap_or(text);
    let unread = |name: &Arc<str>| &**name == device;
    (device == "controller" && bench.controller.is_none())
        || bench.file.drivers().iter().any(|(name, entry)| unread(name) && entry.part().is_none())
        || bench.file.supplies().iter().any(|(name, entry)| unread(name) && entry.part().is_none())
        || bench.file.servos().iter().any(|(name, entry)| unread(name) && entry.part().is_none())
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

/// What `drive`, `controller.J1.5V`, `board.5V` stand for.
pub(super) fn find_feed(bench: &Bench, text: &str) -> Option<Feed> {
    let text = text.strip_prefix("supplies.").unwrap_or(text);
    if let Some(supply) = bench.supply(text) {
        return Some(Feed::Supply(supply.name.clone()));
    }
    if let Some(rest) = text.strip_prefix("controller.") {
        let controller = bench.controller.as_ref()?;
        let rest = rest.strip_prefix("rails.").unwrap_or(rest);
        let rail = match controller.rail(rest) {
            Some(rail) => rail,
            None => {
                // The rail at a pin of a port, by the pin's number or by the rail's own name.
                let (port, at) = rest.split_once('.')?;
                let mut pins = controller.pins.iter().filter(|pin| &*pin.port == port);
                let pin = pins.find(|pin| &*pin.position == at || pin.carries.as_deref() == Some(at))?;
                controller.rail(pin.carries.as_deref()?)?
            }
        };
        return Some(Feed::ControllerRail(rail.name().into()));
    }
    let (board, rail) = text.strip_prefix("drivers.").unwrap_or(text).split_once('.')?;
    let board = bench.board(board)?;
    let rail = board.rail(rail.strip_prefix("rails.").unwrap_or(rail))?;
    Some(Feed::BoardRail { board: board.name.clone(), rail: rail.name().into() })
}

/// The channel `board.A` with what stands behind it.
fn find_channel(bench: &Bench, text: &str) -> Option<AxisChannel> {
    let (board, channel) = text.strip_prefix("drivers.").unwrap_or(text).split_once('.')?;
    let board = bench.board(board)?;
    let channel = board.channel(channel.strip_prefix("channels.").unwrap_or(channel))?;
    let input = board.input_of(&channel).cloned();
    let supply = match input.as_ref().and_then(|input| input.feed.as_ref()) {
        Some(Feed::Supply(name)) => bench.supply(name).cloned(),
        _ => None,
    };
    Some(AxisChannel { board: board.clone(), channel, input, supply })
}

/// What a place such as `board.host.3`, `left.motor` or `controller.J1.3` stands for.
///
/// Devices of different kinds may have the same name; the first one that has the rest of the place is meant.
pub(super) fn find_place(bench: &Bench, text: &str) -> Option<Place> {
    if text == "controller" {
        return bench.controller.as_ref().map(|_| Place::Device(Device::Controller));
    }
    if let Some(rest) = text.strip_prefix("controller.") {
        let controller = bench.controller.as_ref()?;
        let pin = controller.pins.iter().find(|pin| pin.place() == rest || pin.name.as_deref() == Some(rest));
        let pin = pin.or_else(|| {
            let (port, carries) = rest.split_once('.')?;
            controller.pins.iter().find(|pin| &*pin.port == port && pin.carries.as_deref() == Some(carries))
        })?;
        let (connector, position) = (pin.port.clone(), pin.position.clone());
        return Some(Place::Pin { device: Device::Controller, connector, pin: position });
    }
    let (kind, bare) = split_kind(text);
    let (name, rest) = bare.split_once('.').map_or((bare, None), |(name, rest)| (name, Some(rest)));
    let of = |wanted: &str| kind.is_empty() || kind == wanted;
    let mut found = None;
    if of("drivers") {
        found = found.or_else(|| board_place(bench.board(name)?, rest));
    }
    if of("supplies") {
        found = found.or_else(|| {
            let supply = bench.supply(name)?;
            part_place(Device::Supply(supply.name.clone()), &supply.part.connectors(), &["+", "-"], rest)
        });
    }
    if of("servos") {
        found = found.or_else(|| {
            let servo = bench.servo(name)?;
            let leads = ["pulse", "supply", "ground"];
            part_place(Device::Servo(servo.name.clone()), &servo.part.connectors(), &leads, rest)
        });
    }
    if of("axes") {
        found = found.or_else(|| axis_place(bench, name, rest));
    }
    if of("sensors") {
        found = found.or_else(|| {
            let (name, _) = bench.file.sensors().into_iter().find(|(n, _)| &**n == name)?;
            part_place(Device::Sensor(name), &[], &["signal", "supply", "ground"], rest)
        });
    }
    found
}

fn board_place(board: &Board, rest: Option<&str>) -> Option<Place> {
    let device = Device::Board(board.name.clone());
    let Some(rest) = rest else { return Some(Place::Device(device)) };
    if board.channel(rest).is_some() {
        return Some(Place::Channel(ChannelName::new(&board.name, rest)));
    }
    if board.input(rest).is_some() {
        return Some(Place::Input { board: board.name.clone(), input: rest.into() });
    }
    if board.part.servo_outputs().iter().any(|output| output.name() == rest) {
        return Some(Place::ServoOutput { board: board.name.clone(), output: rest.into() });
    }
    let (connector, pin) = rest.rsplit_once('.')?;
    let connector = board.connector(connector)?;
    let pins = board.pins_of(&connector);
    let (pin, _) = pins.into_iter().find(|(at, carries)| &**at == pin || &**carries == pin)?;
    Some(Place::Pin { device, connector: connector.name().into(), pin })
}

/// A device that has connectors, or only leads by name.
fn part_place(
    device: Device,
    connectors: &[crate::part::Connector],
    leads: &[&str],
    rest: Option<&str>,
) -> Option<Place> {
    let Some(rest) = rest else { return Some(Place::Device(device)) };
    if let Some((name, at)) = rest.rsplit_once('.')
        && let Some(connector) = connectors.iter().find(|c| c.name() == name)
    {
        let pin = connector.pins().iter().find(|e| &*e.key == at || e.text() == Some(at))?;
        return Some(Place::Pin { device, connector: name.into(), pin: pin.key.text.clone() });
    }
    if let Some(connector) = connectors.iter().find(|c| c.pins().iter().any(|e| e.text() == Some(rest))) {
        let pin = connector.pins().iter().find(|e| e.text() == Some(rest))?;
        return Some(Place::Pin { device, connector: connector.name().into(), pin: pin.key.text.clone() });
    }
    leads.contains(&rest).then(|| Place::Pin { device, connector: "leads".into(), pin: rest.into() })
}

fn axis_place(bench: &Bench, name: &str, rest: Option<&str>) -> Option<Place> {
    let (name, entry) = bench.file.axes().into_iter().find(|(n, _)| &**n == name)?;
    let (part, rest) = match rest?.split_once('.') {
        Some((part, rest)) => (part, Some(rest)),
        None => (rest?, None),
    };
    match part {
        "motor" => {
            let connectors = entry.motor().map(|motor| motor.connectors()).unwrap_or_default();
            part_place(Device::Motor(name), &connectors, &["+", "-"], rest)
        }
        "stepper" => {
            let connectors = entry.stepper().map(|stepper| stepper.connectors()).unwrap_or_default();
            part_place(Device::Motor(name), &connectors, &["A+", "A-", "B+", "B-"], rest)
        }
        "encoder" => {
            let connectors = entry.encoder().map(|encoder| encoder.connectors()).unwrap_or_default();
            part_place(Device::Encoder(name), &connectors, &["a", "b", "index", "supply", "ground"], rest)
        }
        _ => None,
    }
}

/// Names of places near the one that was not found.
fn place_names(bench: &Bench, text: &str) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    names.extend(bench.supplies.iter().map(|s| s.name.to_string()));
    for board in &bench.boards {
        names.push(board.name.to_string());
        names.extend(board.part.channels().iter().map(|c| format!("{}.{}", board.name, c.name())));
        names.extend(board.inputs.iter().map(|fed| format!("{}.{}", board.name, fed.input.name())));
        if text.starts_with(&*board.name) {
            for connector in board.part.connectors() {
                let pins = board.pins_of(&connector);
                names.extend(pins.iter().map(|(pin, _)| format!("{}.{}.{pin}", board.name, connector.name())));
            }
        }
    }
    for (name, _) in bench.file.axes() {
        names.extend(["motor", "encoder"].map(|part| format!("{name}.{part}")));
    }
    names.extend(bench.servos.iter().map(|s| s.name.to_string()));
    if let Some(controller) = &bench.controller {
        names.push("controller".to_owned());
        if text.starts_with("controller") {
            names.extend(controller.pins.iter().map(|pin| format!("controller.{}", pin.place())));
        }
    }
    names
}

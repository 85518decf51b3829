//! Names in the bench file that nothing else looks up.

use super::Resolver;
use super::places::{hidden_by_a_problem, split_kind};
use crate::file::LogQuantity;
use crate::kind::Words;
use crate::model::{Bench, Board};
use crate::read::unknown_name;
use crate::record::{Record, Text};

impl Resolver {
    /// Names that nothing above has looked up.
    pub(super) fn names(&mut self, bench: &Bench) {
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
            let columns = log.columns();
            let keys = columns.iter().map(|entry| &entry.key);
            let known: Vec<&str> = LogQuantity::ALL.iter().map(|quantity| quantity.word()).collect();
            self.known_words(&log.path_of("columns"), keys, "quantities of a log", &known);
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
        let signals = board.signals();
        let signals: Vec<&str> = signals.iter().map(|s| s.name()).collect();
        self.known(&board.entry, "left_open", "signals of the board", &signals);
        let lines = board.entry.lines().iter().map(|entry| &entry.key);
        self.known_words(&board.entry.path_of("lines"), lines, "signals of the board", &signals);
        let connectors = board.connectors();
        let connectors: Vec<&str> = connectors.iter().map(|c| c.name()).collect();
        self.known(&board.entry, "populated", "connectors of the board", &connectors);
        let limits = board.part.limits();
        let jumpers: Vec<_> = limits.iter().map(|l| l.jumper()).filter(|j| j.is_given()).collect();
        let jumpers: Vec<&str> = jumpers.iter().map(|j| j.name()).collect();
        for entry in board.entry.jumpers() {
            if !jumpers.contains(&&*entry.key) {
                let subject = board.entry.path_of("jumpers");
                self.findings.push(unknown_name(
                    &subject,
                    &entry.key,
                    &entry.key.span,
                    "jumpers of the board",
                    &jumpers,
                ));
            }
        }
    }

    /// Every text of a key is one of the names.
    fn known(&mut self, record: &Record, key: &str, what: &str, names: &[&str]) {
        self.known_words(&record.path_of(key), record.placed(key), what, names);
    }

    /// Each text must be one of the names.
    pub(super) fn known_words<'t>(
        &mut self,
        subject: &str,
        texts: impl IntoIterator<Item = &'t Text>,
        what: &str,
        names: &[&str],
    ) {
        for text in texts {
            if !names.contains(&&*text.text) {
                self.findings.push(unknown_name(subject, text, &text.span, what, names));
            }
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
                names.extend(board.signals().iter().map(|s| s.name().to_owned()));
                names.extend(
                    board
                        .part
                        .connectors()
                        .iter()
                        .flat_map(|c| board.pins_of(c))
                        .map(|(_, what)| what.to_string()),
                );
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
            self.findings.push(unknown_name(
                record.path(),
                &text,
                &text.span,
                "signals of the devices",
                &names,
            ));
        }
    }
}

fn device_names(bench: &Bench) -> Vec<String> {
    let boards = bench.boards.iter().map(|b| b.name.to_string());
    let axes = bench.axes.iter().map(|a| format!("{}.encoder", a.name));
    let servos = bench.servos.iter().map(|s| s.name.to_string());
    boards.chain(axes).chain(servos).collect()
}

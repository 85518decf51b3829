//! Random benches, written as files and read like those of a user.

use crate::picture::{AddedWire, Planned, PlannedLine};
use bench::{Bench, Memory};
use proptest::prelude::*;
use std::fmt::Write;

/// What a random bench has.
#[derive(Clone, Debug)]
pub(super) struct Wish {
    boards: Vec<BoardWish>,
    supplies: Vec<SupplyWish>,
    servos: Vec<(u8, bool)>,
    controller_feed: u8,
    long: bool,
    shared: bool,
    without_controller: bool,
    /// Wires from the first board: pin there, pin of the controller, and whether it goes to the board's strip instead.
    loose: Vec<(u8, u8, bool)>,
    /// Wires that a plan adds, as above, and for each line in turn what the plan does with it.
    added: Vec<(u8, u8, bool)>,
    leads: Vec<u8>,
}

#[derive(Clone, Debug)]
struct BoardWish {
    channels: Vec<AxisWish>,
    servo_output: bool,
    plugged: bool,
    motor_feed: u8,
    logic_feed: u8,
}

#[derive(Clone, Debug)]
struct AxisWish {
    /// Nothing, DC motor, stepper with the next channel.
    kind: u8,
    gear: bool,
    /// None, own board, other board, controller.
    encoder: u8,
    sides: u8,
    cable: bool,
}

#[derive(Clone, Debug)]
struct SupplyWish {
    fuses: u8,
    cut: bool,
    clamps: u8,
}

pub(super) fn wish() -> impl Strategy<Value = Wish> {
    let axis = (0u8..6, any::<bool>(), 0u8..4, 0u8..16, any::<bool>())
        .prop_map(|(kind, gear, encoder, sides, cable)| AxisWish { kind, gear, encoder, sides, cable });
    let board = (prop::collection::vec(axis, 1..=4), any::<bool>(), any::<bool>(), 0u8..5, 0u8..5).prop_map(
        |(channels, servo_output, plugged, motor_feed, logic_feed)| BoardWish {
            channels,
            servo_output,
            plugged,
            motor_feed,
            logic_feed,
        },
    );
    let supply =
        (0u8..3, any::<bool>(), 0u8..3).prop_map(|(fuses, cut, clamps)| SupplyWish { fuses, cut, clamps });
    (
        prop::collection::vec(board, 1..=2),
        prop::collection::vec(supply, 1..=4),
        prop::collection::vec((0u8..5, any::<bool>()), 0..3),
        (0u8..5, any::<bool>(), any::<bool>(), 0u8..10),
        prop::collection::vec((0u8..20, 3u8..40, any::<bool>()), 0..12),
        (prop::collection::vec((0u8..20, 3u8..40, any::<bool>()), 0..8), prop::collection::vec(0u8..6, 1..9)),
    )
        .prop_map(|(boards, supplies, servos, (controller_feed, long, shared, without), loose, plan)| {
            Wish {
                boards,
                supplies,
                servos,
                controller_feed,
                long,
                shared,
                without_controller: without == 0,
                loose,
                added: plan.0,
                leads: plan.1,
            }
        })
}

impl Wish {
    pub(super) fn bench(&self) -> Bench {
        let mut files: Vec<(String, String)> =
            vec![("bench.toml".to_owned(), self.text()), ("parts/controller.toml".to_owned(), controller())];
        for (at, board) in self.boards.iter().enumerate() {
            files.push((format!("parts/board-{at}.toml"), part(board)));
        }
        let memory: Memory = files.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
        let checked = bench::load_from(&memory);
        let told: Vec<_> = checked.findings.iter().map(|f| &f.message).collect();
        checked.value.unwrap_or_else(|| panic!("{told:?}\n{}", self.text()))
    }

    /// A plan for the bench: it need not be one that could be built.
    pub(super) fn planned(&self, bench: &Bench) -> Planned {
        if self.without_controller {
            return Planned::default();
        }
        let signals = bench.boards().iter().flat_map(|board| {
            let signals = board.signals();
            signals.iter().map(|signal| format!("{}:{}", board.name, signal.name())).collect::<Vec<_>>()
        });
        let encoders = bench
            .axes()
            .iter()
            .flat_map(|axis| ["a", "b", "index"].map(|line| format!("{}.encoder:{line}", axis.name)));
        let pulses = bench.servos().iter().map(|servo| format!("{}:pulse", servo.name));
        let names = signals.chain(encoders).chain(pulses);
        let lines = names.zip(self.leads.iter().cycle()).enumerate().filter(|(_, (_, lead))| **lead > 0);
        let lines = lines.map(|(at, (name, lead))| {
            let pin = (*lead > 1).then(|| format!("J{}.{}", lead % 2 + 1, 3 + at % 50));
            (name, PlannedLine { pin, rerouted: *lead > 3 })
        });
        let board = self.name("b0");
        let added = self.added.iter().enumerate().map(|(number, (from, to, other))| AddedWire {
            id: format!("N{number}"),
            from: format!("{board}.{}.{}", if *other { "strip" } else { "host" }, from % 7 + 1),
            to: format!("controller.J2.{to}"),
            carries: format!("{board}:fault"),
        });
        Planned {
            lines: lines.collect(),
            gone: (0..bench.wires().len()).filter(|at| self.leads[at % self.leads.len()] == 0).collect(),
            added: added.collect(),
            ports: bench
                .boards()
                .iter()
                .map(|board| (format!("{}.host", board.name), "J2".to_owned()))
                .collect(),
        }
    }

    fn name(&self, short: &str) -> String {
        if self.long { format!("{short}-of-the-öther-side-of-the-Wide-Warehouse") } else { short.to_owned() }
    }

    fn supply(&self, number: u8) -> Option<String> {
        (usize::from(number) < self.supplies.len()).then(|| self.name(&format!("s{number}")))
    }

    /// The bench file.
    pub(super) fn text(&self) -> String {
        let mut t = "[bench]\nname = \"Random <bench> & more\"\n".to_owned();
        let mut add = |text: String| {
            let _ = writeln!(t, "{text}");
        };
        if !self.without_controller {
            let feed =
                self.supply(self.controller_feed).map(|s| format!("supply = \"{s}\"")).unwrap_or_default();
            add(format!("[controller]\npart = \"parts/controller.toml\"\n{feed}"));
        }
        let rail = |name: &str| (!self.without_controller).then(|| format!("controller.{name}"));
        for (at, supply) in self.supplies.iter().enumerate() {
            let name = self.name(&format!("s{at}"));
            add(format!("[supplies.\"{name}\"]\npart = \"builtin:supply-24v\""));
            for k in 0..supply.fuses {
                add(format!(
                    "[fuses.\"{}\"]\non = \"supplies.{name}\"\nrating = \"5 A\"",
                    self.name(&format!("f{at}{k}"))
                ));
            }
            for k in 0..supply.clamps {
                add(format!(
                    "[clamps.\"{}\"]\non = \"supplies.{name}\"\nthreshold = \"26 V\"",
                    self.name(&format!("c{at}{k}"))
                ));
            }
        }
        let cuts: Vec<String> = self
            .supplies
            .iter()
            .enumerate()
            .filter(|(_, s)| s.cut)
            .map(|(at, _)| format!("\"{}\"", self.name(&format!("s{at}"))))
            .collect();
        add(format!("[stop]\ndevice = \"button\"\ncuts = [{}]", cuts.join(", ")));
        let mut carriers = Vec::new();
        for (at, board) in self.boards.iter().enumerate() {
            let name = self.name(&format!("b{at}"));
            let mut fed = Vec::new();
            if let Some(supply) = self.supply(board.motor_feed) {
                fed.push(format!("motor = \"{supply}\""));
            }
            match (board.logic_feed, rail("J1.5V")) {
                (4, Some(rail)) => fed.push(format!("logic = \"{rail}\"")),
                (n, _) => fed.extend(self.supply(n).map(|s| format!("logic = \"{s}\""))),
            }
            if board.servo_output {
                fed.extend(rail("J1.5V").map(|rail| format!("servo = \"{rail}\"")));
            }
            add(format!(
                "[drivers.\"{name}\"]\npart = \"parts/board-{at}.toml\"\nsupplies = {{ {} }}",
                fed.join(", ")
            ));
            if board.plugged && !self.without_controller {
                add(format!("plugged_into = \"J{}\"\nplugs = \"host\"", at + 1));
                // A board that is alone may sit on both ports at once.
                if self.boards.len() == 1 && board.servo_output {
                    add("also_plugged = { strip = \"J2\" }".to_owned());
                }
            }
            if let Some(supply) = self.supply(board.motor_feed) {
                let feed = self.name(&format!("feed{at}"));
                add(format!(
                    "[cables.\"{feed}\"]\npart = \"builtin:cable-1.0\"\nfrom = \"{supply}\"\nto = \"drivers.{name}.motor\"\nlength = \"1 m\""
                ));
            }
            if board.servo_output {
                let servo = self.name(&format!("on{at}"));
                add(format!("[servos.\"{servo}\"]\npart = \"builtin:servo-small\"\noutput = \"{name}.S1\""));
            }
            let mut taken = false;
            for (k, axis) in board.channels.iter().enumerate() {
                if std::mem::take(&mut taken) || axis.kind == 0 {
                    continue;
                }
                let own = self.name(&format!("a{at}{k}"));
                let stepper = axis.kind == 1 && k + 1 < board.channels.len();
                add(format!("[axes.\"{own}\"]"));
                if stepper {
                    taken = true;
                    let phases = format!("a = \"{name}.C{k}\", b = \"{name}.C{}\"", k + 1);
                    add(format!("stepper = \"builtin:stepper-42\"\nphases = {{ {phases} }}"));
                } else {
                    add(format!("motor = \"builtin:motor-24\"\ndriver = \"{name}.C{k}\""));
                }
                if axis.gear {
                    add("gearbox = \"builtin:planetary-27\"".to_owned());
                }
                let other = self.name(&format!("b{}", (at + 1) % self.boards.len()));
                match axis.encoder {
                    1 => add("encoder = \"builtin:encoder-16\"".to_owned()),
                    2 => add(format!("encoder = \"builtin:encoder-16\"\nencoder_to = \"{other}.C0\"")),
                    3 if !self.without_controller => {
                        add("encoder = \"builtin:encoder-500\"\nencoder_to = \"controller\"\nencoder_supply = \"controller.J1.3V3\"".to_owned());
                        for (line, pin) in [("a", 40), ("b", 41), ("index", 42)] {
                            let _ = write!(
                                carriers_text(&mut carriers),
                                "[[wires]]\nfrom = \"{own}.encoder.{line}\"\nto = \"controller.J1.{pin}\"\ncarries = \"{own}.encoder:{line}\"\n"
                            );
                        }
                    }
                    _ => {}
                }
                if axis.cable {
                    let to = if stepper { "stepper" } else { "motor" };
                    add(format!(
                        "[cables.\"{}\"]\npart = \"builtin:cable-0.5\"\nfrom = \"{name}.C{k}\"\nto = \"{own}.{to}\"\nlength = \"0.6 m\"",
                        self.name(&format!("w{at}{k}"))
                    ));
                }
                let switch = |key: &str| {
                    if self.without_controller {
                        String::new()
                    } else {
                        format!("{key} = \"controller.J2.4{k}\"\n")
                    }
                };
                if axis.sides & 1 > 0 {
                    add(format!(
                        "[homing.\"{}\"]\naxis = \"{own}\"\nmethod = \"switch\"\n{}",
                        self.name(&format!("h{at}{k}")),
                        switch("switch")
                    ));
                }
                if axis.sides & 2 > 0 {
                    for end in ["near", "far"] {
                        add(format!(
                            "[end_stops.\"{}\"]\naxis = \"{own}\"\nat = \"1 m\"\n{}",
                            self.name(&format!("{end}{at}{k}")),
                            switch("switch")
                        ));
                    }
                }
                if axis.sides & 4 > 0 {
                    add(format!(
                        "[brakes.\"{}\"]\naxis = \"{own}\"\n{}",
                        self.name(&format!("k{at}{k}")),
                        switch("released_by")
                    ));
                }
                if axis.sides & 8 > 0 {
                    add(format!(
                        "[loads.\"{}\"]\nkind = \"disc\"\ncarried_by = [\"{own}\"]",
                        self.name(&format!("l{at}{k}"))
                    ));
                } else if self.shared {
                    carriers.push(format!("\"{own}\""));
                }
            }
        }
        let wires: Vec<String> = carriers.iter().filter(|c| c.starts_with('[')).cloned().collect();
        carriers.retain(|c| !c.starts_with('['));
        if !carriers.is_empty() {
            add(format!("[loads.vehicle]\nkind = \"wheels\"\ncarried_by = [{}]", carriers.join(", ")));
        }
        for (at, (feed, pulse)) in self.servos.iter().enumerate() {
            let name = self.name(&format!("v{at}"));
            let supply = match (*feed, rail("J1.5V")) {
                (4, Some(rail)) => Some(rail),
                (n, _) => self.supply(n),
            };
            let supply = supply.map(|s| format!("supply = \"{s}\"\n")).unwrap_or_default();
            let signal = if *pulse && !self.without_controller {
                format!("signal = \"controller.J2.5{at}\"\n")
            } else {
                String::new()
            };
            add(format!("[servos.\"{name}\"]\npart = \"builtin:servo-small\"\n{supply}{signal}"));
            if *pulse {
                add(format!(
                    "[cables.\"{}\"]\npart = \"builtin:cable-0.5\"\nfrom = \"{}\"\nto = \"servos.{name}\"\nlength = \"0.6 m\"",
                    self.name(&format!("cv{at}")),
                    self.name("s0")
                ));
            }
        }
        for wire in wires {
            add(wire);
        }
        if !self.without_controller {
            for (number, (from, to, other)) in self.loose.iter().enumerate() {
                let board = self.name("b0");
                let far = if *other {
                    format!("{board}.strip.{}", from % 8 + 1)
                } else {
                    format!("controller.J2.{to}")
                };
                add(format!(
                    "[[wires]]\nid = \"L{number}\"\nfrom = \"{board}.host.{}\"\nto = \"{far}\"\narea = \"0.5 mm²\"",
                    from % 7 + 1
                ));
            }
        }
        t
    }
}

/// A new text at the end of a list.
fn carriers_text(list: &mut Vec<String>) -> &mut String {
    list.push(String::new());
    list.last_mut().expect("just pushed")
}

fn part(board: &BoardWish) -> String {
    let mut t = "kind = \"driver\"\nname = \"Board of many channels\"\n[[supply_inputs]]\nname = \"motor\"\n[[supply_inputs]]\nname = \"logic\"\n".to_owned();
    let mut pins = vec!["1 = \"logic\"".to_owned(), "2 = \"ground\"".to_owned()];
    let mut signals = String::new();
    let mut signal = |name: &str, role: &str, direction: &str, more: &str| {
        pins.push(format!("{} = \"{name}\"", pins.len() + 1));
        let _ = writeln!(
            signals,
            "[[signals]]\nname = \"{name}\"\nrole = \"{role}\"\ndirection = \"{direction}\"\n{more}"
        );
    };
    let mut channels = String::new();
    for k in 0..board.channels.len() {
        let _ = writeln!(
            channels,
            "[[channels]]\nname = \"C{k}\"\n[[limits]]\nname = \"C{k}.chop\"\nacts = \"chop\"\nsenses = \"motor lead\"\ncovers = [\"C{k}\"]\nvalue = \"2 A\""
        );
        for (line, role, direction) in [
            ("pwm", "pwm", "in"),
            ("direction", "direction", "in"),
            ("current", "current", "out"),
            ("enc_a", "encoder-a", "out"),
            ("enc_b", "encoder-b", "out"),
        ] {
            signal(&format!("C{k}.{line}"), role, direction, "");
        }
    }
    signal("enable", "enable", "in", "");
    signal("fault", "fault", "out", "");
    if board.servo_output {
        t.push_str("[[supply_inputs]]\nname = \"servo\"\n");
        channels.push_str("[[servo_outputs]]\nname = \"S1\"\nsupply = \"servo\"\nsignal = \"S1.pulse\"\n");
        signal("S1.pulse", "servo-pulse", "in", "feeds_servo = \"S1\"");
    }
    let _ = write!(
        t,
        "{channels}{signals}[[limits]]\nname = \"input\"\nacts = \"latch\"\nsenses = \"supply input\"\nvalue = \"9 A\"\n"
    );
    let _ = write!(
        t,
        "[[connectors]]\nname = \"host\"\nmates = \"header\"\nnumbering = \"zigzag\"\npins = {{ {} }}\n",
        pins.join(", ")
    );
    // Four rows, counted around, and seen from the wire side.
    t.push_str("[[connectors]]\nname = \"strip\"\nnumbering = \"around\"\nrows = 4\nview = \"wire side\"\n");
    t.push_str("pins = { 1 = \"ground\", 2 = \"ground\", 3 = \"ground\", 4 = \"ground\", 5 = \"ground\", 6 = \"ground\", 7 = \"ground\", 8 = \"logic\" }\n");
    t
}

fn controller() -> String {
    let mut t =
        "kind = \"controller\"\nname = \"Controller\"\n[[rails]]\nname = \"5V\"\n[[rails]]\nname = \"3V3\"\n"
            .to_owned();
    for port in ["J1", "J2"] {
        let _ = write!(
            t,
            "[[ports]]\nname = \"{port}\"\nmates = \"header\"\nnumbering = \"zigzag\"\n[ports.pins]\n1 = \"5V\"\n2 = \"ground\"\n60 = \"3V3\"\n"
        );
        for pin in 3..60 {
            let _ = writeln!(t, "{pin} = [\"digital\"]");
        }
    }
    t
}

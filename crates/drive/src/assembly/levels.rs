//! Voltages of a line: what an output gives at an input through what lies between, what pulls do to a line that
//! nothing drives, how far the grounds of its ends lie apart.
//!
//! | left out in the bench | taken |
//! |---|---|
//! | highest voltage of an output | the upper end of its high level; of a pin its bank, of an encoder its supply |
//! | a resistor in the line | none |
//! | leakage of an input | none |
//!
use super::nets::{Hop, Member, Net};
use super::power::feed_voltage;
use super::returns::ground_shift;
use crate::constants::zero;
use crate::logic::{self, Pull};
use crate::sense::Converter;
use bench::Bench;
use bench::file::{Adapter, AdapterKind};
use bench::model::{Board, Device, Feed, Function, PortPin};
use bench::part::{Levels, OutputKind, ResetPull};
use std::sync::Arc;
use worked::{Dimension, Input, Number, Worked};

/// One output at one input: a hop, or the part of it before or behind a shifter.
#[derive(Clone, Debug)]
pub struct Stage<'n, 'b> {
    /// Name of the line: `board:A.pwm`.
    pub name: String,
    /// Output.
    pub from: Side<'n, 'b>,
    /// Input.
    pub to: Side<'n, 'b>,
    /// Resistor in the line; `None` where there is none.
    pub series: Option<Worked>,
    /// Resistors of a divider: in the line and to ground.
    pub divider: Option<(Worked, Worked)>,
    /// Resistors to rails and to ground.
    pub pulls: Vec<Pull<Worked>>,
    /// Shift of the ground between both ends.
    pub shift: Worked,
}

/// One side of a stage.
#[derive(Clone, Debug)]
pub enum Side<'n, 'b> {
    /// A pin, signal or lead.
    Member(&'n Member<'b>),
    /// A shifter, buffer or isolator in the line, by name.
    Adapter(Arc<str>, Box<Adapter>),
}

/// What a line does that nothing drives.
#[derive(Clone, Debug)]
pub enum AtRest {
    /// Pulls hold it.
    Pulled(Vec<Pull<Worked>>),
    /// The controller drives it while it starts.
    Driven(ResetPull),
    /// Nothing holds it.
    Floats,
}

impl<'n, 'b> Stage<'n, 'b> {
    /// Stages of a hop: one, or two where a shifter sits between.
    pub fn of(bench: &Bench, hop: Hop<'n, 'b>) -> Vec<Self> {
        let adapters = adapters(bench, hop.net);
        let sum = |kinds: &[AdapterKind]| -> Vec<Worked> {
            let of_kind = |a: &&(Arc<str>, Adapter)| kinds.iter().any(|kind| a.1.kind().is(*kind));
            adapters.iter().filter(of_kind).map(|(_, a)| a.resistance()).collect()
        };
        let mut series = sum(&[AdapterKind::Series, AdapterKind::Filter]);
        for member in &hop.net.members {
            if let Member::Signal(_, signal) = member
                && signal.has("series_resistance")
            {
                series.push(signal.series_resistance());
            }
        }
        let divider = adapters.iter().find(|(_, a)| a.kind().is(AdapterKind::Divider));
        let (name, from, to) = (hop.name(), Side::Member(hop.from), Side::Member(hop.to));
        let mut stage = Self {
            name,
            from,
            to,
            series: series
                .into_iter()
                .reduce(|a, b| a + b)
                .map(|r| r.called("resistor in the line", "R_ser")),
            divider: divider.map(|(_, a)| (a.resistance(), a.lower_resistance())),
            pulls: pulls(bench, hop.net),
            shift: shift_between(bench, hop.from, hop.to),
        };
        let active = [AdapterKind::Shifter, AdapterKind::Isolator, AdapterKind::Buffer];
        let shifter = adapters.iter().find(|(_, a)| {
            active.iter().any(|kind| a.kind().is(*kind)) && (a.has("high_above") || a.has("output_high"))
        });
        let Some((name, adapter)) = shifter else { return vec![stage] };
        let middle = Side::Adapter(name.clone(), Box::new(adapter.clone()));
        let behind = Self {
            from: middle.clone(),
            series: None,
            divider: None,
            shift: zero("V"),
            pulls: Vec::new(),
            ..stage.clone()
        };
        stage.to = middle;
        vec![stage, behind]
    }

    /// Lowest high level that the output gives at the input.
    pub fn high_level(&self) -> Option<Worked> {
        let output = self.from.levels()?.output_high();
        Some(self.at_input(output, -self.leakage()).called("high level", "U_H"))
    }

    /// Highest low level that the output gives at the input.
    pub fn low_level(&self) -> Option<Worked> {
        let output = self.from.levels()?.output_low();
        Some(self.at_input(output, self.leakage()).called("low level", "U_L"))
    }

    /// High level that the pulls alone make, where the output drives low only; `None` without a pull.
    pub fn pulled_up_level(&self) -> Option<Worked> {
        logic::undriven_voltage(&self.pulls, -self.leakage())
    }

    /// Highest voltage that the output can put on the input, divider counted; `None` of a sensor.
    pub fn highest(&self, bench: &Bench) -> Option<Worked> {
        let source = self.from.highest(bench, &self.pulls)?;
        Some(match &self.divider {
            Some((upper, lower)) => logic::divided(source, upper.clone(), lower.clone()),
            None => source,
        })
    }

    /// Whether the line carries a voltage that means a quantity, no level.
    pub fn carries_a_quantity(&self) -> bool {
        [&self.from, &self.to].iter().any(|end| matches!(end, Side::Member(member) if member.is_analogue()))
    }

    fn at_input(&self, output: Worked, leakage: Worked) -> Worked {
        if let Some((upper, lower)) = &self.divider {
            return logic::divided(output, upper.clone(), lower.clone());
        }
        let Some(series) = &self.series else { return output };
        let mut all = vec![Pull { voltage: output.clone(), resistance: series.clone() }];
        all.extend(self.pulls.iter().cloned());
        logic::undriven_voltage(&all, leakage).unwrap_or(output)
    }

    fn leakage(&self) -> Worked {
        self.to.levels().filter(|levels| levels.has("leakage")).map_or_else(|| zero("A"), |l| l.leakage())
    }
}

impl<'n, 'b> Side<'n, 'b> {
    /// Name for a message.
    pub fn name(&self) -> String {
        match self {
            Self::Member(member) => member.name(),
            Self::Adapter(name, _) => format!("adapters.{name}"),
        }
    }

    /// Path of the table that describes it.
    pub fn path(&self) -> String {
        match self {
            Self::Member(member) => member.path(),
            Self::Adapter(_, adapter) => adapter.path().to_owned(),
        }
    }

    /// The pin, signal or lead; `None` of an adapter.
    pub fn member(&self) -> Option<&'n Member<'b>> {
        match self {
            Self::Member(member) => Some(member),
            Self::Adapter(..) => None,
        }
    }

    /// Whether it drives low only.
    pub fn is_open_drain(&self) -> bool {
        self.levels().is_some_and(|levels| levels.output().is(OutputKind::OpenDrain))
    }

    /// Voltages and currents of the line.
    pub fn levels(&self) -> Option<Levels> {
        match self {
            Self::Member(member) => member.levels(),
            Self::Adapter(_, adapter) => Some(adapter.levels()),
        }
    }

    /// Voltage that an output cannot exceed; `pulls` make the high level of an open drain.
    fn highest(&self, bench: &Bench, pulls: &[Pull<Worked>]) -> Option<Worked> {
        let levels = self.levels()?;
        if self.is_open_drain() {
            let rails = pulls.iter().map(|pull| pull.voltage.clone());
            return Some(rails.reduce(Number::at_least).unwrap_or_else(|| zero("V")));
        }
        let ranged = levels.datum("output_high").is_some_and(|datum| datum.limits.is_some());
        let highest = match self {
            _ if levels.has("output_max") => levels.output_max(),
            _ if ranged => levels.output_high(),
            Self::Member(Member::Pin(pin)) => bank_voltage(bench, pin),
            Self::Member(Member::Encoder(axis, _)) if axis.encoder_feed.is_some() => {
                axis.encoder_feed.as_ref().map(|feed| feed_voltage(bench, feed))?
            }
            // Not told: at least it is no lower than the high level that the sheet promises.
            _ if levels.has("output_high") => levels.output_max().at_least(levels.output_high()),
            _ => levels.output_max(),
        };
        Some(highest.called("highest voltage of the output", "U_O"))
    }
}

/// What a net does that nothing drives: with the controller starting (`reset`), or with its pins off.
pub fn at_rest(bench: &Bench, net: &Net<'_>, reset: bool) -> AtRest {
    let mut pulls = pulls(bench, net);
    let mut driven: Option<ResetPull> = None;
    for pin in net.pins() {
        let level = match &pin.carries {
            // A rail holds a line whatever the controller does.
            Some(rail) if **rail == *"ground" => Some(ResetPull::Low),
            Some(_) => Some(ResetPull::High),
            None => pin.reset.value.filter(|_| reset),
        };
        match level {
            Some(level @ (ResetPull::High | ResetPull::Low | ResetPull::Toggles)) => {
                // Two pins that drive against each other give a line no level.
                driven = Some(driven.filter(|other| *other != level).map_or(level, |_| ResetPull::Toggles));
            }
            Some(pull @ (ResetPull::Up | ResetPull::Down)) => pulls.extend(reset_pull(bench, pin, pull)),
            Some(ResetPull::None) | None => {}
        }
    }
    if let Some(driven) = driven {
        return AtRest::Driven(driven);
    }
    if pulls.is_empty() { AtRest::Floats } else { AtRest::Pulled(pulls) }
}

/// Currents that all members of a net may leak into its line, or out of it.
pub fn leakage(net: &Net<'_>) -> Worked {
    let given = net.members.iter().filter_map(Member::levels).filter(|levels| levels.has("leakage"));
    given.map(|levels| levels.leakage()).reduce(|a, b| a + b).unwrap_or_else(|| zero("A"))
}

/// Resistors that tie a net to rails or to ground.
pub fn pulls(bench: &Bench, net: &Net<'_>) -> Vec<Pull<Worked>> {
    ties(bench, net).into_iter().map(|(pull, _)| pull).collect()
}

/// The same, each with what feeds its rail; ground has no feed.
pub fn ties(bench: &Bench, net: &Net<'_>) -> Vec<(Pull<Worked>, Option<Feed>)> {
    let mut found = Vec::new();
    for member in &net.members {
        match member {
            Member::Signal(board, signal) => {
                let pull = signal.pull();
                if pull.is_given() && pull.populated().is(true) {
                    let rail = pull.to().and_then(|to| own_rail(bench, board, to));
                    let feed = pull.to().and_then(|to| own_feed(board, to));
                    found.extend(rail.map(|voltage| (Pull { voltage, resistance: pull.value() }, feed)));
                }
            }
            Member::Encoder(axis, _) => {
                let pull = axis.encoder.as_ref().map(|encoder| encoder.pull());
                if let (Some(pull), Some(feed)) =
                    (pull.filter(|p| p.is_given() && p.populated().is(true)), &axis.encoder_feed)
                {
                    let feed = Some(feed).filter(|_| pull.to() != Some("ground")).cloned();
                    let voltage = feed.as_ref().map_or_else(|| zero("V"), |feed| feed_voltage(bench, feed));
                    found.push((Pull { voltage, resistance: pull.value() }, feed));
                }
            }
            _ => {}
        }
    }
    for (_, adapter) in adapters(bench, net).iter().filter(|(_, a)| a.kind().is(AdapterKind::Pull)) {
        let feed = adapter.to().and_then(|text| bench.feed_named(text));
        let voltage = feed.as_ref().map_or_else(|| zero("V"), |feed| feed_voltage(bench, feed));
        found.push((Pull { voltage, resistance: adapter.resistance() }, feed));
    }
    found
}

/// Supply of the pins of a bank.
pub fn bank_voltage(bench: &Bench, pin: &PortPin) -> Worked {
    let controller = bench.controller();
    let bank = controller
        .and_then(|c| c.part.banks().into_iter().find(|bank| Some(bank.name()) == pin.bank.as_deref()));
    match (bank, controller) {
        (Some(bank), _) if bank.has("voltage") => bank.voltage(),
        (_, Some(controller)) => controller.part.logic_voltage(),
        _ => unknown_rail("controller.logic_voltage"),
    }
}

/// The converter that reads a pin.
pub fn converter(bench: &Bench, pin: &PortPin) -> Option<Converter<Worked>> {
    let wanted = pin.functions.iter().find_map(|function| match function {
        Function::AnalogIn(name) => Some(name.clone()),
        _ => None,
    })?;
    let adcs = bench.controller()?.part.adcs();
    let adc = adcs.iter().find(|adc| wanted.is_none() || adc.name() == wanted.as_deref())?;
    Some(Converter {
        reference: adc.reference(),
        lowest: adc.lowest(),
        codes: (adc.bits() * std::f64::consts::LN_2).exp().called("codes", "n"),
    })
}

/// Voltage of a supply input or rail of a board, or of its ground.
pub fn own_rail(bench: &Bench, board: &Board, name: &str) -> Option<Worked> {
    if name == "ground" {
        return Some(zero("V"));
    }
    if let Some(fed) = board.input(name) {
        let path = format!("{}.supplies.{name}", board.entry.path());
        return Some(fed.feed.as_ref().map_or_else(|| unknown_rail(&path), |feed| feed_voltage(bench, feed)));
    }
    board.rail(name).map(|rail| rail.voltage())
}

/// What feeds a supply input of a board; a rail of a board feeds itself.
fn own_feed(board: &Board, name: &str) -> Option<Feed> {
    match board.input(name) {
        Some(fed) => fed.feed.clone(),
        None => board
            .rail(name)
            .map(|rail| Feed::BoardRail { board: board.name.clone(), rail: rail.name().into() }),
    }
}

/// Voltage that feeds the input of a member.
pub fn input_supply(bench: &Bench, member: &Member<'_>) -> Option<Worked> {
    match member {
        Member::Pin(pin) => Some(bank_voltage(bench, pin)),
        _ => feed_of(bench, member).map(|feed| feed_voltage(bench, &feed)),
    }
}

/// Supply inputs of a board that feed neither bridges nor servos: its logic. Of a board that makes its logic from
/// the motor supply, that input.
pub fn logic_inputs(board: &Board) -> Vec<&bench::model::FedInput> {
    let channels = board.part.channels();
    let outputs = board.part.servo_outputs();
    let powers = |name: &str| {
        channels.iter().any(|channel| channel.supply().unwrap_or("motor") == name)
            || outputs.iter().any(|output| output.supply() == Some(name))
    };
    let own: Vec<_> = board.inputs.iter().filter(|fed| !powers(fed.input.name())).collect();
    if own.is_empty() { board.inputs.iter().collect() } else { own }
}

/// What feeds the electronics of a member: two members may be on while the other is off where these differ.
pub fn feed_of(bench: &Bench, member: &Member<'_>) -> Option<Feed> {
    match member {
        Member::Pin(_) => bench.controller()?.feed.clone(),
        Member::Signal(board, _) => logic_inputs(board).first()?.feed.clone(),
        Member::Pulse(servo) => servo.feed.clone(),
        Member::Encoder(axis, _) => axis.encoder_feed.clone(),
        Member::Sensor(_, sensor) => bench.feed_named(sensor.supply()?),
    }
}

fn shift_between(bench: &Bench, from: &Member<'_>, to: &Member<'_>) -> Worked {
    let ends = [from, to].map(Member::device).into_iter().filter(|device| *device != Device::Controller);
    let shifts: Vec<Worked> =
        ends.map(|device| ground_shift(bench, &device)).filter(|s| s.value() != 0.0).collect();
    shifts.into_iter().reduce(|a, b| a + b).unwrap_or_else(|| zero("V"))
}

fn reset_pull(bench: &Bench, pin: &PortPin, pull: ResetPull) -> Option<Pull<Worked>> {
    let controller = bench.controller()?;
    let voltage = if pull == ResetPull::Up { bank_voltage(bench, pin) } else { zero("V") };
    Some(Pull { voltage, resistance: pin.reset_resistance(&controller.part) })
}

/// Small circuits in the line of any member of a net.
fn adapters(bench: &Bench, net: &Net<'_>) -> Vec<(Arc<str>, Adapter)> {
    let on = |adapter: &Adapter| {
        adapter.on().is_some_and(|text| {
            net.members.iter().any(|member| {
                let name = member.name();
                text == name || text.strip_suffix(&*name).is_some_and(|kind| kind.ends_with('.'))
            })
        })
    };
    bench.adapters().into_iter().filter(|(_, adapter)| on(adapter)).collect()
}

fn unknown_rail(path: &str) -> Worked {
    Input::new(path, "voltage of the rail", "U_rail", Dimension::VOLTAGE).missing(0.0, 60.0).worked()
}

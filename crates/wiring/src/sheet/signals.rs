//! Control and feedback signals, line by line.

use super::table;
use crate::Wiring;
use crate::levels::{Rest, rest};
use crate::problem::{Ability, Input, Need, Way};
use crate::task::OUTPUT_CONVERTER;
use crate::wires::{far_ends, is_control, is_rerouted};
use bench::part::{Level, Levels, Role, Signal};
use drive::assembly::nets::{Member, Net};
use finding::sheet::Block;
use worked::format;

/// What stands over the levels of a table: those that a board asks for, or those that it gives.
const ASKED: [&str; 3] = ["#high above", "#low below", "analogue"];
const GIVEN: [&str; 3] = ["#high", "#low", "analogue"];

/// Lines whose level the controller gives.
pub(super) fn control(wiring: &Wiring<'_>) -> Block {
    table("control-signals", "Control signals, out of the controller", &headings(ASKED), rows(wiring, true))
}

/// Lines that the controller reads.
pub(super) fn feedback(wiring: &Wiring<'_>) -> Block {
    table("feedback-signals", "Feedback signals, into the controller", &headings(GIVEN), rows(wiring, false))
}

fn headings([high, low, analogue]: [&'static str; 3]) -> [&'static str; 10] {
    ["signal", "pin", "other end", "pin name", "function", high, low, analogue, "undriven", "meaning"]
}

fn rows(wiring: &Wiring<'_>, control: bool) -> Vec<Vec<String>> {
    let task = &wiring.task;
    let lines = 0..task.lines.len();
    lines
        .filter(|line| is_control(task.problem.lines[*line].need) == control)
        .map(|line| {
            let (place, name, function) = match wiring.solved.plan.lines[line] {
                Some(seat) => {
                    let pin = task.pins[seat.pin];
                    let mut place = pin.place();
                    if is_rerouted(task, &wiring.solved.plan, line) {
                        place.push_str("\u{a0}↷");
                    }
                    let name = pin.name.as_deref().unwrap_or("").to_owned();
                    (place, name, function(wiring, line))
                }
                None => ("left out".to_owned(), String::new(), String::new()),
            };
            let member = &task.lines[line];
            let far = seat(wiring, line).map_or_else(
                || far_ends(task, line).into_iter().next().unwrap_or_default(),
                |(plug, position)| format!("{}.{position}", task.problem.plugs[plug].name),
            );
            let [high, low, analogue] =
                member.levels().map(|levels| level(member, &levels, control)).unwrap_or_default();
            vec![
                task.problem.lines[line].name.to_string(),
                place,
                far,
                name,
                function,
                high,
                low,
                analogue,
                undriven(wiring, line),
                meaning(wiring, line),
            ]
        })
        .collect()
}

/// The seat of a line that lies opposite its pin, else its first one.
fn seat<'w>(wiring: &'w Wiring<'_>, line: usize) -> Option<(usize, &'w std::sync::Arc<str>)> {
    let (problem, plan) = (&wiring.task.problem, &wiring.solved.plan);
    let pin = plan.lines[line].map(|seat| &problem.pins[seat.pin]);
    let opposite = |(plug, position): &(usize, &std::sync::Arc<str>)| {
        pin.is_some_and(|pin| pin.port == plan.ports[*plug] && pin.position == **position)
    };
    problem.seats_of(line).find(opposite).or_else(|| problem.seats_of(line).next())
}

/// What the pin does: `pulse T1`, `counter Q0, input A`.
fn function(wiring: &Wiring<'_>, line: usize) -> String {
    let problem = &wiring.task.problem;
    let Some(seat) = wiring.solved.plan.lines[line] else { return String::new() };
    let unit = |unit: usize| &problem.units[unit].name;
    match seat.ability {
        Ability::Read if seat.way == Some(Way::Program) => "digital in, counted by program".to_owned(),
        Ability::Read => "digital in".to_owned(),
        Ability::Drive => "digital out".to_owned(),
        Ability::Pulse(timer) => format!("pulse {}", unit(timer)),
        Ability::Measure(converter) if **unit(converter) == *"converter" => "analogue in".to_owned(),
        Ability::Measure(converter) => format!("analogue in {}", unit(converter)),
        Ability::Give(converter) if **unit(converter) == *OUTPUT_CONVERTER => "analogue out".to_owned(),
        Ability::Give(converter) => format!("analogue out {}", unit(converter)),
        Ability::Count(counter, input) => {
            let input = match input {
                Input::A => "A",
                Input::B => "B",
                Input::Index => "index",
            };
            let swapped = if seat.swapped { ", channels swapped: turn the sign" } else { "" };
            format!("counter {}, input {input}{swapped}", unit(counter))
        }
        Ability::Stamp(timer) => format!("time stamp {}", unit(timer)),
        Ability::Serial(serial, _) => format!("serial {}", unit(serial)),
    }
}

/// High level, low level, and what a voltage means that is no level.
fn level(member: &Member<'_>, levels: &Levels, control: bool) -> [String; 3] {
    if let Member::Signal(_, signal) = member
        && member.is_analogue()
    {
        let means = match (signal.has("zero"), signal.has("scale")) {
            (true, true) => format!("{} at zero, {}", signal.zero().text(), signal.scale().text()),
            (false, true) => signal.scale().text(),
            _ => "analogue".to_owned(),
        };
        return [String::new(), String::new(), means];
    }
    let text = |key: &str, worked: worked::Worked| {
        // Where the sheet gives a range, its middle would be nobody's figure.
        let band = levels.datum(key).filter(|datum| datum.limits.is_some() && !datum.band_assumed);
        match band.and_then(|_| worked.worst_case()) {
            _ if !levels.has(key) => "not given".to_owned(),
            Some((low, high)) => format::range(low, high, &worked.unit()),
            None => worked.text(),
        }
    };
    if control {
        return [
            text("high_above", levels.high_above()),
            text("low_below", levels.low_below()),
            String::new(),
        ];
    }
    let high = match member.is_open_drain() {
        true => "open drain".to_owned(),
        false => text("output_high", levels.output_high()),
    };
    [high, text("output_low", levels.output_low()), String::new()]
}

/// What the line does with nothing at the controller's end.
fn undriven(wiring: &Wiring<'_>, line: usize) -> String {
    let member = &wiring.task.lines[line];
    if member.drives() {
        return String::new();
    }
    let net = Net { members: vec![member.clone()] };
    match rest(wiring.task.bench, &net, member, false) {
        Rest::Level(Level::High, _) => "high".to_owned(),
        Rest::Level(Level::Low, _) => "low".to_owned(),
        Rest::Between(voltage) => format!("{voltage}: neither"),
        Rest::Toggles => "toggles".to_owned(),
        Rest::Floats => "floats".to_owned(),
        Rest::Untold => "not given".to_owned(),
    }
}

/// What the line is for.
pub(crate) fn meaning(wiring: &Wiring<'_>, line: usize) -> String {
    let task = &wiring.task;
    match &task.lines[line] {
        Member::Signal(board, signal) => {
            let channel = board.channel_of(signal);
            let axis = channel.as_ref().and_then(|channel| task.bench.axis_of_channel(&board.name, channel));
            let of = axis.map_or_else(|| format!("{}", board.name), |axis| format!("{}", axis.name));
            signal_meaning(signal, &of, task.problem.lines[line].need, wiring)
        }
        Member::Pulse(servo) => format!("position of servo {}", servo.name),
        Member::Encoder(axis, name) => format!("line {name} of the encoder of {}", axis.name),
        Member::Sensor(name, _) => format!("sensor {name}"),
        Member::Pin(_) => String::new(),
    }
}

fn signal_meaning(signal: &Signal, of: &str, need: Need, wiring: &Wiring<'_>) -> String {
    let active = signal.active().or(Level::High).word();
    if let Some(said) = signal.means() {
        return format!("{active}: {said}");
    }
    let encoder = |line: &str| match need {
        Need::Count { encoder, .. } => {
            format!("{line} of the encoder of {}", wiring.task.problem.encoders[encoder].axis)
        }
        _ => line.to_owned(),
    };
    match signal.role().value {
        Some(Role::Pwm) => format!("voltage to the motor of {of}"),
        Some(Role::Direction) => format!("sense of {of}"),
        Some(Role::Enable) => format!("{active}: the bridges of {of} work"),
        Some(Role::Brake) => format!("{active}: shorts the winding of {of}"),
        Some(Role::Decay) => format!("off-state of {of}"),
        Some(Role::LimitSelect | Role::LimitSet) => format!("limit of {of}"),
        Some(Role::Fault) => format!("{active}: {of} tells a fault"),
        Some(Role::Clear) => format!("{active}: clears a fault of {of}"),
        Some(Role::PowerGood) => format!("{active}: the supply of {of} is in its range"),
        Some(Role::Current) => format!("current of {of}"),
        Some(Role::Voltage) => format!("voltage of {of}"),
        Some(Role::Temperature) => format!("temperature of {of}"),
        Some(Role::EncoderA) => encoder("first channel"),
        Some(Role::EncoderB) => encoder("second channel"),
        Some(Role::EncoderIndex) => encoder("mark"),
        Some(Role::ServoPulse) => format!("position of a servo at {of}"),
        Some(Role::Step) => format!("one step of {of} a pulse"),
        Some(Role::Switch) => format!("{active}: a switch of {of} is reached"),
        Some(Role::Sleep) => format!("{active}: {of} sleeps"),
        Some(Role::Other) | None => String::new(),
    }
}

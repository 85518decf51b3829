//! What the bench is: sentences for somebody who sees it for the first time, and its devices in tables.

use super::build::{count, listed, table, with_band};
use bench::Bench;
use bench::model::{Axis, Drive, Feed};
use finding::Sheet;

/// The sheet about the bench as a whole.
pub(super) fn sheet(bench: &Bench) -> Sheet {
    let mut blocks = Vec::new();
    if !bench.axes().is_empty() {
        let rows = bench.axes().iter().map(axis_row).collect();
        let headings = ["Axis", "Motor", "Driven by", "Gear", "Encoder", "Moves", "Controls"];
        blocks.push(table("axes", "Axes", &headings, rows));
    }
    if !bench.servos().is_empty() {
        let row = |servo: &bench::ServoUnit| {
            let output = servo.output.as_ref().map(|(board, output)| format!("{board}.{}", output.name()));
            vec![
                servo.name.to_string(),
                part_name(servo.part.about().name()),
                servo.feed.as_ref().map_or_else(nothing, Feed::to_string),
                output.unwrap_or_else(|| "wired loosely".to_owned()),
            ]
        };
        let rows = bench.servos().iter().map(row).collect();
        blocks.push(table("servos", "Servos", &["Servo", "Part", "Fed by", "Plugged into"], rows));
    }
    let row = |supply: &std::sync::Arc<bench::SupplyUnit>| {
        vec![
            supply.name.to_string(),
            part_name(supply.part.about().name()),
            with_band(&supply.voltage()),
            supply.part.current().text(),
            with_band(&supply.limit()),
            fed_by(bench, &Feed::Supply(supply.name.clone())),
        ]
    };
    let rows = bench.supplies().iter().map(row).collect();
    let headings = ["Supply", "Part", "Voltage", "#Current", "Limit", "Feeds"];
    blocks.push(table("supplies", "Supplies", &headings, rows));
    let row = |board: &std::sync::Arc<bench::Board>| {
        let limits: Vec<String> = board
            .limits
            .iter()
            .map(|limit| match &limit.setting {
                Some(setting) => format!("{} {} ({setting})", limit.limit.name(), limit.threshold.text()),
                None => format!("{} {}", limit.limit.name(), limit.threshold.text()),
            })
            .collect();
        vec![
            board.name.to_string(),
            part_name(board.part.about().name()),
            board.in_use.as_ref().map_or_else(String::new, |used| used.name().to_owned()),
            plugged_into(board),
            board.entry.pwm_frequency().text(),
            limits.join(", "),
        ]
    };
    let rows = bench.boards().iter().map(row).collect();
    let headings = ["Board", "Part", "Used for", "Plugged into", "#PWM", "Limits in force"];
    blocks.push(table("boards", "Driver boards", &headings, rows));
    Sheet { id: "bench".to_owned(), title: "The bench".to_owned(), summary: summary(bench), blocks }
}

/// Ports that a board sits on.
fn plugged_into(board: &bench::Board) -> String {
    let ports: Vec<&str> = board.plugs().map(|plugged| plugged.port.name()).collect();
    if ports.is_empty() { "loose wires".to_owned() } else { ports.join(", ") }
}

fn summary(bench: &Bench) -> Vec<String> {
    let header = bench.header();
    let mut paragraphs = Vec::new();
    if let Some(text) = header.description() {
        paragraphs.push(text.to_owned());
    }
    let axes: Vec<String> = bench.axes().iter().map(axis_words).collect();
    let mut first = format!("{} has {}", bench.name(), count(axes.len(), "axis", "axes"));
    if !bench.servos().is_empty() {
        first.push_str(&format!(" and {}", count(bench.servos().len(), "servo", "servos")));
    }
    first.push_str(", ");
    first.push_str(&format!("on {}", count(bench.boards().len(), "driver board", "driver boards")));
    if let Some(controller) = bench.controller() {
        first.push_str(&format!(", run by {}", part_name(controller.part.about().name())));
    }
    first.push_str(&format!(", fed by {}.", count(bench.supplies().len(), "supply", "supplies")));
    if header.has("ambient") {
        first.push_str(&format!(" The air around it has {}.", with_band(&bench.ambient())));
    }
    paragraphs.push(first);
    paragraphs.extend(axes);
    let stop = bench.stop();
    paragraphs.push(match stop.device() {
        Some(device) => {
            format!("Motor power is cut without software by a {device}, which cuts {}.", listed(&stop.cuts()))
        }
        None => "Nothing is described that cuts motor power without software.".to_owned(),
    });
    paragraphs
}

fn axis_words(axis: &Axis) -> String {
    let mut words = format!("Axis {}: ", axis.name);
    words.push_str(&match &axis.drive {
        Drive::Dc(motor) => part_name(motor.about().name()),
        Drive::Stepper(stepper) => part_name(stepper.about().name()),
        Drive::Nothing => "no motor that could be read".to_owned(),
    });
    if let Some(gearbox) = &axis.gearbox {
        words.push_str(&format!(", {}", part_name(gearbox.about().name())));
    }
    if let Some(carried) = &axis.load {
        words.push_str(&format!(", moving {}", carried.name));
        if carried.shared_by > 1 {
            words.push_str(&format!(
                " together with {}",
                count(carried.shared_by - 1, "other axis", "other axes")
            ));
        }
    }
    if let Some((name, motion)) = &axis.motion {
        words.push_str(&format!(" by the motion {name}"));
        if motion.has("top_speed") {
            words.push_str(&format!(", up to {}", motion.top_speed().text()));
        }
    }
    words.push('.');
    words
}

fn axis_row(axis: &Axis) -> Vec<String> {
    let motor = match &axis.drive {
        Drive::Dc(motor) => part_name(motor.about().name()),
        Drive::Stepper(stepper) => part_name(stepper.about().name()),
        Drive::Nothing => nothing(),
    };
    let driven: Vec<String> =
        axis.channels.iter().map(|used| format!("{}.{}", used.board.name, used.channel.name())).collect();
    let gear = axis.gearbox.as_ref().map_or_else(nothing, |gearbox| match gearbox.exact_ratio("ratio") {
        Some(ratio) => format!("{} : 1", ratio.value()),
        None => gearbox.ratio().text(),
    });
    let encoder = axis.encoder.as_ref().map_or_else(nothing, |encoder| {
        if encoder.has("lines_per_rev") {
            format!("{} lines", plain(&encoder.lines_per_rev()))
        } else {
            format!("{} edges", plain(&encoder.edges_per_rev()))
        }
    });
    let moves = axis.motion.as_ref().map_or_else(nothing, |(name, _)| name.to_string());
    let controls = axis.entry.controls().value.map_or_else(nothing, |c| c.word().to_owned());
    vec![axis.name.to_string(), motor, driven.join(", "), gear, encoder, moves, controls]
}

/// A count a revolution without its unit.
fn plain(count: &worked::Worked) -> String {
    count.text().split(' ').next().unwrap_or("").to_owned()
}

fn fed_by(bench: &Bench, feed: &Feed) -> String {
    use bench::model::Consumer;
    let name = |consumer: Consumer| match consumer {
        Consumer::Input { board, input } => format!("{board}.{input}"),
        Consumer::Controller => "controller".to_owned(),
        Consumer::Servo(name) | Consumer::Encoder(name) | Consumer::Sensor(name) | Consumer::Brake(name) => {
            name.to_string()
        }
        Consumer::Rail(feed) => feed.to_string(),
    };
    let names: Vec<String> = bench.consumers_of(feed).into_iter().map(name).collect();
    names.join(", ")
}

pub(super) fn part_name(name: Option<&str>) -> String {
    name.unwrap_or("a part without a name").to_owned()
}

fn nothing() -> String {
    "none".to_owned()
}

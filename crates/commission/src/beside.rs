//! What is known of a device beside the figures of its part: its signals with their pins, what its test points have to
//! read, what was found about it.

use crate::first_power::{FirstPower, Reading, readings_table};
use bench::Bench;
use drive::assembly::nets::Member;
use finding::Finding;
use finding::render::{standing, word};
use finding::sheet::{Block, Table};
use wiring::Wiring;

/// Blocks for every device that has any, by its path in the bench: `drivers.board`, `axes.left.motor`. Without a plan
/// there are neither signals nor test points.
pub fn beside(
    bench: &Bench,
    planned: Option<(&Wiring<'_>, &FirstPower)>,
    findings: &[Finding],
) -> check::Beside {
    devices(bench)
        .into_iter()
        .map(|device| {
            let mut blocks: Vec<Block> = Vec::new();
            blocks.extend(planned.and_then(|(wiring, _)| signals(wiring, &device)));
            blocks.extend(planned.and_then(|(_, first_power)| points(first_power, &device)));
            blocks.extend(found(findings, &device));
            (device.path, blocks)
        })
        .filter(|(_, blocks)| !blocks.is_empty())
        .collect()
}

/// A device with the words for it.
struct Device {
    path: String,
    title: String,
}

fn devices(bench: &Bench) -> Vec<Device> {
    let mut found = Vec::new();
    let mut add = |path: String, title: String| found.push(Device { path, title });
    for supply in bench.supplies() {
        add(format!("supplies.{}", supply.name), format!("supply {}", supply.name));
    }
    if bench.controller().is_some() {
        add("controller".to_owned(), "the controller".to_owned());
    }
    for board in bench.boards() {
        add(format!("drivers.{}", board.name), format!("board {}", board.name));
    }
    for axis in bench.axes() {
        let motor = if axis.stepper().is_some() { "stepper" } else { "motor" };
        add(format!("{}.{motor}", axis.path()), format!("the {motor} of {}", axis.name));
        if axis.encoder.is_some() {
            add(format!("{}.encoder", axis.path()), format!("the encoder of {}", axis.name));
        }
    }
    for servo in bench.servos() {
        add(format!("servos.{}", servo.name), format!("servo {}", servo.name));
    }
    found
}

/// Lines that end at a device, with the pins of the controller.
fn signals(wiring: &Wiring<'_>, device: &Device) -> Option<Block> {
    let task = &wiring.task;
    let rows: Vec<Vec<String>> = (0..task.lines.len())
        .filter(|line| ends_at(&task.lines[*line], device))
        .map(|line| {
            let pin = wiring.solved.plan.lines[line]
                .map_or("left out".to_owned(), |seat| task.pins[seat.pin].place());
            vec![task.problem.lines[line].name.to_string(), pin, wiring.meaning(line)]
        })
        .collect();
    (!rows.is_empty()).then(|| {
        let (id, title) = (format!("signals-{}", slug(&device.path)), format!("Signals of {}", device.title));
        Block::Table(Table::of(&id, &title, &["signal", "pin", "meaning"], rows))
    })
}

fn ends_at(member: &Member<'_>, device: &Device) -> bool {
    member.device().to_string() == device.path
}

/// What the test points of a device have to read.
fn points(first_power: &FirstPower, device: &Device) -> Option<Block> {
    let own: Vec<&Reading> = first_power.readings().filter(|reading| reading.of == device.path).collect();
    (!own.is_empty()).then(|| {
        readings_table(
            &format!("points-{}", slug(&device.path)),
            &format!("Test points of {}", device.title),
            &own,
        )
    })
}

/// What was found about a device, the weightiest first as the findings come.
fn found(findings: &[Finding], device: &Device) -> Vec<Block> {
    let own: Vec<String> = findings
        .iter()
        .filter(|finding| concerns(finding, device))
        .map(|finding| {
            let (weight, standing) = (word(finding.severity), standing(finding));
            format!("{weight} {}{standing}: {}", finding.id, finding.message)
        })
        .collect();
    if own.is_empty() {
        return Vec::new();
    }
    vec![Block::Text(format!("Found about {}:", device.title)), Block::List(own)]
}

/// Whether a finding is about a device: about its table, its signals, or the axis that it moves.
fn concerns(finding: &Finding, device: &Device) -> bool {
    let subject = finding.subject.as_str();
    let below =
        |path: &str| subject == path || subject.strip_prefix(path).is_some_and(|rest| rest.starts_with('.'));
    let axis = device.path.strip_suffix(".motor").or_else(|| device.path.strip_suffix(".stepper"));
    let board = device.path.strip_prefix("drivers.");
    below(&device.path)
        || axis.is_some_and(|axis| subject == axis)
        || board
            .is_some_and(|board| subject.strip_prefix(board).is_some_and(|rest| rest.starts_with([':', '.'])))
}

/// A path as a part of a file name.
fn slug(path: &str) -> String {
    path.replace('.', "-")
}

//! What hangs on a supply or rail, and how much each draws at the worst.

use super::power::feed_voltage;
use crate::logic::converter_input;
use bench::Bench;
use bench::model::{Consumer, Feed};
use worked::{Number, Worked};

/// Deepest chain of rails that is followed; a circle is a finding of the loader.
const DEEPEST: usize = 8;

/// What draws current from a supply or rail, in the order of the bench, with its current. A servo counts with its
/// stall current; what a board's bridges draw is not counted, only its own current.
pub fn loads(bench: &Bench, feed: &Feed) -> Vec<(String, Worked)> {
    loads_to(bench, feed, DEEPEST)
}

/// Current that a supply or rail gives continuously.
pub fn rating(bench: &Bench, feed: &Feed) -> Option<Worked> {
    match feed {
        Feed::Supply(name) => Some(bench.supply(name)?.part.current()),
        Feed::ControllerRail(rail) => Some(bench.controller()?.rail(rail)?.current()),
        Feed::BoardRail { board, rail } => Some(bench.board(board)?.rail(rail)?.current()),
    }
}

fn loads_to(bench: &Bench, feed: &Feed, deep: usize) -> Vec<(String, Worked)> {
    let mut found = Vec::new();
    for consumer in bench.consumers_of(feed) {
        let load = match consumer {
            Consumer::Input { board, input } => bench.board(&board).and_then(|unit| {
                let current = unit.input(&input)?.input.current();
                Some((format!("{board}, input {input}"), current))
            }),
            Consumer::Controller => {
                bench.controller().map(|c| ("controller".to_owned(), c.part.supply().current()))
            }
            Consumer::Servo(name) => {
                bench.servo(&name).map(|s| (format!("servo {name}, stalled"), s.part.stall_current()))
            }
            Consumer::Encoder(axis) => bench
                .axis(&axis)
                .and_then(|unit| Some((format!("encoder of {axis}"), unit.encoder.as_ref()?.current()))),
            Consumer::Sensor(name) => {
                let sensor = bench.sensors().into_iter().find(|(known, _)| *known == name);
                sensor.map(|(_, sensor)| (format!("sensor {name}"), sensor.current()))
            }
            Consumer::Brake(name) => {
                let brake = bench.brakes().into_iter().find(|(known, _)| *known == name);
                brake.map(|(_, brake)| (format!("brake {name}"), brake.current()))
            }
            Consumer::Rail(rail) => (deep > 0).then(|| through_rail(bench, feed, &rail, deep)).flatten(),
        };
        found.extend(load);
    }
    found
}

/// What a rail draws from what it is made from; `None` where nothing hangs on it.
fn through_rail(bench: &Bench, feed: &Feed, rail: &Feed, deep: usize) -> Option<(String, Worked)> {
    let loads = loads_to(bench, rail, deep - 1);
    let sum = loads.into_iter().map(|(_, current)| current).reduce(|a, b| a + b)?;
    let (name, part) = match rail {
        Feed::ControllerRail(name) => {
            (format!("rail {name} of the controller"), bench.controller()?.rail(name)?)
        }
        Feed::BoardRail { board, rail } => {
            (format!("rail {rail} of {board}"), bench.board(board)?.rail(rail)?)
        }
        Feed::Supply(_) => return None,
    };
    // A linear regulator passes its current on.
    let drawn = match part.has("efficiency") {
        true => converter_input(sum, part.voltage(), part.efficiency(), feed_voltage(bench, feed)),
        false => sum.called("current through the regulator", "I_reg"),
    };
    Some((name, drawn))
}

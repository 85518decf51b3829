//! What hangs on a supply or rail, and how much each draws at the worst.

use super::power::feed_voltage;
use crate::logic::converter_input;
use bench::Bench;
use bench::model::{Consumer, Feed};
use bench::part::Rail;
use worked::{Number, Worked};

/// Deepest chain of rails that is followed; a circle is a finding of the loader.
const DEEPEST: usize = 8;

/// What draws current from a supply or rail, in the order of the bench, with its current. A servo counts with its
/// stall current; what a board's bridges draw is not counted, only its own current.
pub fn loads(bench: &Bench, feed: &Feed) -> Vec<(String, Worked)> {
    loads_to(bench, feed, DEEPEST, &|consumer| by_sheet(bench, consumer))
}

/// The same while nothing moves: a servo counts with its current at rest.
pub fn loads_at_rest(bench: &Bench, feed: &Feed) -> Vec<(String, Worked)> {
    let resting = |consumer: &Consumer| match consumer {
        Consumer::Servo(name) => {
            Some((format!("servo {name}, at rest"), bench.servo(name)?.part.idle_current()))
        }
        other => by_sheet(bench, other),
    };
    loads_to(bench, feed, DEEPEST, &resting)
}

/// The same while servos move freely; one whose sheet does not tell that current is left out.
pub fn loads_moving_freely(bench: &Bench, feed: &Feed) -> Vec<(String, Worked)> {
    loads_to(bench, feed, DEEPEST, &|consumer| moving_freely(bench, consumer))
}

/// What the controller draws from its feed with what hangs on its rails, servos moving freely.
pub fn drawn_by_controller(bench: &Bench, feed: &Feed) -> Option<Worked> {
    let own = bench.consumers_of(feed).into_iter().filter_map(|consumer| match &consumer {
        Consumer::Controller => by_sheet(bench, &consumer),
        Consumer::Rail(rail @ Feed::ControllerRail(_)) => {
            through_rail(bench, feed, rail, (DEEPEST, &|consumer| moving_freely(bench, consumer)))
        }
        _ => None,
    });
    own.map(|(_, current)| current).reduce(|a, b| a + b)
}

fn moving_freely(bench: &Bench, consumer: &Consumer) -> Option<(String, Worked)> {
    match consumer {
        Consumer::Servo(name) => {
            let part = &bench.servo(name)?.part;
            part.has("moving_current").then(|| (format!("servo {name}, moving"), part.moving_current()))
        }
        other => by_sheet(bench, other),
    }
}

/// Whether a servo hangs on a supply or rail, or on a rail that is made from it.
pub fn feeds_servo(bench: &Bench, feed: &Feed) -> bool {
    fn below(bench: &Bench, feed: &Feed, deep: usize) -> bool {
        bench.consumers_of(feed).iter().any(|consumer| match consumer {
            Consumer::Servo(_) => true,
            Consumer::Rail(rail) => deep > 0 && below(bench, rail, deep - 1),
            _ => false,
        })
    }
    below(bench, feed, DEEPEST)
}

/// Current that a supply or rail gives continuously.
pub fn rating(bench: &Bench, feed: &Feed) -> Option<Worked> {
    match feed {
        Feed::Supply(name) => Some(bench.supply(name)?.part.current()),
        Feed::ControllerRail(_) | Feed::BoardRail { .. } => Some(rail(bench, feed)?.current()),
    }
}

/// The rail that a feed is; `None` where it is a supply.
pub fn rail(bench: &Bench, feed: &Feed) -> Option<Rail> {
    match feed {
        Feed::ControllerRail(name) => bench.controller()?.rail(name),
        Feed::BoardRail { board, rail } => bench.board(board)?.rail(rail),
        Feed::Supply(_) => None,
    }
}

/// What a consumer draws at the worst by its own sheet; nothing of a rail, which draws what hangs on it.
pub(super) fn by_sheet(bench: &Bench, consumer: &Consumer) -> Option<(String, Worked)> {
    Some(match consumer {
        Consumer::Input { board, input } => {
            (format!("{board}, input {input}"), bench.board(board)?.input(input)?.input.current())
        }
        Consumer::Controller => ("controller".to_owned(), bench.controller()?.part.supply().current()),
        Consumer::Servo(name) => (format!("servo {name}, stalled"), bench.servo(name)?.part.stall_current()),
        Consumer::Encoder(axis) => {
            (format!("encoder of {axis}"), bench.axis(axis)?.encoder.as_ref()?.current())
        }
        Consumer::Sensor(name) => {
            let (_, sensor) = bench.sensors().into_iter().find(|(known, _)| known == name)?;
            (format!("sensor {name}"), sensor.current())
        }
        Consumer::Brake(name) => {
            let (_, brake) = bench.brakes().into_iter().find(|(known, _)| known == name)?;
            (format!("brake {name}"), brake.current())
        }
        Consumer::Rail(_) => return None,
    })
}

/// What a rail that gives a current draws from what it is made from. A linear regulator passes its current on.
pub(super) fn into_rail(bench: &Bench, feed: &Feed, rail: &Rail, current: Worked) -> Worked {
    if rail.has("efficiency") {
        converter_input(current, rail.voltage(), rail.efficiency(), feed_voltage(bench, feed))
    } else {
        current.called("current through the regulator", "I_reg")
    }
}

/// What one consumer draws, in words and as a current; nothing of a rail.
type Drawing<'f> = &'f dyn Fn(&Consumer) -> Option<(String, Worked)>;

fn loads_to(bench: &Bench, feed: &Feed, deep: usize, drawing: Drawing<'_>) -> Vec<(String, Worked)> {
    let mut found = Vec::new();
    for consumer in bench.consumers_of(feed) {
        found.extend(match &consumer {
            Consumer::Rail(rail) if deep > 0 => through_rail(bench, feed, rail, (deep, drawing)),
            _ => drawing(&consumer),
        });
    }
    found
}

/// What a rail draws from what it is made from; `None` where nothing hangs on it.
fn through_rail(
    bench: &Bench,
    feed: &Feed,
    made: &Feed,
    (deep, drawing): (usize, Drawing<'_>),
) -> Option<(String, Worked)> {
    let loads = loads_to(bench, made, deep - 1, drawing);
    let sum = loads.into_iter().map(|(_, current)| current).reduce(|a, b| a + b)?;
    let name = match made {
        Feed::ControllerRail(name) => format!("rail {name} of the controller"),
        Feed::BoardRail { board, rail } => format!("rail {rail} of {board}"),
        Feed::Supply(_) => return None,
    };
    Some((name, into_rail(bench, feed, &rail(bench, made)?, sum)))
}

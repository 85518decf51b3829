//! Pins that are left, by what they can do.

use crate::Wiring;
use crate::problem::{Ability, Input};
use finding::sheet::Block;

pub(super) fn table(wiring: &Wiring<'_>) -> Block {
    let task = &wiring.task;
    let mut rows: Vec<(String, Vec<String>)> = Vec::new();
    for (at, pin) in task.problem.pins.iter().enumerate() {
        if pin.reserved || pin.taken_by.is_some() || is_used(wiring, at) || is_covered(wiring, at) {
            continue;
        }
        for ability in &pin.abilities {
            let function = function(wiring, *ability);
            let place = task.problem.place(at);
            match rows.iter_mut().find(|(known, _)| *known == function) {
                Some((_, pins)) => pins.push(place),
                None => rows.push((function, vec![place])),
            }
        }
    }
    let rows =
        rows.into_iter().map(|(function, pins)| vec![function, pins.len().to_string(), pins.join(" ")]);
    super::table("spare-pins", "Pins that are left", &["function", "#pins", "which"], rows.collect())
}

fn is_used(wiring: &Wiring<'_>, pin: usize) -> bool {
    wiring.solved.plan.lines.iter().flatten().any(|seat| seat.pin == pin)
}

/// Whether a plug lies over a pin and puts something on it, or nothing brings it out again.
fn is_covered(wiring: &Wiring<'_>, pin: usize) -> bool {
    let problem = &wiring.task.problem;
    let entry = &problem.pins[pin];
    problem.plugs.iter().zip(&wiring.solved.plan.ports).filter(|(_, port)| **port == entry.port).any(
        |(plug, _)| {
            plug.breakout.is_none() || plug.seats.iter().any(|(position, _)| *position == entry.position)
        },
    )
}

fn function(wiring: &Wiring<'_>, ability: Ability) -> String {
    let unit = |unit: usize| &wiring.task.problem.units[unit].name;
    match ability {
        Ability::Read => "digital in".to_owned(),
        Ability::Drive => "digital out".to_owned(),
        Ability::Pulse(timer) => format!("pulse {}", unit(timer)),
        Ability::Measure(_) => "analogue in".to_owned(),
        Ability::Give(_) => "analogue out".to_owned(),
        Ability::Count(counter, input) => {
            let input = match input {
                Input::A => "A",
                Input::B => "B",
                Input::Index => "index",
            };
            format!("counter {}, input {input}", unit(counter))
        }
        Ability::Stamp(timer) => format!("time stamp {}", unit(timer)),
        Ability::Serial(serial, _) => format!("serial {}", unit(serial)),
    }
}

//! Cautions for people: those of every bench, and those that this one calls for.

use crate::view::View;
use drive::load::{At, Load};
use finding::Sheet;
use finding::sheet::Block;

/// What holds for every bench with moving parts.
const ALWAYS: [&str; 8] = [
    "Moving parts pinch, wind up and throw. Make the axis free to turn without harm, keep hands, hair and sleeves away, and have a person at the stop whenever something can move. One operator at a time.",
    "Have a way of cutting motor power that does not depend on software, and try it before anything else.",
    "Lines left undriven can mean armed at power-on. A machine may start by itself while a controller boots, resets or is programmed.",
    "Set the command to zero before a fault or trip is cleared.",
    "A dark indicator does not prove that there is no voltage: measure. Capacitors keep their charge after power is off.",
    "Never pull a supply or motor plug while the motor turns: the energy has nowhere to go.",
    "Do not force a gearbox by its output; turn the motor side. Windings, cases and clamp resistors burn.",
    "Guards in firmware are no safety function. Local codes, the makers' instructions and qualified persons come first.",
];

/// Slope from which a load falls more than it rolls, rad.
const STEEP: f64 = 0.35;

/// The sheet of cautions, those of parts included.
pub(super) fn sheet(view: &View<'_>, of_parts: Vec<(String, String)>) -> Sheet {
    let mut blocks: Vec<Block> = Vec::new();
    let own = own(view);
    if !own.is_empty() {
        blocks.push(Block::Heading("On this bench".to_owned()));
        blocks.extend(own.into_iter().map(Block::Caution));
    }
    if !of_parts.is_empty() {
        blocks.push(Block::Heading("Parts".to_owned()));
        let said = of_parts.into_iter().map(|(part, caution)| Block::Caution(format!("{part}: {caution}.")));
        blocks.extend(said);
    }
    blocks.push(Block::Heading("On every bench".to_owned()));
    blocks.extend(ALWAYS.iter().map(|text| Block::Caution((*text).to_owned())));
    Sheet {
        id: "cautions".to_owned(),
        title: "Cautions".to_owned(),
        summary: vec![
            "Read before the power is on. No figure of this report is a certified safety function, and no verdict here means \
             that the bench is safe."
                .to_owned(),
        ],
        blocks,
    }
}

fn own(view: &View<'_>) -> Vec<String> {
    let mut found = Vec::new();
    for (axis, dc) in view.dc_axes() {
        let standing = dc.load.as_ref().and_then(|load| load.standing_torque(At::Worst).worst_case());
        if standing.is_none_or(|(low, high)| low == 0.0 && high == 0.0) {
            continue;
        }
        let hangs = match &dc.load {
            Some(Load::Arm(_) | Load::Drum(_)) => true,
            Some(Load::Wheels(way) | Load::Screw(way) | Load::Belt(way)) => way.slope.value().abs() > STEEP,
            _ => false,
        };
        found.push(if hangs {
            format!(
                "Axis {} carries its load against gravity: a trip, a power cut or a watchdog is a fall unless something holds. Support it before any such test; a shorted winding is no holding device.",
                axis.name
            )
        } else {
            format!(
                "Something pushes axis {} at rest, a slope or a weight: without power it may start to move by itself.",
                axis.name
            )
        });
    }
    for bus in view.buses() {
        let (open, highest) = (bus.open_voltage.worst_case(), bus.highest_voltage().worst_case());
        if let (Some((_, open)), Some((_, high))) = (open, highest)
            && high > 1.05 * open
        {
            found.push(format!(
                "Braking lifts the bus of {} to as much as {}: it carries more than its supply gives.",
                bus.path,
                bus.open_voltage.text_of(high)
            ));
        }
        for (name, _) in &bus.clamps {
            found.push(format!("The resistor of clamp {name} gets hot in use and stays hot."));
        }
    }
    for supply in view.bench.supplies() {
        use bench::part::SupplyClass;
        if supply.part.class().is(SupplyClass::Lithium) {
            found.push(format!(
                "Supply {} is a lithium pack: a short or an overcharge can set it on fire. It never shuts off by itself unless its protection does.",
                supply.name
            ));
        }
    }
    found
}

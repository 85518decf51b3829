//! What each line may do: the pins that can serve it and what each of them costs.

use crate::problem::{Ability, Encoder, Input, Need, Problem, Way};

/// One way to serve a line.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(crate) struct Choice {
    /// The pin.
    pub pin: usize,
    /// What the pin does for it.
    pub ability: Ability,
    /// How its encoder is then counted.
    pub way: Option<Way>,
    /// First and second channel change places: the sign turns.
    pub swapped: bool,
    /// Until the firmware runs, something could move.
    pub risky: bool,
    /// A pin that could have served a serial bus.
    pub takes_bus: bool,
    /// Why it is not open, where it is only listed to explain a conflict.
    pub bars: Vec<Bar>,
}

/// Why a pin that could do it is not open to a line.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Bar {
    /// The pin must be left alone.
    Reserved(usize),
    /// Levels of the line do not go with some pins.
    Unfit(usize),
    /// Something that the plan may not move sits there.
    Taken(usize),
    /// The plug fixes the pin, and nothing brings the line out again.
    Seated(usize),
    /// The last plan is to be kept.
    Kept(usize),
    /// The bench file has an encoder counted otherwise than this way.
    Way(usize, Way),
}

/// All choices of a line, in the order of pins; barred ones only where asked for.
pub(crate) fn choices(problem: &Problem, line: usize, barred: bool) -> Vec<Choice> {
    let entry = &problem.lines[line];
    let seats: Vec<(usize, &std::sync::Arc<str>)> = problem.seats_of(line).collect();
    let is_fixed = seats.iter().all(|(plug, _)| problem.plugs[*plug].breakout.is_none());
    let fixed = seats.first().filter(|_| is_fixed);
    let mut found = Vec::new();
    for (at, pin) in problem.pins.iter().enumerate() {
        let under = |(plug, position): &(usize, &std::sync::Arc<str>)| {
            problem.plugs[*plug].ports.contains(&pin.port) && pin.position == **position
        };
        let seated = fixed.is_none() || seats.iter().any(under);
        let bars: Vec<Bar> = [
            pin.reserved.then_some(Bar::Reserved(at)),
            pin.taken_by.is_some().then_some(Bar::Taken(at)),
            entry.unfit.contains(&at).then_some(Bar::Unfit(line)),
            fixed.filter(|_| !seated).map(|(plug, _)| Bar::Seated(*plug)),
            (entry.kept && entry.was.is_some_and(|was| was != at)).then_some(Bar::Kept(line)),
        ]
        .into_iter()
        .flatten()
        .collect();
        if !bars.is_empty() && !barred {
            continue;
        }
        let takes_bus = pin.abilities.iter().any(|ability| matches!(ability, Ability::Serial(..)));
        for ability in &pin.abilities {
            for (way, swapped) in serves(problem, entry.need, *ability) {
                let closed = closed(problem, entry.need, way);
                if closed.is_some() && !barred {
                    continue;
                }
                found.push(Choice {
                    pin: at,
                    ability: *ability,
                    way,
                    swapped,
                    risky: entry.unsafe_at.contains(&at),
                    takes_bus,
                    bars: bars.iter().copied().chain(closed).collect(),
                });
            }
        }
    }
    found
}

/// The bar on a way of counting, where the bench file closes it.
fn closed(problem: &Problem, need: Need, way: Option<Way>) -> Option<Bar> {
    let (Need::Count { encoder, .. }, Some(way)) = (need, way) else { return None };
    problem.encoders[encoder].closed.contains(&way).then_some(Bar::Way(encoder, way))
}

/// Every way in which an ability serves a need, closed ones too: how the encoder is then counted, and whether its
/// channels change places.
fn serves(problem: &Problem, need: Need, ability: Ability) -> Vec<(Option<Way>, bool)> {
    let plainly = |serves: bool| if serves { vec![(None, false)] } else { Vec::new() };
    match need {
        Need::Read => plainly(ability == Ability::Read),
        Need::Drive => plainly(ability == Ability::Drive),
        Need::Measure => plainly(matches!(ability, Ability::Measure(_))),
        // Pulses through a filter are another circuit, which nobody takes without being asked.
        Need::Give => plainly(matches!(ability, Ability::Give(_))),
        Need::Pulse { rate } => plainly(match ability {
            Ability::Pulse(timer) => {
                problem.units[timer].fastest.is_none_or(|most| problem.rates[rate].hertz <= most)
            }
            _ => false,
        }),
        Need::Count { encoder, input } => {
            let encoder = &problem.encoders[encoder];
            let counted = |way: &Way| counts(problem, encoder, input, ability, *way).map(|s| (Some(*way), s));
            encoder.ways.iter().chain(&encoder.closed).filter_map(counted).collect()
        }
    }
}

/// Whether an ability serves a line of an encoder that is counted this way; if so, whether the channels change places.
fn counts(problem: &Problem, encoder: &Encoder, input: Input, ability: Ability, way: Way) -> Option<bool> {
    match (way, input, ability) {
        (Way::Counter, _, Ability::Count(unit, at)) => {
            let follows = problem.units[unit].edge_rate.is_none_or(|most| encoder.edge_rate <= most);
            let swapped = matches!((input, at), (Input::A, Input::B) | (Input::B, Input::A));
            (follows && (swapped || input == at)).then_some(swapped)
        }
        (Way::Stamp, Input::A, Ability::Stamp(_)) => Some(false),
        // The mark of a turn is rare: any pin that reads it will do.
        (_, Input::Index, Ability::Read) => Some(false),
        // Beside a stamped line the second is read now and then; without a counter, each edge interrupts a program.
        (Way::Stamp, Input::B, Ability::Read) | (Way::Program, Input::A | Input::B, Ability::Read) => {
            Some(false)
        }
        _ => None,
    }
}

//! The level of a line that nothing drives, as the end that reads it sees it.

use bench::Bench;
use bench::part::{Level, ResetPull, Undriven};
use drive::assembly::levels::{AtRest, at_rest, leakage};
use drive::assembly::nets::{Member, Net};
use drive::logic::undriven_voltage;
use worked::Outcome;

/// A line at rest.
#[derive(Clone, PartialEq, Debug)]
pub(crate) enum Rest {
    /// It reads this level, over all tolerances; the nominal voltage where pulls make it.
    Level(Level, Option<String>),
    /// Pulls hold it at this voltage, which is not sure to read as either level.
    Between(String),
    /// The controller drives it to and fro.
    Toggles,
    /// Nothing holds it.
    Floats,
    /// The sheets do not tell.
    Untold,
}

/// What a net does that nothing drives, read at one of its ends: while the controller starts (`reset`), or with its
/// pins off.
pub(crate) fn rest(bench: &Bench, net: &Net<'_>, reader: &Member<'_>, reset: bool) -> Rest {
    match at_rest(bench, net, reset) {
        AtRest::Driven(ResetPull::High) => Rest::Level(Level::High, None),
        AtRest::Driven(ResetPull::Low) => Rest::Level(Level::Low, None),
        AtRest::Driven(_) => Rest::Toggles,
        AtRest::Floats => match reader {
            Member::Signal(_, signal) => match signal.undriven().stated() {
                Some(Undriven::Low) => Rest::Level(Level::Low, None),
                Some(Undriven::High) => Rest::Level(Level::High, None),
                Some(Undriven::Floating) => Rest::Floats,
                None => Rest::Untold,
            },
            _ => Rest::Floats,
        },
        AtRest::Pulled(pulls) => {
            let Some(levels) = reader.levels() else { return Rest::Untold };
            let leak = leakage(net);
            let (Some(high), Some(low)) =
                (undriven_voltage(&pulls, leak.clone()), undriven_voltage(&pulls, -leak))
            else {
                return Rest::Untold;
            };
            let voltage = undriven_voltage(&pulls, drive::constants::zero("A")).map(|voltage| voltage.text());
            let below = high.must_stay_below(levels.low_below()).judge().outcome;
            let above = low.must_stay_above(levels.high_above()).judge().outcome;
            match (below, above) {
                (Outcome::Always, _) => Rest::Level(Level::Low, voltage),
                (_, Outcome::Always) => Rest::Level(Level::High, voltage),
                (Outcome::Missing(_), _) | (_, Outcome::Missing(_)) => Rest::Untold,
                _ => Rest::Between(voltage.unwrap_or_default()),
            }
        }
    }
}

//! What the controller gets: the voltage of its feed under load.
//!
//! | left out in the bench | taken |
//! |---|---|
//! | a cable between supply and controller | none is there: nothing is lost in it |
//! | source resistance of a supply, resistance of a fuse | none |

use super::copper::both_ways;
use super::or_zero;
use super::power::feed_voltage;
use crate::bus::{line_drop, sagged_voltage};
use crate::constants::zero;
use bench::Bench;
use bench::model::{CableRun, Device, Feed, Place};
use worked::{Number, Worked};

/// Voltage at the controller under load: that of its feed, less what all that is drawn from a supply loses in
/// source and fuses, and the controller's own current in its cable. A rail holds its voltage.
pub fn voltage_under_load(bench: &Bench, feed: &Feed, drawn: Worked, own: Worked) -> Worked {
    let source = match feed {
        Feed::Supply(name) => {
            bench.supply(name).map_or_else(|| zero("Ω"), |s| or_zero(&s.part, "source_resistance", "Ω"))
        }
        Feed::ControllerRail(_) | Feed::BoardRail { .. } => zero("Ω"),
    };
    let fuses = bench.fuses_on(feed).into_iter().map(|(_, fuse)| or_zero(&fuse, "resistance", "Ω"));
    let fuses: Worked = std::iter::once(zero("Ω")).chain(fuses).sum();
    let cable = feed_cable(bench, feed).map_or_else(|| zero("Ω"), |run| both_ways(bench, run));
    let sagged = sagged_voltage(feed_voltage(bench, feed), zero("V"), drawn, source, fuses);
    (sagged - line_drop(own, cable)).called("voltage at the controller under load", "U_c,min")
}

/// The cable from a supply to the controller.
fn feed_cable<'b>(bench: &'b Bench, feed: &Feed) -> Option<&'b CableRun> {
    let Feed::Supply(name) = feed else { return None };
    let supply = Device::Supply(name.clone());
    bench.cables().iter().find(|run| Place::join((&run.from, &run.to), &supply, &Device::Controller))
}

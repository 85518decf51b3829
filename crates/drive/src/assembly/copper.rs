//! Resistance of cables and wires over the temperatures that their copper can have.
//!
//! | left out in the bench | taken |
//! |---|---|
//! | temperature of the copper | anything between the coldest air and what the insulation bears |
//! | what the insulation bears | 70 °C, as usual PVC does |

use super::ambient_limits;
use crate::bus::{cable_resistance, cable_resistance_from};
use bench::Bench;
use bench::file::Wire;
use bench::model::CableRun;
use worked::{Dimension, Input, Origin, Worked};

/// Limit of an insulation that its sheet does not state, K.
const USUAL_INSULATION_LIMIT: f64 = 343.15;

/// Resistance of a cable, out and back.
pub fn both_ways(bench: &Bench, run: &CableRun) -> Worked {
    let part = &run.part;
    let stated = part.has("max_temperature").then(|| part.max_temperature().value());
    let temperature = temperature(bench, run.entry.path(), stated);
    let length = run.entry.length();
    let pair = if part.has("resistance_per_length") {
        cable_resistance_from(length, part.resistance_per_length(), temperature)
    } else {
        cable_resistance(length, part.area(), temperature)
    };
    if run.entry.has("parallel") { pair / run.entry.parallel() } else { pair }
}

/// Resistance of a single wire.
pub(super) fn one_way(bench: &Bench, wire: &Wire) -> Worked {
    cable_resistance(wire.length(), wire.area(), temperature(bench, wire.path(), None)) / 2.0
}

/// Temperature of the copper: it begins in the coldest air, and its rated current brings it to the limit of its
/// insulation.
fn temperature(bench: &Bench, path: &str, limit: Option<f64>) -> Worked {
    let (low, high) = ambient_limits(&bench.header());
    let origin = match limit {
        Some(_) => "from the coldest air to the limit of the insulation",
        None => "from the coldest air to 70 °C, as no limit of the insulation is stated",
    };
    let name = "temperature of the copper in use";
    Input::new(&format!("{path}.copper_temperature"), name, "ϑ_Cu", Dimension::TEMPERATURE)
        .value(0.5 * (low + high))
        .limits(low, limit.unwrap_or(USUAL_INSULATION_LIMIT).max(high))
        .origin(Origin::assumed(origin))
        .worked()
}

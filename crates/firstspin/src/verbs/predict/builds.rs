//! Builds of the axis beside the nominal one, as JSON.

use super::Planned;
use serde_json::{Value, json};
use simulate::{KeyFigure, NoSpread, Spread};

/// What was played, and each key figure in SI; why nothing was, where it could not be.
pub(super) fn json(planned: &Planned, builds: &Result<Spread, NoSpread>) -> Value {
    let (Planned::Turns(trial), Ok(spread)) = (planned, builds) else {
        return json!({ "why_not": builds.as_ref().err().map(NoSpread::to_string) });
    };
    let (played, refused) = spread.builds();
    let figures = KeyFigure::ALL.into_iter().filter_map(|key| {
        let span = spread.of(key)?;
        Some(json!({
            "key_figure": key.name(),
            "unit": trial.unit_of(key),
            "low": span.low,
            "high": span.high,
            "without": span.without,
        }))
    });
    json!({
        "why_not": null,
        "drawn": spread.samples.builds,
        "seed": spread.samples.seed,
        "played": played,
        "refused": refused,
        "averaged": spread.averaged,
        "figures": figures.collect::<Vec<_>>(),
    })
}

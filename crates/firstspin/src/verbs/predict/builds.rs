//! Builds of the axis beside the nominal one, and faults that were put in, as JSON.

use serde_json::{Value, json};
use simulate::{Depth, FaultValue, NoSpread, Planned, Spread};
use worked::Unit;

/// What was played, and each key figure in SI; why nothing was, where it could not be.
pub(super) fn json(builds: &Result<Spread, NoSpread>) -> Value {
    let spread = match builds {
        Ok(spread) => spread,
        Err(why) => return json!({ "why_not": why.to_string() }),
    };
    let (played, refused) = spread.builds();
    let (depth, plain) = match spread.depth {
        Depth::Whole => ("whole", None),
        Depth::Farthest { plain } => ("farthest", Some(plain)),
        Depth::Plain => ("plain", Some(played)),
    };
    let figures = spread.figures().map(|(key, unit, span)| {
        json!({
            "key_figure": key.name(),
            "unit": unit,
            "low": span.low,
            "high": span.high,
            "without": span.without,
        })
    });
    json!({
        "why_not": null,
        "drawn": spread.samples.builds,
        "seed": spread.samples.seed,
        "played": played,
        "refused": refused,
        "left": spread.left,
        "averaged": spread.averaged,
        "depth": depth,
        "plain": plain,
        "figures": figures.collect::<Vec<_>>(),
    })
}

/// Faults in the order in which they come, in SI.
pub(super) fn faults(planned: &Planned) -> Vec<Value> {
    let told = planned.faults().into_iter().map(|asked| {
        let (value, unit) = match &asked.value {
            FaultValue::None => (Value::Null, None),
            FaultValue::Channel { is_a } => (if *is_a { "A" } else { "B" }.into(), None),
            FaultValue::Limit(name) => (name.as_str().into(), None),
            FaultValue::Quantity(quantity) => {
                (quantity.nominal.into(), Some(Unit::si(quantity.dimension()).symbol().to_owned()))
            }
        };
        json!({ "kind": asked.kind.name(), "at": asked.time, "value": value, "unit": unit })
    });
    told.collect()
}

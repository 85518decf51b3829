//! What the lines of a dump tell, for programs.

use identify::measured::{LineFigure, Lines, Wrong};
use serde_json::{Value, json};

/// The lines of a dump, in SI.
pub(super) fn json(lines: &Lines) -> Value {
    let number = |si: f64| if si.is_finite() { json!(si) } else { Value::Null };
    let figure = |figure: &LineFigure| {
        json!({
            "name": figure.name,
            "value": number(figure.value),
            "half": figure.half.map(number),
            "unit": figure.unit,
            "bench": figure.bench,
            "verdict": figure.verdict,
        })
    };
    let wrong = |wrong: &Wrong| json!({ "name": wrong.name, "says": wrong.says, "remedy": wrong.remedy });
    json!({
        "log": lines.log,
        "figures": lines.figures.iter().map(figure).collect::<Vec<_>>(),
        "wrong": lines.wrong.iter().map(wrong).collect::<Vec<_>>(),
        "fits": lines.fits,
    })
}

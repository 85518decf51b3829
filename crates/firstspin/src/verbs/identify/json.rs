//! What was found, for programs.

use super::Told;
use super::calibrated::Laid;
use crate::bench_choice::Chosen;
use finding::Finding;
use identify::calibration::{AtPoint, Parts};
use identify::gate::Remark;
use identify::measured::calibrated::Calibrated;
use identify::measured::{Beside, Figure, Measured, Wanted};
use identify::{Estimate, Refusal};
use serde_json::{Value, json};
use worked::Unit;

/// All that was found; `besides` is what is wrong with calibrations.
pub(super) fn json(chosen: &Chosen, besides: &[Finding], laid: &Laid, told: &[Told]) -> Value {
    let sources = &chosen.loaded.sources;
    let findings = chosen.loaded.checked.findings.iter().chain(besides);
    json!({
        "notice": chosen.notice(),
        "is_example": chosen.is_example,
        "bench": chosen.loaded.checked.value.as_ref().map(|bench| bench.name()),
        "usable": chosen.loaded.checked.value.is_some() && besides.is_empty(),
        "findings": findings.map(|finding| report::json::finding(finding, sources)).collect::<Vec<_>>(),
        "calibrations": laid.calibrated.iter().zip(laid.sheets()).map(|(one, sheet)| {
            calibration(one, laid.counting().any(|other| other.name == one.name), &report::json::sheet(&sheet, sources))
        }).collect::<Vec<_>>(),
        "axes": told.iter().map(|one| axis(one, sources)).collect::<Vec<_>>(),
    })
}

fn axis(told: &Told, sources: &finding::SourceMap) -> Value {
    let measured = told.found.measured.as_ref();
    let estimates =
        measured.map(|(measured, _)| measured.identified().estimates.as_slice()).unwrap_or_default();
    let n = estimates.len();
    let correlation = |i, j| measured.map(|(measured, _)| measured.identified().correlation(i, j));
    let correlations: Vec<Vec<Option<f64>>> =
        (0..n).map(|i| (0..n).map(|j| correlation(i, j)).collect()).collect();
    let signs = measured.map(|(measured, _)| {
        let each = measured.logs.iter().zip(&measured.remarks);
        each.flat_map(|(log, remarks)| remarks.iter().map(|remark| sign(&log.name, remark)))
            .collect::<Vec<_>>()
    });
    let parameters = measured
        .map(|(measured, _)| estimates.iter().map(|e| parameter(e, measured, told)).collect::<Vec<_>>());
    let lines: Vec<Value> = told.found.lines.iter().map(super::lines::json).collect();
    let sheets: Vec<Value> =
        told.found.sheets.iter().map(|sheet| report::json::sheet(sheet, sources)).collect();
    json!({
        "axis": told.axis,
        "logs": told.names,
        "lines": lines,
        "parameters": parameters.unwrap_or_default(),
        "correlations": correlations,
        "temperature": measured.map(|(measured, _)| {
            let identified = measured.identified();
            json!({ "value": celsius(identified.temperature), "unit": "°C", "stated": identified.temperature_stated })
        }),
        "model": measured.map(|(measured, _)| &measured.structures[measured.chosen].with),
        "signs": signs.unwrap_or_default(),
        "spoiled": measured.is_some_and(|(measured, _)| measured.is_spoiled()),
        "explains": measured.is_some_and(|(measured, _)| {
            measured.identified().explains() && measured.contradictions().is_empty()
        }),
        "by_single_logs": measured
            .map(|(measured, _)| measured.beside.iter().flat_map(single).collect::<Vec<_>>())
            .unwrap_or_default(),
        "next": measured.map(|(_, next)| next.wanted.iter().map(wanted).collect::<Vec<_>>()).unwrap_or_default(),
        "not_offered": measured.map(|(_, next)| next.refused.clone()).unwrap_or_default(),
        "sheet": measured.and(sheets.last()),
        "line_sheets": sheets[..told.found.lines.len()],
    })
}

/// Zero and scale of a line, in SI.
fn calibration(one: &Calibrated, is_used: bool, sheet: &Value) -> Value {
    let number = |si: f64| if si.is_finite() { json!(si) } else { Value::Null };
    let line = &one.found.line;
    let sensed = if one.tells_current() { "A" } else { "V" };
    let figure = |value: f64, parts: Parts, unit: &str| {
        json!({
            "value": number(value),
            "unit": unit,
            "u": number(parts.total()),
            "u_sampling": number(parts.sampling),
            "u_systematic": number(parts.systematic),
        })
    };
    let point = |(reference, u, at): (f64, f64, &AtPoint)| {
        json!({
            "reference": number(reference),
            "u_reference": number(u),
            "mean": number(at.mean),
            "u_mean": number(at.uncertainty),
            "corrected": number(at.corrected),
            "u_corrected": number(at.corrected_uncertainty),
            "residual": number(at.residual),
        })
    };
    json!({
        "name": one.name,
        "of": one.of,
        "zero": figure(line.intercept, one.found.zero(), "V"),
        "scale": figure(line.slope, one.found.gain(), &format!("V/{sensed}")),
        "correlation": number(one.found.correlation()),
        "fit": line.goodness_of_fit().map(number),
        "is_line": one.found.is_line,
        "points": one.points().map(point).collect::<Vec<_>>(),
        "unit": sensed,
        "doubts": one.doubts(),
        "used": is_used,
        "sheet": sheet,
    })
}

/// A parameter, in SI.
fn parameter(estimate: &Estimate, measured: &Measured, told: &Told) -> Value {
    let half = estimate.half_width(0.95);
    let number = |si: f64| if si.is_finite() { json!(si) } else { Value::Null };
    json!({
        "name": estimate.parameter.name(),
        "symbol": estimate.parameter.symbol(),
        "value": number(estimate.value),
        "unit": estimate.parameter.unit(),
        "low": number(estimate.value - half),
        "high": number(estimate.value + half),
        "bounds": "sampled",
        "u": number(estimate.uncertainty()),
        "u_sampling": number(estimate.sampling),
        "u_systematic": number(estimate.systematic),
        "from": told.names.join(", "),
        "carried": estimate.refused.is_none(),
        "spoiled": measured.spoils(estimate.parameter),
        "refused": estimate.refused.as_ref().map(refusal),
    })
}

/// What one log tells by one way, in SI.
fn single(beside: &Beside) -> Vec<Value> {
    let number = |si: f64| if si.is_finite() { json!(si) } else { Value::Null };
    let figure = |figure: &Figure| {
        let half = figure.told.half_width(0.95);
        json!({
            "log": beside.log,
            "way": beside.way,
            "name": figure.name,
            "value": number(figure.told.value),
            "unit": Unit::si(figure.dimension).symbol(),
            "low": number(figure.told.value - half),
            "high": number(figure.told.value + half),
            "bounds": "sampled",
            "u": number(figure.told.uncertainty()),
            "u_sampling": number(figure.told.sampling),
            "u_systematic": number(figure.told.systematic),
        })
    };
    beside.figures.iter().map(figure).collect()
}

/// A parameter that is not known closely enough, with the trial that tells it best; parts of the value.
fn wanted(wanted: &Wanted) -> Value {
    let number = |part: f64| if part.is_finite() { json!(part) } else { Value::Null };
    json!({
        "name": wanted.parameter.name(),
        "now": number(wanted.now),
        "asked": wanted.asked,
        "trial": wanted.best.as_ref().map(|best| &best.trial),
        "then": wanted.best.as_ref().map(|best| number(best.then)),
        "by_sensors": number(wanted.systematic),
    })
}

/// A sign that spoils a log.
fn sign(log: &str, remark: &Remark) -> Value {
    let rows: Vec<[usize; 2]> = remark.rows.iter().map(|rows| [rows.start, rows.end]).collect();
    let number = |si: f64| if si.is_finite() { json!(si) } else { Value::Null };
    json!({
        "log": log,
        "sign": remark.sign.name(),
        "measured": number(remark.strength.measured),
        "against": number(remark.strength.against),
        "unit": remark.strength.unit,
        "rows": rows,
        "says": remark.says,
        "remedy": remark.remedy,
    })
}

fn refusal(refusal: &Refusal) -> &'static str {
    match refusal {
        Refusal::Undetermined => "undetermined",
        Refusal::Drowned(_) => "drowned",
        Refusal::Wide(_) => "wide",
        Refusal::TooSparse(_) => "too sparse",
        Refusal::AtItsBound => "at its bound",
    }
}

fn celsius(kelvin: f64) -> f64 {
    Unit::parse("°C").map_or(kelvin, |unit| unit.from_si(kelvin))
}

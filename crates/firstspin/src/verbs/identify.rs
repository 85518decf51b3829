//! `firstspin identify`: parameters of an axis from its logs.

mod add;
mod open;

use crate::args::{Format, Identify};
use crate::bench_choice::{self, Chosen};
use crate::env::Env;
use crate::failure::{Failure, Outcome};
use crate::long_work::LongWork;
use crate::{sheets, text};
use finding::{Severity, Sheet, Stopped, Watch};
use identify::gate::Remark;
use identify::measured::{Beside, Figure, Measured, Next, NotMeasured, Wanted};
use identify::{Estimate, Refusal};
use open::Opened;
use serde_json::{Value, json};
use worked::Unit;

/// What the logs of the bench file tell, a sheet for each axis: for the report. One that cannot be used says why.
pub(super) fn sheets(chosen: &Chosen, env: &Env, watch: Watch<'_>) -> Result<Vec<Sheet>, Stopped> {
    let Some(bench) = chosen.loaded.checked.value.as_ref().filter(|bench| !bench.logs().is_empty()) else {
        return Ok(Vec::new());
    };
    let unread = |why: String| Sheet {
        id: "identified".to_owned(),
        title: "Identified".to_owned(),
        summary: vec![format!("The logs of the bench file tell nothing yet: {why}.")],
        blocks: Vec::new(),
    };
    let groups = match open::all(bench, chosen, &Identify::default(), env) {
        Ok(groups) => groups,
        Err(Failure::Said(why)) => return Ok(vec![unread(why)]),
        Err(_) => return Ok(Vec::new()),
    };
    let mut sheets = Vec::new();
    for Opened { axis, logs, .. } in groups {
        let Some(axis) = bench.axis(&axis) else {
            sheets.push(unread(format!("`{axis}` is no axis, and parameters are identified of DC motors")));
            continue;
        };
        let measured = Measured::of(bench, axis, logs, &watch);
        sheets.push(match measured {
            Ok(measured) => {
                let next = measured.next(bench, axis, &watch)?;
                measured.sheet(&next)
            }
            Err(NotMeasured::Stopped(stopped)) => return Err(stopped),
            Err(why) => Sheet { id: format!("identified-{}", axis.name), ..unread(why.to_string()) },
        });
    }
    Ok(sheets)
}

/// What was found of one axis.
struct Told {
    measured: Measured,
    next: Next,
    sheet: Sheet,
    names: Vec<String>,
    date: Option<String>,
    by: Option<String>,
}

pub(super) fn run(asked: &Identify, env: &mut Env) -> Result<Outcome, Failure> {
    let chosen = bench_choice::read(asked.bench.as_deref(), env)?;
    let Some(bench) = &chosen.loaded.checked.value else {
        tell(&chosen, asked.format, &[], env)?;
        return Ok(Outcome::Unusable);
    };
    if asked.write && chosen.is_example {
        return Err(Failure::Said(
            "there is no bench of yours to write what was found into; make one with `firstspin new`"
                .to_owned(),
        ));
    }
    let groups = open::all(bench, &chosen, asked, env)?;
    let mut told = Vec::new();
    for Opened { axis, logs, names, date, by } in groups {
        let axis = bench.axis(&axis).ok_or_else(|| {
            let axes: Vec<&str> = bench.axes().iter().map(|axis| &*axis.name).collect();
            Failure::Said(format!("the bench has no axis `{axis}`; its axes are: {}", axes.join(", ")))
        })?;
        let work = LongWork::before_writing(format!("identifying axis {}", axis.name), env)?;
        let (measured, next) = work.watched(
            |watch| {
                let measured = Measured::of(bench, axis, logs, &watch)?;
                // What is wrong has to be put right first, and the same trial made again.
                let next = measured.next(bench, axis, &watch)?;
                Ok((measured, next))
            },
            |why: NotMeasured| Failure::Said(why.to_string()),
        )?;
        let date = date.or_else(|| asked.date.clone());
        told.push(Told { sheet: measured.sheet(&next), measured, next, names, date, by });
    }
    tell(&chosen, asked.format, &told, env)?;
    if asked.write {
        for one in &told {
            let said = add::add(&chosen, one)?;
            if asked.format == Format::Text {
                writeln!(env.out)?;
                text::paths(&said, env.width, &mut env.out)?;
            }
        }
    }
    let stands = chosen.loaded.checked.findings.iter().any(|f| f.severity == Severity::Blocker);
    let open = told.iter().any(|told| {
        let identified = told.measured.identified();
        told.measured.is_spoiled()
            || !identified.explains()
            || !told.measured.contradictions().is_empty()
            || identified.estimates.iter().any(|e| e.refused.is_some() || told.measured.spoils(e.parameter))
    });
    Ok(if stands || open { Outcome::Blocked } else { Outcome::Clear })
}

fn tell(chosen: &Chosen, format: Format, told: &[Told], env: &mut Env) -> Result<(), Failure> {
    if format == Format::Json {
        return Ok(writeln!(env.out, "{:#}", json(chosen, told))?);
    }
    let width = env.width;
    chosen.tell(&[], env)?;
    let Some(bench) = &chosen.loaded.checked.value else {
        return Ok(text::paragraph("The files cannot be used.", width, &mut env.out)?);
    };
    text::paragraph(&bench.name(), width, &mut env.out)?;
    for one in told {
        text::paragraph(&one.sheet.title, width, &mut env.out)?;
        sheets::print(&one.sheet, width, &mut env.out)?;
    }
    Ok(())
}

fn json(chosen: &Chosen, told: &[Told]) -> Value {
    let sources = &chosen.loaded.sources;
    let findings = &chosen.loaded.checked.findings;
    json!({
        "notice": chosen.notice(),
        "is_example": chosen.is_example,
        "bench": chosen.loaded.checked.value.as_ref().map(|bench| bench.name()),
        "usable": chosen.loaded.checked.value.is_some(),
        "findings": findings.iter().map(|finding| report::json::finding(finding, sources)).collect::<Vec<_>>(),
        "axes": told.iter().map(|one| axis(one, sources)).collect::<Vec<_>>(),
    })
}

fn axis(told: &Told, sources: &finding::SourceMap) -> Value {
    let identified = told.measured.identified();
    let n = identified.estimates.len();
    let correlations: Vec<Vec<f64>> =
        (0..n).map(|i| (0..n).map(|j| identified.correlation(i, j)).collect()).collect();
    json!({
        "axis": told.measured.axis,
        "logs": told.names,
        "parameters": identified.estimates.iter().map(|e| parameter(e, told)).collect::<Vec<_>>(),
        "correlations": correlations,
        "temperature": { "value": celsius(identified.temperature), "unit": "°C", "stated": identified.temperature_stated },
        "model": told.measured.structures[told.measured.chosen].with,
        "signs": told.measured.logs.iter().zip(&told.measured.remarks).flat_map(|(log, remarks)| {
            remarks.iter().map(|remark| sign(&log.name, remark))
        }).collect::<Vec<_>>(),
        "spoiled": told.measured.is_spoiled(),
        "explains": identified.explains() && told.measured.contradictions().is_empty(),
        "by_single_logs": told.measured.beside.iter().flat_map(single).collect::<Vec<_>>(),
        "next": told.next.wanted.iter().map(wanted).collect::<Vec<_>>(),
        "not_offered": told.next.refused,
        "sheet": report::json::sheet(&told.sheet, sources),
    })
}

/// A parameter, in SI.
fn parameter(estimate: &Estimate, told: &Told) -> Value {
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
        "spoiled": told.measured.spoils(estimate.parameter),
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

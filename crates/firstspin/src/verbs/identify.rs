//! `firstspin identify`: parameters of an axis from its logs.

mod add;
mod lines;
mod open;

use crate::args::{Format, Identify};
use crate::bench_choice::{self, Chosen};
use crate::env::Env;
use crate::failure::{Failure, Outcome};
use crate::long_work::LongWork;
use crate::{sheets, text};
use bench::Bench;
use bench::model::Axis;
use finding::{Severity, Sheet, Stopped, Watch};
use identify::gate::Remark;
use identify::measured::{Beside, Dumped, Figure, Lines, Measured, Next, NotMeasured, Wanted};
use identify::{Estimate, Refusal};
use open::{Either, Opened};
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
        let id = format!("identified-{}", axis.name);
        match read(bench, axis, logs, &watch) {
            Ok(found) => sheets.extend(found.sheets),
            Err(NotMeasured::Stopped(stopped)) => return Err(stopped),
            Err(why) => sheets.push(Sheet { id, ..unread(why.to_string()) }),
        }
    }
    Ok(sheets)
}

/// What was found in the logs of one axis.
struct Found {
    /// What the lines of dumps tell.
    lines: Vec<Lines>,
    /// Parameters, where a log carries any, and the trials that would tell more.
    measured: Option<(Measured, Next)>,
    /// A sheet for each dump, and that of the parameters.
    sheets: Vec<Sheet>,
}

/// Reads the logs of an axis: dumps first, what they are as logs goes with the tables.
fn read(bench: &Bench, axis: &Axis, logs: Vec<Either>, watch: &Watch<'_>) -> Result<Found, NotMeasured> {
    let (mut lines, mut fitted) = (Vec::new(), Vec::new());
    for log in logs {
        match log {
            Either::Table(log) => fitted.push(log),
            Either::Dump(dump) => {
                let dumped = Dumped::of(bench, axis, *dump, &watch.silent())?;
                lines.push(dumped.lines);
                fitted.extend(dumped.log);
            }
        }
    }
    let mut sheets: Vec<Sheet> = lines.iter().zip(1..).map(|(lines, number)| lines.sheet(number)).collect();
    let measured = if fitted.is_empty() {
        None
    } else {
        let measured = Measured::of(bench, axis, fitted, watch)?;
        // What is wrong has to be put right first, and the same trial made again.
        let next = measured.next(bench, axis, watch)?;
        sheets.push(measured.sheet(&next));
        Some((measured, next))
    };
    Ok(Found { lines, measured, sheets })
}

impl Found {
    /// Whether something is wrong, or not carried.
    fn is_open(&self) -> bool {
        let carried = |(measured, _): &(Measured, Next)| {
            let identified = measured.identified();
            !measured.is_spoiled()
                && identified.explains()
                && measured.contradictions().is_empty()
                && identified.estimates.iter().all(|e| e.refused.is_none() && !measured.spoils(e.parameter))
        };
        self.lines.iter().any(|lines| !lines.wrong.is_empty() || !lines.fits)
            || !self.measured.as_ref().is_some_and(carried)
    }
}

/// What was found of one axis.
struct Told {
    axis: String,
    found: Found,
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
        let found = work.watched(
            |watch| read(bench, axis, logs, &watch),
            |why: NotMeasured| Failure::Said(why.to_string()),
        )?;
        let date = date.or_else(|| asked.date.clone());
        told.push(Told { axis: axis.name.to_string(), found, names, date, by });
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
    let open = told.iter().any(|told| told.found.is_open());
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
        for sheet in &one.found.sheets {
            text::paragraph(&sheet.title, width, &mut env.out)?;
            sheets::print(sheet, width, &mut env.out)?;
        }
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
    let lines: Vec<Value> = told.found.lines.iter().map(lines::json).collect();
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

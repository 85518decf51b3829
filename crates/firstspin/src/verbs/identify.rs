//! `firstspin identify`: zero and scale of lines from calibrations, and parameters of axes from their logs.

mod add;
mod calibrated;
mod json;
mod lines;
mod open;
mod tables;

use crate::args::{Format, Identify};
use crate::axes;
use crate::bench_choice::{self, Chosen};
use crate::env::Env;
use crate::failure::{Failure, Outcome};
use crate::long_work::LongWork;
use crate::{sheets, text};
use bench::Bench;
use bench::model::Axis;
use calibrated::{Laid, NotLaid};
use finding::{Finding, Severity, Sheet, Stopped, Watch};
use identify::measured::{Dumped, Lines, Measured, Next, NotMeasured};
use open::{Either, Opened};

/// What calibrations and logs of the bench file tell, a sheet for each line and axis: for the report. What cannot be used says
/// why.
pub(super) fn sheets(chosen: &Chosen, env: &Env, watch: Watch<'_>) -> Result<Vec<Sheet>, Stopped> {
    let Some(bench) = chosen.loaded.checked.value.as_ref() else { return Ok(Vec::new()) };
    if bench.logs().is_empty() && bench.calibrations().is_empty() {
        return Ok(Vec::new());
    }
    let unread = |why: String| Sheet {
        id: "identified".to_owned(),
        title: "Identified".to_owned(),
        summary: vec![format!("The logs of the bench file tell nothing yet: {why}.")],
        blocks: Vec::new(),
    };
    let mut sheets = Vec::new();
    let groups = match open::all(bench, chosen, &Identify::default(), env) {
        Ok(groups) => groups,
        Err(Failure::Said(why)) => {
            sheets.push(unread(why));
            Vec::new()
        }
        Err(_) => return Ok(Vec::new()),
    };
    let laid = match calibrated::lay(bench, chosen, &groups, &watch) {
        Ok(laid) => laid,
        Err(NotLaid::Stopped(stopped)) => return Err(stopped),
        Err(NotLaid::Flaw(finding)) => {
            sheets.insert(0, uncalibrated(finding.message));
            calibrated::Laid::default()
        }
        Err(NotLaid::Failed(Failure::Said(why))) => {
            sheets.insert(0, uncalibrated(why));
            calibrated::Laid::default()
        }
        Err(NotLaid::Failed(_)) => return Ok(Vec::new()),
    };
    sheets.splice(0..0, laid.sheets());
    let bench = laid.bench.as_ref().unwrap_or(bench);
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

/// In place of calibrations that cannot be used.
fn uncalibrated(why: String) -> Sheet {
    Sheet {
        id: "calibrated".to_owned(),
        title: "Calibrated".to_owned(),
        summary: vec![format!("The calibrations of the bench file tell nothing yet: {why}.")],
        blocks: Vec::new(),
    }
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
        tell(&chosen, asked.format, &[], &Laid::default(), &[], env)?;
        return Ok(Outcome::Unusable);
    };
    if asked.write && chosen.is_example {
        return Err(Failure::Said(
            "there is no bench of yours to write what was found into; make one with `firstspin new`"
                .to_owned(),
        ));
    }
    let groups = open::all(bench, &chosen, asked, env)?;
    groups.iter().try_for_each(|group| axes::named(bench, &group.axis).map(|_| ()))?;
    let work = LongWork::before_writing("reading the calibrations".to_owned(), env)?;
    let laid = work.watched(
        |watch| match calibrated::lay(bench, &chosen, &groups, &watch) {
            Ok(laid) => Ok(Ok(laid)),
            Err(NotLaid::Flaw(finding)) => Ok(Err(finding)),
            Err(NotLaid::Failed(failure)) => Err(failure),
            Err(NotLaid::Stopped(stopped)) => Err(Failure::Said(stopped.to_string())),
        },
        |failure| failure,
    )?;
    let laid = match laid {
        Ok(laid) => laid,
        Err(finding) => {
            tell(&chosen, asked.format, &[*finding], &Laid::default(), &[], env)?;
            return Ok(Outcome::Unusable);
        }
    };
    let bench = laid.bench.as_ref().unwrap_or(bench);
    let mut told = Vec::new();
    for Opened { axis, logs, names, date, by } in groups {
        let Some(axis) = bench.axis(&axis) else { continue };
        let work = LongWork::before_writing(format!("identifying axis {}", axis.name), env)?;
        let found = work.watched(
            |watch| read(bench, axis, logs, &watch),
            |why: NotMeasured| Failure::Said(why.to_string()),
        )?;
        let date = date.or_else(|| asked.date.clone());
        told.push(Told { axis: axis.name.to_string(), found, names, date, by });
    }
    tell(&chosen, asked.format, &[], &laid, &told, env)?;
    if asked.write {
        let lines = laid.counting().map(|one| add::line(&chosen, one, asked.date.as_deref()));
        let axes = told.iter().map(|one| add::motor(&chosen, one));
        let said: Vec<String> = lines.chain(axes).collect::<Result<_, _>>()?;
        if asked.format == Format::Text {
            for said in said {
                writeln!(env.out)?;
                text::paths(&said, env.width, &mut env.out)?;
            }
        }
    }
    let stands = chosen.loaded.checked.findings.iter().any(|f| f.severity == Severity::Blocker);
    let open = told.iter().any(|told| told.found.is_open());
    let doubtful = laid.calibrated.iter().any(|one| !one.doubts().is_empty());
    Ok(if stands || open || doubtful { Outcome::Blocked } else { Outcome::Clear })
}

fn tell(
    chosen: &Chosen,
    format: Format,
    besides: &[Finding],
    laid: &Laid,
    told: &[Told],
    env: &mut Env,
) -> Result<(), Failure> {
    if format == Format::Json {
        return Ok(writeln!(env.out, "{:#}", json::json(chosen, besides, laid, told))?);
    }
    let width = env.width;
    chosen.tell(besides, env)?;
    let bench = chosen.loaded.checked.value.as_ref();
    let Some(bench) = bench.filter(|_| besides.is_empty()) else {
        let what =
            if bench.is_none() { "The files cannot be used." } else { "The calibrations cannot be used." };
        return Ok(text::paragraph(what, width, &mut env.out)?);
    };
    text::paragraph(&bench.name(), width, &mut env.out)?;
    let lines = laid.sheets();
    for sheet in lines.iter().chain(told.iter().flat_map(|one| &one.found.sheets)) {
        text::paragraph(&sheet.title, width, &mut env.out)?;
        sheets::print(sheet, width, &mut env.out)?;
    }
    Ok(())
}

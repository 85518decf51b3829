//! `firstspin predict`: a trial of an axis in time, judged before it is played.

mod beside;
mod log;

use crate::args::{Format, Predict};
use crate::bench_choice::{self, Chosen};
use crate::env::Env;
use crate::failure::{Failure, Outcome};
use crate::{sheets, text};
use bench::Bench;
use bench::model::Axis;
use finding::{Severity, Sheet};
use log::Written;
use serde_json::{Value, json};
use simulate::{Plan, Trial, Wish};

pub(super) fn run(asked: &Predict, env: &mut Env) -> Result<Outcome, Failure> {
    let chosen = bench_choice::read(asked.bench.as_deref(), env)?;
    let Some(bench) = &chosen.loaded.checked.value else {
        tell(&chosen, asked.format, None, env)?;
        return Ok(Outcome::Unusable);
    };
    let trial = trial(bench, asked)?;
    let unusable = |why: simulate::Unusable| Failure::Said(format!("this cannot be simulated: {why}"));
    let outcome = if trial.is_offered() { Some(trial.outcome().map_err(unusable)?) } else { None };
    let sheet = trial.sheet(outcome.as_ref());
    // The log is there before anything is said of it.
    let written = match (&asked.out, &outcome) {
        (Some(out), Some(_)) => {
            let beside = beside::Beside::of(&env.folder.join(out))?;
            let written = log::write(bench, &trial, out, env)?;
            beside.write(&json(&chosen, Some((&trial, &sheet, Some(written)))))?;
            Some(written)
        }
        _ => None,
    };
    tell(&chosen, asked.format, Some((&trial, &sheet, written)), env)?;
    if let (Some(out), Format::Text) = (&asked.out, asked.format) {
        writeln!(env.out)?;
        let beside = out.with_extension("trial.json");
        let placed = |number: u64, what: &str| {
            format!("{number} {what} are in {}, and what they record in {}", out.display(), beside.display())
        };
        let said = match written {
            Some(Written::Rows(rows)) => placed(rows, "rows"),
            Some(Written::Changes(changes)) => placed(changes, "changes"),
            None => format!("The trial is refused, so {} was not written.", out.display()),
        };
        text::paths(&said, env.width, &mut env.out)?;
    }
    let stands = chosen.loaded.checked.findings.iter().any(|f| f.severity == Severity::Blocker);
    Ok(if stands || !trial.is_offered() { Outcome::Blocked } else { Outcome::Clear })
}

/// The trial of a name: of the bench file, else one that the program knows.
fn trial(bench: &Bench, asked: &Predict) -> Result<Trial, Failure> {
    let wish = Wish { duty: asked.duty, free: asked.free };
    let of_file = bench.trials().into_iter().find(|(name, _)| **name == *asked.trial);
    let planned = match of_file {
        Some((name, trial)) => {
            let axis = axis_of(bench, &name, &trial, asked.axis.as_deref())?;
            Trial::of_file(bench, axis, &name, &trial, wish)
        }
        None => {
            let plan = Plan::named(&asked.trial).ok_or_else(|| unknown(bench, &asked.trial))?;
            Trial::plan(bench, axis(bench, asked.axis.as_deref())?, plan, wish)
        }
    };
    planned.map_err(|why| Failure::Said(why.to_string()))
}

/// That there is no trial of a name, with those that there are.
fn unknown(bench: &Bench, name: &str) -> Failure {
    let own = bench.trials();
    let names = Plan::ALL.map(Plan::name).into_iter().chain(own.iter().map(|(name, _)| &**name));
    let near = bench::nearest(name, names).map(|near| format!("; did you mean `{near}`?"));
    let list = Plan::ALL.map(|plan| format!("{} ({})", plan.name(), plan.caption())).join(", ");
    let of_file = match own.as_slice() {
        [] => "The bench file has no trials.".to_owned(),
        own => {
            let names: Vec<&str> = own.iter().map(|(name, _)| &**name).collect();
            format!("Trials of the bench file: {}.", names.join(", "))
        }
    };
    Failure::Said(format!(
        "there is no trial `{name}`{} {of_file} Trials of any bench: {list}",
        near.unwrap_or_else(|| ".".to_owned())
    ))
}

/// The axis of a trial of the bench file, or another one that is asked for.
fn axis_of<'b>(
    bench: &'b Bench,
    name: &str,
    trial: &bench::file::Trial,
    asked: Option<&str>,
) -> Result<&'b Axis, Failure> {
    if asked.is_some() {
        return axis(bench, asked);
    }
    let mover = trial.axis().unwrap_or_default();
    bench.axis(mover).ok_or_else(|| {
        Failure::Said(format!(
            "trial `{name}` moves servo `{mover}`, and only axes with DC motors are simulated"
        ))
    })
}

/// The axis of a name; the first with a DC motor where none is named.
fn axis<'b>(bench: &'b Bench, name: Option<&str>) -> Result<&'b Axis, Failure> {
    let names: Vec<&str> = bench.axes().iter().map(|axis| &*axis.name).collect();
    let list = if names.is_empty() { "none".to_owned() } else { names.join(", ") };
    match name {
        Some(name) => bench
            .axis(name)
            .ok_or_else(|| Failure::Said(format!("the bench has no axis `{name}`; its axes are: {list}"))),
        None => bench.axes().iter().find(|axis| axis.motor().is_some()).ok_or_else(|| {
            Failure::Said(format!("the bench has no axis with a DC motor; its axes are: {list}"))
        }),
    }
}

/// A trial with its sheet, and what its log holds.
type Told<'a> = (&'a Trial, &'a Sheet, Option<Written>);

fn tell(chosen: &Chosen, format: Format, told: Option<Told<'_>>, env: &mut Env) -> Result<(), Failure> {
    if format == Format::Json {
        return Ok(writeln!(env.out, "{:#}", json(chosen, told))?);
    }
    let (width, sources) = (env.width, &chosen.loaded.sources);
    if let Some(notice) = chosen.notice() {
        text::paragraph(&notice, width, &mut env.out)?;
        writeln!(env.out)?;
    }
    for finding in &chosen.loaded.checked.findings {
        text::finding(finding, sources, width, &mut env.out)?;
        writeln!(env.out)?;
    }
    match (&chosen.loaded.checked.value, told) {
        (Some(bench), Some((_, sheet, _))) => {
            text::paragraph(&bench.name(), width, &mut env.out)?;
            text::paragraph(&sheet.title, width, &mut env.out)?;
            sheets::print(sheet, width, &mut env.out)?;
        }
        _ => text::paragraph("The files cannot be used.", width, &mut env.out)?,
    }
    Ok(())
}

fn json(chosen: &Chosen, told: Option<Told<'_>>) -> Value {
    let sources = &chosen.loaded.sources;
    let findings = &chosen.loaded.checked.findings;
    let written = told.and_then(|(.., written)| written);
    json!({
        "notice": chosen.notice(),
        "is_example": chosen.is_example,
        "bench": chosen.loaded.checked.value.as_ref().map(|bench| bench.name()),
        "usable": chosen.loaded.checked.value.is_some(),
        "trial": told.map(|(trial, ..)| &trial.name),
        "of_file": told.is_some_and(|(trial, ..)| trial.of_file),
        "axis": told.map(|(trial, ..)| &trial.axis),
        "verdict": told.map(|(trial, ..)| trial.verdict()),
        "offered": told.is_some_and(|(trial, ..)| trial.is_offered()),
        "rows": written.and_then(|written| match written { Written::Rows(rows) => Some(rows), _ => None }),
        "changes": written.and_then(|written| match written { Written::Changes(changes) => Some(changes), _ => None }),
        "findings": findings.iter().map(|finding| report::json::finding(finding, sources)).collect::<Vec<_>>(),
        "sheet": told.map(|(_, sheet, _)| report::json::sheet(sheet, sources)),
    })
}

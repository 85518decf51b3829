//! `firstspin predict`: a trial of an axis in time, judged before it is played.

mod beside;
mod builds;
mod log;

use super::tune;
use crate::args::{Format, Predict};
use crate::axes;
use crate::bench_choice::{self, Chosen};
use crate::env::Env;
use crate::failure::{Failure, Outcome};
use crate::long_work::LongWork;
use crate::{sheets, text};
use bench::Bench;
use bench::model::{Axis, ServoUnit};
use finding::{Severity, Sheet, Stopped, Watch};
use log::Written;
use serde_json::{Value, json};
use simulate::{
    AskedFault, CannotPlan, Ended, NoFault, NoSpread, Plan, Planned, Samples, Spread, Trial, Wish, moves,
    servo, stepper,
};

pub(super) fn run(asked: &Predict, env: &mut Env) -> Result<Outcome, Failure> {
    let chosen = bench_choice::read(asked.bench.as_deref(), env)?;
    let Some(bench) = &chosen.loaded.checked.value else {
        tell(&chosen, asked.format, None, env)?;
        return Ok(Outcome::Unusable);
    };
    let planned = planned(bench, asked, env)?;
    let (builds, sheet) = LongWork::before_writing(format!("playing {}", asked.trial), env)?.watched(
        |watch| {
            // Which of them takes longer is not known: the bar fills for builds, and once more for the rest.
            let builds = builds(&planned, asked, watch);
            watch.go_on(0.0).map_err(Ended::Sink)?;
            let sheet = planned.sheet(builds.as_ref(), watch)?;
            Ok((builds, sheet))
        },
        |ended: Ended<Stopped>| Failure::Said(format!("this cannot be simulated: {ended}")),
    )?;
    let offered = planned.is_offered();
    // The log is there before anything is said of it.
    let told = |written| Told {
        trial: &asked.trial,
        planned: &planned,
        sheet: &sheet,
        builds: builds.as_ref(),
        written,
    };
    let written = match &asked.out {
        Some(out) if offered => {
            let beside = beside::Beside::of(&env.folder.join(out))?;
            let written = log::write(bench, &planned, out, env)?;
            beside.write(&json(&chosen, Some(told(Some(written)))))?;
            Some(written)
        }
        _ => None,
    };
    tell(&chosen, asked.format, Some(told(written)), env)?;
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
    Ok(if stands || !offered { Outcome::Blocked } else { Outcome::Clear })
}

/// Builds of what moves, where its trial is offered and they are wanted.
fn builds(planned: &Planned, asked: &Predict, watch: Watch<'_>) -> Option<Result<Spread, NoSpread>> {
    let usual = Samples::default();
    let (builds, seed) = (asked.builds.unwrap_or(usual.builds), asked.seed.unwrap_or(usual.seed));
    // Who asks for builds waits for them.
    let whole_steps = if asked.builds.is_some() { usual.most_steps } else { usual.whole_steps };
    let wanted = builds > 0 && planned.is_offered();
    wanted.then(|| planned.spread(&Samples { builds, seed, whole_steps, ..usual }, watch))
}

/// The trial of a name: of the bench file, else one that the program knows.
fn planned(bench: &Bench, asked: &Predict, env: &mut Env) -> Result<Planned, Failure> {
    let wish = Wish { duty: asked.duty, free: asked.free };
    let named = asked.axis.as_deref();
    let of_file = bench.trials().into_iter().find(|(name, _)| **name == *asked.trial);
    if asked.tuned && (of_file.is_some() || asked.trial != moves::NAME) {
        let what =
            format!("`{}` does not take --tuned: that is for `move`, the motion of the axis", asked.trial);
        return Err(Failure::Said(what));
    }
    let planned: Result<Planned, CannotPlan> = match (of_file, &*asked.trial) {
        (Some((name, trial)), _) => {
            let axis = axis_of(bench, &name, &trial, named)?;
            Planned::of_file(bench, axis, &name, &trial, wish, asked.rate)
        }
        (None, moves::NAME) => {
            let fits = |axis: &&Axis| axis.motor().is_some() && axis.motion.is_some();
            let axis = axes::named_or_first(bench, named, fits, "a DC motor and a motion")?;
            let gains = if asked.tuned { Some(tune::gains(bench, axis, env)?) } else { None };
            moves::with_gains(bench, axis, asked.free, gains).map(|trial| Planned::Moves(Box::new(trial)))
        }
        (None, stepper::NAME) => {
            let fits = |axis: &&Axis| axis.stepper().is_some();
            let wish = stepper::Wish { rate: asked.rate, time: None, free: asked.free };
            stepper::trial(bench, axes::named_or_first(bench, named, fits, "a stepper")?, wish)
                .map(|trial| Planned::Steps(Box::new(trial)))
        }
        (None, servo::NAME) => {
            servo::trial(bench, servo(bench, named)?).map(|trial| Planned::Sweep(Box::new(trial)))
        }
        (None, name) => {
            let plan = Plan::named(name).ok_or_else(|| unknown(bench, name))?;
            let axis = axes::named_or_first(bench, named, |axis| axis.motor().is_some(), "a DC motor")?;
            Trial::plan(bench, axis, plan, wish).map(|trial| Planned::Turns(Box::new(trial)))
        }
    };
    let planned = planned.map_err(|why| Failure::Said(why.to_string()))?;
    let turns = matches!(planned, Planned::Turns(_));
    let moves = matches!(planned, Planned::Moves(_));
    let sweeps = matches!(planned, Planned::Sweep(_));
    let idle = [
        (asked.rate.is_some() && (turns || moves), "--rate"),
        (asked.duty.is_some() && !turns, "--duty"),
        ((asked.rate.is_some() || asked.free) && sweeps, "--rate or --free"),
    ];
    match idle.into_iter().find(|(given, _)| *given) {
        Some((_, option)) => Err(Failure::Said(format!("`{}` does not take {option}", asked.trial))),
        None => with_faults(planned, &asked.faults),
    }
}

/// The trial with faults that are asked for, as they are written.
fn with_faults(planned: Planned, written: &[String]) -> Result<Planned, Failure> {
    let asked: Result<Vec<AskedFault>, NoFault> = written.iter().map(|text| AskedFault::read(text)).collect();
    asked.and_then(|asked| planned.with_faults(&asked)).map_err(|why| Failure::Said(why.to_string()))
}

/// That there is no trial of a name, with those that there are.
fn unknown(bench: &Bench, name: &str) -> Failure {
    let own = bench.trials();
    let known: Vec<(&str, &str)> = Plan::ALL
        .iter()
        .map(|plan| (plan.name(), plan.caption()))
        .chain([
            (moves::NAME, moves::CAPTION),
            (stepper::NAME, stepper::CAPTION),
            (servo::NAME, servo::CAPTION),
        ])
        .collect();
    let names = known.iter().map(|(name, _)| *name).chain(own.iter().map(|(name, _)| &**name));
    let near = bench::nearest(name, names).map(|near| format!("; did you mean `{near}`?"));
    let list: Vec<String> = known.iter().map(|(name, caption)| format!("{name} ({caption})")).collect();
    let list = list.join(", ");
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
    let mover = trial.axis().unwrap_or_default();
    match asked {
        Some(name) => axes::named(bench, name),
        None => bench.axis(mover).ok_or_else(|| {
            Failure::Said(format!(
                "trial `{name}` moves servo `{mover}`; a servo has one trial: firstspin predict sweep --axis {mover}"
            ))
        }),
    }
}

/// The servo of a name; the first where none is named.
fn servo<'b>(bench: &'b Bench, name: Option<&str>) -> Result<&'b ServoUnit, Failure> {
    let list = listed(bench.servos().iter().map(|servo| &*servo.name));
    match name {
        Some(name) => bench
            .servo(name)
            .ok_or_else(|| Failure::Said(format!("the bench has no servo `{name}`; its servos are: {list}"))),
        None => bench.servos().first().ok_or_else(|| Failure::Said("the bench has no servo".to_owned())),
    }
}

fn listed<'a>(names: impl Iterator<Item = &'a str>) -> String {
    let names: Vec<&str> = names.collect();
    if names.is_empty() { "none".to_owned() } else { names.join(", ") }
}

/// A trial with its sheet, and what its log holds.
#[derive(Clone, Copy)]
struct Told<'a> {
    trial: &'a str,
    planned: &'a Planned,
    sheet: &'a Sheet,
    builds: Option<&'a Result<Spread, NoSpread>>,
    written: Option<Written>,
}

fn tell(chosen: &Chosen, format: Format, told: Option<Told<'_>>, env: &mut Env) -> Result<(), Failure> {
    if format == Format::Json {
        return Ok(writeln!(env.out, "{:#}", json(chosen, told))?);
    }
    let width = env.width;
    chosen.tell(&[], env)?;
    match (&chosen.loaded.checked.value, told) {
        (Some(bench), Some(Told { sheet, .. })) => {
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
    let written = told.and_then(|told| told.written);
    json!({
        "notice": chosen.notice(),
        "is_example": chosen.is_example,
        "bench": chosen.loaded.checked.value.as_ref().map(|bench| bench.name()),
        "usable": chosen.loaded.checked.value.is_some(),
        "trial": told.map(|told| told.trial),
        "of_file": told.is_some_and(|told| {
            chosen.loaded.checked.value.as_ref().is_some_and(|bench| {
                bench.trials().iter().any(|(name, _)| **name == *told.trial)
            })
        }),
        "axis": told.map(|told| told.planned.mover()),
        "shaft": told.and_then(|told| Some(told.planned.shaft()?.word())),
        "winding_temperature": told.and_then(|told| {
            Some(json!({ "value": told.planned.winding()?, "unit": "K" }))
        }),
        "verdict": told.map(|told| told.planned.verdict()),
        "offered": told.is_some_and(|told| told.planned.is_offered()),
        "course": told.filter(|told| told.planned.is_offered()).and_then(|told| Some(told.planned.course()?.name())),
        "rows": written.and_then(|written| match written { Written::Rows(rows) => Some(rows), _ => None }),
        "changes": written.and_then(|written| match written { Written::Changes(changes) => Some(changes), _ => None }),
        "findings": findings.iter().map(|finding| report::json::finding(finding, sources)).collect::<Vec<_>>(),
        "faults": told.map(|told| builds::faults(told.planned)),
        "builds": told.and_then(|told| Some(builds::json(told.builds?))),
        "sheet": told.map(|told| report::json::sheet(told.sheet, sources)),
    })
}

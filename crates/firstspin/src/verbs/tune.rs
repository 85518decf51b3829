//! `firstspin tune`: the numbers for the controller of an axis, with the margins that they keep.

mod file;

use crate::args::{Format, Tune};
use crate::axes;
use crate::bench_choice::{self, Chosen};
use crate::env::Env;
use crate::failure::{Failure, Outcome};
use crate::long_work::LongWork;
use crate::{sheets, text};
use bench::Bench;
use bench::file::Controls;
use bench::model::Axis;
use control::axis::CannotTune;
use control::enclosed::{FIGURES, NAMES, Worst};
use control::sheet::{Number, numbers};
use control::tuned::{Given, NoGains, Tuned};
use finding::{Severity, Sheet};
use serde_json::{Value, json};
use simulate::moves;
use worked::{Dimension, Quantity};

/// What came of one axis.
struct Told {
    axis: String,
    tuned: Result<(Box<Tuned>, Sheet), CannotTune>,
}

impl Told {
    fn does(&self) -> bool {
        self.tuned.as_ref().is_ok_and(|(tuned, _)| tuned.does())
    }
}

pub(super) fn run(asked: &Tune, env: &mut Env) -> Result<Outcome, Failure> {
    let given = given(asked)?;
    let chosen = bench_choice::read(asked.bench.as_deref(), env)?;
    let Some(bench) = &chosen.loaded.checked.value else {
        tell(&chosen, asked.format, &[], env)?;
        return Ok(Outcome::Unusable);
    };
    let axes = asked_axes(bench, asked.axis.as_deref())?;
    if given != Given::default() && axes.len() > 1 {
        return Err(Failure::Said(
            "gains that are given are those of one axis: name it with --axis".to_owned(),
        ));
    }
    let place = asked.out.as_deref().map(|out| file::Place::of(out, env)).transpose()?;
    let mut told = Vec::new();
    for axis in axes {
        let work = LongWork::before_writing(format!("tuning axis {}", axis.name), env)?;
        let tuned = work.watched(
            |watch| match Tuned::of(bench, axis, &given, watch) {
                Ok(tuned) => {
                    let sheet = tuned.sheet();
                    Ok(Ok((Box::new(tuned), sheet)))
                }
                Err(NoGains::Cannot(why)) => Ok(Err(why)),
                Err(NoGains::Stopped(stopped)) => Err(stopped),
            },
            |stopped| Failure::Said(stopped.to_string()),
        )?;
        if let (Err(why @ CannotTune::NotThisAxis { .. }), Some(_)) = (&tuned, &asked.axis) {
            return Err(Failure::Said(why.to_string()));
        }
        told.push(Told { axis: axis.name.to_string(), tuned });
    }
    let does = !told.is_empty() && told.iter().all(Told::does);
    // The file is there before anything is said of it.
    if let (Some(place), true) = (&place, does) {
        place.write(&told)?;
    }
    tell(&chosen, asked.format, &told, env)?;
    if let (Some(place), Format::Text) = (&place, asked.format) {
        writeln!(env.out)?;
        let said = match does {
            true => format!("The gains are in {}.", place.shown()),
            false => format!("These are no gains to use, so {} was not written.", place.shown()),
        };
        text::paths(&said, env.width, &mut env.out)?;
    }
    let stands = chosen.loaded.checked.findings.iter().any(|f| f.severity == Severity::Blocker);
    Ok(if stands || !does { Outcome::Blocked } else { Outcome::Clear })
}

/// The gains that are worked out for an axis, as a motion takes them; they have to do what is wanted.
pub(super) fn gains(bench: &Bench, axis: &Axis, env: &mut Env) -> Result<moves::Gains, Failure> {
    let work = LongWork::before_writing(format!("tuning axis {}", axis.name), env)?;
    let tuned = work.watched(
        |watch| Tuned::of(bench, axis, &Given::default(), watch),
        |why: NoGains| Failure::Said(why.to_string()),
    )?;
    if !tuned.does() {
        return Err(Failure::Said(format!(
            "axis {} has no gains that do what is wanted and keep their margins over all tolerances; \
             `firstspin tune --axis {}` says why, and what would make it possible",
            axis.name, axis.name
        )));
    }
    Ok(tuned.best.gains.for_motion())
}

/// The axis that is named; all with a DC motor that control something where none is.
fn asked_axes<'b>(bench: &'b Bench, named: Option<&str>) -> Result<Vec<&'b Axis>, Failure> {
    let fits = |axis: &&Axis| axis.motor().is_some() && !axis.entry.controls().is(Controls::Nothing);
    match named {
        Some(name) => axes::named(bench, name).map(|axis| vec![axis]),
        None => axes::fitting(bench, fits, "a DC motor that controls something"),
    }
}

/// Gains as the options give them.
fn given(asked: &Tune) -> Result<Given, Failure> {
    let read = |option: &str, text: &Option<String>, dimension: Dimension| {
        text.as_deref().map(|text| quantity(option, text, dimension)).transpose()
    };
    Ok(Given {
        gain: read("--gain", &asked.gain, Dimension::MACHINE_CONSTANT)?,
        integral_time: read("--integral-time", &asked.integral_time, Dimension::TIME)?,
        weight: asked.weight,
        window: read("--window", &asked.window, Dimension::TIME)?,
        position_gain: read("--position-gain", &asked.position_gain, Dimension::FREQUENCY)?,
    })
}

fn quantity(option: &str, text: &str, dimension: Dimension) -> Result<f64, Failure> {
    let read =
        Quantity::parse(text, dimension).map_err(|why| Failure::Said(format!("{option} {text}: {why}")))?;
    read.nominal.ok_or_else(|| Failure::Said(format!("{option} {text}: one value is asked for, not a range")))
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
        writeln!(env.out)?;
        match &one.tuned {
            Ok((_, sheet)) => {
                text::paragraph(&sheet.title, width, &mut env.out)?;
                sheets::print(sheet, width, &mut env.out)?;
            }
            Err(why) => text::paths(&format!("{why}."), width, &mut env.out)?,
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
    let (tuned, sheet) = match &told.tuned {
        Ok((tuned, sheet)) => (tuned, sheet),
        Err(why) => return json!({ "axis": told.axis, "does": false, "why_not": why.to_string() }),
    };
    let best = &tuned.best;
    let corner = |worst: &Worst| -> serde_json::Map<String, Value> {
        let end =
            |k: usize| (NAMES[k].to_owned(), si(tuned.task.ranges.0[k].end(worst.corner >> k & 1 == 1)));
        (0..FIGURES).map(end).collect()
    };
    let margin = |name: &str, unit: &str, nominal: Option<f64>, worst: &Worst| {
        json!({
            "name": name,
            "unit": unit,
            "nominal": nominal.map(si),
            "proven": si(worst.bound),
            "met": si(worst.met),
            "corner": corner(worst),
        })
    };
    let nominal = best.nominal;
    json!({
        "axis": told.axis,
        "does": tuned.does(),
        "keeps_margins": best.keeps,
        "meets_requirements": best.meets,
        "why_not": null,
        "given": tuned.given,
        "crossover": si(best.gains.crossover()),
        "gains": numbers(&best.gains).iter().map(number).collect::<Vec<_>>(),
        "margins": [
            margin("gain", "", nominal.map(|m| m.gain), &best.worst.gain),
            margin("phase", "rad", nominal.map(|m| m.phase), &best.worst.phase),
            margin("delay", "s", nominal.map(|m| m.delay), &best.worst.delay),
            margin("distance", "", nominal.map(|m| 1.0 / m.sensitivity), &best.worst.distance),
        ],
        "ceilings": tuned.ceilings.iter().map(|ceiling| json!({
            "name": ceiling.name,
            "crossover": si(ceiling.crossover),
            "from": ceiling.from,
        })).collect::<Vec<_>>(),
        "current_loop": tuned.structure.current_loop.map(|inside| json!({
            "gain": si(inside.law.gain),
            "integral_time": si(inside.law.integral_time),
            "phase_margin": si(inside.worst.phase.bound),
            "distance": si(inside.worst.distance.bound),
        })),
        "sheet": report::json::sheet(sheet, sources),
    })
}

/// A number for the controller, in SI and in counts and samples.
fn number(number: &Number) -> Value {
    json!({
        "key": number.key,
        "name": number.name,
        "symbol": number.symbol,
        "value": si(number.value),
        "unit": number.unit,
        "in_samples": number.in_samples.map(|(value, unit)| json!({ "value": si(value), "unit": unit })),
    })
}

/// A number; null where there is none.
fn si(value: f64) -> Value {
    if value.is_finite() { json!(value) } else { Value::Null }
}

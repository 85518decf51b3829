//! `firstspin size`: whether the parts are strong enough for the motion.

use crate::args::Format;
use crate::axes;
use crate::bench_choice::{self, Chosen};
use crate::env::Env;
use crate::failure::{Failure, Outcome};
use crate::long_work::LongWork;
use crate::{sheets, text};
use bench::{Bench, Files};
use finding::Sheet;
use serde_json::{Value, json};
use sizing::catalogue::{self, Alternative, Alternatives, NoSearch};
use sizing::{Corridor, Question, SizedAxis, SizedSupply, Sizing};
use std::path::Path;
use worked::{Effort, Worked};

pub(super) fn run(
    named: Option<&Path>,
    axis: Option<&str>,
    other_parts: bool,
    format: Format,
    env: &mut Env,
) -> Result<Outcome, Failure> {
    let chosen = bench_choice::read(named, env)?;
    let sized = match &chosen.loaded.checked.value {
        Some(bench) => {
            axis.map(|name| axes::named(bench, name)).transpose()?;
            Some(sizing::size(bench, axis))
        }
        None => None,
    };
    let others = match &chosen.loaded.checked.value {
        Some(bench) if other_parts => Some(alternatives(&chosen, bench, axis, env)?),
        _ => None,
    };
    if format == Format::Json {
        writeln!(env.out, "{:#}", json(&chosen, sized.as_ref(), others.as_ref()))?;
    } else {
        print(&chosen, sized.as_ref(), others.as_ref(), env)?;
    }
    Ok(match sized {
        None => Outcome::Unusable,
        Some(sized) if sized.fits() => Outcome::Clear,
        Some(_) => Outcome::Blocked,
    })
}

/// Other parts for the axis that is named, else for the first with a DC motor.
fn alternatives(
    chosen: &Chosen,
    bench: &Bench,
    named: Option<&str>,
    env: &mut Env,
) -> Result<Alternatives, Failure> {
    let first = || bench.axes().iter().find(|axis| axis.motor().is_some()).map(|axis| axis.name.to_string());
    let Some(axis) = named.map(str::to_owned).or_else(first) else {
        return Err(Failure::Said(
            "the bench has no axis with a DC motor, so there are no parts to try".to_owned(),
        ));
    };
    let files: Box<dyn Files> = match (&chosen.folder, bench::builtin::starter(bench_choice::EXAMPLE)) {
        (Some(folder), _) => Box::new(bench::Folder::new(folder)),
        (None, Some(example)) => Box::new(example),
        (None, None) => {
            return Err(Failure::Said("the built-in example is missing from this build".to_owned()));
        }
    };
    let doing = format!("trying other parts for axis {axis}");
    LongWork::before_writing(doing, env)?.watched(
        |watch| catalogue::search(&*files, bench, &axis, watch),
        |why: NoSearch| Failure::Said(format!("other parts cannot be tried: {why}")),
    )
}

/// The sheet, with other parts at its end.
fn whole(sized: &Sizing, others: Option<&Alternatives>) -> Sheet {
    let mut sheet = sized.sheet();
    sheet.blocks.extend(others.map(Alternatives::blocks).unwrap_or_default());
    sheet
}

fn print(
    chosen: &Chosen,
    sized: Option<&Sizing>,
    others: Option<&Alternatives>,
    env: &mut Env,
) -> Result<(), Failure> {
    let width = env.width;
    chosen.tell(&[], env)?;
    match (&chosen.loaded.checked.value, sized) {
        (Some(bench), Some(sized)) => {
            text::paragraph(&bench.name(), width, &mut env.out)?;
            sheets::print(&whole(sized, others), width, &mut env.out)?;
        }
        _ => text::paragraph("The files cannot be used.", width, &mut env.out)?,
    }
    Ok(())
}

fn json(chosen: &Chosen, sized: Option<&Sizing>, others: Option<&Alternatives>) -> Value {
    let sources = &chosen.loaded.sources;
    let findings = &chosen.loaded.checked.findings;
    json!({
        "notice": chosen.notice(),
        "is_example": chosen.is_example,
        "bench": chosen.loaded.checked.value.as_ref().map(|bench| bench.name()),
        "usable": sized.is_some(),
        "fits": sized.map(Sizing::fits),
        "verdict": sized.map(Sizing::verdict),
        "axes": sized.map(|sized| sized.axes.iter().map(axis).collect::<Vec<_>>()),
        "supplies": sized.map(|sized| sized.supplies.iter().map(supply).collect::<Vec<_>>()),
        "findings": findings.iter().map(|finding| report::json::finding(finding, sources)).collect::<Vec<_>>(),
        "other_parts": others.map(other_parts),
        "sheet": sized.map(|sized| report::json::sheet(&whole(sized, others), sources)),
    })
}

fn other_parts(found: &Alternatives) -> Value {
    let [motors, gearboxes, boards, supplies] = found.parts;
    let one = |one: &Alternative| {
        let [motor, gearbox, board, supply] = &one.parts;
        let price = one.price.as_ref();
        json!({
            "motor": motor, "gearbox": gearbox, "board": board, "supply": supply,
            "changed": one.changed.iter().flatten().collect::<Vec<_>>(),
            "left": one.margin,
            "winding": one.winding.is_finite().then_some(one.winding),
            "mass": one.mass,
            "price": price.map(|price| price.0), "currency": price.map(|price| &price.1),
            "fits": one.fits,
            "said": one.said,
        })
    };
    let unusable = found.unusable.iter().map(|(path, why)| json!({ "part": path, "why": why }));
    json!({
        "axis": found.axis,
        "motors": motors, "gearboxes": gearboxes, "boards": boards, "supplies": supplies,
        "combinations": found.combinations, "ruled_out": found.ruled_out, "hold": found.hold,
        "present": one(&found.present),
        "unbeaten": found.front.iter().map(one).collect::<Vec<_>>(),
        "unbeaten_in_all": found.unbeaten,
        "mass_counts": found.mass_counts, "price_counts": found.price_counts,
        "unusable": unusable.collect::<Vec<_>>(),
    })
}

fn axis(axis: &SizedAxis) -> Value {
    let course = axis.course.as_ref().ok();
    json!({
        "name": axis.name,
        "motion": axis.motion,
        "questions": axis.questions.iter().map(question).collect::<Vec<_>>(),
        "not_stated": axis.not_stated,
        "no_course": axis.course.as_ref().err(),
        "duty": course.map(|course| {
            let duty = &course.duty;
            json!({ "type": duty.name, "meaning": duty.meaning, "loaded": duty.loaded })
        }),
        "ratios": course.and_then(|course| {
            let ratios = course.ratios.as_ref()?;
            Some(json!({
                "now": ratios.now,
                "shortest_move": ratios.shortest,
                "least_current": ratios.coolest.0,
                "highest": ratios.highest,
            }))
        }),
        "room": axis.corridors().iter().map(room).collect::<Vec<_>>(),
        "time_to_limit": course.and_then(|course| {
            let [cold, warm] = course.times_to_limit?;
            Some(json!({ "cold": cold, "warm": warm, "unit": "s" }))
        }),
        "runs_away": course.map(|course| course.runs_away),
        "figures": course.map(|course| course.figures.iter().map(sampled).collect::<Vec<_>>()),
    })
}

fn supply(supply: &SizedSupply) -> Value {
    json!({
        "path": supply.path,
        "axes": supply.axes,
        "questions": supply.questions.iter().map(question).collect::<Vec<_>>(),
        "not_stated": supply.not_stated,
        "course": supply.course.as_ref().map(|course| json!({
            "highest_voltage": course.highest,
            "lowest_voltage": course.lowest,
            "peak_current": course.peak_current,
            "rms_current": course.rms_current,
            "clamped_energy": course.clamped,
            "time": course.time,
        })),
    })
}

fn room(corridor: &Corridor) -> Value {
    let unit = &corridor.input.unit;
    let end = |si: f64| unit.from_si(si);
    json!({
        "path": corridor.input.path,
        "unit": unit.symbol(),
        "now": corridor.input.value.map(end),
        "low": corridor.range.map(|(low, _)| end(low)),
        "high": corridor.range.map(|(_, high)| end(high)),
        "low_from": corridor.low_from,
        "high_from": corridor.high_from,
        "questions": corridor.questions,
    })
}

fn question(question: &Question) -> Value {
    let [value, limit] = question.said();
    let figure = |worked: &Worked| report::json::figure(&worked.figure(Effort::FirstOrder));
    let changes: Vec<Value> = question
        .changes()
        .iter()
        .map(|change| json!({ "path": change.input.path, "to": change.to_text() }))
        .collect();
    json!({
        "id": question.id,
        "of": question.of,
        "what": question.what,
        "verdict": question.word(),
        "recommended": question.recommended,
        "value_at_worst": value,
        "limit_at_worst": limit,
        "left": question.margin(),
        "side": question.side(),
        "bounds": question.bounds,
        "missing": question.missing,
        "changes": changes,
        "advice": question.advice,
        "value": question.judged.as_ref().map(|(claim, _)| figure(&claim.value)),
        "limit": question.judged.as_ref().map(|(claim, _)| figure(&claim.limit)),
    })
}

fn sampled(figure: &Worked) -> Value {
    let mut value = report::json::figure(&figure.figure(Effort::FirstOrder));
    value["bounds"] = json!(worked::Bounds::Sampled);
    value
}

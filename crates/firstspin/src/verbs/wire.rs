//! `firstspin wire`: signals onto pins, with the tables to wire by.

mod save;

use crate::args::{Format, Wire};
use crate::bench_choice::{self, Chosen};
use crate::env::Env;
use crate::failure::{Failure, Outcome};
use crate::long_work::LongWork;
use crate::{sheets, text};
use finding::sheet::Block;
use finding::{Checked, Finding, Severity, Sheet};
use serde_json::{Value, json};
use std::time::Duration;
use wiring::{Limit, Options, Wiring};

pub(super) fn run(asked: &Wire, env: &mut Env) -> Result<Outcome, Failure> {
    let limit = limit(asked.limit)?;
    let chosen = bench_choice::read(asked.bench.as_deref(), env)?;
    let Some(bench) = &chosen.loaded.checked.value else {
        tell(&chosen, asked.format, &[], None, env)?;
        return Ok(Outcome::Unusable);
    };
    if asked.write && chosen.is_example {
        return Err(Failure::Said(
            "there is no bench.toml of yours to write the plan into; make one with `firstspin new`"
                .to_owned(),
        ));
    }
    let Checked { value: wiring, findings } = wiring::wire(bench, &Options { keep: asked.keep, limit });
    let wiring = wiring.map(|wiring| (wiring.sheet(), wiring));
    tell(&chosen, asked.format, &findings, wiring.as_ref(), env)?;
    let Some((sheet, wiring)) = wiring else { return Ok(Outcome::Blocked) };
    if let Some(out) = &asked.out {
        let files = tables(&chosen, &sheet, &wiring);
        let written = LongWork::begin(format!("writing {}", out.display()), env)?.watched(
            |watch| report::write_files(&env.folder.join(out), report::Kind::Tables, &files, watch),
            |error| Failure::Said(error.to_string()),
        )?;
        if asked.format == Format::Text {
            writeln!(env.out)?;
            text::paths(
                &format!("{} files are in {}", written.files.len(), out.display()),
                env.width,
                &mut env.out,
            )?;
        }
    }
    if asked.write {
        // Too short to stop half-way: it is done, or not begun.
        let said = LongWork::begin("writing bench.toml".to_owned(), env)?
            .watched(|_| save::save(&chosen, &wiring, asked.keep), |failure| failure)?;
        if asked.format == Format::Text {
            writeln!(env.out)?;
            text::paths(&said, env.width, &mut env.out)?;
        }
    }
    let stands = chosen.loaded.checked.findings.iter().any(|f| f.severity == Severity::Blocker);
    Ok(if stands { Outcome::Blocked } else { Outcome::Clear })
}

fn limit(seconds: Option<f64>) -> Result<Limit, Failure> {
    let Some(seconds) = seconds else { return Ok(Options::default().limit) };
    match Duration::try_from_secs_f64(seconds) {
        Ok(limit) => Ok(Limit::Time(limit)),
        Err(_) => {
            Err(Failure::Said(format!("--limit {seconds:?} is no time to search; give seconds, such as 2.5")))
        }
    }
}

fn tell(
    chosen: &Chosen,
    format: Format,
    findings: &[Finding],
    wiring: Option<&(Sheet, Wiring<'_>)>,
    env: &mut Env,
) -> Result<(), Failure> {
    if format == Format::Json {
        let told = json(chosen, findings, wiring.map(|(sheet, wiring)| (sheet, wiring)));
        return Ok(writeln!(env.out, "{told:#}")?);
    }
    let width = env.width;
    chosen.tell(findings, env)?;
    match (&chosen.loaded.checked.value, wiring) {
        (Some(bench), Some((sheet, _))) => {
            text::paragraph(&bench.name(), width, &mut env.out)?;
            sheets::print(sheet, width, &mut env.out)?;
        }
        (Some(bench), None) => {
            text::paragraph(&bench.name(), width, &mut env.out)?;
            text::paragraph("There is no plan yet.", width, &mut env.out)?;
        }
        (None, _) => text::paragraph("The files cannot be used.", width, &mut env.out)?,
    }
    Ok(())
}

fn json(chosen: &Chosen, findings: &[Finding], wiring: Option<(&Sheet, &Wiring<'_>)>) -> Value {
    let sources = &chosen.loaded.sources;
    let all = chosen.loaded.checked.findings.iter().chain(findings);
    json!({
        "notice": chosen.notice(),
        "is_example": chosen.is_example,
        "bench": chosen.loaded.checked.value.as_ref().map(|bench| bench.name()),
        "usable": chosen.loaded.checked.value.is_some(),
        "plan": wiring.map(|(_, wiring)| plan(wiring)),
        "findings": all.map(|finding| report::json::finding(finding, sources)).collect::<Vec<_>>(),
        "sheet": wiring.map(|(sheet, _)| report::json::sheet(sheet, sources)),
    })
}

fn plan(wiring: &Wiring<'_>) -> Value {
    let task = &wiring.task;
    let lines: Vec<Value> = task
        .problem
        .lines
        .iter()
        .zip(&wiring.solved.plan.lines)
        .zip(&wiring.solved.free)
        .map(|((line, seat), free)| {
            json!({
                "line": line.name,
                "pin": seat.map(|seat| format!("controller.{}", task.problem.place(seat.pin))),
                "swapped": seat.is_some_and(|seat| seat.swapped),
                "could_lie_elsewhere": free,
            })
        })
        .collect();
    let wires: Vec<Value> = wiring
        .wires
        .iter()
        .map(|wire| {
            json!({
                "id": wire.id, "from": wire.from, "to": wire.to, "carries": wire.carries,
                "colour": wire.colour, "state": wire.state.word(), "rerouted": wire.rerouted,
            })
        })
        .collect();
    let least = |aim| wiring.solved.least.iter().find(|(known, _)| *known == aim).map(|(_, least)| *least);
    let price: Vec<Value> = wiring
        .price
        .iter()
        .map(|(aim, count)| json!({ "counts": aim.counts(), "count": count, "least": least(*aim) }))
        .collect();
    json!({ "proven": wiring.solved.proven, "settled": wiring.solved.settled, "lines": lines, "wires": wires, "price": price })
}

/// All tables as CSV, and the whole as JSON.
fn tables(chosen: &Chosen, sheet: &Sheet, wiring: &Wiring<'_>) -> Vec<(String, Vec<u8>)> {
    let mut files = vec![(
        "wiring.json".to_owned(),
        format!("{:#}\n", json(chosen, &[], Some((sheet, wiring)))).into_bytes(),
    )];
    for block in &sheet.blocks {
        if let Block::Table(table) = block {
            files.push((format!("{}.csv", table.id), report::csv::table(table).into_bytes()));
        }
    }
    files
}

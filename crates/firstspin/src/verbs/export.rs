//! `firstspin export`: the controller of an axis as C.

use super::tune;
use crate::args::{Export as Asked, Format};
use crate::axes;
use crate::bench_choice::{self, Chosen};
use crate::env::Env;
use crate::failure::{Failure, Outcome};
use crate::long_work::LongWork;
use crate::{sheets, text};
use bench::Bench;
use bench::model::Axis;
use export::scaling::{Interval, Row, Scaling};
use export::{Export, Handover};
use finding::sheet::Block;
use finding::{Severity, Sheet, Table};
use serde_json::{Value, json};

/// Rows of the table of intervals that are shown: those with the fewest bits to spare.
const SHOWN: usize = 8;

pub(super) fn run(asked: &Asked, env: &mut Env) -> Result<Outcome, Failure> {
    let mut chosen = bench_choice::read(asked.bench.as_deref(), env)?;
    chosen.settle_ports();
    let Some(bench) = &chosen.loaded.checked.value else {
        if asked.format == Format::Json {
            writeln!(env.out, "{:#}", json(&chosen, None))?;
        } else {
            chosen.tell(&[], env)?;
            text::paragraph("The files cannot be used.", env.width, &mut env.out)?;
        }
        return Ok(Outcome::Unusable);
    };
    let fits = |axis: &&Axis| axis.motor().is_some() && axis.motion.is_some();
    let no_loop =
        || Failure::Said("no axis of this bench has a DC motor and a motion, so there is no loop".to_owned());
    let axis = match asked.axis.as_deref() {
        Some(name) => axes::named(bench, name)?,
        None => bench.axes().iter().find(fits).ok_or_else(no_loop)?,
    };
    let gains = if asked.tuned { Some(tune::gains(bench, axis, env)?) } else { None };
    let handover = export::of_bench(bench, axis, gains, asked.date.clone())
        .map_err(|why| Failure::Said(why.to_string()))?;
    let made = handover.export().map_err(|why| Failure::Said(format!("no loop can have this: {why}")))?;
    let files = files(&made);
    let written = LongWork::begin(format!("writing {}", asked.out.display()), env)?.watched(
        |watch| report::write_files(&env.folder.join(&asked.out), report::Kind::Export, &files, watch),
        |error| Failure::Said(error.to_string()),
    )?;
    if asked.format == Format::Json {
        writeln!(env.out, "{:#}", json(&chosen, Some((&handover, &made, &written.files))))?;
    } else {
        chosen.tell(&[], env)?;
        tell(bench, &handover, &made, env)?;
        writeln!(env.out)?;
        let place = asked.out.display();
        let said = format!("{} files are in {place}; begin with README.txt", written.files.len());
        text::paths(&said, env.width, &mut env.out)?;
    }
    let stands = chosen.loaded.checked.findings.iter().any(|f| f.severity == Severity::Blocker);
    let clear = !stands && made.fixed.is_ok() && handover.refused.is_none();
    Ok(if clear { Outcome::Clear } else { Outcome::Blocked })
}

/// All files, the tables as CSV among them.
fn files(made: &Export) -> Vec<(String, Vec<u8>)> {
    let texts = made.files.iter().map(|(name, text)| (name.clone(), text.clone().into_bytes()));
    let tables = made
        .tables
        .iter()
        .map(|table| (format!("tables/{}.csv", table.id), report::csv::table(table).into_bytes()));
    texts.chain(tables).collect()
}

fn tell(bench: &Bench, handover: &Handover, made: &Export, env: &mut Env) -> Result<(), Failure> {
    let mut sheet = Sheet {
        summary: vec![format!(
            "{}, axis {}: both loops, moves, guard and their tests.",
            bench.name(),
            handover.axis
        )],
        ..Sheet::default()
    };
    if let Some(why) = &handover.refused {
        sheet.summary.push(format!("The motion of this axis is refused with these loops: {why}"));
    }
    match &made.fixed {
        Ok(scaling) => {
            let rows = tightest(scaling);
            sheet.summary.push(format!(
                "In whole numbers: a step of a speed is 2^-{} counts in a window, of a voltage 2^-{} V, of a place \
                 2^-{} counts. None of {} intermediate values leaves its type, whatever goes in.",
                scaling.speed.speed_bits,
                scaling.speed.volt_bits,
                scaling.position.map_or(0, |position| position.place_bits),
                scaling.proof().len(),
            ));
            let cells = rows.iter().map(|row| {
                let in_units = |end: i128| match end as f64 * row.step {
                    wide if wide.abs() >= 1e6 => format!("{wide:.3e}"),
                    value => format!("{value:.3}"),
                };
                vec![
                    row.name.to_owned(),
                    row.unit.to_owned(),
                    in_units(row.range.low),
                    in_units(row.range.high),
                    row.c_type().to_owned(),
                    row.to_spare().to_string(),
                ]
            });
            let headings = ["value", "unit", "#lowest", "#highest", "type", "#bits to spare"];
            let title =
                format!("Those of them with the fewest bits to spare; all are in tables/{}", "intervals.csv");
            sheet.blocks.push(Block::Table(Table::of("tightest", &title, &headings, cells.collect())));
        }
        Err(why) => sheet.summary.push(format!("There is no form in whole numbers: {why}.")),
    }
    sheet.blocks.push(Block::Caution(
        "The loops and their guard are no safety function. README.txt says what to try before a load is coupled."
            .to_owned(),
    ));
    Ok(sheets::print(&sheet, env.width, &mut env.out)?)
}

fn tightest(scaling: &Scaling) -> Vec<Row> {
    let mut rows = scaling.proof();
    // What is any number of its type by intention can grow by nothing.
    rows.retain(|row| row.range != Interval::new(i64::MIN, i64::MAX));
    // Stable: of equals, that which comes up first.
    rows.sort_by_key(Row::to_spare);
    rows.truncate(SHOWN);
    rows
}

fn json(chosen: &Chosen, made: Option<(&Handover, &Export, &Vec<String>)>) -> Value {
    let sources = &chosen.loaded.sources;
    let fixed = |scaling: &Scaling| {
        let rows = scaling.proof();
        let rows = rows.iter().map(|row| {
            json!({
                "value": row.name, "unit": row.unit, "step": row.step, "lowest": row.range.low.to_string(),
                "highest": row.range.high.to_string(), "type": row.c_type(), "bits_to_spare": row.to_spare(),
            })
        });
        json!({
            "speed_bits": scaling.speed.speed_bits, "volt_bits": scaling.speed.volt_bits,
            "fine_bits": scaling.speed.fine_bits,
            "place_bits": scaling.position.map(|position| position.place_bits),
            "intervals": rows.collect::<Vec<_>>(),
        })
    };
    json!({
        "notice": chosen.notice(),
        "is_example": chosen.is_example,
        "bench": chosen.loaded.checked.value.as_ref().map(|bench| bench.name()),
        "usable": chosen.loaded.checked.value.is_some(),
        "findings": chosen.loaded.checked.findings.iter().map(|f| report::json::finding(f, sources)).collect::<Vec<_>>(),
        "axis": made.map(|(handover, ..)| &handover.axis),
        "refused": made.and_then(|(handover, ..)| handover.refused.as_ref()),
        "fixed": made.and_then(|(_, made, _)| made.fixed.as_ref().ok()).map(fixed),
        "no_fixed": made.and_then(|(_, made, _)| made.fixed.as_ref().err()).map(ToString::to_string),
        "files": made.map(|(.., files)| files),
    })
}

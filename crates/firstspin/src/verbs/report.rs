//! `firstspin report`: the whole job as one folder of pages.

use super::check::Judged;
use super::identify;
use crate::args::Format;
use crate::bench_choice;
use crate::env::Env;
use crate::failure::{Failure, Outcome};
use crate::long_work::LongWork;
use crate::text;
use bench::Bench;
use check::Judgement;
use commission::FirstPower;
use drive::assembly::{DcAxis, flow};
use finding::sheet::Block;
use finding::{Checked, Finding, Sheet};
use report::picture::{AddedWire, Mark, Planned, PlannedLine, Power};
use report::{Next, Report, Verdict};
use serde_json::json;
use std::path::Path;
use wiring::{State, Wiring};

pub(super) fn run(
    named: Option<&Path>,
    out: &Path,
    date: Option<&str>,
    format: Format,
    env: &mut Env,
) -> Result<Outcome, Failure> {
    let mut chosen = bench_choice::read(named, env)?;
    chosen.settle_ports();
    let judged = Judged::of(&chosen);
    let (Some(bench), Some(judgement)) = (&chosen.loaded.checked.value, &judged.judgement) else {
        judged.tell(&chosen, format, false, env)?;
        env.out.flush()?;
        text::paragraph("No report was written.", env.width, &mut env.err)?;
        return Ok(judged.outcome());
    };
    let lines = judged.verdict();
    let summary = &judgement.summary;
    let next = summary.measure_next.first().map(|next| Next {
        verb: next.by.verb().to_owned(),
        datum: format!("{} ({})", next.path, next.name),
    });
    let stated = bench.header().date().map(str::to_owned);
    let marks: Vec<Mark> = judged
        .findings
        .iter()
        .filter_map(Mark::of)
        .map(|mark| Mark { path: element(bench, &mark.path), ..mark })
        .collect();
    let wired = wiring::wire(bench, &wiring::Options::default());
    let planned = wired.value.as_ref().map(planned).unwrap_or_default();
    let work = LongWork::begin(format!("writing {}", out.display()), env)?;
    let (predicted, identified) = work.watched(
        |watch| {
            let predicted = simulate::predicted(bench, watch)?;
            let identified = identify::sheets(&chosen, env, watch)?;
            Ok((predicted, identified))
        },
        |stopped: finding::Stopped| Failure::Said(stopped.to_string()),
    )?;
    let report = Report {
        title: "Does it fit together?".to_owned(),
        bench_name: bench.name(),
        is_example: chosen.is_example,
        dated: stated.or_else(|| date.map(str::to_owned)),
        verdict: Verdict {
            text: lines.first().cloned().unwrap_or_default(),
            rules_checked: summary.rules,
            rules_undecided: summary.undecided,
            next,
        },
        sheets: sheets(
            bench,
            judgement,
            &judged.findings,
            wired,
            [sizing::size(bench, None).sheet()].into_iter().chain(predicted).chain(identified),
        ),
        sources: chosen.loaded.sources.clone(),
        drawings: report::picture::figures(bench, &planned, &power(bench), &marks),
        data: vec![("check.json".to_owned(), format!("{:#}\n", judged.json(&chosen)).into_bytes())],
    };
    let written = work.watched(
        |watch| report::write(&env.folder.join(out), &report, watch),
        |error| Failure::Said(error.to_string()),
    )?;
    let index = out.join("index.html");
    if format == Format::Json {
        let told = json!({
            "notice": chosen.notice(), "is_example": chosen.is_example, "bench": bench.name(),
            "verdict": lines, "index": index.to_string_lossy(), "files": written.files,
        });
        writeln!(env.out, "{told:#}")?;
    } else {
        if let Some(notice) = chosen.notice() {
            text::paragraph(&notice, env.width, &mut env.out)?;
            writeln!(env.out)?;
        }
        text::paragraph(&bench.name(), env.width, &mut env.out)?;
        for line in lines {
            text::paragraph(&line, env.width, &mut env.out)?;
        }
        writeln!(env.out)?;
        let place =
            format!("{} files are in {}; begin with {}", written.files.len(), out.display(), index.display());
        text::paths(&place, env.width, &mut env.out)?;
    }
    Ok(judged.outcome())
}

/// The path of what the picture draws for a line: `board:A.pwm` belongs to `drivers.board.A`.
fn element(bench: &Bench, subject: &str) -> String {
    let Some((device, line)) = subject.split_once(':') else { return subject.to_owned() };
    if bench.board(device).is_some() {
        format!("drivers.{device}.{line}")
    } else if bench.servo(device).is_some() {
        format!("servos.{device}")
    } else if device.strip_suffix(".encoder").is_some_and(|axis| bench.axis(axis).is_some()) {
        format!("axes.{device}")
    } else {
        subject.to_owned()
    }
}

/// The power along the way from supply to load, for the picture.
fn power(bench: &Bench) -> Power {
    let axes: Vec<_> = bench.axes().iter().map(|axis| (axis, DcAxis::of(bench, axis))).collect();
    let known =
        flow::at_full_acceleration(bench, &axes).into_iter().map(|(path, power)| (path, power.value()));
    let watts: std::collections::BTreeMap<String, f64> =
        known.filter(|(_, watts)| watts.is_finite()).collect();
    // Where nothing is known, no moment is named either.
    let moment = if watts.is_empty() { String::new() } else { flow::MOMENT.to_owned() };
    Power { moment, watts }
}

/// What the plan of the wiring does to lines and wires, for the picture.
fn planned(wiring: &Wiring<'_>) -> Planned {
    let (problem, plan) = (&wiring.task.problem, &wiring.solved.plan);
    let lines = problem.lines.iter().enumerate().map(|(line, entry)| {
        let pin = plan.lines[line].map(|seat| problem.place(seat.pin));
        (entry.name.to_string(), PlannedLine { pin, rerouted: wiring.is_rerouted(line) })
    });
    // Those of the bench file come first.
    let laid = wiring.wires.iter().take_while(|wire| wire.entry.is_some());
    let gone = laid.enumerate().filter(|(_, wire)| matches!(wire.state, State::Goes | State::Moves));
    let added = wiring.wires.iter().filter(|wire| matches!(wire.state, State::New | State::Moves));
    let added = added.map(|wire| AddedWire {
        id: wire.id.clone(),
        from: wire.from.clone(),
        to: wire.to.clone(),
        carries: wire.carries.clone(),
    });
    let ports = problem.plugs.iter().zip(&plan.ports);
    let ports = ports.map(|(plug, port)| (plug.name.to_string(), problem.ports[*port].to_string()));
    Planned {
        lines: lines.collect(),
        gone: gone.map(|(number, _)| number).collect(),
        added: added.collect(),
        ports: ports.collect(),
    }
}

/// All sheets in reading order: wiring, first power, sizing and trials come after what can hurt.
fn sheets(
    bench: &Bench,
    judgement: &Judgement,
    findings: &[Finding],
    wired: Checked<Wiring<'_>>,
    of_trials: impl IntoIterator<Item = Sheet>,
) -> Vec<Sheet> {
    let planned = wired.value.map(|wiring| (FirstPower::of(&wiring), wiring));
    let beside = commission::beside(bench, planned.as_ref().map(|(first, wiring)| (wiring, first)), findings);
    let mut sheets = check::sheets(bench, judgement, findings, &beside);
    let at = sheets.iter().position(|sheet| sheet.id == "cautions").map_or(sheets.len(), |at| at + 1);
    let mut more = match &planned {
        Some((first_power, wiring)) => vec![wiring.sheet(), first_power.sheet()],
        None => vec![unwired(wired.findings)],
    };
    more.extend(of_trials);
    sheets.splice(at..at, more);
    sheets
}

/// Why there is no wiring.
fn unwired(findings: Vec<Finding>) -> Sheet {
    Sheet {
        id: "wiring".to_owned(),
        title: "Wiring".to_owned(),
        summary: vec![
            "There is no plan yet: not every line can have a pin. So there is no first-power sheet either."
                .to_owned(),
        ],
        blocks: vec![Block::Findings(findings)],
    }
}

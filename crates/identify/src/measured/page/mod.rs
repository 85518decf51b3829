//! What was identified, as a sheet: what came of it, how far it can be trusted, what it is good for, and what was read.

mod lines;
mod parameters;
mod pictures;
mod words;

pub(super) use words::unit;

use super::{Column, Measured, Next, Taken, Wanted, said};
use crate::estimate::Estimate;
use crate::gate::{Remark, Sign, Spoils};
use crate::parameter::Parameter;
use crate::record::{Acts, Shaft};
use crate::verdict::{Figure, Use, Verdict};
use bench::file::LogQuantity;
use drive::assembly::sense::Tells;
use finding::sheet::{Block, Table};
use finding::{Chart, Sheet};
use parameters::{causes, correlations, parameters, refusals, shares};
use pictures::{beside, pictures};
use words::{figure_words, is_zero, signed, words};
use worked::format::{choose_unit, plain};
use worked::{Dimension, Unit};

pub(super) fn sheet(measured: &Measured, next: &Next) -> Sheet {
    let mut blocks = remarks(measured);
    if !measured.winds_up_only() {
        blocks.extend(of_motor(measured, next));
    }
    blocks.extend(beside(measured));
    blocks.extend([Block::Table(logs(measured)), Block::Table(columns(measured))]);
    let notes: Vec<String> = measured
        .logs
        .iter()
        .flat_map(|log| log.notes.iter().map(move |note| format!("{}: {note}.", log.name)))
        .collect();
    if !notes.is_empty() {
        blocks.extend([Block::Heading("Noticed while reading".to_owned()), Block::List(notes)]);
    }
    // No two tables of a report share a name.
    for block in &mut blocks {
        if let Block::Table(table) = block {
            table.id = format!("{}-{}", table.id, measured.axis);
        }
    }
    Sheet {
        id: format!("identified-{}", measured.axis),
        title: format!("Identified: {}", measured.axis),
        summary: summary(measured),
        blocks,
    }
}

/// What the fitted model tells.
fn of_motor(measured: &Measured, next: &Next) -> Vec<Block> {
    let mut blocks = vec![Block::Table(parameters(measured))];
    blocks.extend(refusals(measured));
    blocks.push(Block::Table(uses(measured)));
    blocks.extend(trials(measured, next));
    blocks.extend(pictures(measured));
    blocks.push(Block::Table(shares(measured)));
    blocks.extend(causes(measured));
    if let Some(signs) = &measured.signs {
        let seconds = plain(signs.time, &Unit::si(Dimension::TIME));
        blocks.push(Block::Heading(format!("Polarity and scales, by the first {seconds} of {}", signs.log)));
        blocks.push(Block::List(signs.judgement.says.clone()));
    }
    blocks.push(Block::Table(models(measured)));
    blocks.extend(correlations(measured));
    blocks
}

fn summary(measured: &Measured) -> Vec<String> {
    if measured.winds_up_only() {
        return vec![
            "These logs tell of gear and mechanism as they are wound up, and nothing of the motor: name logs in which it turns, or \
             in which its own shaft is held, with them. Its constant is that of the bench."
                .to_owned(),
        ];
    }
    let identified = measured.identified();
    let rows: usize = measured.logs.iter().map(|log| log.time.len()).sum();
    let carries = |e: &Estimate| e.refused.is_none() && !measured.spoils(e.parameter);
    let carried = identified.estimates.iter().filter(|e| carries(e) && !is_zero(e.parameter)).count();
    let all = identified.estimates.iter().filter(|e| !is_zero(e.parameter)).count();
    let voltage = match measured.by_duty {
        true => "duty times the voltage of the bus, so that switches and leads are in the resistance",
        false => "the voltage at the motor",
    };
    let warm = plain(identified.temperature, &Unit::parse("°C").unwrap_or(Unit::si(Dimension::TEMPERATURE)));
    let mut said = vec![format!(
        "Of {all} parameters {carried} {} carried by {}, {rows} rows. All count at the shaft of the motor; resistance and \
         constant are told for {warm}. The model was driven by {voltage}.",
        if carried == 1 { "is" } else { "are" },
        match measured.logs.len() {
            1 => "one log".to_owned(),
            n => format!("{n} logs together"),
        },
    )];
    if measured.is_spoiled() {
        said.push(
            "Something is wrong with the logs that spoils all that is told from them, a sign or a scale: see below. Nothing here is \
             to be trusted before that is put right."
                .to_owned(),
        );
    }
    if measured.structures[measured.chosen].played {
        said.push(
            "Dead time, and what the current does within a PWM period, were followed through the switched simulation of the \
             bench, so that they are in no parameter."
                .to_owned(),
        );
    }
    if measured.by_duty && !measured.structures.iter().any(|structure| structure.played) {
        said.push("What dead time takes of the voltage is in the drop of the brushes.".to_owned());
    }
    said.extend(calibrated(measured));
    if let Some((leaves, other)) = measured.acts.leaves {
        let what = if measured.by_duty { "duty" } else { "voltage" };
        let since = format!("the {what} of a row acts from the row before up to it");
        let (taken, not) = match (measured.acts.acts, measured.by_duty) {
            (Acts::SinceLast, true) => (since, "from it to the next"),
            (Acts::SinceLast, false) => (since, "at its instant"),
            (_, true) => (format!("the {what} of a row acts from it to the next"), "since the row before"),
            (_, false) => (format!("the {what} of a row acts at its instant"), "since the row before"),
        };
        let ampere = |si: f64| plain(si, &choose_unit(si, Dimension::CURRENT, None));
        said.push(format!(
            "No table says when its {what} acts: taken was that {taken}, which leaves {} of the current; {not}, {} would be left.",
            ampere(leaves),
            ampere(other)
        ));
    }
    if !identified.temperature_stated {
        said.push(format!(
            "The temperature of the winding was not stated in every log: it was taken as {warm}. Ten kelvin make 4 % of the \
             resistance; state it with `temperature` of the log or trial."
        ));
    }
    if measured.coupled {
        said.push(
            "The load was coupled in every log that turns: inertia and friction are those of motor, gear and load together."
                .to_owned(),
        );
    }
    let contradictions = if measured.is_spoiled() { Vec::new() } else { measured.contradictions() };
    for (parameter, found, expected) in contradictions {
        said.push(format!(
            "The {} comes out as {found}, and the bench says {expected}: the model does not hold for these logs, or the figure \
             of the bench is wrong. Play, friction that depends on the load, or an arm that swings are not in the model.",
            words(parameter, measured.coupled)
        ));
    }
    if measured.passes_zero() {
        said.push(
            "The current passes zero within the PWM periods of many rows, where brushes and dead time take less than of a mean \
             current: friction and drop are not to be trusted. More current would do, or a log that can be played period by \
             period: it begins at rest, tells duty and bus, and its rows are whole periods apart."
                .to_owned(),
        );
    }
    if let Some(rows) = measured
        .rows_in_electrical_time()
        .filter(|_| measured.spoils(Parameter::Inductance) && !measured.is_spoiled())
    {
        said.push(format!(
            "Only {rows:.1} rows fall into the electrical time constant, so the inductance is a guess: hold the shaft, step the \
             voltage, and record five or more."
        ));
    }
    if !identified.explains() {
        said.push(
            "What the model leaves over of the current is neither small nor noise: the intervals below are not to be trusted."
                .to_owned(),
        );
    }
    said
}

/// Lines whose zero and scale were measured, and whether the logs can use that.
fn calibrated(measured: &Measured) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    for column in measured.logs.iter().flat_map(|log| &log.columns) {
        let tells = match column.quantity {
            LogQuantity::Current => Tells::Current,
            LogQuantity::SupplyVoltage | LogQuantity::MotorVoltage => Tells::Voltage,
            _ => continue,
        };
        let sentence = match &column.line {
            Some((_, line)) => said::measured(line).map(|from| {
                format!(
                    "Zero and scale of {} are those that were measured ({from}), with their uncertainty in place of the band of the \
                     sheet; the two are taken as independent.",
                    line.name
                )
            }),
            None => measured.said.line(tells).filter(|_| !measured.logs.iter().all(|log| log.means)).and_then(|line| {
                said::measured(line).map(|from| {
                    format!(
                        "{} was calibrated ({from}), and `{}` holds values that were scaled already, by figures that nobody \
                         states: the calibration does not count for them. Log codes.",
                        line.name, column.heading
                    )
                })
            }),
        };
        said.extend(sentence.filter(|sentence| !said.contains(sentence)));
    }
    said
}

fn logs(measured: &Measured) -> Table {
    let row = |log: &Taken| {
        let seconds = Unit::si(Dimension::TIME);
        let time = |si: f64| plain(si, &choose_unit(si, Dimension::TIME, Some(&seconds)));
        let (first, last) = (log.time.first().copied(), log.time.last().copied());
        let length = last.zip(first).map_or(0.0, |(last, first)| last - first);
        let usual = length / (log.time.len().max(2) - 1) as f64;
        let used = log.usable.iter().filter(|usable| **usable).count();
        vec![
            log.name.clone(),
            log.conditions.trial.clone(),
            match log.conditions.shaft {
                Shaft::Free if log.conditions.disc > 0.0 => "known disc",
                Shaft::Free => "free",
                Shaft::Locked if log.conditions.winds_up => "output held",
                Shaft::Locked => "locked",
                Shaft::Coupled => "coupled",
            }
            .to_owned(),
            log.time.len().to_string(),
            used.to_string(),
            time(length),
            if log.step.is_some() { time(usual) } else { format!("{} in the mean", time(usual)) },
        ]
    };
    let headings = ["log", "trial", "shaft", "#rows", "#of use", "#length", "#row to row"];
    Table::of("logs", "Logs", &headings, measured.logs.iter().map(row).collect())
}

/// Columns, those that are the same in all logs once.
fn columns(measured: &Measured) -> Table {
    let logs: Vec<(&str, &[Column])> =
        measured.logs.iter().map(|log| (log.name.as_str(), log.columns.as_slice())).collect();
    columns_of(&logs)
}

fn columns_of(logs: &[(&str, &[Column])]) -> Table {
    let mut rows: Vec<(Vec<&str>, [String; 4])> = Vec::new();
    for (name, columns) in logs {
        for column in *columns {
            let cells = [
                column.quantity.word().replace('_', " "),
                column.heading.clone(),
                column.taken_as.clone(),
                column.ground.to_owned(),
            ];
            match rows.iter_mut().find(|(_, known)| *known == cells) {
                Some((names, _)) => names.push(name),
                None => rows.push((vec![name], cells)),
            }
        }
    }
    let all = logs.len();
    let rows = rows.into_iter().map(|(names, cells)| {
        let logs = if names.len() == all { "all".to_owned() } else { names.join(", ") };
        cells.into_iter().chain([logs]).collect()
    });
    Table::of(
        "columns",
        "Columns that were taken",
        &["what", "heading", "read", "why", "logs"],
        rows.collect(),
    )
}

/// What the gate says of the logs, with its charts.
fn remarks(measured: &Measured) -> Vec<Block> {
    let all: Vec<(&str, &Remark)> = measured
        .logs
        .iter()
        .zip(&measured.remarks)
        .flat_map(|(log, remarks)| remarks.iter().map(|remark| (log.name.as_str(), remark)))
        .collect();
    if all.is_empty() {
        return vec![Block::Text(format!("Of {} signs that spoil a log none was found.", Sign::ALL.len()))];
    }
    let mut blocks = vec![Block::Heading("What is wrong with the logs".to_owned())];
    for (k, (log, remark)) in all.into_iter().enumerate() {
        let spoils = match remark.spoils {
            Spoils::All => "It spoils everything.".to_owned(),
            Spoils::Rows => "The rows where it shows are left out.".to_owned(),
            Spoils::These(these) => {
                let names: Vec<&str> = these.iter().map(|p| words(*p, measured.coupled)).collect();
                format!("It spoils {}.", finding::words::listed(&names))
            }
        };
        let name = remark.sign.name().replace('-', " ");
        let says = format!("{log}, {name}: {}. {spoils} What to do: {}.", remark.says, remark.remedy);
        blocks.push(Block::List(vec![says]));
        let id = format!("sign-{}-{}", measured.axis, k + 1);
        blocks.push(Block::Chart(Chart { id, ..remark.picture.clone() }));
    }
    blocks
}

fn uses(measured: &Measured) -> Table {
    let identified = measured.identified();
    let all = [
        (Use::CurrentLoop, "current loop"),
        (Use::SpeedLoop, "speed loop"),
        (Use::Thermal, "temperature of the winding"),
    ];
    let row = |(purpose, name): (Use, &str)| {
        let (verdict, why) = match identified.verdict(purpose) {
            Verdict::Good => ("good", String::new()),
            Verdict::Weak(figure, is, may) => (
                "not good enough",
                format!(
                    "{} is known to {:.1} %, and {:.0} % are wanted",
                    figure_words(figure),
                    100.0 * is,
                    100.0 * may
                ),
            ),
            Verdict::Lacks(Figure::WindingTemperature) => {
                ("no", "the temperature of the winding in the logs is not stated".to_owned())
            }
            Verdict::Lacks(figure) => ("no", format!("{} is not carried by the logs", figure_words(figure))),
            Verdict::ModelDoesNotFit => ("no", "the model does not explain the current".to_owned()),
        };
        let (verdict, why) = match (measured.is_spoiled(), measured.contradictions().is_empty()) {
            (true, _) => ("no", "what is wrong with the logs spoils it".to_owned()),
            (false, true) => (verdict, why),
            (false, false) => ("no", "what was found contradicts what was expected".to_owned()),
        };
        vec![name.to_owned(), verdict.to_owned(), why]
    };
    Table::of(
        "uses",
        "What it is good for",
        &["for", "verdict", "because"],
        all.into_iter().map(row).collect(),
    )
}

/// Which trial would tell more of what is not known closely enough.
fn trials(measured: &Measured, next: &Next) -> Vec<Block> {
    if next.wanted.is_empty() {
        return Vec::new();
    }
    let part = |part: f64| {
        if part.is_finite() && part < 10.0 { format!("{:.1} %", 100.0 * part) } else { "open".to_owned() }
    };
    let row = |wanted: &Wanted| {
        let (trial, then) = match &wanted.best {
            Some(best) => (format!("predict {}", best.trial), part(best.then)),
            None if wanted.systematic > wanted.asked && wanted.systematic.is_finite() => {
                ("none: calibrate the sensors".to_owned(), String::new())
            }
            None => ("none".to_owned(), String::new()),
        };
        vec![
            words(wanted.parameter, measured.coupled).to_owned(),
            part(wanted.now),
            part(wanted.asked),
            trial,
            then,
            part(wanted.systematic),
        ]
    };
    let title = "Which trial next: the one that leaves least of the 95 % interval, recorded as planned";
    let headings = ["parameter", "#± now", "#asked", "trial", "#± then", "#by sensors"];
    let mut blocks =
        vec![Block::Table(Table::of("next", title, &headings, next.wanted.iter().map(row).collect()))];
    if !next.refused.is_empty() {
        blocks.push(Block::Text(format!(
            "Not offered, as the verdict of its own refuses it (`firstspin predict` says why): {}.",
            finding::words::listed(&next.refused)
        )));
    }
    blocks
}

fn models(measured: &Measured) -> Table {
    let row = |(k, structure): (usize, &super::Structure)| {
        let [current, way] = &structure.identified.residuals;
        let effective = |si: f64, dimension| plain(si, &choose_unit(si, dimension, None));
        vec![
            match (structure.with.is_empty(), structure.played) {
                (true, false) => "plain".to_owned(),
                (false, false) => format!("with {}", structure.with),
                (true, true) => "played period by period".to_owned(),
                (false, true) => format!("played period by period, with {}", structure.with),
            },
            structure.identified.estimates.len().to_string(),
            if current.count > 0 { effective(current.effective, Dimension::CURRENT) } else { String::new() },
            if way.count > 0 { effective(way.effective, Dimension::ANGLE) } else { String::new() },
            signed(structure.above_chosen, 0),
            match (k == measured.chosen, structure.above_chosen < 0.0) {
                (true, _) => "chosen",
                // It explains more, and yet what it has more is not told closely enough to be kept.
                (false, true) => "not carried",
                (false, false) => "",
            }
            .to_owned(),
        ]
    };
    Table::of(
        "models",
        "Models by the Bayes criterion: one that has more has to lower it by six",
        &["model", "#parameters", "#left of the current", "#left of the way", "#criterion", ""],
        measured.structures.iter().enumerate().map(row).collect(),
    )
}

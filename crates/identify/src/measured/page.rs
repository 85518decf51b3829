//! What was identified, as a sheet: what was read, what came of it, how far it can be trusted, and what it is good for.

use super::{Measured, Next, Taken, Wanted};
use crate::estimate::{Cause, Estimate, Standing};
use crate::gate::{Remark, Sign, Spoils};
use crate::parameter::Parameter;
use crate::record::{Acts, Shaft};
use crate::refusal::{Carries, Refusal};
use crate::told::Told;
use crate::verdict::{Figure, Use, Verdict};
use finding::chart::Purpose;
use finding::sheet::{Block, Table};
use finding::{Chart, Sheet};
use logs::{Outline, Picture, Sink, TestPoint};
use worked::format::{choose_unit, plain, range, sensible};
use worked::{Dimension, Unit};

/// Correlations by amount from which on they are told.
const CLOSE: f64 = 0.8;
/// Stretches of a picture.
const STRETCHES: usize = 300;

pub(super) fn sheet(measured: &Measured, next: Option<&Next>) -> Sheet {
    let mut blocks = remarks(measured);
    blocks.push(Block::Table(parameters(measured)));
    blocks.extend(refusals(measured));
    blocks.push(Block::Table(uses(measured)));
    blocks.extend(next.into_iter().flat_map(|next| trials(measured, next)));
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

fn summary(measured: &Measured) -> Vec<String> {
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
    let mut rows: Vec<(Vec<&str>, [String; 4])> = Vec::new();
    for log in &measured.logs {
        for column in &log.columns {
            let cells = [
                column.quantity.word().replace('_', " "),
                column.heading.clone(),
                column.taken_as.clone(),
                column.ground.to_owned(),
            ];
            match rows.iter_mut().find(|(_, known)| *known == cells) {
                Some((names, _)) => names.push(&log.name),
                None => rows.push((vec![&log.name], cells)),
            }
        }
    }
    let all = measured.logs.len();
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

/// A zero of a sensor, not of the axis.
fn is_zero(parameter: Parameter) -> bool {
    matches!(parameter, Parameter::CurrentOffset | Parameter::VoltageOffset)
}

/// What a parameter is measured in.
fn dimension(parameter: Parameter) -> Dimension {
    use Parameter as P;
    match parameter {
        P::Resistance | P::SupplyResistance => Dimension::RESISTANCE,
        P::Inductance => Dimension::INDUCTANCE,
        P::BrushDrop | P::VoltageOffset => Dimension::VOLTAGE,
        P::Constant => Dimension::MACHINE_CONSTANT,
        P::Inertia | P::LoadInertia => Dimension::INERTIA,
        P::CoulombFriction | P::StaticExtra | P::Imbalance | P::LoadFriction => Dimension::TORQUE,
        P::ViscousFriction => Dimension::VISCOUS_FRICTION,
        P::FrictionSpeed => Dimension::ANGULAR_SPEED,
        P::CurrentOffset => Dimension::CURRENT,
    }
}

/// The unit that suits a value.
pub(super) fn unit(parameter: Parameter, si: f64) -> Unit {
    let dimension = dimension(parameter);
    let usual = match parameter {
        Parameter::Constant => Some("mN·m/A"),
        Parameter::Inertia | Parameter::LoadInertia => Some("g·cm²"),
        _ => None,
    };
    let usual = usual.and_then(|usual| Unit::parse(usual).ok()).and_then(|unit| unit.fit(dimension));
    choose_unit(si, dimension, usual.as_ref())
}

fn parameters(measured: &Measured) -> Table {
    let identified = measured.identified();
    let row = |estimate: &Estimate| {
        let Estimate { parameter, value: si, .. } = *estimate;
        let half = estimate.half_width(0.95);
        let said = measured.said.figure(parameter, measured.by_duty, measured.coupled);
        let band = said.as_ref().and_then(super::said::band);
        let sizes = [Some(si), Some(half), band.map(|(_, high)| high)];
        let size = sizes.into_iter().flatten().find(|size| *size != 0.0 && size.is_finite());
        let unit = unit(parameter, size.unwrap_or(0.0));
        // The unit stands once, before its numbers.
        let bare = |text: String| {
            text.strip_suffix(unit.symbol()).map_or(text.clone(), |text| text.trim_end().to_owned())
        };
        let width = |si: f64| if si.is_finite() { bare(plain(si, &unit)) } else { "—".to_owned() };
        vec![
            format!("{} {}", words(parameter, measured.coupled), parameter.symbol()),
            unit.symbol().to_owned(),
            bare(sensible(si, &unit, half.is_finite().then_some((si - half, si + half)))),
            width(half),
            band.map_or_else(String::new, |(low, high)| {
                range(low, high, &unit).replace(&format!(" {}", unit.symbol()), "")
            }),
            match (&estimate.refused, estimate.standing) {
                (Some(_), _) => "not carried",
                _ if measured.spoils(parameter) => "spoiled",
                (None, Some(Standing::Inside)) => "inside",
                (None, Some(Standing::Across)) => "across",
                (None, Some(Standing::Outside)) => "outside",
                (None, None) => "",
            }
            .to_owned(),
        ]
    };
    let headings = ["parameter", "in", "#value", "#± 95 %", "bench says", "stands"];
    let title = "Parameters, with half of the 95 % interval";
    Table::of("parameters", title, &headings, identified.estimates.iter().map(row).collect())
}

/// The parts of each uncertainty.
fn shares(measured: &Measured) -> Table {
    let row = |estimate: &Estimate| {
        let Estimate { parameter, value, sampling, systematic, .. } = *estimate;
        let unit = unit(parameter, if value == 0.0 { sampling } else { value });
        let width = |si: f64| if si.is_finite() { plain(si, &unit) } else { "—".to_owned() };
        vec![
            format!("{} {}", words(parameter, measured.coupled), parameter.symbol()),
            width(sampling),
            width(systematic),
            largest(estimate).unwrap_or_default().to_owned(),
        ]
    };
    let title = "What the intervals are made of, as standard uncertainties";
    let headings = ["parameter", "#by scatter", "#by sensors and sheet", "most of that"];
    Table::of("shares", title, &headings, measured.identified().estimates.iter().map(row).collect())
}

/// What most of the uncertainties come from, where it is no scatter.
fn causes(measured: &Measured) -> Option<Block> {
    let mut causes: Vec<(&str, Vec<&str>)> = Vec::new();
    for estimate in &measured.identified().estimates {
        let Some(cause) = largest(estimate).filter(|_| estimate.systematic > estimate.sampling) else {
            continue;
        };
        match causes.iter_mut().find(|(known, _)| *known == cause) {
            Some((_, symbols)) => symbols.push(estimate.parameter.symbol()),
            None => causes.push((cause, vec![estimate.parameter.symbol()])),
        }
    }
    let told: Vec<String> =
        causes.iter().map(|(cause, symbols)| format!("{cause}: {}", symbols.join(", "))).collect();
    (!told.is_empty()).then(|| {
        Block::Text(format!(
            "What is most of the uncertainty, where that is not scatter: {}.",
            told.join("; ")
        ))
    })
}

/// What is most of the systematic part.
fn largest(estimate: &Estimate) -> Option<&'static str> {
    let (cause, shift) = estimate.causes.iter().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
    (shift.abs() > 0.0).then_some(match cause {
        Cause::CurrentGain => "gain of the current",
        Cause::CurrentZero => "zero of the current",
        Cause::VoltageGain => "gain of the voltage",
        Cause::VoltageZero => "zero of the voltage",
        Cause::ExtraInertia => "added inertia",
        Cause::Temperature => "temperature",
        Cause::Expected(Parameter::BrushDrop) => "brush drop of the sheet",
        Cause::Expected(_) => "what the sheet says",
    })
}

pub(super) fn words(parameter: Parameter, coupled: bool) -> &'static str {
    match parameter {
        Parameter::Resistance => "resistance",
        Parameter::Inductance => "inductance",
        Parameter::BrushDrop => "brush drop",
        Parameter::Constant => "torque constant",
        Parameter::Inertia if coupled => "inertia with the load",
        Parameter::Inertia => "inertia of motor and gear",
        Parameter::CoulombFriction => "dry friction",
        Parameter::ViscousFriction => "viscous friction",
        Parameter::StaticExtra => "dry friction more at rest",
        Parameter::FrictionSpeed => "speed at which that has gone",
        Parameter::Imbalance => "steady torque",
        Parameter::LoadInertia => "inertia of the load",
        Parameter::LoadFriction => "dry friction of the load",
        Parameter::SupplyResistance => "resistance of the supply",
        Parameter::CurrentOffset => "zero of the current",
        Parameter::VoltageOffset => "zero of the voltage",
    }
}

/// Why parameters are not carried, and which trial would carry them.
fn refusals(measured: &Measured) -> Vec<Block> {
    let told: Vec<String> = measured
        .identified()
        .estimates
        .iter()
        .filter_map(|estimate| {
            let why = match estimate.refused? {
                Refusal::Undetermined => "nothing in the logs answers to it, or only together with others".to_owned(),
                Refusal::Drowned(share) => format!(
                    "what it is told from drowns in the noise of the sensor, which draws it towards zero by {:.0} %",
                    100.0 * share
                ),
                Refusal::Wide(part) if part.is_finite() && part < 10.0 => {
                    format!("its 95 % interval reaches {:.0} % of the value either way, and may reach 50 %", 100.0 * part)
                }
                Refusal::Wide(_) => "its 95 % interval is wider than the value itself".to_owned(),
                Refusal::TooSparse(rows) => {
                    format!("only {rows:.1} rows fall into the time constant that it is told by")
                }
                Refusal::AtItsBound => "the search ended where it would have to be less than nothing".to_owned(),
            };
            Some(format!(
                "{}: {why}. What would carry it: {}.",
                capital(words(estimate.parameter, measured.coupled)),
                trial(estimate.parameter.carried_by())
            ))
        })
        .collect();
    if told.is_empty() {
        return Vec::new();
    }
    let mut blocks = vec![Block::Heading("Not carried by these logs".to_owned()), Block::List(told)];
    for refused in &measured.excitation {
        blocks.push(Block::Text(format!("{}. {}.", capital(&refused.says), capital(&refused.remedy))));
        let id = format!("excitation-{}-{}", measured.axis, refused.parameter.name());
        blocks.push(Block::Chart(Chart { id, ..refused.picture.clone() }));
    }
    blocks
}

fn trial(carries: Carries) -> &'static str {
    match carries {
        Carries::LockedLevels => "the shaft held, several currents of both signs, each long enough to settle",
        Carries::LockedSteps => {
            "the shaft held, steps of the voltage, five rows or more in the electrical time constant"
        }
        Carries::SpeedLevels => "a free shaft at several speeds of both senses",
        Carries::SpeedSteps => {
            "steps of the voltage between half speeds, several rows in the mechanical time constant"
        }
        Carries::CoastDown => "from full speed with the switches open until it rests",
        Carries::SlowReversals => "slow ramps through rest in both senses",
        Carries::CoupledSteps => "the steps again with the load coupled, and once without",
        Carries::BusLevels => {
            "levels of the duty with the voltage of the bus or the current of the supply recorded"
        }
        Carries::ZeroReading => "a second with the bridge off before the shaft turns",
    }
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

fn figure_words(figure: Figure) -> &'static str {
    match figure {
        Figure::Of(parameter) => words(parameter, false),
        Figure::ElectricalTime => "the electrical time constant",
        Figure::MechanicalTime => "the mechanical time constant",
        Figure::CurrentForAcceleration => "the current for an acceleration",
        Figure::WindingTemperature => "the temperature of the winding",
    }
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

fn correlations(measured: &Measured) -> Vec<Block> {
    let identified = measured.identified();
    let n = identified.estimates.len();
    let mut rows = Vec::new();
    for i in 0..n {
        for j in 0..i {
            let correlation = identified.correlation(i, j);
            if correlation.abs() >= CLOSE {
                let name = |k: usize| words(identified.estimates[k].parameter, measured.coupled).to_owned();
                rows.push(vec![name(j), name(i), signed(correlation, 2)]);
            }
        }
    }
    let title = "Parameters that the logs tell apart badly: one moves with the other";
    match rows.is_empty() {
        true => Vec::new(),
        false => {
            vec![Block::Table(Table::of("correlations", title, &["one", "other", "#correlation"], rows))]
        }
    }
}

/// What single logs tell by ways of their own.
fn beside(measured: &Measured) -> Vec<Block> {
    let mut rows = Vec::new();
    let mut blocks = Vec::new();
    for (k, beside) in measured.beside.iter().enumerate() {
        for figure in &beside.figures {
            let Told { value: si, .. } = figure.told;
            let half = figure.told.half_width(0.95);
            let usual = (figure.dimension == Dimension::INERTIA).then(|| Unit::parse("g·cm²").ok()).flatten();
            let usual = usual.and_then(|unit| unit.fit(figure.dimension));
            let unit = choose_unit(si, figure.dimension, usual.as_ref());
            let band = half.is_finite().then_some((si - half, si + half));
            rows.push(vec![
                figure.name.to_owned(),
                sensible(si, &unit, band),
                if half.is_finite() { plain(half, &unit) } else { "—".to_owned() },
                figure.said.map_or_else(String::new, |(low, high)| range(low, high, &unit)),
                beside.way.to_owned(),
                beside.log.clone(),
            ]);
        }
        blocks.extend(beside.remark.as_ref().map(|remark| Block::Text(format!("{}: {remark}.", beside.log))));
        blocks.extend(beside.pictures.iter().enumerate().map(|(n, chart)| {
            let id = format!("beside-{}-{}-{}", measured.axis, k + 1, n + 1);
            Block::Chart(Chart { id, ..chart.clone() })
        }));
    }
    if rows.is_empty() {
        return Vec::new();
    }
    let headings = ["what", "#value", "#± 95 %", "bench says", "by", "log"];
    blocks.insert(0, Block::Table(Table::of("beside", "By ways of single logs", &headings, rows)));
    blocks
}

/// The course of each log with that of the model laid over it.
fn pictures(measured: &Measured) -> Vec<Block> {
    let picture = |(k, log): (usize, &Taken)| {
        let replay = measured.replays.get(k)?;
        let real = |name: &str, unit: &str, at| logs::Column::real(name, unit, at, "");
        let columns = [
            real("time", "s", None),
            real("motor voltage", "V", Some(TestPoint::Tp6)),
            real("current", "A", Some(TestPoint::Tp6)),
            real("speed", "rad/s", Some(TestPoint::Tp11)),
            real("current that is left over", "A", Some(TestPoint::Tp6)).of("left over"),
        ];
        let (mut read, mut played) = (Outline::new(&columns, STRETCHES), Outline::new(&columns, STRETCHES));
        let speed = log.angle.as_deref().map(|angle| speeds(&log.time, angle, log.resolution));
        for row in 0..log.time.len() {
            let at = |column: Option<&Vec<f64>>| column.map_or(f64::NAN, |column| column[row]);
            let voltage = match measured.by_duty {
                false => at(log.motor_voltage.as_ref()),
                true => {
                    at(log.duty.as_ref())
                        * log.bus.as_ref().map_or(measured.said.open_voltage, |bus| bus[row])
                }
            };
            let current = at(log.current.as_ref());
            let left = current - replay.current[row];
            read.take(&[log.time[row], voltage, current, at(speed.as_ref()), left]).ok()?;
            let course = [log.time[row], f64::NAN, replay.current[row], replay.speed[row], f64::NAN];
            played.take(&course).ok()?;
        }
        let chart = Picture::default().log(&read, Purpose::Measured).log(&played, Purpose::Nominal).chart(
            &format!("identified-{}-{}", measured.axis, k + 1),
            &format!("{}: measured, and the model that was identified", log.name),
            "The model was driven by the voltage of the log from its start on; no reading was fed back. Where both courses lie \
             on one another the model explains what was measured.",
        );
        Some(Block::Chart(chart))
    };
    measured.logs.iter().enumerate().filter_map(picture).collect()
}

/// Speed over windows in which the count moves by some tens, rad/s.
fn speeds(time: &[f64], angle: &[f64], resolution: f64) -> Vec<f64> {
    let rows = time.len();
    let way = angle.windows(2).map(|pair| (pair[1] - pair[0]).abs()).filter(|way| way.is_finite());
    let usual = way.sum::<f64>() / rows as f64;
    let half =
        if usual > 0.0 { (15.0 * resolution / usual) as usize } else { 0 }.clamp(1, (rows / 100).max(1));
    (0..rows)
        .map(|row| {
            let (from, to) = (row.saturating_sub(half), (row + half).min(rows - 1));
            (angle[to] - angle[from]) / (time[to] - time[from])
        })
        .collect()
}

/// A number with its sign, and a real minus.
fn signed(number: f64, decimals: usize) -> String {
    format!("{number:+.decimals$}").replace('-', "−")
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

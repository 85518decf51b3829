//! The parameters with their intervals, what these are made of, and why some are not carried.

use super::words::{capital, signed, trial, unit, words};
use crate::estimate::{Cause, Estimate, Standing};
use crate::measured::{Measured, said};
use crate::parameter::Parameter;
use crate::refusal::Refusal;
use finding::Chart;
use finding::sheet::{Block, Table};
use worked::format::{plain, range, sensible};

/// Correlations by amount from which on they are told.
const CLOSE: f64 = 0.8;

pub(super) fn parameters(measured: &Measured) -> Table {
    let identified = measured.identified();
    let row = |estimate: &Estimate| {
        let Estimate { parameter, value: si, .. } = *estimate;
        let half = estimate.half_width(0.95);
        let said = measured.said.figure(parameter, measured.by_duty, measured.coupled);
        let band = said.as_ref().and_then(said::band);
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
pub(super) fn shares(measured: &Measured) -> Table {
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
pub(super) fn causes(measured: &Measured) -> Option<Block> {
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

/// Why parameters are not carried, and which trial would carry them.
pub(super) fn refusals(measured: &Measured) -> Vec<Block> {
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

pub(super) fn correlations(measured: &Measured) -> Vec<Block> {
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

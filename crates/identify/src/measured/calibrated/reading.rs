//! The reading of a point: typed, or the mean of a stretch of a log; volts at the pin.

use super::known::Known;
use super::{NotCalibrated, flaw};
use crate::calibration::Reading;
use crate::measured::Mapping;
use bench::Bench;
use bench::file::{CalibrationPoint, Log, LogColumn};
use finding::Watch;
use logs::{Heading, Reader, Reads, Refused, Told, Unreadable};
use worked::Dimension;

/// The log of a point, opened.
pub struct PointLog {
    /// As it is shown.
    pub name: String,
    /// The opened table.
    pub reader: Reader,
}

/// What a point read.
pub(super) struct Read {
    pub(super) reading: Reading,
    /// It was read in codes of the converter.
    pub(super) codes: bool,
    /// In words: `code 1402`, `zero.csv, 200 rows`.
    pub(super) how: String,
    /// What was noticed on the way, a sentence without its end.
    pub(super) notes: Vec<String>,
}

/// Rows of a stretch that are held in memory.
const MOST_ROWS: usize = 20_000_000;
/// Part of a time by which two times may differ and count as one.
const SAME_TIME: f64 = 1e-9;
/// Standard uncertainties by which the halves of a steady stretch may differ.
const DRIFTS: f64 = 4.0;
/// Readings in a half of a stretch from which on its halves are compared.
const LEAST_HALF: usize = 20;

/// The log of the bench file that a point names, where it is one.
fn named(bench: &Bench, point: &CalibrationPoint) -> Option<Log> {
    let name = point.log()?;
    bench.logs().into_iter().find(|(known, _)| **known == *name).map(|(_, log)| log)
}

/// What the reader of the log of a point has to know beforehand.
pub fn told(bench: &Bench, point: &CalibrationPoint) -> Told {
    let mapping = named(bench, point).and_then(|log| Mapping::of_file(&log).ok());
    mapping.map(|mapping| mapping.told()).unwrap_or_default()
}

/// Reads a point.
pub(super) fn read(
    bench: &Bench,
    point: &CalibrationPoint,
    log: Option<PointLog>,
    known: &Known,
    watch: &Watch<'_>,
) -> Result<Read, NotCalibrated> {
    match log {
        Some(log) => of_log(bench, point, log, known, watch),
        None if point.has("code") => of_code(point, known),
        None => {
            let reads = point.reads();
            let uncertainty = reads.uncertainty().map_or(0.0, |uncertainty| uncertainty.u);
            let reading = Reading { mean: reads.value(), uncertainty, scatter: None };
            Ok(Read { reading, codes: false, how: "at the pin".to_owned(), notes: Vec::new() })
        }
    }
}

/// A code that was typed: where nothing is said of it, it is right to half a code.
fn of_code(point: &CalibrationPoint, known: &Known) -> Result<Read, NotCalibrated> {
    let Some(converter) = &known.converter else { return Err(no_converter(point, "code")) };
    let code = point.code();
    let stated = code.uncertainty().map(|uncertainty| uncertainty.u).filter(|u| *u > 0.0);
    let step = converter.step();
    within(point, "code", code.value(), converter.codes)?;
    let reading = Reading {
        mean: converter.pin_voltage(code.value()),
        uncertainty: stated.map_or_else(|| converter.quantisation(), |u| u * step),
        scatter: None,
    };
    let written = point.datum("code").map_or_else(String::new, |datum| datum.written.trim().to_owned());
    Ok(Read { reading, codes: true, how: format!("code {written}"), notes: Vec::new() })
}

/// The mean of a stretch of a log.
fn of_log(
    bench: &Bench,
    point: &CalibrationPoint,
    log: PointLog,
    known: &Known,
    watch: &Watch<'_>,
) -> Result<Read, NotCalibrated> {
    let PointLog { name, reader } = log;
    let (column, reads) = column(bench, point, &name, &reader, known)?;
    let heading = reader.form().columns[column].text.clone();
    let time = |key: &str| point.datum(key).map(|datum| datum.value);
    // The last digit of a time that was written in another way is no reason to leave its row out.
    let from = time("from").map_or(f64::NEG_INFINITY, |from| from - SAME_TIME * from.abs());
    let to = time("to").map_or(f64::INFINITY, |to| to + SAME_TIME * to.abs());
    let (mut values, mut gaps, mut ends) = (Vec::new(), 0_usize, (f64::INFINITY, f64::NEG_INFINITY));
    let kept = reader.stream(&[column], watch, |rows| {
        for (time, value) in rows.time.iter().zip(rows.columns[0]) {
            ends = (ends.0.min(*time), ends.1.max(*time));
            if !(from..=to).contains(time) {
                continue;
            }
            if value.is_finite() { values.push(*value) } else { gaps += 1 }
        }
        if values.len() > MOST_ROWS {
            return Err(Refused::Io(std::io::Error::other(
                "more than 20 million rows: name a shorter stretch",
            )));
        }
        Ok(())
    });
    match kept {
        Ok(_) => {}
        Err(why) => return Err(unreadable(point, &name, &why)),
    }
    if values.len() < 2 {
        let message = format!(
            "{} of column `{heading}` of {name}, and two at least make a mean",
            match (values.len(), gaps) {
                (0, 0) => "no row lies in the stretch".to_owned(),
                (n, 0) => format!("{n} row lies in the stretch"),
                (n, gaps) => format!("{n} readings and {gaps} empty cells lie in the stretch"),
            }
        );
        let remedy = format!(
            "its times go from {} s to {} s: see to `from` and `to`, and to their unit",
            ends.0, ends.1
        );
        let key = ["from", "to", "log"].into_iter().find(|key| point.has(key)).unwrap_or("log");
        return Err(flaw("value-not-possible", point, key, message, &remedy));
    }
    let mut notes = Vec::new();
    if gaps > 0 {
        notes.push(format!("{gaps} empty cells of column `{heading}` of {name} were left out"));
    }
    let step = match (reads, &known.converter) {
        (Reads::PinVolts, _) => 0.0,
        (Reads::Codes, None) => return Err(no_converter(point, "log")),
        (Reads::Codes, Some(converter)) => {
            for code in &mut values {
                within(point, "log", *code, converter.codes)?;
                *code = converter.pin_voltage(*code);
            }
            converter.step()
        }
    };
    let reading = Reading::of_log(&values, step);
    notes.extend(drift(&values, step).map(|(drift, u)| {
        format!(
            "the reading of {name} is not steady: its mean moves by {:.3} mV from the first half of the stretch to the second, where \
             {:.3} mV are chance; take a later `from`",
            1e3 * drift,
            1e3 * u
        )
    }));
    let how = format!("{name}, {} rows", values.len());
    Ok(Read { reading, codes: reads == Reads::Codes, how, notes })
}

/// Column of a log, and what its numbers are: as the point says, else as the log of the bench file does, else by a unit of
/// volts over a line of a current.
fn column(
    bench: &Bench,
    point: &CalibrationPoint,
    name: &str,
    reader: &Reader,
    known: &Known,
) -> Result<(usize, Reads), NotCalibrated> {
    let form = reader.form();
    let columns = named(bench, point).map(|log| of_file(&log)).unwrap_or_default();
    let own = match point.column() {
        Some(heading) => columns.into_iter().find(|column| column.column() == Some(heading)),
        None => columns.into_iter().find(|column| column.of() == Some(&known.name)),
    };
    let wanted = point.column().or_else(|| own.as_ref().and_then(|column| column.column()));
    let Some(wanted) = wanted else {
        let message = format!("nothing says which column of {name} records {}", known.name);
        let headings: Vec<String> =
            form.columns.iter().map(|heading| format!("`{}`", heading.text)).collect();
        let list = finding::words::listed(&headings);
        let remedy = format!("name it, as `column = \"HEADING\"`; its columns are {list}");
        return Err(flaw("key-missing", point, "log", message, &remedy));
    };
    let key = if point.has("column") { "column" } else { "log" };
    let at = form.find(wanted).map_err(|why| {
        flaw("name-unknown", point, key, format!("{name}: {why}"), "name a column that is there")
    })?;
    let heading = &form.columns[at];
    let holds = point.r#as().or_else(|| own.as_ref().and_then(|column| column.r#as()));
    let volts =
        |heading: &Heading| heading.scale.as_ref().is_some_and(|u| u.fit(Dimension::VOLTAGE).is_some());
    let pure = |heading: &Heading| heading.scale.as_ref().is_none_or(|u| u.fit(Dimension::NONE).is_some());
    let reads = match holds {
        Some("code") if pure(heading) => Some(Reads::Codes),
        Some("pin volts") if volts(heading) || pure(heading) => Some(Reads::PinVolts),
        None if volts(heading) && known.dimension == Dimension::CURRENT => Some(Reads::PinVolts),
        _ => None,
    };
    let Some(reads) = reads else {
        let in_unit = match heading.unit.as_str() {
            "" => "has no unit".to_owned(),
            unit => format!("is in {unit}"),
        };
        let message = match holds {
            Some(holds) => {
                format!("column `{}` of {name} {in_unit}, and is said to hold `{holds}`", heading.text)
            }
            None => format!(
                "column `{}` of {name} {in_unit}: it may be codes, or was scaled already",
                heading.text
            ),
        };
        let remedy = "say what its numbers are, `as = \"code\"` or `as = \"pin volts\"`; what a controller scaled already tells \
                      of its own figures, not of the line: log codes";
        let key = if point.has("as") { "as" } else { key };
        return Err(flaw("word-unknown", point, key, message, remedy));
    };
    Ok((at, reads))
}

/// Columns of a log of the bench file that say more than their name.
fn of_file(log: &Log) -> Vec<LogColumn> {
    log.columns().iter().filter_map(|entry| entry.table::<LogColumn>(log.path())).collect()
}

/// How far the mean moves between the halves of a stretch, and what of that is chance; nothing where it is steady.
fn drift(values: &[f64], step: f64) -> Option<(f64, f64)> {
    let (first, second) = values.split_at(values.len() / 2);
    if first.len() < LEAST_HALF {
        return None;
    }
    let (first, second) = (Reading::of_log(first, step), Reading::of_log(second, step));
    let moves = second.mean - first.mean;
    let chance = libm::hypot(first.uncertainty, second.uncertainty);
    (moves.abs() > DRIFTS * chance).then_some((moves, chance))
}

/// A code lies within the converter, and not at an end, where what is sensed may be more.
fn within(point: &CalibrationPoint, key: &str, code: f64, codes: f64) -> Result<(), NotCalibrated> {
    if code > 0.0 && code < codes - 1.0 {
        return Ok(());
    }
    let message = match code == 0.0 || code == codes - 1.0 {
        true => format!("code {code} is an end of the converter: what is beyond was not seen"),
        false => format!("code {code} lies beyond the converter, which has 0 to {}", codes - 1.0),
    };
    let remedy = "take the reading further inside of the range, or see that these are codes of this line";
    Err(flaw("value-not-possible", point, key, message, remedy))
}

fn no_converter(point: &CalibrationPoint, key: &str) -> NotCalibrated {
    let message = "no analogue pin of the controller reads the line, so nobody knows what a code is";
    let remedy = "connect the line to such a pin in the bench file, state `bits` and `reference` of the converter, or write volts \
                  at the pin as `reads`";
    flaw("key-missing", point, key, message.to_owned(), remedy)
}

/// A log that cannot be read.
fn unreadable(point: &CalibrationPoint, name: &str, why: &Unreadable) -> NotCalibrated {
    let message = format!("{name}: {why}");
    flaw("file-not-readable", point, "log", message, "see to the log, or name another")
}

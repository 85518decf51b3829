//! What was found, added at the end of `measured.toml`: nothing that stands there is changed.

use super::{Told, tables};
use crate::bench_choice::Chosen;
use crate::changed::{Changed, replace};
use crate::failure::Failure;
use bench::MEASURED;
use identify::measured::calibrated::Calibrated;
use std::fs;
use std::io::ErrorKind;

const HEAD: &str = "\
# Figures that were measured on this bench. They go before those of the part files, in their own axis or line alone. A later
# table goes before an earlier one; `firstspin identify --write` adds at the end. Take a table away to have the sheet's figures back.
";

/// Adds zero and scale of one line; what was done, in a sentence.
pub(super) fn line(chosen: &Chosen, one: &Calibrated, date: Option<&str>) -> Result<String, Failure> {
    let Some(entry) = one.entry(date) else {
        return Ok(format!("Nothing of {} was added to {MEASURED}: its calibration does not hold.", one.of));
    };
    Ok(match add(chosen, &entry)? {
        false => format!("{MEASURED}: what calibration {} found of {} is already there.", one.name, one.of),
        true => format!(
            "{MEASURED}: zero and scale of {} were added; every stage takes them from now on.",
            one.of
        ),
    })
}

/// Adds the figures of one axis; what was done, in a sentence.
pub(super) fn motor(chosen: &Chosen, told: &Told) -> Result<String, Failure> {
    let axis = &told.axis;
    let measured = told.found.measured.as_ref().map(|(measured, _)| measured);
    let entry =
        measured.and_then(|measured| measured.entry(&told.names, told.date.as_deref(), told.by.as_deref()));
    let Some(entry) = entry else {
        return Ok(format!(
            "Nothing of axis {axis} was added to {MEASURED}: no figure of its motor is carried by logs that nothing spoils."
        ));
    };
    let figures = entry.lines().filter(|line| line.contains("how = \"measured\"")).count();
    Ok(match add(chosen, &entry)? {
        false => format!("{MEASURED}: the {figures} figures of the motor of axis {axis} are already there."),
        true => format!(
            "{MEASURED}: {figures} figures of the motor of axis {axis} were added; every stage takes them from now on."
        ),
    })
}

/// Adds a table, unless the newest one of its axis or line says the same; whether it was added.
fn add(chosen: &Chosen, entry: &str) -> Result<bool, Failure> {
    let Some(folder) = &chosen.folder else {
        return Err(Failure::Said("there is no bench folder to write into".to_owned()));
    };
    let path = folder.join(MEASURED);
    let failed =
        |why: String| Failure::Said(format!("cannot write {}: {why}; it is as it was", path.display()));
    let old = match fs::read_to_string(&path) {
        Ok(old) => old,
        Err(error) if error.kind() == ErrorKind::NotFound => HEAD.to_owned(),
        Err(error) => return Err(failed(error.to_string())),
    };
    if tables::says_already(&old, entry) {
        return Ok(false);
    }
    let gap = if old.ends_with('\n') || old.is_empty() { "\n" } else { "\n\n" };
    let new = format!("{old}{gap}{entry}");
    // The new text is read once before it is kept.
    let again = bench::load_from(&Changed::new(folder, MEASURED, &new));
    if again.value.is_none() {
        let first = again.findings.first().map(|finding| finding.message.clone());
        return Err(failed(first.unwrap_or_else(|| "the bench could not be read with it".to_owned())));
    }
    replace(&path, &new).map_err(|error| failed(error.to_string()))?;
    Ok(true)
}

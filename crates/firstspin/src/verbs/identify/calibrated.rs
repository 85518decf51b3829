//! Calibrations of the bench file: their logs opened, their lines fitted, and the bench with them in place.

use super::open::inside;
use super::{Opened, tables};
use crate::bench_choice::Chosen;
use crate::changed::Changed;
use crate::failure::Failure;
use bench::file::CalibrationPoint;
use bench::{Bench, MEASURED};
use finding::{Finding, Sheet, Watch};
use identify::measured::calibrated::{Calibrated, NotCalibrated, PointLog, at_key, told};
use logs::Reader;
use std::fs;
use std::path::Path;

/// The calibrations of a bench, and the bench as it is with what they tell.
#[derive(Default)]
pub(super) struct Laid {
    pub(super) calibrated: Vec<Calibrated>,
    /// Each with the later one of the same line that counts in its place.
    pub(super) later: Vec<Option<String>>,
    /// The bench with them; none where nothing changes.
    pub(super) bench: Option<Bench>,
}

impl Laid {
    /// A sheet for each.
    pub(super) fn sheets(&self) -> Vec<Sheet> {
        self.calibrated.iter().zip(&self.later).map(|(one, later)| one.sheet(later.as_deref())).collect()
    }

    /// Those that hold and that no later one of the same line goes before.
    pub(super) fn counting(&self) -> impl Iterator<Item = &Calibrated> {
        let all = self.calibrated.iter().zip(&self.later);
        all.filter(|(one, later)| one.is_used() && later.is_none()).map(|(one, _)| one)
    }
}

/// Why there are none.
pub(super) enum NotLaid {
    /// Something is wrong with a calibration of the bench file.
    Flaw(Box<Finding>),
    /// Something else.
    Failed(Failure),
    /// It was stopped.
    Stopped(finding::Stopped),
}

impl From<NotCalibrated> for NotLaid {
    fn from(why: NotCalibrated) -> Self {
        match why {
            NotCalibrated::Flaw(finding) => Self::Flaw(finding),
            NotCalibrated::Stopped(stopped) => Self::Stopped(stopped),
        }
    }
}

/// Fits all calibrations of the bench file, and lays them over the bench. What earlier runs found from the same logs and
/// points is left out, so that no reading counts twice.
pub(super) fn lay(
    bench: &Bench,
    chosen: &Chosen,
    groups: &[Opened],
    watch: &Watch<'_>,
) -> Result<Laid, NotLaid> {
    let entries = bench.calibrations();
    let old = chosen.folder.as_deref().and_then(|folder| fs::read_to_string(folder.join(MEASURED)).ok());
    let old = old.unwrap_or_default();
    let is_own = |table: &_| {
        entries.iter().any(|(name, entry)| tables::is_by(table, entry.of().unwrap_or_default(), name))
            || groups.iter().any(|group| tables::is_from(table, &group.axis, &group.names))
    };
    let plain = tables::without(&old, is_own);
    let before = if plain == old { None } else { Some(with(chosen, &plain)?) };
    let bench = before.as_ref().unwrap_or(bench);
    let mut calibrated = Vec::new();
    for (name, entry) in &entries {
        let mut logs = Vec::new();
        for point in entry.points() {
            let log = opened(bench, chosen, &point).map_err(NotLaid::Flaw)?;
            logs.push(log);
        }
        calibrated.push(Calibrated::of(bench, name, entry, logs, watch)?);
    }
    let mut laid = Laid { later: later(&calibrated), calibrated, bench: None };
    let used: Vec<String> = laid.counting().filter_map(|one| one.entry(None)).collect();
    laid.bench = match used.is_empty() {
        true => before,
        false => Some(with(chosen, &format!("{plain}\n{}", used.join("\n")))?),
    };
    Ok(laid)
}

/// The later calibration of the same line that counts in the place of each.
fn later(calibrated: &[Calibrated]) -> Vec<Option<String>> {
    let later = |(k, one): (usize, &Calibrated)| {
        let mut others = calibrated[k + 1..].iter().filter(|other| other.of == one.of && other.is_used());
        others.next_back().map(|other| other.name.clone())
    };
    calibrated.iter().enumerate().map(later).collect()
}

/// The bench with another text of its measured figures.
fn with(chosen: &Chosen, text: &str) -> Result<Bench, NotLaid> {
    // Only the built-in example has no folder, and it has no calibrations.
    let folder = chosen.folder.as_deref().unwrap_or(Path::new("."));
    let loaded = bench::load_from(&Changed::new(folder, MEASURED, text));
    loaded.value.ok_or_else(|| {
        let first = loaded.findings.first().map(|finding| finding.message.clone()).unwrap_or_default();
        NotLaid::Failed(Failure::Said(format!(
            "the bench cannot be read with what its calibrations tell: {first}"
        )))
    })
}

/// The log of a point, opened.
fn opened(
    bench: &Bench,
    chosen: &Chosen,
    point: &CalibrationPoint,
) -> Result<Option<PointLog>, Box<Finding>> {
    let Some(log) = point.log() else { return Ok(None) };
    let flaw = |id: &str, message: String, remedy: &str| Box::new(at_key(id, point, "log", message, remedy));
    let named = bench.logs().into_iter().find(|(name, _)| **name == *log);
    let file = match &named {
        Some((_, table)) => table.file().unwrap_or_default().to_owned(),
        None => log.to_owned(),
    };
    let folder = chosen.folder.as_deref().unwrap_or(Path::new("."));
    let path = inside(folder, &file).map_err(|why| {
        let all = bench.logs();
        let names: Vec<&str> = all.iter().map(|(name, _)| &**name).collect();
        let near = bench::nearest(log, names.iter().copied());
        let remedy = match (near, names.is_empty()) {
            (Some(near), _) => format!("record it there, or write `{near}`, a log of the bench file"),
            (None, true) => "record it there, or name a file of the bench folder".to_owned(),
            (None, false) => format!(
                "record it there, or name a log of the bench file ({}) or a file of the bench folder",
                names.join(", ")
            ),
        };
        flaw("file-missing", why, &remedy)
    })?;
    let reader = Reader::open(&path, &told(bench, point)).map_err(|why| {
        flaw("file-not-readable", format!("{file}: {why}"), "see to the log, or name another")
    })?;
    Ok(Some(PointLog { name: log.to_owned(), reader }))
}

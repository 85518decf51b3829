//! Calibrations of the bench file: readings of a line beside a reference, to its zero and scale, and a sheet.

mod entry;
mod known;
mod page;
mod reading;

pub use reading::{PointLog, told};

use crate::calibration::{self, AtPoint, Calibration, References};
use crate::record::Unusable;
use bench::file::CalibrationPoint;
use bench::{Bench, Record};
use finding::{Finding, Harm, Remedy, Severity, Sheet, Stopped, Trust, Watch};
use known::Known;
use reading::Read;
use thiserror::Error;
use worked::Dimension;

/// Zero and scale of one line by the points of a calibration. Readings are volts at the pin, references in SI.
pub struct Calibrated {
    /// Name of the calibration in the bench file.
    pub name: String,
    /// The line: `board:A.current`.
    pub of: String,
    /// What was fitted: the intercept is the zero in V, the slope the scale.
    pub found: Calibration,
    /// When and by whom, where the bench file says it.
    date: Option<String>,
    by: Option<String>,
    points: Vec<Point>,
    known: Known,
}

/// One point, read.
struct Point {
    /// What the reference read.
    reference: f64,
    uncertainty: f64,
    read: Read,
}

/// Why a calibration tells nothing.
#[derive(Debug, Error)]
pub enum NotCalibrated {
    /// Something in the bench file, or in a log that it names.
    #[error("{}", .0.message)]
    Flaw(Box<Finding>),
    /// It was stopped.
    #[error(transparent)]
    Stopped(#[from] Stopped),
}

/// How many times what the bench says a scale may come out as before it is another line, or another fault.
const FAR: f64 = 4.0;

impl Calibrated {
    /// Reads the points of a calibration of the bench, and fits zero and scale. `logs` are those of the points, opened as
    /// [`told`] says; none for a reading that was typed.
    ///
    /// # Errors
    /// Where a point cannot be read, or no line can be laid through the points.
    pub fn of(
        bench: &Bench,
        name: &str,
        calibration: &bench::file::Calibration,
        logs: Vec<Option<PointLog>>,
        watch: &Watch<'_>,
    ) -> Result<Self, NotCalibrated> {
        let of = calibration.of().unwrap_or_default();
        let Some(known) = Known::of(bench, of) else {
            let message = format!("`{of}` tells neither a current nor a voltage");
            return Err(flaw("name-unknown", calibration, "of", message, "name a line that does"));
        };
        let silent = watch.silent();
        let mut points = Vec::new();
        let all = logs.len().max(1) as f64;
        for (k, (point, log)) in calibration.points().iter().zip(logs).enumerate() {
            let reference = point.reference();
            let uncertainty = reference.uncertainty().map_or(0.0, |uncertainty| uncertainty.u);
            let read = reading::read(bench, point, log, &known, &silent);
            watch.go_on(k as f64 / all)?;
            points.push(Point { reference: reference.value(), uncertainty, read: read? });
        }
        same_kind(calibration, &points)?;
        let beside: Vec<_> =
            points.iter().map(|point| (point.read.reading, point.reference, point.uncertainty)).collect();
        let references = match calibration.independent().is(true) {
            true => References::Independent,
            false => References::Together,
        };
        if let Some(k) = beside.iter().position(|(reading, _, u)| reading.uncertainty == 0.0 && *u == 0.0) {
            let message = "neither the reading nor the reference of the point has an uncertainty".to_owned();
            let remedy = "say how far the reference may be off, as `\"0.500 A ± 1 %\"` or `{ value = \"0.500 A\", u = \"2 mA\" }`";
            return Err(flaw("value-not-possible", &calibration.points()[k], "reference", message, remedy));
        }
        let found = calibration::through(&beside, references).map_err(|why| unusable(calibration, &why))?;
        Ok(Self {
            name: name.to_owned(),
            of: of.to_owned(),
            found,
            date: calibration.date().map(str::to_owned),
            by: calibration.by().map(str::to_owned),
            points,
            known,
        })
    }

    /// What speaks against it: points that are no line, a scale that is another line's; empty where it holds.
    pub fn doubts(&self) -> Vec<String> {
        let mut doubts = Vec::new();
        if self.found.is_line == Some(false) {
            doubts.push(
                "the points lie on no line within what they are uncertain by: one of them is off, an uncertainty is too small, or \
                 the line is bent; look for the largest deviation in the table of points"
                    .to_owned(),
            );
        }
        let times = self.found.line.slope / self.known.scale.value();
        if times < 0.0 {
            doubts.push(
                "the reading moves the other way than the bench says: the reference or the sensor is connected the other way \
                 round, or the sign of `scale` is wrong"
                    .to_owned(),
            );
        } else if times.is_finite() && !(1.0 / FAR..=FAR).contains(&times) {
            doubts.push(format!(
                "the scale comes out as {times:.3} times what the bench says: another column, another line, or a unit that is wrong"
            ));
        }
        doubts
    }

    /// Whether a circuit in the line makes another scale of that of the sensor.
    pub fn is_divided(&self) -> bool {
        self.known.divider
    }

    /// Whether its zero and scale go before those of the bench.
    pub fn is_used(&self) -> bool {
        !self.is_divided() && self.doubts().is_empty()
    }

    /// Whether the line tells a current; else it tells a voltage.
    pub fn tells_current(&self) -> bool {
        self.known.dimension == Dimension::CURRENT
    }

    /// What the reference read at each point, the standard uncertainty of that, and what came of the point.
    pub fn points(&self) -> impl Iterator<Item = (f64, f64, &AtPoint)> {
        let points = self.points.iter().zip(&self.found.points);
        points.map(|(point, at)| (point.reference, point.uncertainty, at))
    }

    /// All of it, to be read; `later` is another calibration of the same line that counts in its place.
    pub fn sheet(&self, later: Option<&str>) -> Sheet {
        page::sheet(self, later)
    }
}

/// Codes and volts do not mix: the reference of the converter lies between them.
fn same_kind(calibration: &bench::file::Calibration, points: &[Point]) -> Result<(), NotCalibrated> {
    let codes = |point: &Point| point.read.codes;
    let Some(k) = points.iter().position(|point| codes(point) != codes(&points[0])) else { return Ok(()) };
    let point: &CalibrationPoint = &calibration.points()[k];
    let key = ["log", "code", "reads"].into_iter().find(|key| point.has(key)).unwrap_or("reference");
    let message = "one point of the calibration is read in codes and another in volts at the pin, and the tolerance of the \
                   converter lies between them";
    let remedy = "read all points of a calibration in one way: codes where the logs hold codes";
    Err(flaw("keys-exclude", point, key, message.to_owned(), remedy))
}

fn unusable(calibration: &bench::file::Calibration, why: &Unusable) -> NotCalibrated {
    let message = match why {
        Unusable::Missing(what) => format!("the calibration has no {what}"),
        other => format!("the calibration cannot be used: {other}"),
    };
    let remedy = "see that the points are those of this line, that they lie far enough apart, and that the uncertainties \
                  are of the right size";
    flaw("value-not-possible", calibration, "points", message, remedy)
}

/// What is wrong, at the value of a key.
fn flaw(id: &str, table: &Record, key: &str, message: String, remedy: &str) -> NotCalibrated {
    NotCalibrated::Flaw(Box::new(at_key(id, table, key, message, remedy)))
}

/// A finding at the value of a key of the bench file, or its table.
pub fn at_key(id: &str, table: &Record, key: &str, message: String, remedy: &str) -> Finding {
    Finding {
        id: id.to_owned(),
        severity: Severity::Blocker,
        harm: Harm::Function,
        subject: table.path().to_owned(),
        message,
        at: Some(table.span_of(key)),
        related: Vec::new(),
        notes: Vec::new(),
        figures: Vec::new(),
        remedies: vec![Remedy { text: remedy.to_owned(), edit: None, trust: Trust::Manual }],
        decided: true,
        accepted: None,
    }
}

//! Calibrations: the line, what its points say, and whether a line can be laid through them.

use super::Resolver;
use crate::file::{Calibration, CalibrationPoint};
use crate::model::Bench;
use crate::problem::{Build, listed, problem};
use crate::record::Datum;
use worked::Dimension;

/// What a reading can be; one of them in each point.
const READINGS: [&str; 3] = ["reads", "code", "log"];
/// Keys that count beside a log only.
const OF_A_LOG: [&str; 4] = ["column", "as", "from", "to"];
/// What the numbers of a column can be.
const HOLDS: [&str; 2] = ["pin volts", "code"];

impl Resolver {
    /// Calibrations of lines that nobody knows, and points that cannot be used.
    pub(super) fn calibrations(&mut self, bench: &Bench) {
        let lines = bench.sensed();
        let names: Vec<&str> = lines.iter().map(|line| &*line.name).collect();
        for (_, calibration) in bench.calibrations() {
            if let Some(of) = calibration.of() {
                match lines.iter().find(|line| line.name == of) {
                    Some(line) => self.references(&calibration, line.dimension),
                    None => {
                        let what = "lines that tell a current or a voltage";
                        self.unknown(&calibration, "of", of, what, &names);
                    }
                }
            }
            let points = calibration.points();
            points.iter().for_each(|point| self.reading(point));
            self.differ(&calibration, &points);
        }
    }

    /// References measure what the line tells.
    fn references(&mut self, calibration: &Calibration, dimension: Dimension) {
        for point in calibration.points() {
            let Some(datum) = point.datum("reference").filter(|datum| datum.dimension != dimension) else {
                continue;
            };
            let message = format!(
                "the reference is {}, and `{}` tells {dimension}",
                datum.written.trim(),
                calibration.of().unwrap_or_default(),
            );
            let finding = problem("quantity-not-understood", point.path(), message, datum.span.clone());
            self.findings.push(
                finding
                    .also(calibration.span_of("of"), "the line")
                    .remedy("write what the reference read of the quantity that the line tells"),
            );
        }
    }

    /// One reading in each point, with what belongs to it.
    fn reading(&mut self, point: &CalibrationPoint) {
        let given: Vec<&str> = READINGS.into_iter().filter(|key| point.has(key)).collect();
        match given.as_slice() {
            [] => {
                let message = "the point has no reading of the line";
                self.findings.push(problem("keys-exclude", point.path(), message, point.span()).remedy(
                    "write `reads = \"1.805 V\"` (at the pin), `code = 1402`, or `log = \"FILE\"` with its `column`",
                ));
            }
            [_] => {}
            [first, second, ..] => {
                let message = format!("`{first}` and `{second}` exclude each other: a point has one reading");
                let finding = problem("keys-exclude", point.path(), message, point.span_of(second));
                self.findings.push(
                    finding
                        .also(point.span_of(first), "the other one")
                        .remedy("keep one, or write a point for each"),
                );
            }
        }
        if !point.has("log") {
            for key in OF_A_LOG.into_iter().filter(|key| point.has(key)) {
                self.idle(point, key, "the reading is no log", "take it away, or name the `log`");
            }
        }
        if let Some(holds) = point.r#as().filter(|holds| !HOLDS.contains(holds)) {
            let message = format!("{} is none of the words that `as` takes", crate::problem::quoted(holds));
            let finding = problem("word-unknown", point.path(), message, point.span_of("as"));
            let remedy = format!(
                "write {}; readings that were scaled already tell nothing of the line",
                listed(HOLDS)
            );
            self.findings.push(finding.remedy(remedy));
        }
        let time = |key: &str| point.datum(key).map(|datum| datum.value);
        if let (Some(from), Some(to)) = (time("from"), time("to"))
            && from >= to
        {
            let message = "the stretch of the log ends before it begins: `to` is not after `from`";
            let finding = problem("value-not-possible", point.path(), message, point.span_of("to"));
            self.findings.push(finding.remedy("see to both times"));
        }
    }

    /// A line takes two points, at different values.
    fn differ(&mut self, calibration: &Calibration, points: &[CalibrationPoint]) {
        if !calibration.has("points") {
            return;
        }
        let references: Vec<&Datum> = points.iter().filter_map(|point| point.datum("reference")).collect();
        if points.len() < 2 {
            let message = match points.len() {
                0 => "the calibration has no points, and zero and scale take two at least",
                _ => "the calibration has one point, and zero and scale take two at least",
            };
            let at = points.first().map_or_else(|| calibration.span_of("points"), |point| point.span());
            let finding = problem("value-not-possible", calibration.path(), message, at);
            self.findings.push(finding.remedy(
                "add `[[…points]]` with readings at other values: zero where nothing flows, and one near each end of the range",
            ));
        } else if references.len() == points.len()
            && references.iter().all(|datum| datum.value == references[0].value)
        {
            let message = format!(
                "all {} points have one reference, {}: a scale shows only where the reference changes",
                points.len(),
                references[0].written.trim()
            );
            let finding =
                problem("value-not-possible", calibration.path(), message, references[1].span.clone());
            self.findings.push(
                finding
                    .also(references[0].span.clone(), "the first")
                    .remedy("add a reading at another value of the reference"),
            );
        }
    }
}

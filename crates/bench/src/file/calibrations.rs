//! Calibrations: readings of a line beside what a reference reads.

use crate::kind::{q, tables};
use worked::Dimension as D;

tables! {
    /// A steady reading of a line beside what a reference read. The reading is `reads`, `code`, or the stretch of a log.
    CalibrationPoint = "calibration point" {
        quantity reference (q(D::CURRENT, "x").also(&[D::VOLTAGE]).span(-1e4, 1e4)) #needed "what the reference read, with its uncertainty; zero where nothing can flow";
        quantity reads (q(D::VOLTAGE, "u").span(-1e3, 1e3)) "reading: voltage at the pin, by an instrument";
        quantity code (q(D::NONE, "n").span(0.0, 4294967296.0)) "reading: code of the converter, or the mean of many";
        text log (File) "reading: a log of the bench file by its name, or a file in the bench folder";
        text column "log: heading of its column; needed where the log does not say which one records the line";
        text r#as "log: what the numbers of the column are, `pin volts` or `code`, where neither the log nor a unit of volts says it";
        quantity from (q(D::TIME, "t_1").span(-1e12, 1e12)) "log: time from which the reading is steady; its first row where not given";
        quantity to (q(D::TIME, "t_2").span(-1e12, 1e12)) "log: time up to which it is; its last row where not given";
    }

    /// Readings of a line that tells a current or a voltage, beside a reference: from them come its zero and its scale.
    Calibration = "calibration" {
        text of (DeviceSignal) #needed "line: `board:A.current`, or `NAME:signal` of a sensor";
        tables points: CalibrationPoint #needed "readings, two at least, at different values of the reference";
        flag independent (else false) "the errors of the references do not hang together: each was read by another instrument";
        text date "when it was taken";
        text by "who took it";
        text notes "remarks";
    }
}

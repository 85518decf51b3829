//! The file of what was measured on the bench.

use crate::kind::{q, tables};
use crate::part::Motor;
use worked::Dimension as D;

tables! {
    /// Zero and scale of a line.
    MeasuredLine = "measured line" {
        quantity zero (q(D::VOLTAGE, "U_0").about(2.0).span(-60.0, 60.0)) "voltage at zero";
        quantity scale (q(D::VOLT_PER_AMPERE, "S").also(&[D::NONE]).about(3.0).span(-1e3, 1e3)) "sensitivity";
    }

    /// Figures that were measured together: of one axis, or of one line. Those of `motor` go before the ones of its part file,
    /// in this axis alone; those of `line` before the ones of its board or sensor, in this device alone. Where several tables
    /// give the same figure the last one counts, and those before it tell how it changed.
    Measured = "measured figures" {
        text axis (Axis) "axis that they were measured on";
        text of (DeviceSignal) "line that they were measured on";
        text date "when";
        text by "who measured them";
        texts logs "records that they were found from";
        text calibration "calibration that they were found from";
        table motor: Motor "figures of its motor";
        table line: MeasuredLine "zero and scale of the line";
    }

    /// `measured.toml` beside the bench file: `firstspin identify --write` adds a table at its end, and changes nothing that
    /// stands in it.
    MeasuredFile = "measured file" {
        tables measured: Measured "figures that were measured";
    }
}

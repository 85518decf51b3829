//! The file of what was measured on the bench.

use crate::kind::tables;
use crate::part::Motor;

tables! {
    /// Figures of one axis that were measured together. Those of `motor` go before the ones of its part file, in this axis
    /// alone; where several tables give the same figure the last one counts, and those before it tell how it changed.
    Measured = "measured figures" {
        text axis (Axis) #needed "axis that they were measured on";
        text date "when";
        text by "who measured them";
        texts logs "records that they were found from";
        table motor: Motor "figures of its motor";
    }

    /// `measured.toml` beside the bench file: `firstspin identify --write` adds a table at its end, and changes nothing that
    /// stands in it.
    MeasuredFile = "measured file" {
        tables measured: Measured "figures that were measured";
    }
}

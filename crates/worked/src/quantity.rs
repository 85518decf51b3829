//! Quantities as written in a bench file: `24 V ± 5 %`. (Skeleton.)

use crate::Unit;
use std::sync::Arc;

/// A quantity as it stands in a file: number, tolerance, unit. SI inside, the user's unit for printing.
#[derive(Clone, PartialEq, Debug)]
pub struct Quantity {
    /// Nominal value in SI; `None` where only a range was written (`8 .. 28 V`).
    pub nominal: Option<f64>,
    /// Lower limit in SI, rounded outward; `None` where no tolerance was written.
    pub low: Option<f64>,
    /// Upper limit in SI, rounded outward.
    pub high: Option<f64>,
    /// A stated standard uncertainty in SI.
    pub standard_uncertainty: Option<f64>,
    /// The tolerance was written in per cent of the value, so it moves along when the value is changed.
    pub relative: bool,
    /// The user's unit.
    pub unit: Unit,
    /// The text as written.
    pub written: Arc<str>,
}

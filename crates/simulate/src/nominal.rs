//! Nominal values for the time loop, and the data that are missing for them.

use crate::trial::CannotPlan;
use worked::Worked;

/// Takes nominal values and keeps the paths of what is missing.
#[derive(Default)]
pub(crate) struct Nominal {
    missing: Vec<String>,
}

impl Nominal {
    /// The nominal value of a figure; not a number where a datum is missing.
    pub(crate) fn value(&mut self, figure: &Worked) -> f64 {
        let value = figure.value();
        if value.is_nan() {
            let missing = figure.lacking().into_iter();
            self.missing.extend(missing.map(|source| format!("{} ({})", source.path, source.name)));
        }
        value
    }

    /// Refuses where something was missing.
    pub(crate) fn complete(mut self) -> Result<(), CannotPlan> {
        self.missing.sort();
        self.missing.dedup();
        match self.missing.is_empty() {
            true => Ok(()),
            false => Err(CannotPlan::Missing { what: self.missing.join(", ") }),
        }
    }
}

//! What is asked of the records of an axis.

use crate::parameter::Parameter;
use crate::record::Unusable;

/// What is asked.
#[derive(Clone, Copy, Debug, Default)]
pub struct Ask<'a> {
    /// Parameters to be found.
    pub wanted: &'a [Parameter],
    /// Parameters that are known, and held. One that is neither wanted nor known is zero, or found beside where no axis is
    /// without it.
    pub known: &'a [(Parameter, f64)],
    /// Where to start, such as the values of a datasheet; what is missing comes from the linear fit.
    pub start: &'a [(Parameter, f64)],
    /// What is expected of parameters that are wanted, with its standard uncertainty: it counts as one more row, so that a
    /// figure that the records do not tell is held by it, and one that they tell is not.
    pub expected: &'a [(Parameter, (f64, f64))],
    /// Between which values a datasheet says that a parameter lies.
    pub bands: &'a [(Parameter, (f64, f64))],
}

impl Ask<'_> {
    /// Whether every value is one that its parameter can have.
    ///
    /// # Errors
    /// The first that is none.
    pub(crate) fn check(&self) -> Result<(), Unusable> {
        if self.wanted.is_empty() {
            return Err(Unusable::Figure {
                what: "number of wanted parameters",
                value: 0.0,
                must: "one at least",
            });
        }
        for &(parameter, value) in self.known.iter().chain(self.start) {
            let what = parameter.name();
            if !value.is_finite() || (parameter.is_above_zero() && value <= 0.0) {
                return Err(Unusable::Figure { what, value, must: "above zero" });
            }
            if value < 0.0 && !parameter.is_signed() {
                return Err(Unusable::Figure { what, value, must: "zero or more" });
            }
        }
        for &(parameter, (value, uncertainty)) in self.expected {
            let what = parameter.name();
            if !value.is_finite() {
                return Err(Unusable::Figure { what, value, must: "a number" });
            }
            // Written so that one that is no number is refused.
            let is_one = uncertainty > 0.0 && uncertainty.is_finite();
            if !is_one {
                return Err(Unusable::Figure {
                    what,
                    value: uncertainty,
                    must: "expected with an uncertainty above zero",
                });
            }
        }
        for &(parameter, (low, high)) in self.bands {
            // Written so that an end that is not a number is refused.
            let is_band = low <= high;
            if !is_band {
                return Err(Unusable::Figure {
                    what: parameter.name(),
                    value: low,
                    must: "no more than the upper end of its band",
                });
            }
        }
        Ok(())
    }
}

//! Input that no computation can start from.

/// Why a computation could not start. How one *ended* is a status in its result.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum InputError {
    /// Two inputs that belong together have different lengths.
    #[error("{what}: {found} values, {expected} needed")]
    Length {
        /// Which input, in words.
        what: &'static str,
        /// How many values were needed.
        expected: usize,
        /// How many were given.
        found: usize,
    },
    /// There is nothing to fit, or nothing to fit it to.
    #[error("{what}: none given, at least one needed")]
    Empty {
        /// Which input, in words.
        what: &'static str,
    },
    /// An input value is infinite or not a number.
    #[error("{what} {index} (counted from 0) is {value}, a finite number needed")]
    NotFinite {
        /// Which input, in words.
        what: &'static str,
        /// Where in it.
        index: usize,
        /// What stood there.
        value: f64,
    },
    /// An input value that divides is zero or negative.
    #[error("{what} {index} (counted from 0) is {value}, a number above zero needed")]
    NotPositive {
        /// Which input, in words.
        what: &'static str,
        /// Where in it.
        index: usize,
        /// What stood there.
        value: f64,
    },
    /// The lower bound of a parameter is not below its upper bound.
    #[error("bounds of parameter {index} (counted from 0): {low} is not below {high}")]
    Bounds {
        /// Which parameter.
        index: usize,
        /// Its lower bound.
        low: f64,
        /// Its upper bound.
        high: f64,
    },
}

pub(crate) fn expect_length(what: &'static str, values: &[f64], expected: usize) -> Result<(), InputError> {
    if values.len() == expected {
        Ok(())
    } else {
        Err(InputError::Length { what, expected, found: values.len() })
    }
}

pub(crate) fn expect_finite(what: &'static str, values: &[f64]) -> Result<(), InputError> {
    match values.iter().position(|v| !v.is_finite()) {
        None => Ok(()),
        Some(index) => Err(InputError::NotFinite { what, index, value: values[index] }),
    }
}

pub(crate) fn expect_positive(what: &'static str, values: &[f64]) -> Result<(), InputError> {
    expect_finite(what, values)?;
    match values.iter().position(|v| *v <= 0.0) {
        None => Ok(()),
        Some(index) => Err(InputError::NotPositive { what, index, value: values[index] }),
    }
}

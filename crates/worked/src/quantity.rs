//! Quantities as written in a bench file: `24 V`, `24 V ± 5 %`, `8 .. 28 V`, `20 AWG`.

mod decimal;
mod gauge;
mod grammar;
mod limits;
mod parts;

pub use crate::unit::QuantityError;
pub(crate) use decimal::Decimal;
pub use parts::{Parts, PartsError};

use crate::{Dimension, Unit};
use std::fmt;
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

impl Quantity {
    /// Reads a quantity where one of dimension `wanted` is due.
    ///
    /// A unit whose dimension differs is accepted only where the trade writes the wanted quantity so
    /// (`kg·m²` for an inertia, `oz·in` for a torque, `mm` for a wheel's radius): see [`Unit::fit`].
    /// Where a pure number is due, a fraction (`26 20/21`) is exact and bounds itself.
    ///
    /// # Errors
    /// Names the wrong part by its bytes, what was found and what is wanted, and the ways out.
    ///
    /// # Examples
    /// ```
    /// use worked::{Dimension, Quantity};
    /// let supply = Quantity::parse("24 V ± 1 V", Dimension::VOLTAGE)?;
    /// assert_eq!((supply.nominal, supply.low, supply.high), (Some(24.0), Some(23.0), Some(25.0)));
    ///
    /// let error = Quantity::parse("0.5 mHz", Dimension::INDUCTANCE).unwrap_err();
    /// assert_eq!(error.message, "`mHz` measures frequency; wanted is inductance");
    /// assert_eq!(error.range, 4..7);
    /// # Ok::<(), worked::QuantityError>(())
    /// ```
    pub fn parse(text: &str, wanted: Dimension) -> Result<Quantity, QuantityError> {
        grammar::read(text, Some(wanted)).map(|read| read.quantity)
    }

    /// Reads a quantity of whatever its unit measures; a number without unit is a pure number.
    ///
    /// # Errors
    /// As for [`Quantity::parse`].
    pub fn parse_any(text: &str) -> Result<Quantity, QuantityError> {
        grammar::read(text, None).map(|read| read.quantity)
    }

    /// Reads the screw's lead: travel for one turn, `4 mm` or `4 mm/rev`.
    ///
    /// Beside [`Quantity::parse`], which takes a length in the place of a travel per angle for a radius.
    ///
    /// # Errors
    /// As for [`Quantity::parse`].
    pub fn parse_lead(text: &str) -> Result<Quantity, QuantityError> {
        match grammar::read(text, Some(Dimension::LENGTH)) {
            Ok(length) => Ok(length.quantity.per_revolution()),
            Err(_) => Self::parse(text, Dimension::TRAVEL_PER_ANGLE),
        }
    }

    /// Reads the long form: value, limits and standard uncertainty under keys of their own.
    ///
    /// # Errors
    /// Says under which key, and what is wrong there.
    pub fn from_parts(parts: &Parts<'_>, wanted: Dimension) -> Result<Quantity, PartsError> {
        parts::read(parts, wanted)
    }

    /// A pure number without a stated tolerance.
    pub fn number(value: f64) -> Quantity {
        Quantity {
            nominal: Some(value),
            low: None,
            high: None,
            standard_uncertainty: None,
            relative: false,
            unit: Unit::one(),
            written: value.to_string().into(),
        }
    }

    /// What is measured.
    pub fn dimension(&self) -> Dimension {
        self.unit.dimension()
    }

    /// One over this: a speed constant (rpm/V) as a back-EMF constant (V/krpm).
    ///
    /// `None` where zero lies within, for a temperature level, and where the dimension has no reciprocal.
    pub fn reciprocal(&self) -> Option<Quantity> {
        let ends = [self.nominal, self.low, self.high];
        let zero = ends.iter().flatten().any(|x| *x == 0.0)
            || ends.iter().flatten().any(|x| *x < 0.0) && ends.iter().flatten().any(|x| *x > 0.0);
        let dimension = Dimension::NONE.over(self.dimension())?;
        if zero {
            return None;
        }
        let per_krpm = Unit::parse("V/krpm").ok().filter(|unit| unit.dimension() == dimension);
        Some(Quantity {
            nominal: self.nominal.map(|x| 1.0 / x),
            low: self.high.map(|x| (1.0 / x).next_down()),
            high: self.low.map(|x| (1.0 / x).next_up()),
            // First order: u(1/x) = u(x)/x².
            standard_uncertainty: self.standard_uncertainty.and_then(|u| self.nominal.map(|x| u / (x * x))),
            relative: self.relative,
            unit: per_krpm.unwrap_or_else(|| Unit::si(dimension)),
            written: format!("1 / ({})", self.written).into(),
        })
    }

    /// A length as the travel for one turn.
    fn per_revolution(self) -> Quantity {
        let turn = 2.0 * std::f64::consts::PI;
        let unit = Unit::parse(&format!("{}/rev", self.unit.symbol()))
            .unwrap_or_else(|_| Unit::si(Dimension::TRAVEL_PER_ANGLE));
        let down = |x: f64| (x / turn).next_down().next_down();
        let up = |x: f64| (x / turn).next_up().next_up();
        Quantity {
            nominal: self.nominal.map(|x| x / turn),
            low: self.low.map(down),
            high: self.high.map(up),
            standard_uncertainty: self.standard_uncertainty.map(|u| u / turn),
            unit,
            ..self
        }
    }
}

impl fmt::Display for Quantity {
    /// As written.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.written)
    }
}

#[cfg(test)]
mod tests;

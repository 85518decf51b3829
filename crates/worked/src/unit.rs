//! Units as engineers write them: `mN·m`, `V/krpm`, `g*cm^2`, `K/W`.

mod error;
mod fit;
mod grammar;
mod spelling;
mod table;
pub(crate) mod usual;

pub use error::{QuantityError, UnitError};
pub(crate) use spelling::{explain, mismatch, with_accepted};

use crate::Dimension;
use grammar::Fault;
use std::fmt;
use std::sync::Arc;

/// Standard acceleration of free fall, m/s², exact: NIST SP 811 (2008), appendix B.
pub(crate) const G_N: f64 = 9.806_65;

/// What a reading in °C needs to become one in K, exact: SI brochure, 9th edition, 2.3.1.
const ZERO_CELSIUS: f64 = 273.15;

/// A unit: what its symbol is worth in SI.
#[derive(Clone, PartialEq, Debug)]
pub struct Unit {
    symbol: Arc<str>,
    dimension: Dimension,
    factor: f64,
    offset: f64,
    /// The power of ten that the factor is, where it is one: decimals then convert without rounding.
    ten: Option<i32>,
}

impl Unit {
    /// Reads a unit. Both mu characters and `u`, `Ω` and `ohm`, `·`, `*`, `.`, a space and `-` between
    /// symbols, `²` and `^2` are understood; case matters, as `mW` and `MW` show.
    ///
    /// A force times a length is a torque. `°C` alone is a temperature level, in a product a kelvin.
    ///
    /// # Errors
    /// Names the symbol that is not known, by its place, with the nearest that is.
    ///
    /// # Examples
    /// ```
    /// use worked::{Dimension, Unit};
    /// let unit = Unit::parse("mN*m/A")?;
    /// assert_eq!((unit.symbol(), unit.dimension()), ("mN·m/A", Dimension::MACHINE_CONSTANT));
    /// assert_eq!(unit.to_si(41.0), 0.041);
    /// # Ok::<(), worked::UnitError>(())
    /// ```
    pub fn parse(text: &str) -> Result<Unit, UnitError> {
        Self::read(text).map_err(|fault| explain(&fault, text, None))
    }

    pub(crate) fn read(text: &str) -> Result<Unit, Fault> {
        let terms = grammar::read(text)?;
        let Some(worth) = grammar::worth(&terms) else {
            return Err(Fault { range: 0..text.len(), kind: grammar::FaultKind::Exponent });
        };
        Ok(Unit {
            symbol: grammar::shown(&terms).into(),
            dimension: worth.dimension,
            factor: worth.factor,
            offset: worth.offset,
            ten: worth.ten,
        })
    }

    /// The coherent SI unit of a dimension, named where the trade has a name for it: `V`, `N·m`, `K/W`;
    /// a product of base units otherwise. A temperature level is printed in °C.
    pub fn si(dimension: Dimension) -> Unit {
        let offset = if dimension == Dimension::TEMPERATURE { ZERO_CELSIUS } else { 0.0 };
        let symbol = match usual::usual(dimension) {
            Some(row) => row.si.into(),
            None => base_product(dimension).into(),
        };
        let ten = (offset == 0.0).then_some(0);
        Unit { symbol, dimension, factor: 1.0, offset, ten }
    }

    /// The units in which a dimension is usually written, the coherent one first; empty where the trade has
    /// none. Others are accepted too.
    pub fn usual(dimension: Dimension) -> Vec<&'static str> {
        usual::accepted(dimension)
    }

    /// A pure number: no symbol, worth 1.
    pub fn one() -> Unit {
        Self::si(Dimension::NONE)
    }

    /// The symbol to print, such as `mN·m`; empty for a pure number.
    pub fn symbol(&self) -> &str {
        &self.symbol
    }

    /// What the unit measures.
    pub fn dimension(&self) -> Dimension {
        self.dimension
    }

    /// What one of these is worth in SI, for differences: a °C is worth 1 K.
    pub fn factor(&self) -> f64 {
        self.factor
    }

    /// The SI value of `value` of these.
    pub fn to_si(&self, value: f64) -> f64 {
        match self.ten {
            // Dividing by a whole number rounds once where multiplying by its inverse rounds twice.
            Some(ten) if ten < 0 => grammar::scaled(value, ten),
            _ => (value + self.offset) * self.factor,
        }
    }

    /// How many of these make the SI value.
    pub fn from_si(&self, si: f64) -> f64 {
        match self.ten {
            Some(ten) if ten < 0 => grammar::scaled(si, -ten),
            _ => si / self.factor - self.offset,
        }
    }

    /// Whether this is the level °C, and not the difference.
    pub(crate) fn is_celsius(&self) -> bool {
        self.dimension.is_level() && self.factor == 1.0 && self.offset == ZERO_CELSIUS
    }

    pub(crate) fn ten(&self) -> Option<i32> {
        self.ten
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.symbol)
    }
}

/// `m²·kg·s⁻³`, read back by the grammar unless a power is broken.
fn base_product(dimension: Dimension) -> String {
    let mut text = String::new();
    let mut power = false;
    for c in dimension.base_units().chars() {
        match c {
            '^' => power = true,
            '-' if power => text.push('⁻'),
            '(' => {
                // Broken powers have no superscripts; they stay as `^(1/2)`.
                text.push_str("^(");
                power = false;
            }
            c if power && c.is_ascii_digit() => {
                text.push(grammar::SUPERSCRIPTS[c.to_digit(10).map_or(0, |d| d as usize)]);
            }
            c => {
                power = false;
                text.push(c);
            }
        }
    }
    text
}

#[cfg(test)]
mod tests;

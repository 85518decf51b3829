//! The long form of a quantity: a table with value, limits and uncertainty.

use super::{Quantity, QuantityError};
use crate::Dimension;
use std::fmt::{self, Write as _};

/// The texts of the long form, `{ value = "2.0 A", min = "1.7 A", max = "2.4 A", u = "0.1 A" }`.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Parts<'a> {
    /// The nominal value; it may carry a tolerance of its own where no limits are given.
    pub value: Option<&'a str>,
    /// Another word for the value, beside `min` and `max` as datasheets have it.
    pub typ: Option<&'a str>,
    /// The lower limit. A side that is left out stays open.
    pub min: Option<&'a str>,
    /// The upper limit.
    pub max: Option<&'a str>,
    /// The standard uncertainty, absolute or in per cent of the value.
    pub u: Option<&'a str>,
}

/// A long form that cannot be read: what is wrong, and under which key.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct PartsError {
    /// `value`, `typ`, `min`, `max` or `u`.
    pub key: &'static str,
    /// What is wrong there; the range counts within the text of that key.
    pub error: QuantityError,
}

impl fmt::Display for PartsError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "`{}`: {}", self.key, self.error)
    }
}

impl std::error::Error for PartsError {}

pub(super) fn read(parts: &Parts<'_>, wanted: Dimension) -> Result<Quantity, PartsError> {
    let (key, written) = match (parts.value, parts.typ) {
        (Some(_), Some(typ)) => {
            return Err(whole(typ, "typ", "`typ` and `value` are two words for one thing"));
        }
        (None, Some(typ)) => ("typ", Some(typ)),
        (value, None) => ("value", value),
    };
    let single = |key: &'static str, text: Option<&str>| {
        let Some(text) = text else { return Ok(None) };
        let quantity = Quantity::parse(text, wanted).map_err(|error| PartsError { key, error })?;
        match quantity.low.is_some() && !is_exact(&quantity) {
            true => Err(whole(text, key, "a limit is one number, without a tolerance")),
            false => Ok(Some(quantity)),
        }
    };
    let value = match written {
        Some(text) => Some(Quantity::parse(text, wanted).map_err(|error| PartsError { key, error })?),
        None => None,
    };
    let (min, max) = (single("min", parts.min)?, single("max", parts.max)?);
    if let (Some(quantity), Some(text)) = (&value, written)
        && quantity.low.is_some()
        && !is_exact(quantity)
        && (min.is_some() || max.is_some())
    {
        return Err(
            whole(text, key, "limits stand here and under `min` or `max`").help("keep one of the two")
        );
    }
    let mut quantity = match (&value, &min, &max) {
        (Some(quantity), ..) | (None, Some(quantity), _) | (None, None, Some(quantity)) => quantity.clone(),
        (None, None, None) => {
            let text = parts.u.unwrap_or_default();
            return Err(whole(
                text,
                if parts.u.is_some() { "u" } else { "value" },
                "there is no value to it",
            ));
        }
    };
    let nominal = |quantity: &Option<Quantity>| quantity.as_ref().and_then(|q| q.nominal);
    if value.is_none() {
        quantity.nominal = None;
    }
    ordered(parts, key, written, [nominal(&min), quantity.nominal, nominal(&max)])?;
    if min.is_some() || max.is_some() {
        // Whether a decimal was rounded is known only to its reader; one step outward is always enough.
        quantity.low = min.as_ref().and_then(|q| q.low.or(q.nominal.map(f64::next_down)));
        quantity.high = max.as_ref().and_then(|q| q.high.or(q.nominal.map(f64::next_up)));
    }
    if let Some(text) = parts.u {
        quantity.standard_uncertainty = Some(uncertainty(text, &quantity)?);
    }
    if parts.min.is_some() || parts.max.is_some() || parts.u.is_some() {
        quantity.written = shown(parts, written).into();
    }
    Ok(quantity)
}

/// A fraction bounds itself by its rounding alone and counts as a number without tolerance.
fn is_exact(quantity: &Quantity) -> bool {
    !quantity.relative
        && quantity.nominal.is_some()
        && quantity.written.contains('/')
        && quantity.unit.symbol().is_empty()
}

fn whole(text: &str, key: &'static str, message: &str) -> PartsError {
    PartsError { key, error: QuantityError::new(0..text.len(), message) }
}

impl PartsError {
    fn help(self, line: &str) -> Self {
        Self { error: self.error.help(line), ..self }
    }
}

/// min ≤ value ≤ max.
fn ordered(
    parts: &Parts<'_>,
    key: &'static str,
    written: Option<&str>,
    [min, value, max]: [Option<f64>; 3],
) -> Result<(), PartsError> {
    let above = |a: Option<f64>, b: Option<f64>| a.zip(b).is_some_and(|(a, b)| a > b);
    let say = |text: Option<&str>, key, other: &str, than: Option<&str>, relation: &str| {
        let (text, than) = (text.unwrap_or_default(), than.unwrap_or_default());
        Err(whole(text, key, &format!("{text} lies {relation} `{other}`, {than}")))
    };
    if above(min, value) {
        return say(parts.min, "min", key, written, "above");
    }
    if above(value, max) {
        return say(parts.max, "max", key, written, "below");
    }
    if above(min, max) {
        return say(parts.min, "min", "max", parts.max, "above");
    }
    Ok(())
}

fn uncertainty(text: &str, quantity: &Quantity) -> Result<f64, PartsError> {
    let error = |error| PartsError { key: "u", error };
    let Some(value) = quantity.nominal else {
        return Err(whole(text, "u", "a standard uncertainty belongs to a value").help("add `value`"));
    };
    let percent = text.trim_end().ends_with('%');
    let unit = &quantity.unit;
    if percent && matches!(unit.symbol(), "%" | "ppm") {
        return Err(whole(text, "u", "per cent of per cent, or points?").help("write it as a number: 0.01"));
    }
    let relative = percent && !unit.dimension().is_level();
    let wanted = if relative { Dimension::NONE } else { unit.dimension().as_difference() };
    let read = Quantity::parse(text, wanted).map_err(error)?;
    let (Some(u), None) = (read.nominal, read.low) else {
        return Err(whole(text, "u", "a standard uncertainty is one number"));
    };
    let u = if relative { u * value.abs() } else { u };
    if u > 0.0 { Ok(u) } else { Err(whole(text, "u", "a standard uncertainty is above zero")) }
}

/// The long form in one line: `2.0 A (1.7 A .. 2.4 A, u = 0.1 A)`.
fn shown(parts: &Parts<'_>, value: Option<&str>) -> String {
    let limits = match (parts.min, parts.max) {
        (Some(min), Some(max)) => format!("{} .. {}", min.trim(), max.trim()),
        (Some(min), None) => format!("min {}", min.trim()),
        (None, Some(max)) => format!("max {}", max.trim()),
        (None, None) => String::new(),
    };
    let Some(value) = value else { return limits };
    let mut text = format!("{} (", value.trim());
    text.push_str(&limits);
    if let Some(u) = parts.u {
        let comma = if limits.is_empty() { "" } else { ", " };
        // Writing to a String cannot fail.
        let _ = write!(text, "{comma}u = {}", u.trim());
    }
    text.push(')');
    text
}

//! The long form of a quantity: a table with value, limits and uncertainty.

use super::grammar::{self, Read};
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
    let read = |key: &'static str, text: Option<&str>| {
        let read = |text| grammar::read(text, Some(wanted)).map_err(|error| PartsError { key, error });
        text.map(read).transpose()
    };
    let (value, min, max) = (read(key, written)?, read("min", parts.min)?, read("max", parts.max)?);
    for (limit, key, text) in [(&min, "min", parts.min), (&max, "max", parts.max)] {
        if limit.as_ref().is_some_and(|limit| limit.toleranced) {
            return Err(whole(text.unwrap_or_default(), key, "a limit is one number, without a tolerance"));
        }
    }
    let limited = min.is_some() || max.is_some();
    if limited && value.as_ref().is_some_and(|value| value.toleranced) {
        let text = written.unwrap_or_default();
        return Err(
            whole(text, key, "limits stand here and under `min` or `max`").help("keep one of the two")
        );
    }
    let nominal = |read: &Option<Read>| read.as_ref().and_then(|read| read.quantity.nominal);
    ordered(parts, key, written, [nominal(&min), nominal(&value), nominal(&max)])?;
    let (low, high) = (min.as_ref().map(|min| min.ends.0), max.as_ref().map(|max| max.ends.1));
    let nominal = nominal(&value);
    let Some(Read { quantity, .. }) = value.or(min).or(max) else {
        let (text, key) = parts.u.map_or(("", "value"), |u| (u, "u"));
        return Err(whole(text, key, "there is no value to it"));
    };
    let mut quantity = Quantity { nominal, ..quantity };
    if limited {
        (quantity.low, quantity.high) = (low, high);
    }
    if let Some(text) = parts.u {
        quantity.standard_uncertainty = Some(uncertainty(text, &quantity)?);
    }
    if limited || parts.u.is_some() {
        quantity.written = shown(parts, written).into();
    }
    Ok(quantity)
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

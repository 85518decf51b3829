//! Numbers for people: sensible digits, a fitting unit, limits rounded outward, and a real minus sign.

use crate::unit::usual;
use crate::{Dimension, Unit};

/// Digits behind the leading one that a tolerance band earns: its twentieth part is still shown.
const PARTS_OF_BAND: f64 = 20.0;
/// Digits of a value without a band.
const DEFAULT_DIGITS: i32 = 3;
/// A value shows at least and at most so many digits, whatever its band.
const FEWEST_DIGITS: i32 = 2;
const MOST_DIGITS: i32 = 7;
/// Part of a number by which a limit may be printed inward: a thousand times the rounding of long
/// arithmetic and a millionth of any tolerance, so that 22.8 less one rounding prints as 22.8.
const ROUNDING: f64 = 1e-12;
/// Smallest and largest number that prints without an exponent.
const PLAIN: std::ops::Range<f64> = 1e-6..1e9;

/// Value with unit and sensible digits: from the width of the band where there is one, three significant
/// digits (but never fewer than the whole part) otherwise. Takes and prints what is not finite as `—`.
pub fn sensible(si: f64, unit: &Unit, band: Option<(f64, f64)>) -> String {
    with_unit(&plain_in(si, unit, band), unit)
}

/// As [`sensible`], with a sign before a number above zero too: for margins and differences.
pub fn signed(si: f64, unit: &Unit, band: Option<(f64, f64)>) -> String {
    let text = sensible(si, unit, band);
    let above = unit.from_si(si) > 0.0 && si.is_finite();
    if above { format!("+{text}") } else { text }
}

/// As [`sensible`] without a band: the value with its unit.
pub fn plain(si: f64, unit: &Unit) -> String {
    sensible(si, unit, None)
}

/// `5.21 A .. 6.63 A`: a range rounded outward, with enough digits to tell its ends apart.
///
/// The printed numbers enclose the range up to the rounding of the arithmetic itself (1e-12).
pub fn range(low: f64, high: f64, unit: &Unit) -> String {
    let (a, b) = (unit.from_si(low), unit.from_si(high));
    if !a.is_finite() || !b.is_finite() {
        let end = |si: f64, x: f64| if x.is_finite() { plain(si, unit) } else { DASH.to_owned() };
        return format!("{} .. {}", end(low, a), end(high, b));
    }
    // The zero of a temperature scale lies far from that of the arithmetic, so the slack is counted in SI.
    let slack = ROUNDING * low.abs().max(high.abs()) / unit.factor();
    let size = a.abs().max(b.abs());
    let decimals = decimals_for(size, Some((b - a).abs()).filter(|width| *width > slack));
    let ends = [outward(a + slack, decimals, false), outward(b - slack, decimals, true)];
    let [low, high] = ends.map(|text| with_unit(&text, unit));
    format!("{low} .. {high}")
}

/// The unit to print a value in: the user's own while it gives a number between 0.01 and 9999, otherwise
/// one of the same family, or of the family that is usual, with a prefix that suits.
pub fn choose_unit(si: f64, dimension: Dimension, like: Option<&Unit>) -> Unit {
    let like = like.filter(|unit| unit.dimension() == dimension);
    let fits = |unit: &Unit| {
        let size = unit.from_si(si).abs();
        si == 0.0 || dimension.is_level() || (0.01..=9999.0).contains(&size)
    };
    if let Some(unit) = like.filter(|unit| fits(unit)) {
        return unit.clone();
    }
    let Some(row) = usual::usual(dimension) else {
        return like.cloned().unwrap_or_else(|| Unit::si(dimension));
    };
    let own = like.and_then(|unit| {
        row.families.iter().find(|family| family.iter().any(|(symbol, _)| *symbol == unit.symbol()))
    });
    let read = |symbol: &str| Unit::parse(symbol).ok().and_then(|unit| unit.fit(dimension));
    let Some(family) = own.or(row.families.first()) else { return Unit::si(dimension) };
    let suits = family.iter().rev().find_map(|(symbol, least)| {
        let unit = read(symbol)?;
        (unit.from_si(si).abs() >= *least).then_some(unit)
    });
    let at_zero = si == 0.0 || !si.is_finite();
    suits.filter(|_| !at_zero).unwrap_or_else(|| Unit::si(dimension))
}

/// What stands in the place of a number that there is not.
const DASH: &str = "—";

fn with_unit(number: &str, unit: &Unit) -> String {
    let symbol = unit.symbol();
    if symbol.is_empty() || number == DASH {
        return number.to_owned();
    }
    // SI brochure, 9th edition, 5.4.3: a space before every unit but the degree of an angle.
    let space = if symbol == "°" { "" } else { " " };
    [number, space, symbol].concat()
}

/// The number alone, without its unit.
fn plain_in(si: f64, unit: &Unit, band: Option<(f64, f64)>) -> String {
    let value = unit.from_si(si);
    if !value.is_finite() || !si.is_finite() {
        return DASH.to_owned();
    }
    let width = band
        .map(|(low, high)| (unit.from_si(high) - unit.from_si(low)).abs())
        .filter(|width| width.is_finite() && *width > value.abs() * ROUNDING);
    let text = digits(value, decimals_for(value, width));
    // Zeros behind the point tell how wide the band is; without a band they tell nothing.
    if width.is_none() { trimmed(text) } else { text }
}

/// Places behind the point for a number of this size, and a band of this width if there is one.
fn decimals_for(size: f64, band: Option<f64>) -> i32 {
    let leading = if size == 0.0 { 0 } else { exponent(size) };
    match band {
        None if size == 0.0 => 0,
        None => DEFAULT_DIGITS - 1 - leading,
        Some(width) if size == 0.0 => (-exponent(width / PARTS_OF_BAND)).max(0),
        Some(width) => {
            (-exponent(width / PARTS_OF_BAND)).clamp(FEWEST_DIGITS - 1 - leading, MOST_DIGITS - 1 - leading)
        }
    }
}

/// The power of ten of the leading digit.
fn exponent(x: f64) -> i32 {
    libm::floor(libm::log10(x.abs())).clamp(-400.0, 400.0) as i32
}

/// The number with so many places behind the point; very small and very large ones with an exponent.
fn digits(value: f64, decimals: i32) -> String {
    let size = value.abs();
    let text = if size != 0.0 && !PLAIN.contains(&size) {
        let places = usize::try_from(decimals + exponent(value)).unwrap_or(0);
        format!("{value:.places$e}")
    } else {
        format!("{value:.*}", usize::try_from(decimals).unwrap_or(0))
    };
    let zero = text.strip_prefix('-').filter(|rest| rest.bytes().all(|b| matches!(b, b'0' | b'.')));
    match zero {
        Some(zero) => zero.to_owned(),
        None => text.replace('-', "−"),
    }
}

/// Without the zeros at the end of its fraction.
fn trimmed(text: String) -> String {
    if !text.contains('.') || text.contains('e') {
        return text;
    }
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// The number rounded away from the middle of its range, to so many places.
fn outward(value: f64, decimals: i32, up: bool) -> String {
    let nearest = digits(value, decimals);
    let beyond = |text: &str| {
        let read: f64 = text.replace('−', "-").parse().unwrap_or(f64::NAN);
        if up { read >= value } else { read <= value }
    };
    if beyond(&nearest) {
        return nearest;
    }
    let places = if PLAIN.contains(&value.abs()) || value == 0.0 { decimals.max(0) } else { decimals };
    let step = libm::pow(10.0, f64::from(-places));
    let moved = digits(if up { value + step / 2.0 } else { value - step / 2.0 }, decimals);
    if beyond(&moved) { moved } else { digits(if up { value + step } else { value - step }, decimals) }
}

//! Wire gauges where an area is wanted: `20 AWG`, `AWG 20`, `4/0 AWG`, `24 .. 20 AWG`.

use super::grammar::{Read, toleranced};
use super::{Quantity, QuantityError, limits};
use crate::conductors::{THICKEST_GAUGE, THINNEST_GAUGE, awg_area};
use crate::{Dimension, Unit};

/// Reads a gauge; `None` where the text has none.
pub(super) fn read(text: &str, wanted: Option<Dimension>) -> Option<Result<Read, QuantityError>> {
    // Most texts end here, so look for the letter before the word.
    if !text.bytes().any(|b| b == b'W' || b == b'w') {
        return None;
    }
    let at = text.as_bytes().windows(3).position(|w| w.eq_ignore_ascii_case(b"awg"))?;
    let word = at..at + 3;
    let around = |c: Option<char>| c.is_some_and(char::is_alphabetic);
    if around(text[..at].chars().next_back()) || around(text[word.end..].chars().next()) {
        return None;
    }
    if !wanted.is_none_or(|wanted| wanted == Dimension::AREA) {
        let wanted = wanted.map(|wanted| wanted.to_string()).unwrap_or_default();
        let message = format!("a wire gauge gives the area of a wire; wanted is {wanted}");
        return Some(Err(QuantityError::new(word, message)));
    }
    if &text[word.clone()] != "AWG" {
        let message = format!("`{}` is written in capitals", &text[word.clone()]);
        return Some(Err(QuantityError::new(word, message).fix("AWG")));
    }
    let (before, after) = (&text[..at], &text[word.end..]);
    let (sizes, start) = match (before.trim().is_empty(), after.trim().is_empty()) {
        (false, true) => (before, 0),
        (true, false) => (after, word.end),
        _ => return Some(Err(malformed(text))),
    };
    let mut ends = sizes.split("..");
    let first = ends.next().map_or(Err(malformed(text)), |size| gauge(size, start, text));
    let quantity = match (first, ends.next(), ends.next()) {
        (Ok(gauge), None, _) => Ok((Some(awg_area(gauge)), None)),
        (Ok(a), Some(size), None) => {
            gauge(size, text.len() - size.len() - (text.len() - start - sizes.len()), text)
                .map(|b| (None, Some((limits::below(awg_area(a.max(b))), limits::above(awg_area(a.min(b)))))))
        }
        (Err(error), ..) => Err(error),
        _ => Err(malformed(text)),
    };
    Some(quantity.and_then(|(nominal, ends)| {
        let quantity = Quantity {
            nominal,
            low: ends.map(|(low, _)| low),
            high: ends.map(|(_, high)| high),
            standard_uncertainty: None,
            relative: false,
            // A gauge number runs against the size, so that the area is printed in mm².
            unit: Unit::parse("mm²")?,
            written: text.trim().into(),
        };
        Ok(match nominal {
            Some(area) => Read::single(quantity, (limits::below(area), limits::above(area))),
            None => toleranced(quantity),
        })
    }))
}

fn malformed(text: &str) -> QuantityError {
    QuantityError::new(0..text.len(), "this is no wire gauge")
        .help("a gauge is written 20 AWG, 4/0 AWG or 24 .. 20 AWG; an area in mm² takes a tolerance")
}

/// A gauge number: `20`, or `4/0` for -3.
fn gauge(written: &str, start: usize, text: &str) -> Result<i32, QuantityError> {
    let size = written.trim();
    let from = start + written.len() - written.trim_start().len();
    let gauge = match size.strip_suffix("/0") {
        Some(noughts) => noughts.parse::<u8>().ok().filter(|n| *n > 0).map(|n| 1 - i32::from(n)),
        None => size.parse::<u8>().ok().map(i32::from),
    };
    match gauge {
        Some(gauge) if (THICKEST_GAUGE..=THINNEST_GAUGE).contains(&gauge) => Ok(gauge),
        Some(_) => Err(QuantityError::new(from..from + size.len(), format!("there is no gauge {size}"))
            .help(format!("gauges run from 4/0, the thickest, to {THINNEST_GAUGE}"))),
        None if size.is_empty() => Err(malformed(text)),
        None => Err(QuantityError::new(from..from + size.len(), format!("`{size}` is no gauge number"))
            .help("a gauge is written 20 AWG, 4/0 AWG or 24 .. 20 AWG; an area in mm² takes a tolerance")),
    }
}

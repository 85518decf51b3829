//! From decimals in the user's unit to SI: nearest for the value, outward for its limits.

use super::decimal::Decimal;
use crate::Unit;

/// Roundings that a unit which is no power of ten, or has a zero of its own, brings at most, in steps of
/// an `f64`: two for each of up to four symbols.
const STEPS: f64 = 8.0;

/// The SI value, rounded to nearest.
pub(super) fn nearest(number: Decimal, unit: &Unit) -> f64 {
    exact(number, unit).map_or_else(|| unit.to_si(number.nearest()), Decimal::nearest)
}

/// The SI value, certainly not too high.
pub(super) fn down(number: Decimal, unit: &Unit) -> f64 {
    exact(number, unit).map_or_else(|| below(unit.to_si(number.nearest())), Decimal::down)
}

/// The SI value, certainly not too low.
pub(super) fn up(number: Decimal, unit: &Unit) -> f64 {
    exact(number, unit).map_or_else(|| above(unit.to_si(number.nearest())), Decimal::up)
}

/// The SI value as a decimal, where the unit is a power of ten or the degree Celsius.
fn exact(number: Decimal, unit: &Unit) -> Option<Decimal> {
    const ZERO_CELSIUS: Decimal = Decimal { mantissa: 27_315, exponent: -2 };
    if unit.is_celsius() {
        return number.plus(ZERO_CELSIUS);
    }
    unit.ten().map(|ten| number.shifted(ten))
}

/// Low and high of a value and what may be added to it, `from` ≤ 0 ≤ `to`, in units of their own.
pub(super) fn around(
    value: Decimal,
    unit: &Unit,
    from: (Decimal, &Unit),
    to: (Decimal, &Unit),
) -> (f64, f64) {
    let sum = |(change, own): (Decimal, &Unit)| {
        let same = own.factor() == unit.factor();
        let ten = own.ten().zip(unit.ten()).map(|(own, unit)| own - unit);
        value.plus(change.shifted(if same { 0 } else { ten? }))
    };
    let low = match sum(from) {
        Some(sum) => down(sum, unit),
        None => below(nearest(value, unit) + nearest(from.0, from.1)),
    };
    let high = match sum(to) {
        Some(sum) => up(sum, unit),
        None => above(nearest(value, unit) + nearest(to.0, to.1)),
    };
    (low, high)
}

/// Low and high of a value and fractions of it that may be added, `from` ≤ 0 ≤ `to`.
pub(super) fn share_around(value: Decimal, unit: &Unit, from: Decimal, to: Decimal) -> (f64, f64) {
    let part = |share: Decimal| Decimal::whole(1).plus(share).and_then(|share| value.times(share));
    match (part(from), part(to)) {
        (Some(a), Some(b)) => (down(a, unit).min(down(b, unit)), up(a, unit).max(up(b, unit))),
        _ => {
            let value = nearest(value, unit);
            let (a, b) = (value * (1.0 + from.nearest()), value * (1.0 + to.nearest()));
            (below(a.min(b)), above(a.max(b)))
        }
    }
}

pub(super) fn below(x: f64) -> f64 {
    (x - x.abs() * STEPS * f64::EPSILON).next_down()
}

pub(super) fn above(x: f64) -> f64 {
    (x + x.abs() * STEPS * f64::EPSILON).next_up()
}

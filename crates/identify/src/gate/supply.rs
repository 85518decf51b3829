//! The bus: too low for the board, or lower than its source explains.

use super::course::{Course, noise};
use super::known::{Known, usable};
use super::observed::Observed;
use super::picture::{about, axis, chart, curve, said, stretches};
use super::remark::{Remark, Sign, Spoils, Strength};
use crate::parameter::Parameter;
use finding::chart::Purpose;
use std::ops::Range;
use worked::Dimension;

/// Rows in a line from which on a sag is no single wild reading.
const LEAST_ROWS: usize = 3;
/// Deviations of the sensors that a sag lies beyond: three rows so far off never come by noise.
const DEVIATIONS: f64 = 4.0;
/// Sag, as a part of the supply, that is more than a usual source has, where none is stated (common practice, no source).
const UNSTATED: f64 = 0.1;

/// Rows in which the board does not work, by its own word or by the voltage of the bus.
pub(super) fn lockout(observed: &Observed<'_>, known: &Known<'_>) -> Option<Remark> {
    let below = |row: usize| match (observed.bus, known.lockout) {
        (Some(bus), Some(off)) => bus[row] < off,
        _ => false,
    };
    let flagged = |row: usize| observed.locked_out.is_some_and(|flags| flags[row]);
    let rows = stretches((0..observed.rows()).map(|row| below(row) || flagged(row)));
    let count: usize = rows.iter().map(Range::len).sum();
    let lowest = observed.bus.map_or(f64::NAN, |bus| {
        rows.iter().cloned().flatten().map(|row| bus[row]).fold(f64::INFINITY, f64::min)
    });
    let off = known.lockout.unwrap_or(f64::NAN);
    rows.first()?;
    let mut says = format!("in {count} rows the board does not work with this voltage of the bus");
    if lowest.is_finite() {
        says += &format!(": it falls to {}", said(lowest, Dimension::VOLTAGE));
    }
    if off.is_finite() {
        says += &format!(", and below {} the board opens its switches", said(off, Dimension::VOLTAGE));
    }
    let strength = Strength { measured: lowest, against: off, unit: "V" };
    let remedy = "take a supply that gives the current of the start, capacitors at the bridge, or steps of less voltage";
    Some(remark(Sign::Lockout, (rows, strength, says), Spoils::Rows, remedy, observed.bus))
}

/// Rows in which the bus is lower than open voltage, resistance and current make it; where it locks out, that says more.
pub(super) fn sag(course: &Course<'_>, known: &Known<'_>) -> Option<Remark> {
    let observed = &course.observed;
    if lockout(observed, known).is_some() {
        return None;
    }
    let bus = observed.bus?;
    let supply = usable(known.supply)?;
    let (voltage, current) = (known.sensors.voltage, known.sensors.current);
    let of_bus =
        voltage.noise.unwrap_or_else(|| noise(bus)) + voltage.offset + voltage.gain * supply.middle();
    let explained = |row: usize| match (known.source_resistance, course.current.as_deref(), observed.duty) {
        (Some(source), Some(i), Some(duty)) => {
            let uncertain = current.noise.unwrap_or(0.0) + current.offset + current.gain * i[row].abs();
            source.high * ((duty[row] * i[row]).max(0.0) + DEVIATIONS * uncertain)
        }
        _ => UNSTATED * supply.middle(),
    };
    let missing = |row: usize| supply.low - explained(row) - DEVIATIONS * of_bus - bus[row];
    let rows = stretches((0..bus.len()).map(|row| missing(row) > 0.0));
    let rows: Vec<Range<usize>> = rows.into_iter().filter(|rows| rows.len() >= LEAST_ROWS).collect();
    let worst = rows.iter().cloned().flatten().max_by(|a, b| missing(*a).total_cmp(&missing(*b)))?;
    let count: usize = rows.iter().map(Range::len).sum();
    let against = supply.low - explained(worst);
    let says = format!(
        "in {count} rows the bus is lower than its source explains: {} where {} are the least by open voltage and \
         resistance",
        said(bus[worst], Dimension::VOLTAGE),
        said(against, Dimension::VOLTAGE)
    );
    let strength = Strength { measured: bus[worst], against, unit: "V" };
    let remedy = "look for a supply at its limit, a long cable or a loose clamp; record the bus beside the duty, so that \
                  the estimate takes what was there";
    let spoils = Spoils::These(&[Parameter::SupplyResistance]);
    Some(remark(Sign::SupplySag, (rows, strength, says), spoils, remedy, observed.bus))
}

fn remark(
    sign: Sign,
    (rows, strength, says): (Vec<Range<usize>>, Strength, String),
    spoils: Spoils,
    remedy: &str,
    bus: Option<&[f64]>,
) -> Remark {
    let column = bus.unwrap_or_default();
    let points = about(rows.first(), column.len()).map(|row| [row as f64, column[row]]);
    let picture = chart(
        sign.name(),
        "Voltage of the bus",
        &says,
        (axis("row", ""), axis("voltage", "V")),
        vec![curve("bus", Purpose::Measured, points)],
    );
    Remark { sign, strength, rows, spoils, says, remedy: remedy.to_owned(), picture }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pulse::Band;
    use crate::record::Time;

    fn signs(low: f64, lockout: Option<f64>) -> Vec<Sign> {
        // 5 A at the whole duty from row 40 on.
        let after =
            |from: f64, to: f64| -> Vec<f64> { (0..100).map(|k| if k < 40 { from } else { to }).collect() };
        let (bus, duty, current) = (after(24.0, low), after(0.0, 1.0), after(0.0, 5.0));
        let observed = Observed {
            bus: Some(&bus),
            duty: Some(&duty),
            current: Some(&current),
            ..Observed::at(Time::Even(1e-3))
        };
        let known = Known {
            supply: Some(Band::around(24.0, 0.02)),
            source_resistance: Some(Band { low: 0.1, high: 0.3 }),
            lockout,
            ..Known::NOTHING
        };
        let course = Course::new(&observed, &known, observed.times(), &[true; 100]);
        let both = [super::lockout(&observed, &known), sag(&course, &known)];
        both.into_iter().flatten().map(|remark| remark.sign).collect()
    }

    /// 24 V less 2 %, less 0.3 Ω·5 A: 22.02 V are explained.
    #[test]
    fn a_sag_beyond_its_source_is_told() {
        assert_eq!(signs(22.1, None), []);
        assert_eq!(signs(21.9, None), [Sign::SupplySag]);
        assert_eq!(signs(22.1, Some(22.0)), []);
        assert_eq!(signs(22.1, Some(22.2)), [Sign::Lockout]);
    }
}

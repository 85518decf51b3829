//! Limits and protections that shaped the current.

use super::course::Course;
use super::known::{Known, Level, UNSTATED_DROP, usable};
use super::observed::Observed;
use super::picture::{about, axis, chart, curve, said, stretches};
use super::remark::{Remark, Sign, Spoils, Strength};
use finding::chart::Purpose;
use std::ops::Range;
use worked::Dimension;

/// Rows for which a current stays at a limit before it counts as held there: a peak that touches it is shorter.
const LEAST_ROWS: usize = 8;
/// Part of the voltage that nothing may take while a current is held.
const LEFT_OVER: f64 = 0.1;
/// Deviations of the sensor about a limit.
const DEVIATIONS: f64 = 4.0;

/// What the board says of itself.
pub(super) fn flagged(observed: &Observed<'_>) -> Vec<Remark> {
    let acted = (0..observed.rows()).map(|row| {
        let is = |flags: Option<&[bool]>| flags.is_some_and(|flags| flags[row]);
        is(observed.tripped) || is(observed.chopping)
    });
    let acted = stretches(acted);
    let count: usize = acted.iter().map(Range::len).sum();
    let says = format!("the board says in {count} rows that a limit acts or holds the switches open");
    let strength = Strength { measured: count as f64, against: 0.0, unit: "" };
    (count > 0).then(|| remark(acted, strength, says, observed.current)).into_iter().collect()
}

/// A current that stands at a limit while the voltage would drive more.
pub(super) fn held(course: &Course<'_>, known: &Known<'_>) -> Option<Remark> {
    let current = course.current.as_deref()?;
    known.limits.iter().find_map(|level| held_at(course, known, current, level))
}

fn held_at(course: &Course<'_>, known: &Known<'_>, current: &[f64], level: &Level) -> Option<Remark> {
    let band = usable(Some(level.current))?;
    let sensor = known.sensors.current;
    let room = DEVIATIONS * (course.noise + sensor.offset + sensor.gain * band.middle());
    let seen = |row: usize| match (level.of_supply, course.observed.duty) {
        (true, Some(duty)) => (duty[row] * current[row]).abs(),
        (true, None) => f64::NAN,
        (false, _) => current[row].abs(),
    };
    let at_limit = |row: usize| (band.low - room..=band.high + room).contains(&seen(row));
    let rows =
        stretches((0..course.rows()).map(|row| at_limit(row) && is_left_over(course, known, current, row)));
    let mean = |rows: &Range<usize>| rows.clone().map(seen).sum::<f64>() / rows.len() as f64;
    // Of a stretch noise is less than of a row.
    let is_held = |rows: &Range<usize>| {
        let fixed = room - DEVIATIONS * course.noise * (1.0 - 1.0 / (rows.len() as f64).sqrt());
        rows.len() >= LEAST_ROWS && (band.low - fixed..=band.high + fixed).contains(&mean(rows))
    };
    let rows: Vec<Range<usize>> = rows.into_iter().filter(is_held).collect();
    let count: usize = rows.iter().map(Range::len).sum();
    let first = rows.first()?.clone();
    let mean = mean(&first);
    let says = format!(
        "in {count} rows the current stays at {}, where a limit of {} acts, and more than {:.0} % of the voltage is \
         left over",
        said(mean, Dimension::CURRENT),
        said(band.middle(), Dimension::CURRENT),
        100.0 * LEFT_OVER
    );
    let strength = Strength { measured: mean, against: band.middle(), unit: "A" };
    Some(remark(rows, strength, says, Some(current)))
}

/// Whether neither resistance, inductance nor back-EMF take the voltage of a row, all at their most.
fn is_left_over(course: &Course<'_>, known: &Known<'_>, current: &[f64], row: usize) -> bool {
    let left_over = || {
        let voltage = *course.voltage.as_ref()?.get(row)?;
        let sense = voltage.signum();
        let (from, to) = (row.saturating_sub(2), (row + 2).min(course.rows() - 1));
        let slope = (current[to] - current[from]) / (course.times[to] - course.times[from]);
        let back = if course.locked {
            0.0
        } else {
            let (rate, time) = course.count_rate(row, 2)?;
            // A count that is about to come belongs to it.
            known.per_count()?.high * ((sense * rate).max(0.0) + 1.0 / time)
        };
        let resistive = usable(known.resistance)?.high * (sense * current[row]).max(0.0);
        let inductive = usable(known.inductance)?.high * (sense * slope).max(0.0);
        let drop = known.brush_drop.map_or(UNSTATED_DROP * voltage.abs(), |drop| drop.high);
        let left = voltage.abs() - resistive - inductive - back - drop;
        Some(left > LEFT_OVER * voltage.abs())
    };
    left_over().unwrap_or(false)
}

fn remark(rows: Vec<Range<usize>>, strength: Strength, says: String, current: Option<&[f64]>) -> Remark {
    let column = current.unwrap_or_default();
    let points = about(rows.first(), column.len()).map(|row| [row as f64, column[row]]);
    let picture = chart(
        "limit-active",
        "Current while a limit acts",
        &says,
        (axis("row", ""), axis("current", "A")),
        vec![curve("current", Purpose::Measured, points)],
    );
    Remark {
        sign: Sign::LimitActive,
        strength,
        rows,
        spoils: Spoils::Rows,
        says,
        remedy: "step the voltage by less, or from a lower speed, so that the current stays below the limit"
            .to_owned(),
        picture,
    }
}

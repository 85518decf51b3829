//! A winding that warms while the record runs.

use super::balance::{Balance, RESISTANCE, Window};
use super::course::Course;
use super::known::{Known, usable};
use super::picture::{axis, chart, curve, percent, said};
use super::remark::{Remark, Sign, Spoils, Strength};
use crate::parameter::Parameter;
use finding::chart::Purpose;
use worked::Dimension;

/// Change of the resistance that matters: it is wanted to 3 % (`docs/models/from-records.md`).
const MATTERS: f64 = 0.03;
/// Change that no winding makes; the balance changes for another reason.
const MOST: f64 = 1.0;

pub(super) fn judge(balance: &Balance, course: &Course<'_>, known: &Known<'_>) -> Option<Remark> {
    measured(balance, known).or_else(|| expected(balance, course, known))
}

/// Change of the resistance over the record, as its balance has it.
fn measured(balance: &Balance, known: &Known<'_>) -> Option<Remark> {
    let (from, to) = (balance.windows.first()?.time, balance.windows.last()?.time);
    let grown = |w: &Window| (w.time - 0.5 * (from + to)) / (to - from);
    let of_resistance = |w: &Window| (w.current * grown(w), grown(w));
    let part = balance.over_resistance(&of_resistance)?;
    // A constant that changes, or edges that are lost more and more, would bend the balance by the speed instead.
    let of_counts = |w: &Window| (w.rate * grown(w), 0.0);
    if balance.clearness(&of_counts) > balance.clearness(&of_resistance) {
        return None;
    }
    let resistance = balance.fit.values[RESISTANCE];
    (part.abs() > MATTERS && part.abs() < MOST).then(|| {
        let says = format!(
            "the resistance changes by {} of {} over the record, as {:.0} K of the winding make it",
            percent(part),
            said(resistance, Dimension::RESISTANCE),
            part / known.resistance_per_kelvin
        );
        remark(
            balance,
            says,
            Strength { measured: part * resistance, against: MATTERS * resistance, unit: "Ω" },
        )
    })
}

/// Warming by the heat that the current makes, nothing of it flowing off: at most so much.
fn expected(balance: &Balance, course: &Course<'_>, known: &Known<'_>) -> Option<Remark> {
    let heat = usable(known.winding_heat)?;
    let resistance = usable(known.resistance)?;
    let current = course.current.as_deref()?;
    let warmed = (1..course.rows())
        .filter(|&row| course.whole[row - 1] && current[row].is_finite())
        .map(|row| current[row] * current[row] * (course.times[row] - course.times[row - 1]))
        .sum::<f64>()
        * resistance.middle()
        / heat.middle();
    let part = known.resistance_per_kelvin * warmed;
    (part > MATTERS).then(|| {
        let says = format!(
            "the current makes heat that warms the winding by up to {:.0} K, which raises its resistance by {}, and the \
             record does not tell it",
            warmed,
            percent(part)
        );
        let strength = Strength { measured: part * resistance.middle(), against: MATTERS * resistance.middle(), unit: "Ω" };
        remark(balance, says, strength)
    })
}

fn remark(balance: &Balance, says: String, strength: Strength) -> Remark {
    let resistance = balance.fit.values[RESISTANCE];
    // Where current enough flows to tell it.
    let most = balance.fitted().map(|w| w.current.abs()).fold(0.0, f64::max);
    let clear = balance.fitted().filter(|w| w.current.abs() > 0.3 * most);
    let points = clear.map(|w| [w.time, resistance + balance.residual(w) / w.current]);
    let series = vec![curve("of each window", Purpose::Measured, points)];
    let axes = (axis("time", "s"), axis("resistance", "Ω"));
    let sign = Sign::Warming;
    Remark {
        sign,
        strength,
        rows: Vec::new(),
        spoils: Spoils::These(&[Parameter::Resistance, Parameter::Constant]),
        picture: chart(sign.name(), "Resistance in the course of the record", &says, axes, series),
        says,
        remedy: "drive less or more shortly, with pauses to cool, or state the temperature of the winding with each record"
            .to_owned(),
    }
}

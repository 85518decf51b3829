//! A current that is taken at the same wrong instant of every PWM period.
//!
//! ```text
//! i_read = i + δ·4·|D|·(1 − |D|)·sgn D        |δ| ≤ V·T/(8·L)        with an off-time that shorts the winding
//! i_read = i + δ·(1 − D²)                     |δ| ≤ V·T/(4·L)        with one that reverses it
//! ```
//!
//! Resistance, drops and back-EMF bend with the duty in no such way, so that three duties tell δ apart from them.

use super::balance::{Balance, RESISTANCE, Window};
use super::course::{Course, rms};
use super::known::{Known, usable};
use super::picture::{axis, chart, curve, percent, said};
use super::remark::{Remark, Sign, Spoils, Strength};
use crate::parameter::Parameter;
use drive::bridge::OffState;
use finding::chart::Purpose;
use worked::Dimension;

/// Part of the largest ripple that a bias must reach, and must not pass: what is more has another cause.
const LEAST: f64 = 0.1;
const MOST: f64 = 1.5;
/// Part of the current's effective value: a resistance is wanted to 3 %.
const OF_CURRENT: f64 = 0.02;
/// Duties apart that count as different ones, and windows at each.
const APART: f64 = 0.1;
const HELD: f64 = 0.02;
const LEAST_WINDOWS: usize = 3;
const LEAST_DUTIES: usize = 3;

pub(super) fn judge(balance: &Balance, course: &Course<'_>, known: &Known<'_>) -> Option<Remark> {
    let duty = course.observed.duty?;
    let (period, inductance) = (usable(known.pwm_period)?, usable(known.inductance)?);
    let reverses = known.off_state == Some(OffState::Reverse);
    // Through diodes the mean voltage is none that the duty tells, and bends in the same way.
    let through_diodes = matches!(known.off_state, Some(OffState::Coast | OffState::Diode));
    if through_diodes && course.observed.motor_voltage.is_none() {
        return None;
    }
    let over = |w: &Window, of: &dyn Fn(f64) -> f64| {
        let rows = course.rows_that_act(w.rows.clone());
        duty[rows.clone()].iter().map(|d| of(*d)).sum::<f64>() / rows.len() as f64
    };
    let mean = |w: &Window| over(w, &|d| d);
    let is_held = |w: &&Window| over(w, &|d| d * d) - mean(w) * mean(w) < HELD * HELD;
    if different_duties(balance.fitted().filter(is_held).map(|w| mean(w).abs())) < LEAST_DUTIES {
        return None;
    }
    let of_duty = |d: f64| if reverses { 1.0 - d * d } else { 4.0 * d.abs() * (1.0 - d.abs()) * d.signum() };
    let shape = |w: &Window| over(w, &of_duty);
    let bias = -balance.over_resistance(&|w| (shape(w), 0.0))?;
    let resistance = balance.fit.values[RESISTANCE];
    let bus = supply_voltage(balance, &mean)?;
    let ripple = bus * period.high / ((if reverses { 4.0 } else { 8.0 }) * inductance.low);
    let effective = rms(balance.fitted().map(|w| w.current));
    let is_bias =
        bias.abs() >= LEAST * ripple && bias.abs() <= MOST * ripple && bias.abs() >= OF_CURRENT * effective;
    is_bias.then(|| {
        let says = format!(
            "the current reads {} off at the duty of most ripple, {} of the {} that the ripple reaches: it is taken at a \
             wrong instant of each PWM period",
            said(bias, Dimension::CURRENT),
            percent(bias.abs() / ripple),
            said(ripple, Dimension::CURRENT)
        );
        let points = |off: &dyn Fn(&Window) -> f64| {
            let mut points: Vec<[f64; 2]> = balance.fitted().map(|w| [mean(w), off(w)]).collect();
            points.sort_by(|a, b| a[0].total_cmp(&b[0]));
            points
        };
        let read = points(&|w| -(balance.residual(w) / resistance));
        let fitted = points(&|w| bias * shape(w));
        let series = vec![
            curve("as the ripple has it", Purpose::Nominal, fitted.into_iter()),
            curve("left over by the balance", Purpose::Measured, read.into_iter()),
        ];
        let sign = Sign::PwmBias;
        let axes = (axis("duty", ""), axis("current", "A"));
        Remark {
            sign,
            strength: Strength { measured: bias, against: ripple, unit: "A" },
            rows: Vec::new(),
            spoils: Spoils::These(&[
                Parameter::Resistance,
                Parameter::BrushDrop,
                Parameter::CurrentOffset,
                Parameter::CoulombFriction,
                Parameter::ViscousFriction,
            ]),
            picture: chart(sign.name(), "Current off its mean, by duty", &says, axes, series),
            says,
            remedy: "let the converter start in the middle of the on-time or of the off-time; a bridge whose voltage bends \
                     with the duty by itself shows the same"
                .to_owned(),
        }
    })
}

/// How many duties are apart from one another and held for some windows each.
fn different_duties(duties: impl Iterator<Item = f64>) -> usize {
    let mut held = [0usize; (1.0 / APART) as usize + 1];
    let inside = duties.filter(|d| (0.05..=1.0).contains(d));
    inside.for_each(|d| held[(d / APART) as usize] += 1);
    held.iter().filter(|windows| **windows >= LEAST_WINDOWS).count()
}

/// Voltage behind the duty, by the windows themselves.
fn supply_voltage(balance: &Balance, duty: &dyn Fn(&Window) -> f64) -> Option<f64> {
    let square: f64 = balance.fitted().map(|w| duty(w) * duty(w)).sum();
    let product: f64 = balance.fitted().map(|w| duty(w) * w.voltage).sum();
    (square > 0.0).then_some(product / square)
}

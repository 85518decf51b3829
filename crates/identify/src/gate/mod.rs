//! The gate before an estimate: signs that a record cannot be taken as it stands.
//!
//! [`judge`] looks at the columns of one record beside what sheets say, and names each sign with its numbers, the rows where it
//! shows, what it spoils, what to change, and a chart. [`usable_rows`] marks the rows that the estimators may use.
//! [`excitation`] says of all records of an axis which parameters they tell at all.
//!
//! A sign that cannot be told from what was recorded is not raised: a column that is missing takes its detectors with it.
//! Thresholds, their reasons, and what each detector cannot tell: `docs/models/from-records.md`.

mod aliasing;
mod balance;
mod bias;
mod clipping;
mod counter;
mod course;
mod excitation;

mod known;
mod limits;
mod lost;
mod observed;
pub(crate) mod picture;
mod remark;
mod senses;
mod steps;
mod supply;
mod warming;

pub use excitation::{Refused, excitation};
pub use known::{Known, Level};
pub use observed::{Codes, Observed};
pub use remark::{Remark, Sign, Spoils, Strength};

use crate::record::Unusable;
use balance::Balance;
use course::Course;

/// Chance that one detector raises a sign for nothing, where what it sees is noise as assumed.
const CHANCE: f64 = 1e-4;

/// All signs that a record shows, in the order of [`Sign`].
///
/// A sign that explains others keeps them from being raised: where the current is inverted or the counter runs backward, the
/// rest is judged as if that were set right.
///
/// # Errors
/// Columns of different lengths, or fewer than sixteen rows.
pub fn judge(observed: &Observed<'_>, known: &Known<'_>) -> Result<Vec<Remark>, Unusable> {
    observed.check()?;
    let times = observed.times();
    let mut remarks = steps::judge(observed, known, &times);
    remarks.extend(clipping::judge(observed, known));
    remarks.extend(limits::flagged(observed));
    remarks.extend(supply::lockout(observed, known));
    let mut course = Course::new(observed, known, times, &usable_rows(observed, &remarks));
    let plateau = limits::held(&course, known);
    course.leave_out(&plateau);
    remarks.extend(plateau);
    // A counter that stands makes a current look as if it were too small.
    let stands = counter::stands(&course, known);
    course.leave_out(&stands);
    // One channel alone goes to and fro.
    remarks.extend(if stands.is_none() { counter::dithers(&course) } else { None });
    remarks.extend(stands);
    let answer = senses::current(&mut course, known);
    let answers = answer.as_ref().is_none_or(|remark| remark.sign == Sign::CurrentInverted);
    remarks.extend(answer);
    if answers {
        remarks.extend(supply::sag(&course, known));
        remarks.extend(of_balance(&mut course, known));
    }
    remarks.extend(senses::counter_alone(&course));
    remarks.extend(aliasing::judge(&course, known));
    remarks.sort_by_key(|remark| remark.sign);
    Ok(remarks)
}

/// What the balance of voltages tells.
fn of_balance(course: &mut Course<'_>, known: &Known<'_>) -> Vec<Remark> {
    let mut remarks = Vec::new();
    let Some(mut balance) = Balance::of(course, known) else {
        return remarks;
    };
    if let Some(remark) = senses::counter(&balance) {
        remarks.push(remark);
        course.flip_counts();
        balance = match Balance::of(course, known) {
            Some(balance) => balance,
            None => return remarks,
        };
    }
    remarks.extend(senses::counts_per_turn(&balance, known));
    let lost = lost::judge(&balance);
    let whole = lost.is_none();
    remarks.extend(lost);
    // What lost edges leave in the balance looks like anything.
    if whole {
        remarks.extend(bias::judge(&balance, course, known));
        remarks.extend(warming::judge(&balance, course, known));
    }
    remarks
}

/// Which rows the estimators may use: neither those that a limit, a converter at its end or a lockout shaped, nor those
/// behind a gap, nor those where the counter stood still. It is what [`crate::Record::usable`] takes.
pub fn usable_rows(observed: &Observed<'_>, remarks: &[Remark]) -> Vec<bool> {
    let mut usable = vec![true; observed.rows()];
    let cuts = remarks.iter().filter(|remark| remark.sign.cuts());
    for row in cuts.flat_map(|remark| remark.rows.iter().cloned()).flatten() {
        if let Some(mark) = usable.get_mut(row) {
            *mark = false;
        }
    }
    for (mark, open) in usable.iter_mut().zip(observed.open.unwrap_or_default()) {
        // The duty tells no voltage while all switches are open.
        *mark &= !open || observed.motor_voltage.is_some();
    }
    usable
}

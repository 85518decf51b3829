//! How a value comes to its last one: the time to 63 % of it, and from when on it stays close.

use crate::record::{Row, Sink};
use std::convert::Infallible;

/// Distance from the last value, as a part of it, within which a value counts as settled.
const CLOSE: f64 = 0.02;
/// Part of the time in which a value must have settled; what is still outside later has not.
const IN_TIME: f64 = 0.9;

/// Follows speed or current over a stage of a trial that begins at rest.
pub(crate) struct Rise {
    value: fn(&Row) -> f64,
    /// When the stage begins and ends.
    start: f64,
    end: f64,
    last: f64,
    /// Time and share of the row before.
    before: (f64, f64),
    passed: Option<f64>,
    /// Last time outside of what counts as settled.
    outside: f64,
}

impl Rise {
    /// Of the speed, to its value at the end of the stage.
    pub(crate) fn of_speed(start: f64, end: f64, last: f64) -> Self {
        Self { value: |row| row.speed, start, end, last, before: (0.0, 0.0), passed: None, outside: 0.0 }
    }

    /// Of the current.
    pub(crate) fn of_current(start: f64, end: f64, last: f64) -> Self {
        Self { value: |row| row.current, ..Self::of_speed(start, end, last) }
    }

    /// Time from its beginning until 1 − 1/e of the last value, straight between rows.
    pub(crate) fn time(&self) -> Option<f64> {
        self.passed
    }

    /// Time from which on it stays close.
    pub(crate) fn settled(&self) -> Option<f64> {
        (self.passed.is_some() && self.outside < IN_TIME * (self.end - self.start)).then_some(self.outside)
    }
}

impl Sink for Rise {
    type Failure = Infallible;

    fn take(&mut self, row: &Row) -> Result<(), Infallible> {
        // A value that ends at zero has no shares of it.
        if row.time < self.start || row.time > self.end || self.last == 0.0 {
            return Ok(());
        }
        let now = row.time - self.start;
        let share = (self.value)(row) / self.last;
        let due = 1.0 - 1.0 / std::f64::consts::E;
        if self.passed.is_none() && share >= due {
            let (time, was) = self.before;
            let part = if share > was { (due - was) / (share - was) } else { 1.0 };
            self.passed = Some(time + part * (now - time));
        }
        if (share - 1.0).abs() > CLOSE {
            self.outside = now;
        }
        self.before = (now, share);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn followed(course: impl Fn(f64) -> f64) -> Rise {
        let mut rise = Rise::of_speed(0.0, 10.0, course(10.0));
        for k in 0..=2000 {
            let time = f64::from(k) * 0.005;
            let Ok(()) = rise.take(&Row { time, speed: course(time), ..Row::default() });
        }
        rise
    }

    #[test]
    fn an_exponential_rises_in_its_time_constant_and_settles_in_four() {
        let rise = followed(|time| 7.0 * (1.0 - libm::exp(-time)));
        assert!((rise.time().expect("it rises") - 1.0).abs() < 1e-3);
        // e^(−3.912) is 2 %.
        assert!((rise.settled().expect("it settles") - 3.912).abs() < 0.01);
    }

    #[test]
    fn what_begins_later_is_counted_from_its_beginning() {
        let mut rise = Rise::of_speed(3.0, 13.0, 1.0);
        for k in 0..=2600 {
            let time = f64::from(k) * 0.005;
            let speed = if time < 3.0 { 0.0 } else { 1.0 - libm::exp(3.0 - time) };
            let Ok(()) = rise.take(&Row { time, speed, ..Row::default() });
        }
        assert!((rise.time().expect("it rises") - 1.0).abs() < 1e-3);
        assert!((rise.settled().expect("it settles") - 3.912).abs() < 0.01);
    }

    #[test]
    fn a_ramp_has_not_settled_and_rest_has_not_risen() {
        let ramp = followed(|time| time);
        assert!((ramp.time().expect("it rises") - 6.321).abs() < 1e-3);
        assert_eq!(ramp.settled(), None);
        assert_eq!(followed(|_| 0.0).time(), None);
    }
}

//! The time of the rows: numbered, counted on over midnight, and looked at for falls and repeats.

use super::account::{Course, Places};
use super::error::Unreadable;
use super::form::{Clock, Form};
use super::pieces::Here;

/// Looks after the time while rows come.
pub(super) struct Timekeeper {
    pub(super) course: Course,
    started: bool,
    falls_allowed: bool,
    /// Rows in a second, where the rows themselves are counted.
    rate: Option<f64>,
    /// Whether midnight may pass: days so far, s, and the latest time of day.
    midnight: Option<f64>,
    unit: Option<f64>,
}

impl Timekeeper {
    pub(super) fn new(form: &Form, falls_allowed: bool) -> Self {
        let course = Course {
            first: 0.0,
            last: 0.0,
            repeats: Places::default(),
            falls: Places::default(),
            shortest: f64::INFINITY,
            longest: (0.0, form.first_row),
        };
        let (mut rate, mut midnight, mut unit) = (None, None, None);
        match &form.clock {
            Some(Clock::Rows { rate: rows }) => rate = Some(*rows),
            Some(Clock::Stamps { has_date: false, .. }) => midnight = Some(0.0),
            Some(Clock::Times { unit: of, .. }) => unit = Some(of.factor()),
            _ => {}
        }
        Self { course, started: false, falls_allowed, rate, midnight, unit }
    }

    /// Makes the times of a block right and looks at them.
    pub(super) fn keep(&mut self, time: &mut [f64], first: u64, here: &Here<'_>) -> Result<(), Unreadable> {
        const DAY: f64 = 86_400.0;
        if let Some(rate) = self.rate {
            for (k, time) in time.iter_mut().enumerate() {
                *time = (first + k as u64) as f64 / rate;
            }
        }
        if self.midnight.is_none() && self.started && self.rises(time, here) {
            return Ok(());
        }
        for (k, time) in time.iter_mut().enumerate() {
            if let Some(days) = &mut self.midnight {
                if self.started && *time + *days < self.course.last - 0.5 * DAY {
                    *days += DAY;
                }
                *time += *days;
            }
            if !self.started {
                if !time.is_finite() {
                    return Err(Unreadable::TimeMissing { line: here.line_of(k) });
                }
                self.course.first = *time;
                self.course.last = *time;
                self.started = true;
                continue;
            }
            let step = *time - self.course.last;
            if step > 0.0 && step < f64::INFINITY {
                if step < self.course.shortest {
                    self.course.shortest = step;
                }
                if step > self.course.longest.0 {
                    self.course.longest = (step, here.line_of(k));
                }
            } else if step == 0.0 {
                self.course.repeats.add(|| here.line_of(k));
            } else if step < 0.0 && time.is_finite() {
                if !self.falls_allowed {
                    return Err(self.falls(*time, here.line_of(k)));
                }
                self.course.falls.add(|| here.line_of(k));
            } else {
                return Err(Unreadable::TimeMissing { line: here.line_of(k) });
            }
            self.course.last = *time;
        }
        Ok(())
    }

    /// Whether time rises all the way through a block: the usual case, looked at without a branch for each row.
    fn rises(&mut self, time: &[f64], here: &Here<'_>) -> bool {
        let (Some(first), Some(last)) = (time.first(), time.last()) else { return true };
        let (mut shortest, mut longest) = (f64::INFINITY, 0.0);
        let mut all = true;
        for (before, after) in time.iter().zip(&time[1..]) {
            let step = after - before;
            all &= step > 0.0;
            shortest = if step < shortest { step } else { shortest };
            longest = if step > longest { step } else { longest };
        }
        let step = first - self.course.last;
        if !(all && step > 0.0 && longest.max(step) < f64::INFINITY) {
            return false;
        }
        self.course.shortest = self.course.shortest.min(shortest).min(step);
        if longest.max(step) > self.course.longest.0 {
            let inside = time.windows(2).position(|pair| pair[1] - pair[0] == longest).map_or(0, |k| k + 1);
            let place = if step >= longest { 0 } else { inside };
            self.course.longest = (longest.max(step), here.line_of(place));
        }
        self.course.last = *last;
        true
    }

    fn falls(&self, to: f64, line: u64) -> Unreadable {
        let from = self.course.last;
        // A counter of so many bits, in the unit of the column, that began anew.
        let wrap = self.unit.and_then(|unit| {
            [16, 24, 32].into_iter().find(|bits| {
                let range = libm::ldexp(unit, *bits);
                from < range && from > 0.9 * range && to < 0.1 * range
            })
        });
        let hint = wrap.map_or_else(String::new, |bits| {
            format!(
                "; it seems that a counter of {bits} bits began anew: add its range to the rows from there on"
            )
        });
        Unreadable::TimeFalls { line, from, to, hint }
    }
}

//! A record as the estimators take it: voltage interval by interval, runs without a cut, the sense of motion.

use crate::record::{Acts, Angle, Axis, Drive, Record, Shaft, Time};
use std::borrow::Cow;
use std::ops::Range;

/// One record, made ready. Interval k reaches from row k to row k + 1.
#[derive(Clone, Debug)]
pub(crate) struct Prepared<'a> {
    pub(crate) record: Record<'a>,
    /// Voltage in each interval, V; times the duty where the voltage of the supply is known alone.
    pub(crate) voltage: Cow<'a, [f64]>,
    /// Duty in each interval where the bus was not recorded.
    pub(crate) duty: Option<Cow<'a, [f64]>>,
    /// Rows that follow one another without a cut; both ends are rows of the run.
    pub(crate) runs: Vec<Range<usize>>,
    /// Factors of resistance and constant at the temperatures of the record.
    pub(crate) resistance_factor: f64,
    pub(crate) constant_factor: f64,
}

/// Runs shorter than this tell nothing.
const LEAST_RUN: usize = 8;

impl<'a> Prepared<'a> {
    pub(crate) fn all(axis: &Axis<'a>) -> Vec<Self> {
        axis.records.iter().map(|record| Self::of(*record, axis)).collect()
    }

    fn of(record: Record<'a>, axis: &Axis<'a>) -> Self {
        let warmth = axis.warmth;
        let factor = |coefficient: f64, level: Option<f64>| {
            1.0 + coefficient * (level.unwrap_or(warmth.reference) - warmth.reference)
        };
        let (voltage, duty) = match record.drive {
            Drive::Voltage(values) => (by_interval(Cow::Borrowed(values), record.acts), None),
            Drive::Duty(duty, bus) => {
                let product = duty.iter().zip(bus).map(|(d, v)| d * v).collect();
                (by_interval(Cow::Owned(product), record.acts), None)
            }
            Drive::Supply(duty, open) => {
                let duty = by_interval(Cow::Borrowed(duty), record.acts);
                (Cow::Owned(duty.iter().map(|d| d * open).collect()), Some(duty))
            }
        };
        let runs = runs(&record, &voltage);
        Self {
            resistance_factor: factor(warmth.resistance, record.trial.winding),
            constant_factor: factor(warmth.constant, record.trial.magnets),
            record,
            voltage,
            duty,
            runs,
        }
    }

    pub(crate) fn is_locked(&self) -> bool {
        self.record.trial.shaft == Shaft::Locked
    }

    /// Length of an interval, s.
    pub(crate) fn step(&self, interval: usize) -> f64 {
        match self.record.time {
            Time::Even(step) => step,
            Time::Stamps(stamps) => stamps[interval + 1] - stamps[interval],
        }
    }

    /// Typical length of an interval, s.
    pub(crate) fn usual_step(&self) -> f64 {
        match self.record.time {
            Time::Even(step) => step,
            Time::Stamps(stamps) => (stamps[stamps.len() - 1] - stamps[0]) / (stamps.len() - 1) as f64,
        }
    }

    /// The angles, where the shaft is free to turn.
    pub(crate) fn angle(&self) -> Option<Angle<'a>> {
        self.record.angle.filter(|_| !self.is_locked())
    }

    /// Current and speed as they were read about a row, over a window of so many rows; the zero of the current sensor is taken off.
    pub(crate) fn state_about(&self, row: usize, rows: usize, current_offset: f64) -> (f64, f64) {
        let current = self.record.current.map_or(0.0, |current| current[row] - current_offset);
        let last = self.record.rows() - 1;
        let (from, to) = (row.saturating_sub(rows / 2), (row + rows.div_ceil(2)).min(last));
        let time: f64 = (from..to).map(|k| self.step(k)).sum();
        let speed = self.angle().map_or(0.0, |angle| (angle.values[to] - angle.values[from]) / time);
        let number = |x: f64| if x.is_finite() { x } else { 0.0 };
        (number(current), number(speed))
    }
}

fn by_interval(values: Cow<'_, [f64]>, acts: Acts) -> Cow<'_, [f64]> {
    match acts {
        Acts::UntilNext => values,
        Acts::SinceLast => Cow::Owned(values[1..].to_vec()),
        Acts::AtInstant => Cow::Owned(values.windows(2).map(|pair| 0.5 * (pair[0] + pair[1])).collect()),
    }
}

fn runs(record: &Record<'_>, voltage: &[f64]) -> Vec<Range<usize>> {
    let rows = record.rows();
    let usable = |row: usize| record.usable.is_none_or(|usable| usable[row]);
    let leads_on = |row: usize| row + 1 < rows && voltage[row].is_finite();
    let mut runs = Vec::new();
    let mut first = 0;
    for row in 0..rows {
        // A row without use, or one that no known voltage leads on from, ends its run.
        if usable(row) && leads_on(row) {
            continue;
        }
        let last = if usable(row) { row } else { row.saturating_sub(1) };
        if last >= first + LEAST_RUN {
            runs.push(first..last);
        }
        first = row + 1;
    }
    runs
}

/// Sense of motion in each interval: 1, −1, or 0 where the shaft rests or nobody can tell.
///
/// A sense is told from motion by `way`: more than a count, so that a count that jitters is none.
pub(crate) fn senses(angles: &[f64], way: f64, longest: usize) -> Vec<i8> {
    let mut senses = vec![0; angles.len().saturating_sub(1)];
    let mut mark = 0;
    let mut before = 0;
    for k in 1..angles.len() {
        // A value that is not there begins anew.
        if !angles[mark].is_finite() {
            (mark, before) = (k, 0);
            continue;
        }
        let moved = angles[k] - angles[mark];
        if !moved.is_finite() {
            (mark, before) = (k, 0);
            continue;
        }
        if moved.abs() <= way {
            continue;
        }
        let sense = if moved > 0.0 { 1 } else { -1 };
        if k - mark > longest {
            before = 0;
        } else if before == -sense {
            // It turned on the way, where it went farthest.
            let turn = (mark..k)
                .max_by(|&a, &b| (f64::from(before) * (angles[a] - angles[b])).total_cmp(&0.0))
                .unwrap_or(mark);
            senses[mark..turn].fill(before);
            senses[turn..k].fill(sense);
            before = sense;
        } else {
            senses[mark..k].fill(sense);
            before = sense;
        }
        mark = k;
    }
    senses
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{Sensors, Trial, Warmth};

    fn record<'a>(voltage: &'a [f64], usable: Option<&'a [bool]>, acts: Acts) -> Record<'a> {
        Record {
            time: Time::Even(0.1),
            drive: Drive::Voltage(voltage),
            acts,
            current: None,
            angle: None,
            usable,
            trial: Trial { winding: Some(303.15), ..Trial::FREE },
        }
    }

    fn prepared(record: Record<'_>) -> Prepared<'_> {
        let (sensors, warmth) = (Sensors::default(), Warmth::COPPER_AND_FERRITE);
        Prepared::of(record, &Axis { records: &[], sensors, warmth })
    }

    #[test]
    fn a_voltage_acts_in_its_interval() {
        let volts: Vec<f64> = (0..20).map(f64::from).collect();
        assert_eq!(prepared(record(&volts, None, Acts::UntilNext)).voltage[3], 3.0);
        assert_eq!(prepared(record(&volts, None, Acts::SinceLast)).voltage[3], 4.0);
        assert_eq!(prepared(record(&volts, None, Acts::AtInstant)).voltage[3], 3.5);
        // Ten kelvin above the reference.
        assert!((prepared(record(&volts, None, Acts::UntilNext)).resistance_factor - 1.0393).abs() < 1e-12);
    }

    #[test]
    fn a_record_is_cut_where_rows_are_no_use() {
        let mut volts = vec![1.0; 60];
        let mut usable = vec![true; 60];
        let whole = prepared(record(&volts, None, Acts::UntilNext)).runs;
        assert_eq!((whole.len(), whole[0].clone()), (1, 0..59));
        usable[20] = false;
        assert_eq!(prepared(record(&volts, Some(&usable), Acts::UntilNext)).runs, [0..19, 21..59]);
        volts[40] = f64::NAN;
        // Row 40 is still reached; nothing is known of what follows.
        assert_eq!(prepared(record(&volts, Some(&usable), Acts::UntilNext)).runs, [0..19, 21..40, 41..59]);
        usable[25] = false;
        assert_eq!(prepared(record(&volts, Some(&usable), Acts::UntilNext)).runs, [0..19, 26..40, 41..59]);
    }

    #[test]
    fn the_sense_turns_where_the_shaft_does() {
        // Up to 10, one count of jitter, back to 4, and rest.
        let angles =
            [0., 1., 2., 3., 4., 5., 6., 7., 8., 9., 10., 9., 10., 9., 8., 7., 6., 5., 4., 4., 4., 4.];
        let senses = senses(&angles, 1.5, 10);
        assert!(senses[..10].iter().all(|s| *s == 1), "{senses:?}");
        assert!(senses[13..18].iter().all(|s| *s == -1), "{senses:?}");
        assert_eq!(senses[18..], [0, 0, 0]);
    }

    #[test]
    fn what_takes_too_long_is_rest() {
        let mut angles = vec![0.0; 50];
        angles.extend((1..30).map(f64::from));
        let senses = senses(&angles, 1.5, 20);
        assert!(senses[..50].iter().all(|s| *s == 0));
        assert!(senses[52..70].iter().all(|s| *s == 1));
    }
}

//! The columns of one record in the form that the balance takes: voltage interval by interval, and where it is whole.

use super::known::{Known, usable};
use super::observed::Observed;
use super::remark::Remark;
use super::steps;
use crate::record::{Acts, Shaft};
use std::borrow::Cow;
use std::ops::Range;

/// One record. Interval k reaches from row k to row k + 1.
#[derive(Clone, Debug)]
pub(super) struct Course<'a> {
    pub(super) observed: Observed<'a>,
    pub(super) times: Vec<f64>,
    /// Usual time from row to row, s; 0 where time does not go on.
    pub(super) step: f64,
    /// Voltage of the motor in each interval, V.
    pub(super) voltage: Option<Vec<f64>>,
    pub(super) current: Option<Cow<'a, [f64]>>,
    /// Deviation of its noise, A.
    pub(super) noise: f64,
    /// Standard uncertainty of its zero, A.
    pub(super) offset: f64,
    /// Without those of a shaft that is held.
    pub(super) counts: Option<Cow<'a, [f64]>>,
    pub(super) locked: bool,
    /// Whether both ends of an interval are usable, and time goes on in it as usual.
    pub(super) whole: Vec<bool>,
}

impl<'a> Course<'a> {
    pub(super) fn new(
        observed: &Observed<'a>,
        known: &Known<'_>,
        times: Vec<f64>,
        usable_rows: &[bool],
    ) -> Self {
        let intervals: Vec<f64> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let step = steps::usual_step(&intervals).unwrap_or(0.0);
        let longest = steps::longest(&intervals, step);
        let whole = intervals
            .iter()
            .zip(usable_rows.windows(2))
            .map(|(interval, ends)| *interval > 0.0 && *interval <= longest && ends[0] && ends[1]);
        let locked = known.shaft == Shaft::Locked;
        Self {
            observed: *observed,
            whole: whole.collect(),
            step,
            voltage: rows_of_voltage(observed, known).map(|rows| by_interval(&rows, observed.acts)),
            current: observed.current.map(Cow::Borrowed),
            noise: known.sensors.current.noise.or_else(|| observed.current.map(noise)).unwrap_or(0.0),
            offset: known.sensors.current.offset,
            counts: observed.counts.filter(|_| !locked).map(Cow::Borrowed),
            locked,
            times,
        }
    }

    pub(super) fn rows(&self) -> usize {
        self.times.len()
    }

    /// Rows whose voltage acts between the first and the last of these.
    pub(super) fn rows_that_act(&self, rows: Range<usize>) -> Range<usize> {
        match self.observed.acts {
            Acts::SinceLast => rows.start + 1..rows.end + 1,
            Acts::UntilNext | Acts::AtInstant => rows,
        }
    }

    /// Leaves the rows of a remark out.
    pub(super) fn leave_out(&mut self, remark: &Option<Remark>) {
        for row in remark.iter().flat_map(|remark| remark.rows.iter().cloned()).flatten() {
            for interval in [row.checked_sub(1), Some(row)].into_iter().flatten() {
                if let Some(whole) = self.whole.get_mut(interval) {
                    *whole = false;
                }
            }
        }
    }

    /// From now on the current counts the other way.
    pub(super) fn flip_current(&mut self) {
        self.current = self.current.take().map(|column| Cow::Owned(column.iter().map(|i| -i).collect()));
    }

    /// From now on the counter counts the other way.
    pub(super) fn flip_counts(&mut self) {
        self.counts = self.counts.take().map(|column| Cow::Owned(column.iter().map(|c| -c).collect()));
    }

    /// Counts per second about a row, over so many intervals on either side, and the time that is.
    pub(super) fn count_rate(&self, row: usize, half: usize) -> Option<(f64, f64)> {
        let counts = self.counts.as_deref()?;
        let (from, to) = (row.saturating_sub(half), row.saturating_add(half).min(self.rows() - 1));
        let time = self.times[to] - self.times[from];
        let rate = (counts[to] - counts[from]) / time;
        (rate.is_finite() && time > 0.0).then_some((rate, time))
    }
}

/// Voltage at the motor, row by row.
fn rows_of_voltage(observed: &Observed<'_>, known: &Known<'_>) -> Option<Vec<f64>> {
    if let Some(voltage) = observed.motor_voltage {
        return Some(voltage.to_vec());
    }
    let duty = observed.duty?;
    let is_open = |row: usize| observed.open.is_some_and(|open| open[row]);
    let there = |row: usize, voltage: f64| if is_open(row) { f64::NAN } else { duty[row] * voltage };
    if let Some(bus) = observed.bus {
        return Some((0..duty.len()).map(|row| there(row, bus[row])).collect());
    }
    let supply = usable(known.supply)?.middle();
    // The bus was not recorded: what its source takes follows from the current.
    let source = known.source_resistance.map_or(0.0, |band| band.middle());
    let drawn = |row: usize| observed.current.map_or(0.0, |current| duty[row] * current[row]);
    Some((0..duty.len()).map(|row| there(row, supply - source * drawn(row))).collect())
}

fn by_interval(rows: &[f64], acts: Acts) -> Vec<f64> {
    let of = |pair: &[f64]| match acts {
        Acts::UntilNext => pair[0],
        Acts::SinceLast => pair[1],
        Acts::AtInstant => 0.5 * (pair[0] + pair[1]),
    };
    rows.windows(2).map(of).collect()
}

/// Deviation of the noise of a column, by how far a row lies off the middle of its neighbours: an upper estimate where the
/// course bends. The median, so that edges do not count.
pub(super) fn noise(column: &[f64]) -> f64 {
    let bends = column.windows(3).map(|w| (w[0] - 2.0 * w[1] + w[2]).abs());
    let median = steps::median(bends.filter(|bend| bend.is_finite()).collect());
    // The median of a normal amount is 0.6745 deviations; a bend has the variance of six rows.
    median.unwrap_or(0.0) / (0.6745 * 6.0_f64.sqrt())
}

/// Effective value; 0 of nothing.
pub(super) fn rms(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, count) = values.fold((0.0, 0usize), |(sum, count), v| (sum + v * v, count + 1));
    (sum / count.max(1) as f64).sqrt()
}

/// Evenly spaced values less the parabola that fits them best, by the orthogonal polynomials of such places (Gram).
pub(super) fn less_parabola(values: &[f64]) -> Vec<f64> {
    let n = values.len() as f64;
    let x = |k: usize| (k as f64 - 0.5 * (n - 1.0)) / n;
    let square = (n * n - 1.0) / (12.0 * n * n);
    let bases: [&dyn Fn(usize) -> f64; 3] = [&|_| 1.0, &x, &|k| x(k) * x(k) - square];
    let mut left = values.to_vec();
    for basis in bases {
        let sums = left
            .iter()
            .enumerate()
            .fold((0.0, 0.0), |(product, own), (k, v)| (product + basis(k) * v, own + basis(k) * basis(k)));
        left.iter_mut().enumerate().for_each(|(k, v)| *v -= sums.0 / sums.1 * basis(k));
    }
    left
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_parabola_leaves_nothing_and_a_cubic_leaves_itself() {
        let of = |f: &dyn Fn(f64) -> f64| (0..9).map(|k| f(f64::from(k) - 4.0)).collect::<Vec<_>>();
        assert!(less_parabola(&of(&|x| 3.0 - 2.0 * x + 0.5 * x * x)).iter().all(|v| v.abs() < 1e-12));
        // x³ over −4..4 has Σx⁴/Σx² = 708/60 = 11.8 of x in it.
        let left = less_parabola(&of(&|x| x * x * x));
        let want = of(&|x| x * x * x - 11.8 * x);
        assert!(left.iter().zip(&want).all(|(l, w)| (l - w).abs() < 1e-12), "{left:?}");
    }

    /// The noise of a straight course is seen, and an edge is not.
    #[test]
    fn noise_is_what_bends_by_chance() {
        let draw = worked::Stream::new(4, "noise");
        let column: Vec<f64> = (0..5000u64)
            .map(|k| 0.01 * k as f64 + if k < 2500 { 0.0 } else { 30.0 } + 0.2 * draw.normal(k))
            .collect();
        let found = noise(&column);
        assert!((found / 0.2 - 1.0).abs() < 0.05, "{found}");
    }
}

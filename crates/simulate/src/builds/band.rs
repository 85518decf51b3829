//! Lowest and highest of every trace over many runs, at times that all share: memory does not grow with the runs.

use crate::record::{Row, Sink};
use std::convert::Infallible;

/// Traces of a row besides its time; of what a controller reads and of flags there is no band.
const TRACES: usize = 9;

/// What traces stay between, time by time.
#[derive(Clone, PartialEq, Debug)]
pub struct Band {
    /// Time from one row to the next, s.
    step: f64,
    low: Vec<[f64; TRACES]>,
    high: Vec<[f64; TRACES]>,
}

/// Takes the rows of one run into a band. Between two rows a trace is taken as straight.
pub struct Follower<'a> {
    band: &'a mut Band,
    before: Row,
    /// Row of the band that comes next.
    next: usize,
}

impl Band {
    /// An empty band over a time, in so many equal steps; none are no band at all.
    pub fn over(time: f64, steps: usize) -> Self {
        let rows = if steps == 0 { 0 } else { steps + 1 };
        Self {
            step: time / steps.max(1) as f64,
            low: vec![[f64::INFINITY; TRACES]; rows],
            high: vec![[f64::NEG_INFINITY; TRACES]; rows],
        }
    }

    /// Lowest and highest at each time, in rising order. A row holds the least, or the most, of each trace by itself.
    pub fn rows(&self) -> impl Iterator<Item = (Row, Row)> {
        let time = |k: usize| k as f64 * self.step;
        self.low
            .iter()
            .zip(&self.high)
            .enumerate()
            .map(move |(k, (low, high))| (row(time(k), low), row(time(k), high)))
    }

    /// Begins a run.
    pub fn follow(&mut self) -> Follower<'_> {
        Follower { band: self, before: Row::default(), next: 0 }
    }

    /// Takes in what another band has met at the same times. The order does not matter.
    pub(super) fn join(&mut self, other: &Self) {
        for (low, other) in self.low.iter_mut().zip(&other.low) {
            low.iter_mut().zip(other).for_each(|(low, other)| *low = low.min(*other));
        }
        for (high, other) in self.high.iter_mut().zip(&other.high) {
            high.iter_mut().zip(other).for_each(|(high, other)| *high = high.max(*other));
        }
    }

    fn meet(&mut self, at: usize, traces: [f64; TRACES]) {
        for (k, value) in traces.into_iter().enumerate() {
            // One zero only: which of two comes first must not show.
            let value = value + 0.0;
            self.low[at][k] = self.low[at][k].min(value);
            self.high[at][k] = self.high[at][k].max(value);
        }
    }
}

impl Follower<'_> {
    /// Ends the run. Builds of another PWM frequency end up to a period apart: what is left holds the last row.
    pub fn end(mut self) {
        let last = traces(&self.before);
        while self.next < self.band.low.len() {
            self.band.meet(self.next, last);
            self.next += 1;
        }
    }
}

impl Sink for Follower<'_> {
    type Failure = Infallible;

    fn take(&mut self, row: &Row) -> Result<(), Infallible> {
        let (from, to) = (traces(&self.before), traces(row));
        while self.next < self.band.low.len() {
            let time = self.next as f64 * self.band.step;
            if time > row.time {
                break;
            }
            let span = row.time - self.before.time;
            let part = if span > 0.0 { (time - self.before.time) / span } else { 1.0 };
            self.band.meet(self.next, std::array::from_fn(|k| from[k] + part * (to[k] - from[k])));
            self.next += 1;
        }
        self.before = *row;
        Ok(())
    }
}

fn traces(row: &Row) -> [f64; TRACES] {
    [
        row.duty,
        row.supply_voltage,
        row.supply_current,
        row.motor_voltage,
        row.current,
        row.speed,
        row.angle,
        row.load_speed,
        row.load_angle,
    ]
}

fn row(time: f64, traces: &[f64; TRACES]) -> Row {
    let [duty, supply_voltage, supply_current, motor_voltage, current, speed, angle, load_speed, load_angle] =
        *traces;
    Row {
        time,
        duty,
        supply_voltage,
        supply_current,
        motor_voltage,
        current,
        speed,
        angle,
        load_speed,
        load_angle,
        ..Row::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(band: &mut Band, every: f64, slope: f64) {
        let mut follower = band.follow();
        for k in 0..=(1.0 / every).round() as u32 {
            let time = f64::from(k) * every;
            let Ok(()) = follower.take(&Row { time, speed: slope * time, ..Row::default() });
        }
        follower.end();
    }

    #[test]
    fn straight_traces_span_their_slopes_whatever_their_rows() {
        let mut band = Band::over(1.0, 8);
        for (every, slope) in [(0.25, 3.0), (0.1, -1.0), (1.0 / 3.0, 2.0)] {
            run(&mut band, every, slope);
        }
        let rows: Vec<(Row, Row)> = band.rows().collect();
        assert_eq!(rows.len(), 9);
        for (low, high) in rows {
            assert!((low.speed + low.time).abs() < 1e-12 && (high.speed - 3.0 * low.time).abs() < 1e-12);
            assert_eq!((low.time, low.current, high.current), (high.time, 0.0, 0.0));
        }
    }

    #[test]
    fn joined_bands_are_the_band_of_all_runs() {
        let mut parts = [Band::over(1.0, 4), Band::over(1.0, 4)];
        let mut whole = Band::over(1.0, 4);
        for (k, slope) in [1.0, -2.0, 0.5, 4.0].into_iter().enumerate() {
            run(&mut parts[k % 2], 0.2, slope);
            run(&mut whole, 0.2, slope);
        }
        let [mut first, second] = parts;
        first.join(&second);
        assert_eq!(first, whole);
    }
}

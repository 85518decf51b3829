//! Lowest and highest of every trace over many runs, at times that all share or around them: memory does not grow with the
//! runs.

use crate::record::{Row, Sink};
use std::convert::Infallible;

/// Traces of a row besides its time; of what a controller reads and of flags there is no band.
const TRACES: usize = 9;

/// Values of all traces at one time.
pub(crate) type Traces = [f64; TRACES];

/// What traces stay between, time by time.
#[derive(Clone, PartialEq, Debug)]
pub struct Band {
    /// Time from one row to the next, s.
    step: f64,
    /// A row counts what traces come to up to the rows on either side; else at its own time alone.
    around: bool,
    low: Vec<Traces>,
    high: Vec<Traces>,
}

/// Takes the rows of one run into a band. Between two rows a trace is taken as straight.
pub struct Follower<'a> {
    band: &'a mut Band,
    before: (f64, Traces),
    /// Row of the band that comes next.
    next: usize,
}

impl Band {
    /// An empty band over a time, in so many equal steps; none are no band at all.
    pub fn over(time: f64, steps: usize) -> Self {
        let rows = if steps == 0 { 0 } else { steps + 1 };
        Self {
            step: time / steps.max(1) as f64,
            around: false,
            low: vec![[f64::INFINITY; TRACES]; rows],
            high: vec![[f64::NEG_INFINITY; TRACES]; rows],
        }
    }

    /// The same for traces that jump or swing between two of its times: nothing that a run comes to between them lies outside
    /// of straight lines from row to row.
    pub(crate) fn around(time: f64, steps: usize) -> Self {
        Self { around: true, ..Self::over(time, steps) }
    }

    /// Lowest and highest at each time, in rising order. A row holds the least, or the most, of each trace by itself.
    pub fn rows(&self) -> impl Iterator<Item = (Row, Row)> {
        self.edges().map(|(time, low, high)| (row(time, low), row(time, high)))
    }

    /// Times with the lowest and the highest of each trace.
    pub(crate) fn edges(&self) -> impl Iterator<Item = (f64, &Traces, &Traces)> {
        let edges = self.low.iter().zip(&self.high).enumerate();
        edges.map(|(k, (low, high))| (k as f64 * self.step, low, high))
    }

    /// Begins a run.
    pub fn follow(&mut self) -> Follower<'_> {
        Follower { band: self, before: (0.0, [0.0; TRACES]), next: 0 }
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

    /// At the time of a row.
    fn meet(&mut self, at: usize, traces: Traces) {
        let beside = usize::from(self.around);
        let (first, last) = (at.saturating_sub(beside), (at + beside).min(self.low.len() - 1));
        self.meet_from(first, last, traces);
    }

    fn meet_from(&mut self, first: usize, last: usize, traces: Traces) {
        for (low, high) in self.low[first..=last].iter_mut().zip(&mut self.high[first..=last]) {
            for (k, value) in traces.into_iter().enumerate() {
                // One zero only: which of two comes first must not show.
                let value = value + 0.0;
                low[k] = low[k].min(value);
                high[k] = high[k].max(value);
            }
        }
    }
}

impl Follower<'_> {
    /// Ends the run. Builds of another PWM frequency end up to a period apart: what is left holds the last row.
    pub fn end(mut self) {
        while self.next < self.band.low.len() {
            self.band.meet(self.next, self.before.1);
            self.next += 1;
        }
    }

    /// Goes on to a time, s, straight from the one before.
    pub(crate) fn go(&mut self, time: f64, traces: Traces) {
        let (since, from) = self.before;
        while self.next < self.band.low.len() {
            let at = self.next as f64 * self.band.step;
            if at > time {
                break;
            }
            let span = time - since;
            let part = if span > 0.0 { (at - since) / span } else { 1.0 };
            self.band.meet(self.next, std::array::from_fn(|k| from[k] + part * (traces[k] - from[k])));
            self.next += 1;
        }
        if self.band.around && (1..self.band.low.len()).contains(&self.next) {
            self.band.meet_from(self.next - 1, self.next, traces);
        }
        self.before = (time, traces);
    }
}

impl Sink for Follower<'_> {
    type Failure = Infallible;

    fn take(&mut self, row: &Row) -> Result<(), Infallible> {
        self.go(row.time, traces(row));
        Ok(())
    }
}

fn traces(row: &Row) -> Traces {
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

fn row(time: f64, traces: &Traces) -> Row {
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
    use proptest::prelude::*;

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

    /// Value of straight lines through equal steps.
    fn straight(values: &[f64], step: f64, time: f64) -> f64 {
        let place = (libm::floor(time / step) as usize).min(values.len() - 2);
        values[place] + (time / step - place as f64) * (values[place + 1] - values[place])
    }

    proptest! {
        /// Whatever a course does, and in rows of whatever lengths: it stays inside, and at each row the band is no wider than
        /// what it comes to up to the rows on either side.
        #[test]
        fn a_band_around_a_course_holds_all_of_it_and_no_more(
            jumps in prop::collection::vec((1e-3..0.3f64, any::<bool>(), -1.0..1.0f64), 1..60),
            steps in 1..9usize,
        ) {
            let mut course = vec![(0.0, 0.5)];
            for (span, at_once, value) in jumps {
                let (time, _) = course[course.len() - 1];
                course.push((if at_once { time } else { time + span }, value));
            }
            let length = course[course.len() - 1].0 + 0.01;
            let step = length / steps as f64;
            let mut band = Band::around(length, steps);
            let mut follower = band.follow();
            let mut traces = [0.0; TRACES];
            for (time, value) in &course {
                traces[3] = *value;
                follower.go(*time, traces);
            }
            follower.end();
            let of = |edge: &[Traces]| -> Vec<f64> { edge.iter().map(|traces| traces[3]).collect() };
            let (low, high) = (of(&band.low), of(&band.high));
            for (time, value) in &course {
                prop_assert!(*value >= straight(&low, step, *time) - 1e-12, "{value} at {time} s below {low:?}");
                prop_assert!(*value <= straight(&high, step, *time) + 1e-12, "{value} at {time} s above {high:?}");
            }
            // Finely cut, it comes to nothing else.
            let mut fine: Vec<(f64, f64)> = course.clone();
            for pair in course.windows(2) {
                let ((from, a), (to, b)) = (pair[0], pair[1]);
                let cuts = (0..=steps).map(|k| k as f64 * step).filter(|at| (from..=to).contains(at) && to > from);
                fine.extend(cuts.map(|at| (at, a + (at - from) / (to - from) * (b - a))));
            }
            fine.push((length, traces[3]));
            fine.extend((0..=steps).map(|k| k as f64 * step).filter(|at| *at > length - 0.01).map(|at| (at, traces[3])));
            for (k, (low, high)) in low.iter().zip(&high).enumerate() {
                let (from, to) = ((k as f64 - 1.0) * step - 1e-9, (k as f64 + 1.0) * step + 1e-9);
                let near = fine.iter().filter(|(time, _)| (from..=to).contains(time)).map(|(_, value)| *value);
                let (least, most) = near.fold((f64::MAX, f64::MIN), |(a, b), value| (a.min(value), b.max(value)));
                prop_assert!((least - low).abs() < 1e-9 && (most - high).abs() < 1e-9, "row {k}: {low} .. {high} for {least} .. {most}");
            }
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

//! What the lines of an encoder tell: edges, counts, what was lost, rates, speeds, errors of the marks.

use logs::quadrature::{Flaws, Gauge, Line, Pace, Pass, Passing, Speed, Tracker};

/// What the lines of an encoder tell.
#[derive(Clone, PartialEq, Debug)]
pub(super) struct Seen {
    /// Edges of A and of B.
    pub(super) edges: [u64; 2],
    /// Counts by all edges, by the edges of A, by one a line.
    pub(super) counts: [i64; 3],
    /// Both lines changed at once: how often, and the first times, s.
    pub(super) illegal: u64,
    /// A line was not known (`x` or `z`): how often.
    pub(super) unknown: u64,
    /// The first times at which the way was lost, s.
    pub(super) lost_at: Vec<f64>,
    /// The sense changed.
    pub(super) turns: u64,
    /// Pairs of edges of A and of B, there and back, that follow closer than edges of the encoder can.
    pub(super) spikes: [u64; 2],
    /// Edges of A and of B, the most in a line without one of the other.
    pub(super) alone: [u64; 2],
    /// Edges in a second, the most over four edges one way, 1/s; 0 where there never were five.
    pub(super) rate: f64,
    /// Shortest time between two edges, s.
    pub(super) gap: f64,
    /// Mean speeds over stretches from mark to mark, rad/s of the motor shaft.
    pub(super) speeds: Vec<Speed>,
    /// Errors of the marks, seen forward and backward.
    pub(super) flaws: [Option<Flaws>; 2],
    /// Index marks, and the fewest and the most counts between two in one sense.
    pub(super) index: u64,
    pub(super) between: Option<(u64, u64)>,
}

/// Follows the lines of an encoder; memory does not grow with their edges.
pub(super) struct Watcher {
    tracker: Tracker,
    gauge: Gauge,
    pace: Pace,
    gate: f64,
    /// The mark that a stretch began with.
    start: Option<Pass>,
    levels: [Option<bool>; 2],
    /// When they changed last.
    now: u64,
    /// A step of the times that are given to the gauge, in steps of the dump.
    grain: u64,
    step: f64,
    /// The latest edges, the newest last.
    latest: Vec<Pass>,
    closest: f64,
    seen: Seen,
    index: Option<(bool, Option<i64>)>,
    /// Edges since the other line changed.
    run: u64,
    /// Sense of the edge before, kept over what was lost.
    sense: i8,
}

/// First times that are told.
const TOLD: usize = 5;
/// Edges over which a rate is taken, whole lines so that errors of the marks are not in it.
const OVER: usize = 4;
/// Gates after which a stretch ends at a mark of another kind too.
const PATIENCE: f64 = 3.0;

impl Watcher {
    /// `step` is a step of the dump, s; all edges come at multiples of `grain` steps. Speeds are means over `gate`, s,
    /// and on to the next mark of the same kind: errors of phase and duty are not in them.
    /// Edges there and back that are closer than `closest`, s, are none of the encoder.
    pub(super) fn new(pace: Pace, (step, grain): (f64, u64), gate: f64, closest: f64) -> Self {
        Self {
            tracker: Tracker::new(),
            gauge: Gauge::new(),
            pace,
            gate,
            start: None,
            levels: [None; 2],
            now: 0,
            grain: grain.max(1),
            step,
            latest: Vec::with_capacity(OVER + 1),
            closest,
            seen: Seen {
                edges: [0; 2],
                counts: [0; 3],
                illegal: 0,
                unknown: 0,
                lost_at: Vec::new(),
                turns: 0,
                spikes: [0; 2],
                alone: [0; 2],
                rate: 0.0,
                gap: f64::INFINITY,
                speeds: Vec::new(),
                flaws: [None, None],
                index: 0,
                between: None,
            },
            index: None,
            run: 0,
            sense: 0,
        }
    }

    /// A line takes a level; `None` where it is not known.
    pub(super) fn take(&mut self, steps: u64, line: Line, high: Option<bool>) {
        self.now = steps;
        let mut passed = None;
        self.tracker.take(steps, line, high, |passing| passed = Some(passing));
        self.passing(passed);
        let level = &mut self.levels[usize::from(line == Line::B)];
        self.seen.edges[usize::from(line == Line::B)] +=
            u64::from(level.is_some() && high.is_some() && *level != high);
        *level = high;
    }

    /// The index line takes a level.
    pub(super) fn index(&mut self, steps: u64, high: bool) {
        // What changes in one step is seen at once.
        if steps != self.now {
            self.count();
        }
        let (was, mark) = self.index.unwrap_or((true, None));
        if high && !was {
            let count = self.tracker.count();
            if let Some(apart) = mark.map(|mark| count.abs_diff(mark)).filter(|apart| *apart > 0) {
                let (fewest, most) = self.seen.between.unwrap_or((apart, apart));
                self.seen.between = Some((fewest.min(apart), most.max(apart)));
            }
            self.seen.index += 1;
            self.index = Some((high, Some(count)));
        } else {
            self.index = Some((high, mark));
        }
    }

    /// Counts so far, those of the latest moment too.
    pub(super) fn count(&mut self) -> i64 {
        let mut passed = None;
        self.tracker.end(|passing| passed = Some(passing));
        self.passing(passed);
        self.tracker.count()
    }

    fn passing(&mut self, passing: Option<Passing>) {
        let Some(passing) = passing else { return };
        match passing {
            Passing::Lost { steps } => {
                let known = self.levels.iter().all(Option::is_some);
                self.seen.illegal += u64::from(known);
                self.seen.unknown += u64::from(!known);
                if self.seen.lost_at.len() < TOLD {
                    self.seen.lost_at.push(steps as f64 * self.step);
                }
                self.latest.clear();
                self.start = None;
                self.gauge.take(&passing);
            }
            Passing::Mark(pass) => {
                self.mark(pass);
                self.speed(pass);
                self.gauge.take(&Passing::Mark(Pass { steps: pass.steps / self.grain, ..pass }));
            }
        }
    }

    fn mark(&mut self, pass: Pass) {
        let sense = i64::from(pass.sense);
        let [x4, x2, x1] = &mut self.seen.counts;
        *x4 += sense;
        *x2 += if pass.mark % 2 == 0 { sense } else { 0 };
        *x1 += if pass.mark % 4 == 0 { sense } else { 0 };
        if let Some(before) = self.latest.last().copied() {
            self.run = if before.mark == pass.mark { self.run + 1 } else { 1 };
            let alone = &mut self.seen.alone[usize::from(pass.mark % 2 != 0)];
            *alone = self.run.max(*alone);
            let gap = (pass.steps - before.steps) as f64 * self.step;
            self.seen.gap = self.seen.gap.min(gap);
            if before.mark == pass.mark && gap < self.closest {
                self.seen.spikes[usize::from(pass.mark % 2 != 0)] += 1;
            }
        }
        if self.sense * pass.sense < 0 {
            self.seen.turns += 1;
            self.latest.clear();
        }
        self.sense = pass.sense;
        self.latest.push(pass);
        if self.latest.len() > OVER {
            let span = (pass.steps - self.latest[0].steps) as f64 * self.step;
            self.seen.rate = self.seen.rate.max(OVER as f64 / span);
            self.latest.remove(0);
        }
    }

    /// A mean speed, where a stretch ends with a mark.
    fn speed(&mut self, pass: Pass) {
        let start = *self.start.get_or_insert(pass);
        let span = (pass.steps - start.steps) as f64 * self.step;
        let is_whole = (pass.mark - start.mark) % 4 == 0;
        if span >= self.gate * if is_whole { 1.0 } else { PATIENCE } && span > 0.0 {
            let at = |pass: Pass| (pass.steps as f64 * self.step, pass.mark);
            self.seen.speeds.extend(self.pace.of_marks(at(start), at(pass)));
            self.start = Some(pass);
        }
    }

    /// All that was seen until the end, in steps.
    pub(super) fn end(mut self, end: u64) -> Seen {
        self.count();
        // Since the latest mark the shaft has turned by less than a count.
        if let Some(last) = self.latest.last().filter(|last| end > last.steps) {
            let at = |steps: u64| steps as f64 * self.step;
            if at(end - last.steps) >= self.gate {
                self.seen.speeds.extend(self.pace.of_counts((at(last.steps), 0.0), (at(end), 0.0)));
            }
        }
        self.seen.flaws = [self.gauge.upward(), self.gauge.downward()];
        self.seen
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use logs::quadrature::{Marks, Sample};

    /// A shaft of 50 lines a second for two seconds, back for one, with marks that are wrong; edges in steps of 1 µs.
    fn course(marks: Marks) -> Watcher {
        let pace = Pace { counts_per_turn: 400.0, clock: 1e-6, mark_error: 1.0 };
        let mut watcher = Watcher::new(pace, (1e-6, 1), 0.05, 1e-5);
        let at = |time: f64, angle: f64, speed: f64| Sample { time, angle, speed };
        let first = marks.levels(0.1);
        watcher.take(0, Line::A, Some(first.a));
        watcher.take(0, Line::B, Some(first.b));
        for (from, to) in
            [(at(0.0, 0.1, 50.0), at(2.0, 100.1, 50.0)), (at(2.0, 100.1, -50.0), at(3.0, 50.1, -50.0))]
        {
            marks.edges(&from, &to, 1e-9, |edge| {
                let high = if edge.line == Line::A { edge.levels.a } else { edge.levels.b };
                watcher.take((edge.time * 1e6) as u64, edge.line, Some(high));
            });
        }
        watcher
    }

    #[test]
    fn counts_rates_and_marks_are_those_put_in() {
        let seen = course(Marks::new(0.04, -0.02).unwrap()).end(3_000_000);
        // 50 lines of four edges net; of all that passed, half are of A.
        assert_eq!(seen.counts, [200, 100, 50]);
        assert_eq!((seen.edges, seen.illegal, seen.unknown, seen.turns), ([300, 300], 0, 0, 1));
        assert_eq!(seen.spikes, [0, 0]);
        assert!((seen.rate / 200.0 - 1.0).abs() < 1e-3, "{}", seen.rate);
        // Marks at 0, 0.29, 0.48, 0.79 of a line of 20 ms: the shortest gap is 0.19 of it.
        assert!((seen.gap - 0.19 * 0.02).abs() < 2e-6, "{}", seen.gap);
        for flaws in seen.flaws.map(Option::unwrap) {
            assert!(
                (flaws.phase.value - 0.04).abs() < 1e-4 && (flaws.duty_a.value + 0.02).abs() < 1e-4,
                "{flaws:?}"
            );
        }
        let speed = 50.0 * 4.0 * std::f64::consts::TAU / 400.0;
        let held = |s: &&Speed| s.time < 1.9;
        assert!(seen.speeds.iter().filter(held).count() > 30);
        for s in seen.speeds.iter().filter(held) {
            // Stretches are whole lines, and the clock of 1 µs is all that is left.
            assert!((s.value - speed).abs() <= s.bound && s.bound < 1e-4 * speed, "{s:?}");
        }
    }

    #[test]
    fn what_is_lost_and_what_is_no_edge_is_counted() {
        let mut watcher = course(Marks::TRUE);
        let (a, b) = (watcher.levels[0].unwrap(), watcher.levels[1].unwrap());
        // A spike of 4 µs, both at once, one that is not known.
        watcher.take(3_100_000, Line::A, Some(!a));
        watcher.take(3_100_004, Line::A, Some(a));
        watcher.take(3_200_000, Line::A, Some(!a));
        watcher.take(3_200_000, Line::B, Some(!b));
        watcher.take(3_300_000, Line::B, None);
        watcher.take(3_400_000, Line::B, Some(b));
        let seen = watcher.end(3_500_000);
        assert_eq!((seen.spikes, seen.illegal, seen.unknown), ([1, 0], 1, 1));
        assert!(seen.lost_at.iter().zip([3.2, 3.3]).all(|(found, want)| (found - want).abs() < 1e-9));
        assert_eq!(seen.lost_at.len(), 2);
    }

    #[test]
    fn index_marks_are_counts_apart() {
        let mut watcher = course(Marks::TRUE);
        watcher.index(3_010_000, false);
        watcher.index(3_020_000, true);
        watcher.index(3_030_000, false);
        let a = watcher.levels[0].unwrap();
        watcher.take(3_100_000, Line::A, Some(!a));
        watcher.index(3_200_000, true);
        let seen = watcher.end(3_500_000);
        assert_eq!((seen.index, seen.between), (2, Some((1, 1))));
    }
}

//! Speed from counts and from marks, each with the bound of its error.
//!
//! ```text
//! counts   ω = 2π·m/(C·T)        |Δω| ≤ 2π/(C·T)                 T exact
//! marks    ω = 2π·m/(C·n·t_clk)  |Δω| ≤ |ω|/(n − 1)              n steps of the clock, ≈ ω·C·|ω|·t_clk/(2π·m)
//! ```
//!
//! C counts a turn, m of them pass. Between two looks at a counter the shaft has turned by more than m − 1 and less than m + 1
//! counts; between two marks by exactly m, while each time is known to a step of the clock. Source: Ohmae, Matsuda, Kamiyama and
//! Tachikawa, IEEE Trans. Ind. Electron. IE-29 (1982) 207-211 (from memory, derived again): counts are their method M, one
//! period is T, marks over a gate of time M/T. A speed is the mean over its stretch.

use super::passing::{Pass, Passing};
use std::f64::consts::TAU;

/// What turns counts and steps of a clock into speeds.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Pace {
    /// Counts in a turn of the shaft whose speed is wanted; all edges, where marks are timed.
    pub counts_per_turn: f64,
    /// What a time may be wrong by, s: a step of the clock that stamps it. 0 for exact times.
    pub clock: f64,
    /// How far the distance of two marks of different kind may be wrong, in counts: by errors of phase and duty.
    pub mark_error: f64,
}

/// A mean speed over a stretch of time.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Speed {
    /// The middle of the stretch, s.
    pub time: f64,
    /// Its length, s.
    pub span: f64,
    /// The speed, rad/s.
    pub value: f64,
    /// The true mean is not further away than this, rad/s.
    pub bound: f64,
}

impl Pace {
    /// The speed between two looks at a counter; `None` where no time passes or a value is not known.
    pub fn of_counts(&self, from: (f64, f64), to: (f64, f64)) -> Option<Speed> {
        self.speed(from.0, to.0, to.1 - from.1, 1.0)
    }

    /// The speed between two marks, times in s.
    pub fn of_marks(&self, from: (f64, i64), to: (f64, i64)) -> Option<Speed> {
        let counts = to.1 - from.1;
        let error = if counts % 4 == 0 { 0.0 } else { self.mark_error };
        self.speed(from.0, to.0, counts as f64, error)
    }

    /// `error` is what the counts may be wrong by.
    fn speed(&self, from: f64, to: f64, counts: f64, error: f64) -> Option<Speed> {
        let span = to - from;
        if !(span > 0.0 && counts.is_finite() && span.is_finite()) {
            return None;
        }
        let per_count = TAU / self.counts_per_turn;
        let value = counts * per_count / span;
        // The shortest time that may have passed, with the most counts.
        let shortest = span - self.clock;
        let fastest =
            if shortest > 0.0 { (counts.abs() + error) * per_count / shortest } else { f64::INFINITY };
        Some(Speed { time: 0.5 * (from + to), span, value, bound: fastest - value.abs() })
    }
}

/// The speed at each sample of a counter, wraps undone, over the window of samples before it. Where the window has no start
/// yet, or a count is not known, it is NaN with a bound of infinity.
pub fn by_counts(pace: &Pace, time: &[f64], counts: &[f64], window: usize) -> Vec<Speed> {
    let window = window.max(1);
    let one = |k: usize| {
        let from = k.checked_sub(window)?;
        pace.of_counts((time[from], counts[from]), (time[k], counts[k]))
    };
    let unknown = |k: usize| Speed { time: time[k], span: 0.0, value: f64::NAN, bound: f64::INFINITY };
    (0..time.len().min(counts.len())).map(|k| one(k).unwrap_or_else(|| unknown(k))).collect()
}

/// When a stretch between marks ends.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Gate {
    /// After so many marks in one sense: the method of periods. Four of them begin and end at marks of the same kind, and
    /// know no errors of phase and duty.
    Marks(u32),
    /// At the first mark after so many seconds: the mixed method.
    Time(f64),
}

/// Takes marks as they pass and gives speeds.
///
/// Where no mark passes for a while, [`Timed::quiet`] tells how slow the shaft must be.
#[derive(Clone, Debug)]
pub struct Timed {
    pace: Pace,
    gate: Gate,
    /// The mark that the stretch began with, and how many have passed since.
    start: Option<(Pass, u32)>,
    latest: Option<Pass>,
    step: f64,
}

impl Timed {
    /// `step` is a step of the times of the marks, s.
    pub fn new(pace: Pace, gate: Gate, step: f64) -> Self {
        Self { pace, gate, start: None, latest: None, step }
    }

    /// Takes what happens next; a speed where a stretch ends with it.
    pub fn take(&mut self, passing: &Passing) -> Option<Speed> {
        let Passing::Mark(pass) = passing else {
            self.start = None;
            self.latest = None;
            return None;
        };
        let turned = self.latest.is_some_and(|latest| latest.sense != pass.sense);
        self.latest = Some(*pass);
        let Some((start, passed)) = &mut self.start else {
            self.start = Some((*pass, 0));
            return None;
        };
        *passed += 1;
        let ends = match self.gate {
            // A period that turns in between is none.
            Gate::Marks(_) if turned => {
                *start = *pass;
                *passed = 0;
                false
            }
            Gate::Marks(marks) => *passed >= marks.max(1),
            Gate::Time(seconds) => (pass.steps - start.steps) as f64 * self.step >= seconds,
        };
        if !ends {
            return None;
        }
        let at = |pass: &Pass| (pass.steps as f64 * self.step, pass.mark);
        let speed = self.pace.of_marks(at(start), at(pass));
        if speed.is_some() {
            self.start = Some((*pass, 0));
        }
        speed
    }

    /// What is known at a moment at which no mark passes: since the latest, the shaft has turned by less than a count.
    pub fn quiet(&self, steps: u64) -> Option<Speed> {
        let latest = self.latest?;
        let silence = (steps.checked_sub(latest.steps)? as f64).mul_add(self.step, -self.pace.clock);
        if silence <= 0.0 {
            return None;
        }
        let bound = (1.0 + self.pace.mark_error) * TAU / (self.pace.counts_per_turn * silence);
        let (from, to) = (latest.steps as f64 * self.step, steps as f64 * self.step);
        Some(Speed { time: 0.5 * (from + to), span: to - from, value: 0.0, bound })
    }
}

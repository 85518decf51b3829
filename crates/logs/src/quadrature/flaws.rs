//! How wrong the marks of an encoder are, from the times at which they pass.
//!
//! Within a line, speed hardly changes. The four passages of the mark "A rises" around a line give the course through it, a
//! cubic; where the other three marks lie on it tells their errors. What is left out: errors from line to line, which average
//! out over whole turns; hysteresis of the comparators, which shows as a difference between the senses.

use super::passing::{Pass, Passing};

/// What the marks of an encoder are wrong by, each in lines (1 is 360 electrical degrees).
#[derive(Clone, Copy, PartialEq, Debug)]
#[non_exhaustive]
pub struct Flaws {
    /// How much B comes late, in the middle of its high part: the phase error.
    pub phase: Estimate,
    /// How much longer than half a line A is high.
    pub duty_a: Estimate,
    /// How much longer than half a line B is high.
    pub duty_b: Estimate,
    /// Lines that were looked at.
    pub lines: u64,
}

/// A value with its standard uncertainty.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Its standard uncertainty. It takes the lines as independent; where their scatter is much smaller than that of the clock
    /// alone, the clock beats with the lines and does not average out.
    pub u: f64,
}

/// Marks that a look at a line takes: from the first of four marks of a kind to the last.
const LOOK: usize = 13;
/// The fewest lines from which a scatter is told.
const FEWEST: u64 = 8;

/// Takes marks as they pass, each sense by itself.
#[derive(Clone, Debug)]
pub struct Gauge {
    /// The latest marks in one sense, the oldest first.
    held: Vec<Pass>,
    /// Upward, downward.
    sums: [Sums; 2],
}

#[derive(Clone, Copy, Default, Debug)]
struct Sums {
    lines: u64,
    /// Mean and sum of squares about it, of phase, duty of A, duty of B.
    mean: [f64; 3],
    squares: [f64; 3],
    /// Sum of a step of the clock as a part of the line.
    steps: f64,
}

impl Default for Gauge {
    fn default() -> Self {
        Self::new()
    }
}

impl Gauge {
    /// Nothing has passed yet.
    pub fn new() -> Self {
        Self { held: Vec::with_capacity(LOOK), sums: [Sums::default(); 2] }
    }

    /// Takes what happens next.
    pub fn take(&mut self, passing: &Passing) {
        let Passing::Mark(pass) = passing else {
            self.held.clear();
            return;
        };
        if self.held.last().is_some_and(|last| last.mark + i64::from(pass.sense) != pass.mark) {
            self.held.clear();
        }
        if self.held.len() == LOOK {
            self.held.remove(0);
        }
        self.held.push(*pass);
        if self.held.len() == LOOK && pass.mark.rem_euclid(4) == 0 {
            self.look(pass.sense);
        }
    }

    /// The flaws seen while the shaft turns so that A leads; `None` where too few lines passed at a steady pace.
    pub fn upward(&self) -> Option<Flaws> {
        self.sums[0].flaws()
    }

    /// The flaws seen while B leads.
    pub fn downward(&self) -> Option<Flaws> {
        self.sums[1].flaws()
    }

    /// Looks at the middle one of the three lines that are held.
    fn look(&mut self, sense: i8) {
        let start = self.held[4].steps;
        let at = |k: usize| self.held[k].steps as f64 - start as f64;
        let nodes = [0, 4, 8, 12].map(at);
        if nodes.windows(2).any(|pair| pair[1] <= pair[0]) {
            return;
        }
        let line = nodes[2] - nodes[1];
        // Where speed doubles within three lines, a cubic is no more to be trusted.
        let steady = nodes.windows(2).all(|pair| (0.5..2.0).contains(&((pair[1] - pair[0]) / line)));
        if !steady {
            return;
        }
        let mut errors = [0.0; 3];
        for k in 5..8 {
            // In lines along the sense, and then along the marks.
            let way = f64::from(sense) * cubic(&nodes, at(k));
            let mark = self.held[k].mark - self.held[4].mark;
            let kind = self.held[k].mark.rem_euclid(4) as usize;
            errors[kind - 1] = way - mark as f64 / 4.0;
        }
        let [rise_b, fall_a, fall_b] = errors;
        let found = [0.5 * (rise_b + fall_b), fall_a, fall_b - rise_b];
        let sums = &mut self.sums[usize::from(sense < 0)];
        sums.lines += 1;
        sums.steps += 1.0 / line;
        for (k, value) in found.into_iter().enumerate() {
            let away = value - sums.mean[k];
            sums.mean[k] += away / sums.lines as f64;
            sums.squares[k] += away * (value - sums.mean[k]);
        }
    }
}

impl Sums {
    fn flaws(&self) -> Option<Flaws> {
        if self.lines < FEWEST {
            return None;
        }
        let count = self.lines as f64;
        // A difference of two times, each known to a step: its standard deviation is a step over √6.
        let clock = self.steps / count / libm::sqrt(6.0);
        let estimate = |k: usize| {
            let scatter = libm::sqrt(self.squares[k] / (count - 1.0));
            // The mean of two marks scatters less than one, and the course between four takes a part of it too.
            let beats = if scatter < 0.5 * clock { clock } else { 0.0 };
            Estimate { value: self.mean[k], u: libm::hypot(scatter / libm::sqrt(count), beats) }
        };
        Some(Flaws { phase: estimate(0), duty_a: estimate(1), duty_b: estimate(2), lines: self.lines })
    }
}

/// The cubic that is −1, 0, 1, 2 at four times, by divided differences.
fn cubic(nodes: &[f64; 4], at: f64) -> f64 {
    let mut table = [-1.0, 0.0, 1.0, 2.0];
    for order in 1..4 {
        for k in (order..4).rev() {
            table[k] = (table[k] - table[k - 1]) / (nodes[k] - nodes[k - order]);
        }
    }
    (0..3).rev().fold(table[3], |value, k| value * (at - nodes[k]) + table[k])
}

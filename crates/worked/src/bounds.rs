//! The worst case over a tolerance box: exact where a corner decides it, else a guaranteed enclosure.
//!
//! Over the box, slopes are enclosed; an input whose slope has one sign is pulled to its end, and that is
//! repeated until nothing moves. If every input ends at an end, the corner is the exact worst case. Else the
//! box is split best-first, with the natural and the mean-value bound and the same pull in each part, until
//! bound and best point found agree or the work limit is reached. `bound` is guaranteed up to the rounding of
//! the decimals in the file; `reached` is a point that was really met, so the true extreme lies between.
//! Source: R. E. Moore, R. B. Kearfott, M. J. Cloud, Introduction to Interval Analysis, 2009, ch. 6 and 8 (from memory).

use crate::interval::Interval;
use crate::tape::{Scratch, Tape};
use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// Which end is looked for.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Extreme {
    Low,
    High,
}

/// One end of the range of an expression over a box.
#[derive(Clone, PartialEq, Debug)]
pub(crate) struct End {
    /// Guaranteed not to be passed.
    pub(crate) bound: f64,
    /// The most extreme value met at a point.
    pub(crate) reached: f64,
    /// That point, an entry an input.
    pub(crate) at: Vec<f64>,
    /// The bound is reached at that point.
    pub(crate) exact: bool,
    /// Instruction that leaves its domain somewhere in the box, or may.
    pub(crate) leaves_domain: Option<usize>,
}

/// Work before a search stops and says how far it came: boxes times instructions.
const WORK: usize = 24_000;
/// Boxes that are looked at in any case, and at the most.
const BOXES: (usize, usize) = (16, 600);
/// Bound and point that agree to this, relative to their size, are the same.
const AGREEMENT: f64 = 1e-9;
/// Rounds of pulling in one box; two nearly always suffice.
const PULLS: usize = 12;

/// One end of the range of the tape's value over a box.
pub(crate) fn end(tape: &Tape, over: &[Interval], extreme: Extreme, scratch: &mut Scratch) -> End {
    let boxes = (WORK / tape.len()).clamp(BOXES.0, BOXES.1);
    end_within(tape, over, extreme, boxes, scratch)
}

/// The same, looking at no more than so many boxes: for searches that ask again and again.
pub(crate) fn end_within(
    tape: &Tape,
    over: &[Interval],
    extreme: Extreme,
    boxes: usize,
    scratch: &mut Scratch,
) -> End {
    let sign = if extreme == Extreme::Low { 1.0 } else { -1.0 };
    let mut search = Search { tape, sign, scratch, best: f64::INFINITY, at: Vec::new() };
    let first = search.look(over.to_vec());
    let mut queue = BinaryHeap::new();
    let mut looked = 1;
    queue.push(first);
    let mut bound = f64::NEG_INFINITY;
    let (mut settled, mut leaves_domain) = (false, None);
    while let Some(part) = queue.pop() {
        // The part with the lowest bound comes first, so its bound holds for all that are left.
        (bound, settled, leaves_domain) = (part.bound, part.settled, part.leaves_domain);
        let agreed = search.best - bound <= AGREEMENT * search.best.abs();
        if settled || agreed || looked >= boxes {
            break;
        }
        let Some((left, right)) = part.split() else { break };
        for half in [left, right] {
            queue.push(search.look(half));
            looked += 1;
        }
    }
    let exact = settled && leaves_domain.is_none();
    End {
        bound: sign * if exact { search.best } else { bound },
        reached: sign * search.best,
        at: search.at,
        exact,
        leaves_domain,
    }
}

struct Search<'t> {
    tape: &'t Tape,
    sign: f64,
    scratch: &'t mut Scratch,
    best: f64,
    at: Vec<f64>,
}

/// A part of the box that has been looked at.
struct Part {
    over: Vec<Interval>,
    bound: f64,
    /// Every input that matters stands at a point.
    settled: bool,
    /// Input to split.
    widest: Option<usize>,
    leaves_domain: Option<usize>,
}

impl Search<'_> {
    /// Pulls the inputs of a box to their ends and bounds what is left.
    fn look(&mut self, mut over: Vec<Interval>) -> Part {
        let mut leaves_domain = None;
        let mut bound = f64::NEG_INFINITY;
        for _ in 0..PULLS {
            let (value, leaves) = self.tape.enclose(&over, self.scratch);
            leaves_domain = leaves;
            bound = if self.sign > 0.0 { value.low } else { -value.high };
            if leaves.is_some() {
                break;
            }
            let slopes = self.tape.slopes(self.scratch);
            let mut moved = false;
            for (x, slope) in over.iter_mut().zip(slopes) {
                if x.low == x.high {
                    continue;
                }
                let (up, down) = if self.sign > 0.0 {
                    (slope.low >= 0.0, slope.high <= 0.0)
                } else {
                    (slope.high <= 0.0, slope.low >= 0.0)
                };
                let end = if up {
                    x.low
                } else if down {
                    x.high
                } else {
                    continue;
                };
                if end.is_finite() {
                    *x = Interval::point(end);
                    moved = true;
                }
            }
            if !moved {
                break;
            }
        }
        if leaves_domain.is_some() {
            bound = f64::NEG_INFINITY;
            self.try_points(&over);
            let widest = widest(&over, None);
            return Part { over, bound, settled: false, widest, leaves_domain };
        }
        if over.iter().all(|x| x.low == x.high) {
            let met = self.try_at(over.iter().map(|x| x.low).collect());
            return Part { over, bound: met.max(bound), settled: true, widest: None, leaves_domain };
        }
        bound = bound.max(self.mean_value_bound(&over));
        self.try_points(&over);
        self.tape.enclose(&over, self.scratch);
        let widest = widest(&over, Some(self.tape.slopes(self.scratch)));
        Part { over, bound, settled: false, widest, leaves_domain }
    }

    /// `f(c) + Σ slope·(X − c)`.
    fn mean_value_bound(&mut self, over: &[Interval]) -> f64 {
        let centre: Vec<Interval> = over.iter().map(|x| Interval::point(middle(*x))).collect();
        let (mut sum, leaves) = self.tape.enclose(&centre, self.scratch);
        if leaves.is_some() {
            return f64::NEG_INFINITY;
        }
        self.tape.enclose(over, self.scratch);
        for ((x, c), slope) in over.iter().zip(&centre).zip(self.tape.slopes(self.scratch)) {
            if x.low != x.high {
                sum = sum.add(slope.mul(x.sub(*c)));
            }
        }
        if self.sign > 0.0 { sum.low } else { -sum.high }
    }

    /// Tries the middle and the corner that the slopes in the middle point to.
    fn try_points(&mut self, over: &[Interval]) {
        let centre: Vec<f64> = over.iter().map(|x| middle(*x)).collect();
        let points: Vec<Interval> = centre.iter().map(|c| Interval::point(*c)).collect();
        self.try_at(centre);
        let (_, leaves) = self.tape.enclose(&points, self.scratch);
        if leaves.is_none() {
            let sign = self.sign;
            let corner = over
                .iter()
                .zip(self.tape.slopes(self.scratch))
                .map(|(x, slope)| if sign * (slope.low + slope.high) > 0.0 { x.low } else { x.high })
                .map(|v| if v.is_finite() { v } else { 0.0 })
                .collect();
            self.try_at(corner);
        }
    }

    fn try_at(&mut self, at: Vec<f64>) -> f64 {
        let met = self.sign * self.tape.value(&at, self.scratch);
        if met < self.best || self.at.is_empty() {
            if !met.is_nan() {
                self.best = met;
            }
            self.at = at;
        }
        if met.is_nan() { f64::NEG_INFINITY } else { met }
    }
}

impl Part {
    fn split(self) -> Option<(Vec<Interval>, Vec<Interval>)> {
        let k = self.widest?;
        let x = self.over[k];
        let cut = middle(x);
        if cut <= x.low || cut >= x.high {
            return None;
        }
        let mut right = self.over.clone();
        right[k] = Interval::new(cut, x.high);
        let mut left = self.over;
        left[k] = Interval::new(x.low, cut);
        Some((left, right))
    }
}

/// A point inside, also of an interval that is open to one side.
fn middle(x: Interval) -> f64 {
    match (x.low.is_finite(), x.high.is_finite()) {
        (true, true) => (x.low + 0.5 * (x.high - x.low)).clamp(x.low, x.high),
        (true, false) => x.low.max(0.0) * 2.0 + 1.0,
        (false, true) => x.high.min(0.0) * 2.0 - 1.0,
        (false, false) => 0.0,
    }
}

/// The input whose tolerance moves the value most; by its own relative width where slopes are unknown.
fn widest(over: &[Interval], slopes: Option<&[Interval]>) -> Option<usize> {
    let weight = |k: usize| {
        let x = over[k];
        let relative = x.width() / x.magnitude().max(f64::MIN_POSITIVE);
        match slopes {
            Some(s) if s[k].magnitude().is_finite() => s[k].magnitude() * x.width(),
            // An open choice: split what decides it first.
            Some(_) => 1e300 * relative.min(1e3),
            None => relative,
        }
    };
    (0..over.len()).filter(|k| over[*k].low < over[*k].high).max_by(|a, b| weight(*a).total_cmp(&weight(*b)))
}

impl PartialEq for Part {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl Eq for Part {}
impl PartialOrd for Part {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
/// The part with the lowest bound comes out of the queue first.
impl Ord for Part {
    fn cmp(&self, other: &Self) -> Ordering {
        other.bound.total_cmp(&self.bound)
    }
}

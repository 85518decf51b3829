//! The worst case over a tolerance box: exact where a corner decides it, else a guaranteed enclosure.
//!
//! Over the box, slopes are enclosed; an input whose slope has one sign is pulled to its end, and that is
//! repeated until nothing moves. If every input ends at an end, the corner is the exact worst case. Else the
//! box is split best-first, with the natural and the mean-value bound and the same pull in each part, until
//! bound and best point found agree or the work limit is reached. `bound` is guaranteed up to the rounding of
//! the decimals in the file; `reached` is a point that was really met, so the true extreme lies between.
//! Source: R. E. Moore, R. B. Kearfott, M. J. Cloud, Introduction to Interval Analysis, 2009, ch. 6 and 8 (from memory).

use crate::Worked;
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
#[derive(Clone, Debug)]
pub(crate) struct End {
    /// Guaranteed not to be passed.
    pub(crate) bound: f64,
    /// The most extreme value met at a point.
    pub(crate) reached: f64,
    /// That point, an entry an input.
    pub(crate) at: Vec<f64>,
    /// The bound is reached at that point.
    pub(crate) exact: bool,
    /// Sub-expression that leaves its domain somewhere in the box, or may.
    pub(crate) leaves_domain: Option<Worked>,
}

/// Work before a search stops and says how far it came: boxes times instructions.
const WORK: usize = 6_000;
/// Boxes that are looked at in any case, and at the most.
const BOXES: (usize, usize) = (16, 600);
/// Bound and point that agree to this, relative to their size, are the same.
const AGREEMENT: f64 = 1e-9;
/// Part of a slope that is rounding: outward rounding leaves a slope that is zero at one end, such as that of the
/// larger of two numbers, a hair on the other side. What that moves is far below [`AGREEMENT`].
const NOISE: f64 = 1e-12;
/// Rounds of pulling in one box; two nearly always suffice.
const PULLS: usize = 12;

/// One end of the range of the tape's value over a box.
pub(crate) fn end(tape: &Tape, over: &[Interval], extreme: Extreme, scratch: &mut Scratch) -> End {
    let boxes = (WORK / tape.len()).clamp(BOXES.0, BOXES.1);
    let sign = if extreme == Extreme::Low { 1.0 } else { -1.0 };
    let found =
        search(tape, sign, over, boxes, scratch, |best, bound| best - bound <= AGREEMENT * best.abs());
    let exact = found.settled && found.leaves_domain.is_none();
    End {
        bound: sign * if exact { found.best } else { found.bound },
        reached: sign * found.best,
        at: found.at,
        exact,
        leaves_domain: found.leaves_domain,
    }
}

/// Whether the tape's value is proven to stay at or above a floor over the box, looking at no more than so many
/// boxes. Stops as soon as that is clear either way, which is mostly at once: searches ask this again and again.
pub(crate) fn stays_above(
    tape: &Tape,
    over: &[Interval],
    floor: f64,
    boxes: usize,
    scratch: &mut Scratch,
) -> bool {
    let found = search(tape, 1.0, over, boxes, scratch, |best, bound| best < floor || bound >= floor);
    let bound = if found.settled { found.best } else { found.bound };
    found.leaves_domain.is_none() && found.best >= floor && bound >= floor
}

/// Pulls every input but one to the end where the value is lowest, as far as that holds wherever the one stands in
/// its interval: what is left of the box.
pub(crate) fn pulled_but(
    tape: &Tape,
    mut over: Vec<Interval>,
    but: usize,
    scratch: &mut Scratch,
) -> Vec<Interval> {
    let mut slopes = Vec::new();
    pull(tape, 1.0, &mut over, Some(but), &mut slopes, scratch);
    over
}

/// What a search came to.
struct Found {
    bound: f64,
    best: f64,
    at: Vec<f64>,
    settled: bool,
    leaves_domain: Option<Worked>,
}

/// Splits the box best-first until the best point and the bound are enough, or so many boxes were looked at.
fn search(
    tape: &Tape,
    sign: f64,
    over: &[Interval],
    boxes: usize,
    scratch: &mut Scratch,
    enough: impl Fn(f64, f64) -> bool,
) -> Found {
    let short;
    let mut search = Search { tape, sign, scratch, best: f64::INFINITY, at: Vec::new() };
    let mut part = search.look(over.to_vec());
    if !part.settled && boxes > 1 && !enough(search.best, part.bound) {
        short = tape.with_points_fixed(&part.over, search.scratch);
        search.tape = &short;
        // Looked at once more, because a part names the instructions of its tape.
        part = search.look(part.over);
        part = search.split_on(part, boxes, enough);
    }
    let leaves_domain = part.leaves_domain.map(|k| search.tape.sub_expression(k).clone());
    Found { bound: part.bound, best: search.best, at: search.at, settled: part.settled, leaves_domain }
}

/// Pulls the inputs of a box to their ends until none moves. Gives the bound of what is left and the first instruction
/// that may leave its domain, and fills in the slopes of the last round.
fn pull(
    tape: &Tape,
    sign: f64,
    over: &mut [Interval],
    but: Option<usize>,
    slopes: &mut Vec<Interval>,
    scratch: &mut Scratch,
) -> (f64, Option<usize>) {
    let mut bound = f64::NEG_INFINITY;
    for _ in 0..PULLS {
        let (value, leaves) = tape.enclose(over, scratch);
        bound = if sign > 0.0 { value.low } else { -value.high };
        if leaves.is_some() {
            return (f64::NEG_INFINITY, leaves);
        }
        slopes.clear();
        slopes.extend_from_slice(tape.slopes(scratch));
        let mut moved = false;
        for (k, (x, slope)) in over.iter_mut().zip(&*slopes).enumerate() {
            if x.low == x.high || but == Some(k) {
                continue;
            }
            let size = slope.magnitude();
            let noise = if size.is_finite() { NOISE * size } else { 0.0 };
            let (rises, falls) = (slope.low >= -noise, slope.high <= noise);
            let (up, down) = if sign > 0.0 { (rises, falls) } else { (falls, rises) };
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
    (bound, None)
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
    /// Splits a part further. The part that is returned has the lowest bound, so its bound holds for all that are left.
    fn split_on(&mut self, mut part: Part, boxes: usize, enough: impl Fn(f64, f64) -> bool) -> Part {
        let mut queue = BinaryHeap::new();
        let mut looked = 1;
        while !part.settled && looked < boxes && !enough(self.best, part.bound) {
            let Some((left, right)) = part.split() else { break };
            for half in [left, right] {
                queue.push(self.look(half));
                looked += 1;
            }
            match queue.pop() {
                Some(lowest) => part = lowest,
                None => break,
            }
        }
        part
    }

    /// Pulls the inputs of a box to their ends and bounds what is left.
    fn look(&mut self, mut over: Vec<Interval>) -> Part {
        let mut slopes = Vec::with_capacity(over.len());
        let (mut bound, leaves_domain) =
            pull(self.tape, self.sign, &mut over, None, &mut slopes, self.scratch);
        if leaves_domain.is_some() {
            self.try_points(&over);
            let widest = widest(&over, None);
            return Part { over, bound, settled: false, widest, leaves_domain };
        }
        if over.iter().all(|x| x.low == x.high) {
            let met = self.try_at(over.iter().map(|x| x.low).collect());
            return Part { over, bound: met.max(bound), settled: true, widest: None, leaves_domain };
        }
        if let Some(at_middle) = self.try_points(&over) {
            bound = bound.max(self.mean_value_bound(at_middle, &over, &slopes));
        }
        let widest = widest(&over, Some(&slopes));
        Part { over, bound, settled: false, widest, leaves_domain }
    }

    /// `f(c) + Σ slope·(X − c)`.
    fn mean_value_bound(&self, at_middle: Interval, over: &[Interval], slopes: &[Interval]) -> f64 {
        let open = over.iter().zip(slopes).filter(|(x, _)| x.low != x.high);
        let sum =
            open.fold(at_middle, |sum, (x, slope)| sum.add(slope.mul(x.sub(Interval::point(middle(*x))))));
        if self.sign > 0.0 { sum.low } else { -sum.high }
    }

    /// Tries the middle and the corner that the slopes in the middle point to. Gives the enclosure of the value in
    /// the middle, unless that lies outside of the domain.
    fn try_points(&mut self, over: &[Interval]) -> Option<Interval> {
        let centre: Vec<f64> = over.iter().map(|x| middle(*x)).collect();
        let points: Vec<Interval> = centre.iter().map(|c| Interval::point(*c)).collect();
        self.try_at(centre);
        let (at_middle, leaves) = self.tape.enclose(&points, self.scratch);
        if leaves.is_some() {
            return None;
        }
        let sign = self.sign;
        let corner = over
            .iter()
            .zip(self.tape.slopes(self.scratch))
            .map(|(x, slope)| if sign * (slope.low + slope.high) > 0.0 { x.low } else { x.high })
            .map(|v| if v.is_finite() { v } else { 0.0 })
            .collect();
        self.try_at(corner);
        Some(at_middle)
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
    fn split(&self) -> Option<(Vec<Interval>, Vec<Interval>)> {
        let k = self.widest?;
        let x = self.over[k];
        let cut = middle(x);
        if cut <= x.low || cut >= x.high {
            return None;
        }
        let mut right = self.over.clone();
        right[k] = Interval::new(cut, x.high);
        let mut left = self.over.clone();
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Dimension, Input, Number, Worked};

    fn input(low: f64, high: f64) -> Worked {
        Input::new("x", "x", "x", Dimension::NONE).value(0.5 * (low + high)).limits(low, high).worked()
    }

    /// `x·(60 − x)` over 10 … 40: 500 at the lower end, 800 at the upper, with a top of 900 between. By hand.
    #[test]
    fn a_floor_is_kept_exactly_where_the_lowest_value_keeps_it() {
        let x = input(10.0, 40.0);
        let tape = Tape::new(&(x.clone() * (Worked::from(60.0) - x)));
        let over = tape.tolerance_box();
        let mut scratch = Scratch::default();
        for (floor, kept) in [(-1e9, true), (499.0, true), (501.0, false), (850.0, false), (1e9, false)] {
            assert_eq!(stays_above(&tape, &over, floor, 600, &mut scratch), kept, "{floor}");
        }
        let low = end(&tape, &over, Extreme::Low, &mut scratch);
        assert!((low.reached - 500.0).abs() < 1e-9 && (low.bound - 500.0).abs() < 1e-6, "{low:?}");
        // One box is not enough to prove it, and not proven is not kept.
        assert!(!stays_above(&tape, &over, 499.999, 1, &mut scratch));
    }

    #[test]
    fn outside_of_the_domain_nothing_is_kept() {
        let mut scratch = Scratch::default();
        let tape = Tape::new(&(Worked::from(1.0) / input(-1.0, 1.0).squared()));
        assert!(!stays_above(&tape, &tape.tolerance_box(), -1e300, 64, &mut scratch));
        let tape = Tape::new(&(Worked::from(1.0) / input(1.0, 2.0).squared()));
        assert!(stays_above(&tape, &tape.tolerance_box(), 0.25 - 1e-9, 64, &mut scratch));
    }
}

//! Margins over a whole box of figures: proven bounds, not samples.
//!
//! ```text
//! L = N/X        X(ω) = κ − λ·ω² + j·m·ω = 1/G(jω)
//! N = w·F·H·(1 + δ)        H = (e^(−jx/2)·sin(x/2)/(x/2))^q,  x = ω·T_s        q = 1 of samples, 2 of means
//! δ = X(ω)·Σ (x/(x + 2π·k))^q/X(ω + 2π·k/T_s),  k = ±1, ±2, …
//! ```
//!
//! At a frequency each of the three coefficients of the plant stands once in X. So X fills a rectangle, and what a
//! rectangle makes of a margin is known in closed form (`cell`). Without the images δ of the sampling, N depends on the
//! frequency alone; over a cell of frequencies it lies in a disc. Cells and figures are split, the worst first, until the
//! bound is close to the worst point that was met.
//!
//! A loop that settles at one point of the box and keeps `1 + L ≠ 0` over all of it settles everywhere in it.
//! Source of the branch and bound: R. E. Moore, R. B. Kearfott, M. J. Cloud, *Introduction to Interval Analysis*, 2009,
//! chapter 6 (from memory); the parametrisation is derived in `docs/models/loops.md`.

mod cell;
mod disc;

use crate::law::{Law, Loop};
use crate::margins::{Grid, Margins};
use crate::plant::{Figures, Plant};
use cell::{Cell, Numerator};
use std::cmp::Ordering;
use std::collections::BinaryHeap;
use std::f64::consts::PI;

/// A range, `low ≤ high`.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Span {
    /// Its low end.
    pub low: f64,
    /// Its high end.
    pub high: f64,
}

impl Span {
    /// From two ends in any order.
    pub fn new(a: f64, b: f64) -> Self {
        Self { low: a.min(b), high: a.max(b) }
    }

    /// Of one value.
    pub fn point(value: f64) -> Self {
        Self { low: value, high: value }
    }

    fn middle(self) -> f64 {
        0.5 * (self.low + self.high)
    }

    /// Half its width as a part of its middle.
    fn part(self) -> f64 {
        if self.high > self.low { (self.high - self.low) / (self.high + self.low) } else { 0.0 }
    }

    /// One of its ends.
    pub fn end(self, high: bool) -> f64 {
        if high { self.high } else { self.low }
    }

    /// Outward past the rounding of a dozen operations.
    fn outward(self) -> Self {
        Self { low: self.low - SLACK * self.low.abs(), high: self.high + SLACK * self.high.abs() }
    }
}

/// Relative widening that covers the rounding of every step of a bound, which is below a hundred times 2⁻⁵³.
const SLACK: f64 = 1e-12;

/// How many figures of a drive a box has.
pub const FIGURES: usize = 6;

/// Names of the figures of a box, in their order.
pub const NAMES: [&str; FIGURES] =
    ["resistance", "inductance", "motor constant", "inertia", "viscous friction", "voltage"];

/// Ranges of the figures of a drive, in the order of [`NAMES`]: each independent of the others.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Ranges(pub [Span; FIGURES]);

/// What the loop is closed over.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Output {
    /// The speed of the shaft.
    Speed,
    /// The current, while the shaft stands.
    Current,
}

impl Output {
    /// The plant of figures.
    pub fn plant(self, figures: &Figures) -> Plant {
        match self {
            Self::Speed => figures.speed(),
            Self::Current => figures.current(),
        }
    }
}

impl Ranges {
    /// All at one point.
    pub fn point(f: &Figures) -> Self {
        let all = [f.resistance, f.inductance, f.constant, f.inertia, f.viscous_friction, f.voltage_factor];
        Self(all.map(Span::point))
    }

    /// The figures at a corner: a bit for each, set for its high end.
    pub fn corner(&self, bits: usize) -> Figures {
        let at = |k: usize| self.0[k].end(bits >> k & 1 == 1);
        figures([at(0), at(1), at(2), at(3), at(4), at(5)])
    }

    /// All corners that differ, as [`Ranges::corner`] takes them.
    pub fn corners(&self) -> impl Iterator<Item = usize> {
        // A figure without a width has one end only.
        let narrow =
            (0..FIGURES).filter(|k| self.0[*k].high <= self.0[*k].low).fold(0, |bits, k| bits | 1 << k);
        (0..1 << FIGURES).filter(move |bits| bits & narrow == 0)
    }

    /// The figures at parts of the way from the low to the high ends.
    pub fn at(&self, parts: [f64; FIGURES]) -> Figures {
        let mut values = [0.0; FIGURES];
        for ((value, span), part) in values.iter_mut().zip(&self.0).zip(parts) {
            *value = span.low + part * (span.high - span.low);
        }
        figures(values)
    }

    /// Whether every figure is one that a drive can have.
    pub fn are_sound(&self) -> bool {
        let above = |k: usize| self.0[k].low > 0.0;
        [0, 1, 2, 3, 5].into_iter().all(above)
            && self.0[4].low >= 0.0
            && self.0.iter().all(|span| span.low <= span.high && span.high.is_finite())
    }

    /// Coefficients of the plants in it: each enclosed by itself.
    fn coefficients(&self, output: Output) -> [Span; 3] {
        let [r, l, k, j, b, u] = self.0;
        let all = match output {
            Output::Speed => [
                Span {
                    low: (r.low * b.low / k.high + k.low) / u.high,
                    high: (r.high * b.high / k.low + k.high) / u.low,
                },
                Span {
                    low: (r.low * j.low + l.low * b.low) / (k.high * u.high),
                    high: (r.high * j.high + l.high * b.high) / (k.low * u.low),
                },
                Span { low: l.low * j.low / (k.high * u.high), high: l.high * j.high / (k.low * u.low) },
            ],
            Output::Current => [
                Span { low: r.low / u.high, high: r.high / u.low },
                Span { low: l.low / u.high, high: l.high / u.low },
                Span::point(0.0),
            ],
        };
        all.map(Span::outward)
    }

    /// How much the width of each figure blurs what the coefficients have in common.
    fn blur(&self, output: Output) -> [f64; FIGURES] {
        let [r, l, k, j, b, u] = self.0;
        let parts = [r.part(), l.part(), k.part(), j.part(), b.part(), u.part()];
        let viscous = r.high * b.high / (k.low * k.low + r.high * b.high);
        let weights = match output {
            // Resistance and inductance stand in one coefficient but for viscous friction.
            Output::Speed => [viscous, viscous, 1.0, 1.0, viscous, 1.0],
            Output::Current => [0.0, 0.0, 0.0, 0.0, 0.0, 1.0],
        };
        let mut blur = [0.0; FIGURES];
        for ((into, part), weight) in blur.iter_mut().zip(parts).zip(weights) {
            *into = part * weight;
        }
        blur
    }
}

fn figures(
    [resistance, inductance, constant, inertia, viscous_friction, voltage_factor]: [f64; FIGURES],
) -> Figures {
    Figures { resistance, inductance, constant, inertia, viscous_friction, voltage_factor }
}

/// What is bounded.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Criterion {
    /// Gain margin, a factor.
    Gain,
    /// Phase margin, rad.
    Phase,
    /// Delay margin, s.
    Delay,
    /// Distance from −1, one over M_s.
    Distance,
}

impl Criterion {
    fn of(self, margins: &Margins) -> f64 {
        match self {
            Self::Gain => margins.gain,
            Self::Phase => margins.phase,
            Self::Delay => margins.delay,
            Self::Distance => 1.0 / margins.sensitivity,
        }
    }
}

/// A margin over a box: no figure of the box has less than `bound`, and at the corner it is `met`.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Worst {
    /// Proven: the margin is nowhere less. Zero where nothing is proven.
    pub bound: f64,
    /// The least that was met at a corner of the box.
    pub met: f64,
    /// The corner, as [`Ranges::corner`] takes it.
    pub corner: usize,
    /// Cells that were looked at.
    pub cells: usize,
}

/// All margins over a box.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Enclosed {
    /// Gain margin, a factor.
    pub gain: Worst,
    /// Phase margin, rad.
    pub phase: Worst,
    /// Delay margin, s.
    pub delay: Worst,
    /// Distance from −1, one over M_s.
    pub distance: Worst,
}

impl Worst {
    const NONE: Self = Self { bound: 0.0, met: 0.0, corner: 0, cells: 0 };

    /// The lesser bound, and the lesser of what was met.
    fn less(self, other: &Self) -> Self {
        let (met, corner) =
            if other.met < self.met { (other.met, other.corner) } else { (self.met, self.corner) };
        Self { bound: self.bound.min(other.bound), met, corner, cells: self.cells + other.cells }
    }
}

impl Enclosed {
    /// Nothing is known.
    pub const NONE: Self =
        Self { gain: Worst::NONE, phase: Worst::NONE, delay: Worst::NONE, distance: Worst::NONE };

    /// The lesser of each.
    pub fn less(self, other: &Self) -> Self {
        Self {
            gain: self.gain.less(&other.gain),
            phase: self.phase.less(&other.phase),
            delay: self.delay.less(&other.delay),
            distance: self.distance.less(&other.distance),
        }
    }

    /// Whether the loop settles everywhere in the box.
    pub fn settles(&self) -> bool {
        self.distance.bound > 0.0
    }

    /// Peak of the sensitivity that no figure of the box passes; infinite where none is proven.
    pub fn sensitivity(&self) -> f64 {
        1.0 / self.distance.bound
    }
}

/// How hard to look.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Effort {
    /// Part of the worst met by which the bound may stay below it.
    pub gap: f64,
    /// Most cells of each margin.
    pub cells: usize,
}

impl Default for Effort {
    fn default() -> Self {
        Self { gap: 0.01, cells: 20_000 }
    }
}

/// Encloses the margins of a law over a box.
pub fn enclose(grid: &Grid, law: &Law, output: Output, ranges: &Ranges, effort: Effort) -> Enclosed {
    met(grid, law, output, ranges).proven(law, output, ranges, effort)
}

/// The least margins at the corners of a box, with bounds of zero: nothing is proven of what lies between.
pub fn met(grid: &Grid, law: &Law, output: Output, ranges: &Ranges) -> Enclosed {
    let none = Worst { bound: 0.0, met: f64::INFINITY, corner: 0, cells: 0 };
    let mut all = Enclosed { gain: none, phase: none, delay: none, distance: none };
    for corner in ranges.corners() {
        let margins = grid.margins(&Loop::new(*law, &output.plant(&ranges.corner(corner))));
        for (criterion, worst) in all.each() {
            let met = margins.as_ref().map_or(0.0, |margins| criterion.of(margins));
            if met < worst.met {
                *worst = Worst { met, corner, ..*worst };
            }
        }
    }
    all
}

impl Enclosed {
    fn each(&mut self) -> [(Criterion, &mut Worst); 4] {
        [
            (Criterion::Distance, &mut self.distance),
            (Criterion::Gain, &mut self.gain),
            (Criterion::Phase, &mut self.phase),
            (Criterion::Delay, &mut self.delay),
        ]
    }

    /// The same with bounds that hold over the whole box, from what was met at its corners.
    pub fn proven(mut self, law: &Law, output: Output, ranges: &Ranges, effort: Effort) -> Self {
        if !ranges.are_sound() {
            return self;
        }
        for (criterion, worst) in self.each() {
            if worst.met <= 0.0 {
                // The loop may not settle, and no other margin means anything.
                break;
            }
            (worst.bound, worst.cells) = least(criterion, law, output, ranges, worst.met, effort);
            if criterion == Criterion::Distance && worst.bound <= 0.0 {
                break;
            }
        }
        self
    }
}

/// A part of the box with its bound; the least bound comes first.
struct Part {
    bound: f64,
    /// Radians in a sample.
    angles: Span,
    ranges: Ranges,
}

/// The least that a margin can be over a box, and the cells that it took.
fn least(
    criterion: Criterion,
    law: &Law,
    output: Output,
    ranges: &Ranges,
    met: f64,
    effort: Effort,
) -> (f64, usize) {
    let Some(lowest) = cell::low_cut(law, &ranges.coefficients(output)) else { return (0.0, 0) };
    let look = |angles: Span, ranges: &Ranges| {
        let numerator = Numerator::over(law, angles);
        let cell = Cell::new(&numerator, law, angles, &ranges.coefficients(output));
        (cell.bound(criterion), numerator.part() + angles.part())
    };
    let mut heap = BinaryHeap::new();
    let mut low = lowest;
    while low < PI {
        let high = (low * 1.2).min(PI);
        let angles = Span { low, high };
        heap.push(Part { bound: look(angles, ranges).0, angles, ranges: *ranges });
        low = high;
    }
    let mut cells = heap.len();
    // What is above the worst met needs no more looking.
    let enough = met * (1.0 - effort.gap);
    loop {
        let Some(Part { bound, angles, ranges }) = heap.pop() else { return (met, cells) };
        if bound >= enough || cells >= effort.cells {
            return (bound.min(met).max(0.0), cells);
        }
        let (_, blurred) = look(angles, &ranges);
        let blur = ranges.blur(output);
        let widest = (0..FIGURES).max_by(|a, b| blur[*a].total_cmp(&blur[*b])).unwrap_or(0);
        let halves = if blur[widest] > blurred {
            let Span { low, high } = ranges.0[widest];
            let middle = ranges.0[widest].middle();
            [Span { low, high: middle }, Span { low: middle, high }].map(|half| {
                let mut parted = ranges;
                parted.0[widest] = half;
                (angles, parted)
            })
        } else {
            let middle = angles.middle();
            let Span { low, high } = angles;
            [(Span { low, high: middle }, ranges), (Span { low: middle, high }, ranges)]
        };
        for (angles, ranges) in halves {
            let bound = look(angles, &ranges).0.max(bound);
            heap.push(Part { bound, angles, ranges });
        }
        cells += 2;
    }
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

impl Ord for Part {
    fn cmp(&self, other: &Self) -> Ordering {
        other.bound.total_cmp(&self.bound).then(other.angles.low.total_cmp(&self.angles.low))
    }
}

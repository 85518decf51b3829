//! How well each hypothesis explains a pulse, whatever the sheets leave open.
//!
//! ```text
//! ln p(readings | h) = ln ∫ p(readings | h, z)·p(z) dz ≈ −Φ(ẑ) − ½·ln det(1 + Jᵀ·J)
//! Φ(z) = ½·Σ ((reading − model)/σ)² + ½·|z|²
//! ```
//!
//! z: how many deviations each open figure lies from the middle of its sheet; J: slopes of the model over σ. The integral
//! is that of Laplace about the best z (D. J. C. MacKay, *Information Theory, Inference, and Learning Algorithms*, 2003,
//! ch. 27 and 28, from memory). σ belongs to the readings and not to a hypothesis, so what is left out is common to all.

use super::hypothesis::Shown;
use super::motion::{Course, OPEN, Open};
use super::reading::{Readings, Reduced};
use super::sheets::Sheets;
use crate::record::Unusable;
use std::collections::BTreeMap;
use std::f64::consts::TAU;

/// Open figures, gain and zero of the current sensor.
const ALL: usize = OPEN + 2;
const GAIN: usize = OPEN;
const ZERO: usize = OPEN + 1;
/// Columns of sums: slopes, the model, ones, the reading.
const SUMMED: usize = OPEN + 3;
const MODEL: usize = OPEN;
const ONES: usize = OPEN + 1;
const READING: usize = OPEN + 2;

/// Hypotheses that are fitted, by what the straight model at the middle of all sheets makes of them: so many, or more
/// that lie within so much of the best.
const FITTED: usize = 40;
const MOST_FITTED: usize = 160;
const CLOSE: f64 = 60.0;
/// Steps of a fit, and distance from the best after some of them at which it is given up.
const STEPS: usize = 14;
const EARLY: usize = 3;
const HOPELESS: f64 = 60.0;
/// What a step has to gain for another to be worth it.
const CLOSE_ENOUGH: f64 = 0.01;

/// What was found of one hypothesis.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Found {
    /// Logarithm of the likelihood, up to what is common to all.
    pub(super) likelihood: f64,
    /// Probability, under this hypothesis, that the shaft turned.
    pub(super) turned: f64,
    /// Root mean square of what the best fit leaves of the readings, in deviations.
    pub(super) left: f64,
}

/// Sums of products of one channel against a course.
type Sums = [[f64; SUMMED]; SUMMED];

/// A course at one place, with all that hypotheses need of it.
#[derive(Clone, Copy)]
struct Place {
    off: [f64; ALL],
    /// Whether the shaft turns.
    moves: bool,
    current: Sums,
    counts: Sums,
    supply: f64,
    supply_slopes: [f64; OPEN],
}

struct Problem<'a> {
    reduced: &'a Reduced,
    sheets: &'a Sheets,
    open: Open,
    counts_in_radian: f64,
}

/// The bottom of a bowl.
#[derive(Clone, Copy)]
struct Bottom {
    likelihood: f64,
    height: f64,
    /// Root mean square of what is left of the readings.
    left: f64,
    moves: bool,
}

/// Half of the squares, its slope downhill and its curvature.
struct Bowl {
    height: f64,
    slope: [f64; ALL],
    curvature: [[f64; ALL]; ALL],
}

/// Finds the likelihood of each of these.
///
/// # Errors
/// Readings or figures so large or small that no likelihood is a number.
pub(super) fn weigh(reduced: &Reduced, sheets: &Sheets, shown: &[Shown]) -> Result<Vec<Found>, Unusable> {
    let counts_in_radian = sheets.counts / TAU;
    let problem = Problem { reduced, sheets, open: Open::of(sheets), counts_in_radian };
    let mut course = Course::default();
    let standing = sheets.stands(reduced.duty);
    let turns =
        Way { stands: false, odds: libm::log(1.0 - standing), from: problem.open.turning(reduced.duty) };
    let stands = Way { stands: true, odds: libm::log(standing), from: vec![[0.0; OPEN]] };
    // What counts are multiplied by makes no difference to a shaft that stands.
    let mut standing = Vec::new();
    let mut places = BTreeMap::new();
    let place_of: Vec<usize> = shown
        .iter()
        .map(|what| {
            let key = [what.current, what.voltage].map(f64::to_bits);
            *places.entry(key).or_insert_with(|| {
                standing.push(*what);
                standing.len() - 1
            })
        })
        .collect();
    let mut lowest = f64::INFINITY;
    let standing = problem.each(&standing, &stands, &mut lowest, &mut course);
    let turning = problem.each(shown, &turns, &mut lowest, &mut course);
    let both = turning.iter().zip(&place_of).map(|(turning, &place)| {
        let moves = f64::from(turning.moves);
        let (turns, stands) = (turning.likelihood, standing[place].likelihood);
        let most = turns.max(stands);
        let (turns, stands) = (libm::exp(turns - most), libm::exp(stands - most));
        Found {
            likelihood: most + libm::log(turns + stands),
            turned: moves * turns / (turns + stands),
            left: turning.left.min(standing[place].left),
        }
    });
    let found: Vec<Found> = both.collect();
    match found.iter().find(|found| !found.likelihood.is_finite()) {
        Some(found) => {
            let (what, must) =
                ("likelihood of a hypothesis", "a number: a reading or a figure of a sheet is far off");
            Err(Unusable::Figure { what, value: found.likelihood, must })
        }
        None => Ok(found),
    }
}

/// One way to take a shaft: as turning, or as standing.
struct Way {
    stands: bool,
    /// Logarithm of its probability beforehand.
    odds: f64,
    /// Where searches begin.
    from: Vec<[f64; OPEN]>,
}

impl Problem<'_> {
    /// The bottom of each, if the shaft goes this way.
    fn each(&self, shown: &[Shown], way: &Way, lowest: &mut f64, course: &mut Course) -> Vec<Bottom> {
        let starts = way.from.iter().map(|from| {
            let mut off = [0.0; ALL];
            off[..OPEN].copy_from_slice(from);
            self.place(off, way.stands, course)
        });
        let starts: Vec<Place> = starts.collect();
        let straight = |(k, what): (usize, &Shown)| {
            let scores = starts.iter().map(|start| self.bowl(start, what).straight());
            (scores.fold(f64::NEG_INFINITY, f64::max), k)
        };
        let mut scores: Vec<(f64, usize)> = shown.iter().enumerate().map(straight).collect();
        scores.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        let best = scores.first().map_or(f64::NEG_INFINITY, |score| score.0);
        // What is not fitted is taken as if the model were straight.
        let unfit =
            Bottom { likelihood: 0.0, height: f64::INFINITY, left: f64::INFINITY, moves: !way.stands };
        let mut bottoms = vec![unfit; shown.len()];
        for (rank, &(score, k)) in scores.iter().enumerate() {
            let fits = rank < FITTED || rank < MOST_FITTED && score > best - CLOSE;
            bottoms[k] = Bottom { likelihood: score, ..unfit };
            if fits {
                let found =
                    starts.iter().map(|start| self.fit(&shown[k], start, way.stands, *lowest, course));
                let lower = |a: Bottom, b: Bottom| if b.height < a.height { b } else { a };
                bottoms[k] = found.reduce(lower).unwrap_or(bottoms[k]);
            }
            *lowest = lowest.min(bottoms[k].height);
            bottoms[k].likelihood += way.odds;
        }
        bottoms
    }

    fn place(&self, off: [f64; ALL], stands: bool, course: &mut Course) -> Place {
        course.play(&self.open, &off[..OPEN], &self.reduced.stretches, stands);
        let sums = |readings: &Readings, model: &[f64], slopes: &[[f64; OPEN]]| {
            let mut sums = [[0.0; SUMMED]; SUMMED];
            let rows = readings.values.iter().zip(&readings.shared).zip(model.iter().zip(slopes));
            for ((&reading, shared), (&model, slopes)) in rows.filter(|((reading, _), _)| reading.is_finite())
            {
                let mut row = [1.0; SUMMED];
                row[..OPEN].copy_from_slice(slopes);
                (row[MODEL], row[READING]) = (model, reading);
                let weight = 1.0 / shared;
                for (a, line) in row.iter().map(|a| weight * a).zip(&mut sums) {
                    line.iter_mut().zip(&row).for_each(|(sum, b)| *sum += a * b);
                }
            }
            sums
        };
        Place {
            off,
            moves: course.angle.last().is_some_and(|angle| *angle != 0.0),
            current: sums(&self.reduced.current, &course.current, &course.current_slopes),
            counts: sums(&self.reduced.counts, &course.angle, &course.angle_slopes),
            supply: course.supply,
            supply_slopes: course.supply_slopes,
        }
    }

    fn bowl(&self, place: &Place, shown: &Shown) -> Bowl {
        let off = &place.off;
        let mut bowl = Bowl {
            height: 0.5 * off.iter().map(|z| z * z).sum::<f64>(),
            slope: off.map(|z| -z),
            curvature: std::array::from_fn(|a| std::array::from_fn(|b| f64::from(a == b))),
        };
        let sensor = self.sheets.current;
        let (gain, zero) = (sensor.gain, sensor.offset);
        // Each reading is what it is multiplied by, its slope to a gain and to a zero.
        let factor = shown.current * (1.0 + gain * off[GAIN]);
        bowl.add(
            &place.current,
            self.reduced.current.deviation,
            factor,
            [shown.current * gain, zero],
            zero * off[ZERO],
        );
        let factor = shown.counts * self.counts_in_radian;
        bowl.add(&place.counts, self.reduced.counts.deviation, factor, [0.0; 2], 0.0);
        if let Some((reading, deviation)) = self.reduced.voltage {
            let mut slopes = [0.0; ALL];
            slopes.iter_mut().zip(&place.supply_slopes).for_each(|(s, v)| *s = shown.voltage * v / deviation);
            let residual = (reading - shown.voltage * place.supply) / deviation;
            bowl.height += 0.5 * residual * residual;
            for a in 0..ALL {
                bowl.slope[a] += slopes[a] * residual;
                (0..ALL).for_each(|b| bowl.curvature[a][b] += slopes[a] * slopes[b]);
            }
        }
        bowl
    }

    /// Goes down to the bottom from a start.
    fn fit(&self, shown: &Shown, start: &Place, stands: bool, lowest: f64, course: &mut Course) -> Bottom {
        let mut place = *start;
        let mut bowl = self.bowl(&place, shown);
        let mut damping = 0.0;
        for step in 0..STEPS {
            if step >= EARLY && bowl.height > lowest + HOPELESS {
                break;
            }
            let Some((way, _)) = bowl.down(damping) else { break };
            let promised: f64 = 0.5 * way.iter().zip(&bowl.slope).map(|(w, s)| w * s).sum::<f64>();
            let off = std::array::from_fn(|k| place.off[k] + way[k].clamp(-3.0, 3.0));
            let next = self.place(off, stands, course);
            let there = self.bowl(&next, shown);
            // Written so that what is not a number is no way down.
            if there.height < bowl.height {
                let done = bowl.height - there.height < CLOSE_ENOUGH;
                (place, bowl) = (next, there);
                damping *= 0.1;
                if done {
                    break;
                }
            } else {
                if promised < CLOSE_ENOUGH {
                    break;
                }
                damping = (10.0 * damping).max(1.0);
            }
        }
        let determinant = bowl.down(0.0).map_or(f64::INFINITY, |(_, determinant)| determinant);
        let prior = 0.5 * place.off.iter().map(|z| z * z).sum::<f64>();
        let readings = place.current[ONES][ONES] + place.counts[ONES][ONES];
        let left = (2.0 * (bowl.height - prior) / readings.max(1.0)).max(0.0).sqrt();
        Bottom { likelihood: -bowl.height - 0.5 * determinant, height: bowl.height, left, moves: place.moves }
    }
}

impl Bowl {
    /// Adds readings of one channel: `factor` times the model, its further slopes, and what is there without.
    fn add(&mut self, sums: &Sums, deviation: f64, factor: f64, [gain, zero]: [f64; 2], rest: f64) {
        if sums[ONES][ONES] == 0.0 {
            return;
        }
        let weight = 1.0 / (deviation * deviation);
        // Slopes to all: which summed column, times what.
        let column = |a: usize| match a {
            GAIN => (MODEL, gain),
            ZERO => (ONES, zero),
            _ => (a, factor),
        };
        let residual_by = |c: usize| sums[c][READING] - factor * sums[c][MODEL] - rest * sums[c][ONES];
        let squares = residual_by(READING) - factor * residual_by(MODEL) - rest * residual_by(ONES);
        self.height += 0.5 * weight * squares.max(0.0);
        for a in 0..ALL {
            let (ca, fa) = column(a);
            self.slope[a] += weight * fa * residual_by(ca);
            for b in 0..ALL {
                let (cb, fb) = column(b);
                self.curvature[a][b] += weight * fa * fb * sums[ca][cb];
            }
        }
    }

    /// Logarithm of the likelihood if the model were straight from here on.
    fn straight(&self) -> f64 {
        self.down(0.0).map_or(f64::NEG_INFINITY, |(way, determinant)| {
            let gained = 0.5 * way.iter().zip(&self.slope).map(|(w, s)| w * s).sum::<f64>();
            gained - self.height - 0.5 * determinant
        })
    }

    /// `(C + λ·diag C)⁻¹·slope` and `ln det` of that matrix, by Cholesky; none where figures are not finite.
    fn down(&self, damping: f64) -> Option<([f64; ALL], f64)> {
        let mut factor = self.curvature;
        let mut determinant = 0.0;
        for a in 0..ALL {
            factor[a][a] *= 1.0 + damping;
            for b in 0..=a {
                let known: f64 = (0..b).map(|k| factor[a][k] * factor[b][k]).sum();
                let rest = factor[a][b] - known;
                if a == b {
                    if !(rest > 0.0 && rest.is_finite()) {
                        return None;
                    }
                    factor[a][a] = rest.sqrt();
                    determinant += libm::log(rest);
                } else {
                    factor[a][b] = rest / factor[b][b];
                }
            }
        }
        let mut way = self.slope;
        for a in 0..ALL {
            let known: f64 = (0..a).map(|k| factor[a][k] * way[k]).sum();
            way[a] = (way[a] - known) / factor[a][a];
        }
        for a in (0..ALL).rev() {
            let known: f64 = (a + 1..ALL).map(|k| factor[k][a] * way[k]).sum();
            way[a] = (way[a] - known) / factor[a][a];
        }
        way.iter().all(|w| w.is_finite()).then_some((way, determinant))
    }
}

#[cfg(test)]
mod tests {
    use super::super::hypothesis::Columns;
    use super::super::motion::Stretch;
    use super::super::sheets::{Band, Factors};
    use super::*;
    use crate::record::Sensor;

    /// A held shaft whose resistance alone is open: the integral over it, by ten thousand trapezoids, against that of
    /// Laplace.
    #[test]
    fn likelihoods_are_the_integral_over_what_is_open() {
        let known = |value: f64| Band { low: value, high: value };
        let sheets = Sheets {
            resistance: Band::around(3.0, 0.2),
            inductance: known(1e-6),
            constant: known(0.04),
            inertia: known(6e-6),
            coulomb: known(10.0),
            viscous: known(0.0),
            drop: known(0.0),
            supply: known(24.0),
            counts: 400.0,
            current: Sensor::default(),
            voltage: Sensor::default(),
            factors: Factors::NONE,
        };
        let readings = [2.31, 2.42, 2.5, 2.38, 2.44];
        let deviation = 0.08;
        let reduced = Reduced {
            columns: Columns { current: true, voltage: false, of_motor: false, counts: false },
            stretches: vec![Stretch { time: 0.04, part: 0.3 }; 5],
            duty: 0.3,
            current: Readings { values: readings.to_vec(), deviation, shared: vec![1.0; 5] },
            counts: Readings::default(),
            voltage: None,
        };
        let factors = [1.0, 1.3, 0.5, -1.0];
        let shown = factors.map(|current| Shown { current, voltage: 1.0, counts: 1.0 });
        let found = weigh(&reduced, &sheets, &shown).unwrap();
        let (middle, wide) = sheets.resistance.logarithm();
        let integral = |factor: f64| {
            let step = 2e-3;
            let at = |k: i32| {
                let z = step * f64::from(k);
                let current = factor * 0.3 * 24.0 / libm::exp(middle + wide * z);
                let squares: f64 = readings.iter().map(|i| (i - current) * (i - current)).sum();
                libm::exp(-0.5 * (squares / (deviation * deviation) + z * z))
            };
            libm::log((-10_000..=10_000).map(at).sum::<f64>() * step / TAU.sqrt())
        };
        for (k, factor) in factors.iter().enumerate().take(3) {
            let ratio = found[k].likelihood - found[0].likelihood;
            let expected = integral(*factor) - integral(1.0);
            assert!((ratio - expected).abs() < 0.05 + 0.01 * expected.abs(), "{factor}: {ratio}, {expected}");
        }
        // Out of reach of any resistance.
        assert!(found[3].likelihood < found[0].likelihood - 100.0);
        assert!(found.iter().all(|found| found.turned < 1e-9));
    }
}

//! Integrals of the equations of motion over bell-shaped windows.
//!
//! ```text
//! ∫φ·u = R·∫φ·i + L·∫φ·di + K·∫φ·dθ + U_b·∫φ·s_i + u_0·∫φ
//! K·∫φ·i = J·∫φ·dω + b·∫φ·dθ + M_c·∫φ·s + M_0·∫φ
//! ```
//!
//! φ = sin² over a window of intervals. Each interval keeps its equation as it is integrated from row to row: a held
//! voltage counts exactly, a current as straight between rows. As φ vanishes at both ends, `∫φ·di = −∫i·dφ`: nothing is
//! differentiated, and the noise of many rows is averaged instead of that of two. Windows overlap by half. Method:
//! modulating functions, M. Shinbrot 1957 (from memory).

use crate::parameter::Parameter;
use crate::prepared::{Prepared, senses};
use crate::record::Shaft;

/// Most columns of an equation.
pub(crate) const COLUMNS: usize = 6;

/// One window of one equation: `right = Σ left·coefficient`.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Row {
    pub(crate) left: [f64; COLUMNS],
    pub(crate) right: f64,
    /// Variance that the noise of the sensors gives each entry.
    pub(crate) noise: [f64; COLUMNS],
}

/// Which equation.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) enum Equation {
    /// The balance of voltages.
    Electrical,
    /// The balance of torques over the constant, so that it reads in amperes. Known inertias go to the right, by this
    /// constant.
    Mechanical {
        /// K, V·s/rad.
        constant: f64,
    },
}

impl Equation {
    /// What its coefficients are.
    pub(crate) fn parameters(self) -> [Parameter; COLUMNS] {
        use Parameter as P;
        match self {
            Self::Electrical => [
                P::Resistance,
                P::Inductance,
                P::Constant,
                P::BrushDrop,
                P::VoltageOffset,
                P::SupplyResistance,
            ],
            Self::Mechanical { .. } => [
                P::Inertia,
                P::ViscousFriction,
                P::CoulombFriction,
                P::Imbalance,
                P::LoadInertia,
                P::LoadFriction,
            ],
        }
    }
}

/// Records with what the windows of an equation need of them.
pub(crate) struct Ground<'a> {
    equation: Equation,
    records: Vec<(&'a Prepared<'a>, &'a [f64], Option<Motion<'a>>)>,
    /// Deviation of the noise of the current, A.
    noise: f64,
}

impl<'a> Ground<'a> {
    /// Of the records that have the columns.
    pub(crate) fn of(equation: Equation, prepared: &'a [Prepared<'a>], noise: f64) -> Self {
        let records = prepared.iter().filter_map(|record| {
            let current = record.record.current?;
            match equation {
                // A shaft that may turn without anybody looking makes the equation useless.
                Equation::Electrical if !record.is_locked() && record.angle().is_none() => None,
                Equation::Electrical => Some((record, current, None)),
                Equation::Mechanical { .. } => Some((record, current, Some(Motion::of(record)?))),
            }
        });
        Self { equation, records: records.collect(), noise }
    }

    /// Rows of all records.
    pub(crate) fn rows(&self) -> usize {
        self.records.iter().map(|(record, ..)| record.record.rows()).sum()
    }

    /// Rows of the longest.
    pub(crate) fn longest(&self) -> usize {
        self.records.iter().map(|(record, ..)| record.record.rows()).max().unwrap_or(0)
    }

    /// Windows of so many intervals, every `stride`-th of those that overlap by half.
    pub(crate) fn windows(&self, intervals: usize, stride: usize) -> Vec<Row> {
        let weights = bell(intervals);
        let sizes = Sizes::of(&weights);
        let bell = (weights.as_slice(), &sizes);
        let mut rows = Vec::new();
        for (prepared, current, motion) in &self.records {
            for run in &prepared.runs {
                // Speeds at the ends of an interval take one row more on each side.
                let margin = usize::from(motion.is_some());
                let mut first = run.start + margin;
                while first + intervals + margin <= run.end {
                    let row = match (self.equation, motion) {
                        (Equation::Mechanical { constant }, Some(motion)) => {
                            mechanical(prepared, current, motion, constant, first, bell)
                        }
                        _ => Some(electrical(prepared, current, self.noise, first, bell)),
                    };
                    let is_there =
                        |row: &Row| row.right.is_finite() && row.left.iter().all(|x| x.is_finite());
                    rows.extend(row.filter(is_there));
                    first += stride * (intervals / 2).max(1);
                }
            }
        }
        rows
    }
}

/// What the mechanical equation needs of the angles.
struct Motion<'a> {
    angles: &'a [f64],
    resolution: f64,
    senses: Vec<i8>,
}

/// Counts by which a shaft has to move to show its sense.
const WAY: f64 = 2.5;
/// A shaft slower than this part of the highest speed counts as resting.
const SLOW: f64 = 0.01;

impl<'a> Motion<'a> {
    fn of(prepared: &Prepared<'a>) -> Option<Self> {
        let angle = prepared.angle()?;
        // The largest way over a tenth of a percent of the rows.
        let span = (angle.values.len() / 1000).max(1);
        let ways = angle.values.windows(span + 1).step_by(span).map(|w| (w[span] - w[0]).abs());
        let fastest = ways.filter(|way| way.is_finite()).fold(0.0, f64::max) / span as f64;
        if fastest <= 0.0 {
            return None;
        }
        let way = WAY * angle.resolution;
        let longest = (way / (SLOW * fastest)).clamp(4.0, 1e9) as usize;
        let senses = senses(angle.values, way, longest);
        Some(Self { angles: angle.values, resolution: angle.resolution, senses })
    }
}

fn bell(intervals: usize) -> Vec<f64> {
    let at = |m: usize| libm::sin(std::f64::consts::PI * (m as f64 + 0.5) / intervals as f64);
    (0..intervals).map(|m| at(m) * at(m)).collect()
}

/// Currents within so many deviations of the noise have no certain sign.
const UNSIGNED: f64 = 3.0;

fn electrical(
    prepared: &Prepared<'_>,
    current: &[f64],
    noise: f64,
    first: usize,
    (weights, sizes): (&[f64], &Sizes),
) -> Row {
    let mut row = Row::default();
    let angles = prepared.angle();
    let (r, k) = (prepared.resistance_factor, prepared.constant_factor);
    let unsigned = UNSIGNED * noise;
    for (m, &phi) in weights.iter().enumerate() {
        let at = first + m;
        let time = phi * prepared.step(at);
        let mean = 0.5 * (current[at] + current[at + 1]);
        row.left[0] += r * time * mean;
        row.left[1] += phi * (current[at + 1] - current[at]);
        if let Some(angle) = angles {
            row.left[2] += k * phi * (angle.values[at + 1] - angle.values[at]);
        }
        row.left[3] +=
            time * if mean.abs() > unsigned { mean.signum() } else { mean / unsigned.max(f64::MIN_POSITIVE) };
        row.left[4] -= time;
        if let Some(duty) = &prepared.duty {
            row.left[5] += time * duty[at] * duty[at] * mean;
        }
        row.right += time * prepared.voltage[at];
    }
    let step = prepared.usual_step();
    let count = angles.map_or(0.0, |angle| angle.resolution * angle.resolution / 12.0);
    row.noise[0] = r * r * noise * noise * step * step * sizes.squares;
    row.noise[1] = noise * noise * sizes.slopes;
    row.noise[2] = k * k * count * sizes.slopes;
    row
}

fn mechanical(
    prepared: &Prepared<'_>,
    current: &[f64],
    motion: &Motion<'_>,
    constant: f64,
    first: usize,
    (weights, sizes): (&[f64], &Sizes),
) -> Option<Row> {
    let mut row = Row::default();
    let angles = motion.angles;
    let trial = prepared.record.trial;
    let speed = |at: usize| (angles[at + 1] - angles[at - 1]) / (prepared.step(at - 1) + prepared.step(at));
    let mut before = speed(first);
    for (m, &phi) in weights.iter().enumerate() {
        let at = first + m;
        let sense = f64::from(motion.senses[at]);
        // Friction at rest is whatever holds the shaft.
        if sense == 0.0 {
            return None;
        }
        let time = phi * prepared.step(at);
        let after = speed(at + 1);
        row.left[0] += phi * (after - before);
        row.left[1] += phi * (angles[at + 1] - angles[at]);
        row.left[2] += time * sense;
        row.left[3] += time;
        row.right += prepared.constant_factor * time * 0.5 * (current[at] + current[at + 1]);
        before = after;
    }
    row.right -= trial.extra_inertia / constant * row.left[0];
    let step = prepared.usual_step();
    let count = motion.resolution * motion.resolution / 12.0;
    row.noise[0] = count * sizes.bends / (step * step);
    row.noise[1] = count * sizes.slopes;
    if trial.shaft == Shaft::Coupled {
        (row.left[4], row.noise[4]) = (row.left[0], row.noise[0]);
        row.left[5] = row.left[2];
    }
    Some(row)
}

/// What noise from row to row becomes: sums of the squares of the weights, of their slopes and of their bends, per
/// interval.
struct Sizes {
    squares: f64,
    slopes: f64,
    bends: f64,
}

impl Sizes {
    fn of(weights: &[f64]) -> Self {
        let at = |k: i64| usize::try_from(k).ok().and_then(|k| weights.get(k)).copied().unwrap_or(0.0);
        let mut sizes = Self { squares: 0.0, slopes: 0.0, bends: 0.0 };
        for k in -1..weights.len() as i64 + 2 {
            let slope = at(k) - at(k - 1);
            // A speed at a row is the way over both intervals beside it, over two steps.
            let bend = 0.5 * (at(k + 1) - at(k) - at(k - 1) + at(k - 2));
            sizes.squares += at(k) * at(k);
            sizes.slopes += slope * slope;
            sizes.bends += bend * bend;
        }
        sizes
    }
}

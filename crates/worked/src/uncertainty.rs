//! Standard uncertainty: first order (JCGM 100), and by drawing (JCGM 101) where that does not hold.

use crate::Worked;
use crate::draws::Stream;
use crate::figure::Share;
use crate::input::Input;
use crate::interval::Interval;
use crate::tape::{Scratch, Tape};
use std::collections::BTreeMap;
use std::sync::Arc;

/// The standard uncertainty of a worked number.
#[derive(Clone, PartialEq, Debug)]
pub struct Uncertainty {
    /// Standard uncertainty, SI.
    pub u: f64,
    /// Effective degrees of freedom (Welch–Satterthwaite, JCGM 100 G.4.1).
    pub degrees_of_freedom: f64,
    /// Parts in the variance, largest first; inputs known together stand in one row.
    pub shares: Vec<Share>,
    /// The expression is near enough to a straight line over ±2 u of each input for first order to hold.
    pub first_order_holds: bool,
}

/// What a set of draws shows of a worked number.
#[derive(Clone, PartialEq, Debug)]
pub struct Drawn {
    /// All results in rising order, SI.
    sorted: Vec<f64>,
    /// Mean, SI.
    pub mean: f64,
    /// Standard deviation, which is the standard uncertainty, SI.
    pub u: f64,
}

impl Drawn {
    /// The value that a share `p` of the draws stays below, 0 ≤ p ≤ 1.
    pub fn quantile(&self, p: f64) -> f64 {
        let last = self.sorted.len().saturating_sub(1);
        let place = p.clamp(0.0, 1.0) * last as f64;
        let below = place.floor() as usize;
        let above = (below + 1).min(last);
        let rest = place - below as f64;
        self.sorted[below] * (1.0 - rest) + self.sorted[above] * rest
    }

    /// The shortest interval that holds a share `p` of the draws (JCGM 101, 5.3.4).
    pub fn shortest_interval(&self, p: f64) -> (f64, f64) {
        let n = self.sorted.len();
        let inside = ((p.clamp(0.0, 1.0) * n as f64).ceil() as usize).clamp(1, n);
        let starts = 0..=n - inside;
        let width = |k: usize| self.sorted[k + inside - 1] - self.sorted[k];
        let best = starts.min_by(|a, b| width(*a).total_cmp(&width(*b))).unwrap_or(0);
        (self.sorted[best], self.sorted[best + inside - 1])
    }
}

impl Worked {
    /// Standard uncertainty to first order (JCGM 100, 5.1 and 5.2), with each input's share.
    ///
    /// `None` where a datum is missing or the expression is faulty.
    pub fn uncertainty(&self) -> Option<Uncertainty> {
        if self.fault().is_some() {
            return None;
        }
        first_order(&Tape::new(self), &mut Scratch::default())
    }

    /// Results of `runs` draws over the distributions of the inputs (JCGM 101, 7): rectangular over limits,
    /// normal or Student's t where a standard uncertainty is stated, jointly normal for inputs known together.
    ///
    /// `None` where a datum is missing, the expression is faulty, or a draw leaves its domain.
    pub fn drawn(&self, runs: usize, seed: u64) -> Option<Drawn> {
        if self.fault().is_some() || runs < 2 {
            return None;
        }
        draw(&Tape::new(self), runs, seed)
    }
}

/// First-order covariance of several worked numbers that share inputs, row by row (JCGM 100, H.2.3).
///
/// `None` where one of them is missing a datum or is faulty.
pub fn covariance(of: &[Worked]) -> Option<Vec<f64>> {
    // One path is one place, whichever of the numbers it stands in.
    let mut inputs: Vec<Arc<Input>> = Vec::new();
    let mut rows = Vec::new();
    for worked in of {
        if worked.fault().is_some() {
            return None;
        }
        let tape = Tape::new(worked);
        let slopes = nominal_slopes(&tape, &mut Scratch::default())?;
        let mut row = Vec::new();
        for (input, slope) in tape.inputs.iter().zip(slopes) {
            let place = inputs.iter().position(|i| i.path == input.path).unwrap_or_else(|| {
                inputs.push(Arc::clone(input));
                inputs.len() - 1
            });
            row.push((place, slope.slope * input.uncertainty().0));
        }
        rows.push(row);
    }
    let n = of.len();
    let mut out = vec![0.0; n * n];
    for (i, a) in rows.iter().enumerate() {
        for (j, b) in rows.iter().enumerate() {
            for (p, ca) in a {
                for (q, cb) in b {
                    out[i * n + j] += ca * cb * correlation(&inputs[*p], &inputs[*q]);
                }
            }
        }
    }
    Some(out)
}

struct Slope {
    slope: f64,
    kink: bool,
}

fn nominal_slopes(tape: &Tape, scratch: &mut Scratch) -> Option<Vec<Slope>> {
    let at: Vec<Interval> = tape.nominal().iter().map(|v| Interval::point(*v)).collect();
    if tape.nominal().iter().any(|v| !v.is_finite()) {
        return None;
    }
    let (_, leaves_domain) = tape.enclose(&at, scratch);
    if leaves_domain.is_some() {
        return None;
    }
    let slopes = tape.slopes(scratch).iter().map(|s| Slope {
        slope: if s.width().is_finite() { 0.5 * (s.low + s.high) } else { 0.0 },
        kink: !s.width().is_finite() || s.width() > 1e-6 * s.magnitude(),
    });
    Some(slopes.collect())
}

pub(crate) fn first_order(tape: &Tape, scratch: &mut Scratch) -> Option<Uncertainty> {
    let slopes = nominal_slopes(tape, scratch)?;
    let parts: Vec<f64> =
        tape.inputs.iter().zip(&slopes).map(|(input, s)| s.slope * input.uncertainty().0).collect();
    let variance: f64 = (0..parts.len()).map(|i| parts[i] * with_others(tape, &parts, i)).sum();
    let u = variance.max(0.0).sqrt();
    let mut first_order_holds = true;
    for (k, part) in parts.iter().enumerate() {
        if part.abs() > 0.01 * u {
            first_order_holds &= !slopes[k].kink && is_straight(tape, k, scratch);
        }
    }
    let welch: f64 = tape
        .inputs
        .iter()
        .zip(&parts)
        .map(|(input, part)| crate::number::power(*part, 4) / input.uncertainty().1)
        .sum();
    let degrees_of_freedom = if welch > 0.0 { variance * variance / welch } else { f64::INFINITY };
    Some(Uncertainty { u, degrees_of_freedom, shares: shares(tape, &parts, variance), first_order_holds })
}

/// Whether the slope towards one input changes by less than 15 % over ±2 u of it.
fn is_straight(tape: &Tape, k: usize, scratch: &mut Scratch) -> bool {
    let mut at = tape.nominal();
    let (low, high) = tape.inputs[k].bounds();
    let (middle, reach) = (at[k], 2.0 * tape.inputs[k].uncertainty().0);
    let f0 = tape.value(&at, scratch);
    at[k] = (middle + reach).min(high.max(middle));
    let up = tape.value(&at, scratch) - f0;
    at[k] = (middle - reach).max(low.min(middle));
    let down = f0 - tape.value(&at, scratch);
    // One-sided tolerances leave one of the two steps empty.
    up == 0.0 || down == 0.0 || (up - down).abs() <= 0.15 * (up + down).abs()
}

/// An input's part together with what others that are known with it add: `Σ r_ij·c_j·u_j`.
fn with_others(tape: &Tape, parts: &[f64], i: usize) -> f64 {
    let input = &tape.inputs[i];
    if input.group.is_none() {
        return parts[i];
    }
    tape.inputs.iter().zip(parts).map(|(other, part)| part * correlation(input, other)).sum()
}

fn shares(tape: &Tape, parts: &[f64], variance: f64) -> Vec<Share> {
    if variance <= 0.0 {
        return Vec::new();
    }
    let mut rows: Vec<Share> = Vec::new();
    for (i, input) in tape.inputs.iter().enumerate() {
        let share = parts[i] * with_others(tape, parts, i) / variance;
        let group = input.group.as_ref().map(|(group, _)| group.name.to_string());
        match group.as_ref().and_then(|name| rows.iter_mut().find(|r| r.path == *name)) {
            Some(row) => row.share += share,
            None => {
                let symbol = if group.is_some() { String::new() } else { input.symbol.to_string() };
                rows.push(Share { path: group.unwrap_or_else(|| input.path.to_string()), symbol, share });
            }
        }
    }
    rows.retain(|r| r.share.abs() >= 5e-4);
    rows.sort_by(|a, b| b.share.total_cmp(&a.share).then_with(|| a.path.cmp(&b.path)));
    rows
}

fn correlation(a: &Input, b: &Input) -> f64 {
    if a.path == b.path {
        return 1.0;
    }
    match (&a.group, &b.group) {
        (Some((group, i)), Some((other, j))) if Arc::ptr_eq(group, other) => {
            let n = group.correlation.len().isqrt();
            group.correlation[i * n + j]
        }
        _ => 0.0,
    }
}

/// Draws of inputs that several figures share, each made once: a figure gets the same ones as it would by itself,
/// because they depend on the seed, the input and the run alone.
#[derive(Clone, Debug)]
pub struct Draws {
    runs: usize,
    seed: u64,
    columns: BTreeMap<Arc<str>, (Arc<Input>, Vec<f64>)>,
}

impl Draws {
    /// So many draws under a seed; none are made yet.
    pub fn new(runs: usize, seed: u64) -> Self {
        Self { runs, seed, columns: BTreeMap::new() }
    }

    fn prepare(&mut self, input: &Arc<Input>) {
        // An input of that path with another value would be another input.
        if self.columns.get(&input.path).is_none_or(|(known, _)| known != input) {
            let streams = streams_of(input, self.seed);
            let column = (0..self.runs as u64).map(|run| draw_input(input, &streams, run)).collect();
            self.columns.insert(Arc::clone(&input.path), (Arc::clone(input), column));
        }
    }

    /// Results of the draws in the order of the runs; `None` where a datum is missing or a draw leaves its domain.
    fn results(&mut self, tape: &Tape) -> Option<Vec<f64>> {
        if tape.inputs.iter().any(|input| input.is_missing()) || self.runs < 2 {
            return None;
        }
        for input in &tape.inputs {
            self.prepare(input);
        }
        let column = |input: &Arc<Input>| self.columns.get(&input.path).map(|(_, column)| column.as_slice());
        let columns: Vec<&[f64]> = tape.inputs.iter().filter_map(column).collect();
        let values = tape.values(&columns, self.runs);
        values.iter().all(|v| !v.is_nan()).then_some(values)
    }

    /// Standard deviation of the draws.
    pub(crate) fn u(&mut self, tape: &Tape) -> Option<f64> {
        self.results(tape).map(|values| mean_and_deviation(&values).1)
    }
}

fn mean_and_deviation(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let u = (values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / (n - 1.0)).sqrt();
    (mean, u)
}

fn draw(tape: &Tape, runs: usize, seed: u64) -> Option<Drawn> {
    let mut sorted = Draws::new(runs, seed).results(tape)?;
    let (mean, u) = mean_and_deviation(&sorted);
    sorted.sort_by(f64::total_cmp);
    Some(Drawn { sorted, mean, u })
}

/// An input's own stream; of an input known together with others, the streams of the group up to its place.
pub(crate) fn streams_of(input: &Input, seed: u64) -> Vec<Stream> {
    match &input.group {
        Some((group, i)) => (0..=*i).map(|j| Stream::new(seed, &format!("{}#{j}", group.name))).collect(),
        None => vec![Stream::new(seed, &input.path)],
    }
}

pub(crate) fn draw_input(input: &Input, streams: &[Stream], run: u64) -> f64 {
    let middle = input.value.unwrap_or(f64::NAN);
    match (input.standard_uncertainty, input.limits, &input.group) {
        (Some((u, _)), _, Some((group, i))) => {
            let row = &group.factor[i * group.correlation.len().isqrt()..];
            let z = streams.iter().zip(row).map(|(stream, l)| l * stream.normal(run)).sum::<f64>();
            middle + u * z
        }
        (Some((u, degrees_of_freedom)), _, None) => middle + u * streams[0].student(run, degrees_of_freedom),
        (None, Some((low, high)), _) => low + streams[0].uniform(run) * (high - low),
        (None, None, _) => middle,
    }
}

//! The balance of voltages over windows that do not overlap, and the robust fit that signs are read from.
//!
//! ```text
//! ū = R·ī + L·Δi/T + κ·Δc/T + U_b·sgn ī + u_0        κ = K·2π/N, N counts in a turn
//! ```
//!
//! Windows integrate, so nothing is differentiated. Where the voltage is held between rows, L takes up what straight lines
//! between them make wrong. Windows that do not fit the others are left out of the fit and stay among the windows, so that
//! a change in the course of a record shows against what came before. Priors keep what no window tells near the sheet.

use super::CHANCE;
use super::course::{Course, rms};
use super::known::{Known, UNSTATED_DROP, usable};
use super::steps::median;
use crate::pulse::Band;
use numeric::Matrix;
use numeric::distribution::student_t_quantile;
use numeric::summed::{Curvature, Sums};
use std::ops::Range;

/// A window of the record.
#[derive(Clone, Debug)]
pub(super) struct Window {
    /// First to last row, both at its ends.
    pub(super) rows: Range<usize>,
    /// Middle, s.
    pub(super) time: f64,
    /// Length, s.
    pub(super) length: f64,
    /// Mean voltage, V.
    pub(super) voltage: f64,
    /// Mean current, A.
    pub(super) current: f64,
    /// Mean sense of the current: that of a drop; nothing where it may be none.
    pub(super) sense: f64,
    /// Mean slope of the current, A/s.
    pub(super) slope: f64,
    /// Counts per second.
    pub(super) rate: f64,
}

/// One more column: its value in a window, and the part of the window's current in it.
pub(super) type More<'a> = &'a dyn Fn(&Window) -> (f64, f64);

/// Windows and what fits them.
#[derive(Clone, Debug)]
pub(super) struct Balance {
    pub(super) windows: Vec<Window>,
    /// Those that the fit takes.
    pub(super) fitting: Vec<bool>,
    pub(super) fit: Fit,
    /// Largest voltage of a window, V.
    pub(super) most: f64,
    /// Deviation of the noise of a row of the current, A.
    noise: f64,
    priors: [Option<(f64, f64)>; COLUMNS],
    /// What the sheet says of each column.
    stated: [Option<f64>; COLUMNS],
}

/// What fits.
#[derive(Clone, Debug)]
pub(super) struct Fit {
    /// R, L, κ, U_b, u_0, and one more where that was asked for.
    pub(super) values: Vec<f64>,
    /// Their standard deviations by scatter.
    pub(super) deviations: Vec<f64>,
    covariance: Matrix,
    /// Deviation of a window, V.
    scatter: f64,
    /// What it is at least by the noise of the columns, V.
    least: f64,
    /// What of it noise and rounding at both ends of a window make: of windows in a line it cancels but for the ends.
    ends: f64,
    pub(super) degrees_of_freedom: f64,
    /// Shares by which noise of current and count draws their coefficients towards zero.
    pub(super) attenuations: Vec<f64>,
}

const COLUMNS: usize = 5;
pub(super) const RESISTANCE: usize = 0;
const SLOPE: usize = 1;
pub(super) const PER_COUNT: usize = 2;
const DROP: usize = 3;
const ZERO: usize = 4;
const MORE: usize = COLUMNS;

impl Fit {
    fn nothing() -> Self {
        let (values, deviations, attenuations) = (Vec::new(), Vec::new(), Vec::new());
        let covariance = Matrix::zeros(0, 0);
        Self {
            values,
            deviations,
            covariance,
            scatter: 0.0,
            least: 0.0,
            ends: 0.0,
            degrees_of_freedom: 0.0,
            attenuations,
        }
    }
}

/// Fewest rows of a window, fewest windows, and counts that rounding is small against (√(1/6) of one, 2 % of 20).
const SHORTEST: usize = 8;
const FEWEST: usize = 12;
const ENOUGH: usize = 48;
const COUNTS: f64 = 20.0;
/// Variance of a difference of two rounded counts.
const ROUNDING: f64 = 1.0 / 6.0;
/// Attenuation from which on a fit does not tell small effects.
const DROWNED: f64 = 0.02;
/// Attenuation up to which it is taken out to a tenth of itself.
const SLIGHT: f64 = 0.1;
/// Deviations of a current that surely flows.
const FLOWS: f64 = 3.0;
/// Part of a window in which a current must flow, at rest.
const SURE: f64 = 0.9;
/// Scatter is never taken as less than this part of the largest voltage: no bench is straighter (common practice, no
/// source).
const STRAIGHT: f64 = 1e-3;
/// Share of the windows that a fit is sought by at first, and steps towards those that agree most.
const MOST_AGREE: f64 = 0.6;
const STEPS: usize = 12;
/// Deviations from which on a window does not fit the others.
const FAR: f64 = 6.0;
/// What nobody states closer: a resistance to this part of its middle, a drop to this part of the largest voltage.
const LOOSE: f64 = 0.3;
const SMALL: f64 = 0.5 * UNSTATED_DROP;
/// Deviations of a prior beyond which a coefficient is not believed.
const PLAUSIBLE: f64 = 4.0;

impl Balance {
    /// None where a column is missing or the windows are too few.
    pub(super) fn of(course: &Course<'_>, known: &Known<'_>) -> Option<Self> {
        course.current.as_ref()?;
        let windows = good_windows(course)?;
        let most = windows.iter().map(|w| w.voltage.abs()).fold(0.0, f64::max);
        if most == 0.0 {
            return None;
        }
        let resistance = usable(known.resistance);
        let stated = |r: Band| (r.middle(), (LOOSE * r.middle()).max(0.5 * (r.high - r.low)));
        let sensors = known.sensors;
        let zero = resistance.map_or(0.0, |r| r.middle()) * sensors.current.offset + sensors.voltage.offset;
        let drop = known
            .brush_drop
            .map_or((0.0, SMALL * most), |b| (b.middle(), (0.5 * (b.high - b.low)).max(SMALL * most)));
        let priors = [resistance.map(stated), None, None, Some(drop), Some((0.0, zero + STRAIGHT * most))];
        let mut balance = Self {
            fitting: vec![true; windows.len()],
            fit: Fit::nothing(),
            most,
            noise: course.noise,
            stated: [
                resistance.map(|r| r.middle()),
                usable(known.inductance).map(|l| l.middle()),
                known.per_count().map(|k| k.middle()),
                None,
                None,
            ],
            priors,
            windows,
        };
        balance.settle();
        balance.fit.values.iter().all(|v| v.is_finite()).then_some(balance)
    }

    /// Fits the windows that agree most, by the least trimmed squares of their residuals (P. J. Rousseeuw and K. Van Driessen,
    /// *Computing LTS regression for large data sets*, 2006, from memory), then all that lie near that fit.
    fn settle(&mut self) {
        self.fit = self.fit_with(None);
        for _ in 0..STEPS {
            let off = self.residuals();
            let mut sorted = off.clone();
            sorted.sort_by(f64::total_cmp);
            let most = sorted[(MOST_AGREE * (sorted.len() - 1) as f64) as usize];
            self.fitting = off.iter().map(|off| *off <= most).collect();
            self.fit = self.fit_with(None);
        }
        for _ in 0..2 {
            let usual = median(self.residuals()).unwrap_or(0.0) / 0.6745;
            // Windows that the others say little of, such as those of a start, belong to the fit.
            let most = |w: &Window| FAR * libm::hypot(usual.max(self.fit.least), self.fit_deviation(w));
            self.fitting = self.windows.iter().map(|w| self.residual(w).abs() <= most(w)).collect();
            self.fit = self.fit_with(None);
        }
    }

    /// One more column's coefficient over its deviation.
    pub(super) fn clearness(&self, more: More<'_>) -> f64 {
        let fit = self.fit_with(Some(more));
        (fit.values[MORE] / fit.deviations[MORE]).abs()
    }

    fn residuals(&self) -> Vec<f64> {
        self.windows.iter().map(|w| self.residual(w).abs()).collect()
    }

    /// What a window's voltage has more than the fit.
    pub(super) fn residual(&self, window: &Window) -> f64 {
        window.voltage - row(window).iter().zip(&self.fit.values).map(|(x, b)| x * b).sum::<f64>()
    }

    /// Whether drop and zero lie where they may: a fit that bends them to what it cannot tell apart tells nothing closely.
    pub(super) fn is_plausible(&self) -> bool {
        [DROP, ZERO].into_iter().all(|column| {
            let off = |(value, room): (f64, f64)| (self.fit.values[column] - value).abs() / room;
            self.priors[column].is_none_or(|prior| off(prior) <= PLAUSIBLE)
        })
    }

    /// The coefficient of one more column over the resistance, where noise draws no column so far down that what is left
    /// over looks like something, and where no chance makes it.
    pub(super) fn over_resistance(&self, more: More<'_>) -> Option<f64> {
        let drowned = |column: usize| self.fit.attenuations[column] > DROWNED;
        if !self.is_plausible() || drowned(RESISTANCE) || drowned(PER_COUNT) {
            return None;
        }
        let fit = self.fit_with(Some(more));
        let far = student_t_quantile(1.0 - 0.5 * CHANCE, fit.degrees_of_freedom);
        let is_clear = fit.values[MORE].abs() > far * fit.deviations[MORE]
            && fit.values[RESISTANCE] > 2.0 * far * fit.deviations[RESISTANCE]
            && fit.attenuations.iter().all(|a| *a < SLIGHT);
        is_clear.then(|| fit.values[MORE] / fit.values[RESISTANCE])
    }

    /// Deviation of the integral of the balance over so many windows in a line, V·s.
    pub(super) fn integral_scatter(&self, windows: usize, length: f64) -> f64 {
        let (all, ends) = (self.fit.scatter * self.fit.scatter, self.fit.ends * self.fit.ends);
        length * ((all - ends) * windows as f64 + ends).max(0.0).sqrt()
    }

    /// Voltage that the resistance of the sheet takes in a window, or without a sheet that of the fit, V.
    pub(super) fn resistive(&self, window: &Window) -> f64 {
        self.stated[RESISTANCE].unwrap_or(self.fit.values[RESISTANCE]) * window.current
    }

    /// Deviation of the fit itself at a window, V.
    pub(super) fn fit_deviation(&self, window: &Window) -> f64 {
        let row = row(window);
        let covariance = &self.fit.covariance;
        let term = |i: usize, j: usize| row[i] * row[j] * covariance[(i, j)];
        let all = (0..COLUMNS).flat_map(|i| (0..COLUMNS).map(move |j| term(i, j)));
        all.sum::<f64>().max(0.0).sqrt()
    }

    /// Voltage that the turning of a window makes, V.
    pub(super) fn back_voltage(&self, window: &Window) -> f64 {
        self.residual(window) + self.fit.values[PER_COUNT] * window.rate
    }

    /// The windows that the fit takes.
    pub(super) fn fitted(&self) -> impl Iterator<Item = &Window> {
        self.windows.iter().zip(&self.fitting).filter(|(_, fits)| **fits).map(|(window, _)| window)
    }

    /// Fits all columns, and one more.
    pub(super) fn fit_with(&self, more: Option<More<'_>>) -> Fit {
        let n = COLUMNS + usize::from(more.is_some());
        let mut sums = Sums::new(n);
        let mut left = vec![0.0; n];
        let mut noise = Matrix::zeros(n, n);
        for window in self.fitted() {
            left[..COLUMNS].copy_from_slice(&row(window));
            let square = self.noise * self.noise / window.rows.len() as f64;
            if let Some(more) = more {
                let (value, part) = more(window);
                left[MORE] = value;
                noise[(MORE, MORE)] += part * part * square;
                noise[(MORE, RESISTANCE)] += part * square;
                noise[(RESISTANCE, MORE)] += part * square;
            }
            sums.add_row(&left, window.voltage, 1.0);
            let per_time = 1.0 / (window.length * window.length);
            noise[(RESISTANCE, RESISTANCE)] += square;
            noise[(SLOPE, SLOPE)] += 2.0 * self.noise * self.noise * per_time;
            noise[(PER_COUNT, PER_COUNT)] += ROUNDING * per_time;
        }
        // How much a window scatters is seen without priors, and weighs them in turn; a fit that bends to the noise of its own
        // columns scatters too little, so that no less is taken than that noise makes by the sheet.
        let free = Curvature::of(&sums);
        let left_over = (sums.squares - free.reachable(&sums.slope)).max(0.0);
        let degrees_of_freedom = sums.rows.saturating_sub(free.rank()).max(1) as f64;
        // Without a sheet what noise makes goes by a balance that has neither drop nor zero to bend to it.
        let bare = sums.of(&[RESISTANCE, SLOPE, PER_COUNT]);
        let mut values = Curvature::of(&bare).step(&bare.slope, 0.0);
        values.resize(COLUMNS, 0.0);
        let rows = sums.rows.max(1) as f64;
        let of_column = |j: usize| {
            let value = self.stated[j].unwrap_or(values[j]);
            value * value * noise[(j, j)] / rows
        };
        let made = (0..COLUMNS).map(of_column).sum::<f64>().sqrt();
        let least = made.max(STRAIGHT * self.most);
        let deviation = (left_over / degrees_of_freedom).sqrt().max(least);
        for (column, prior) in self.priors.iter().enumerate() {
            if let Some((value, room)) = prior {
                sums.add_prior(column, *value, 0.0, room / deviation);
            }
        }
        let mut curvature = Curvature::of(&sums);
        let mut inverse = curvature.inverse();
        let attenuation = |j: usize| if noise[(j, j)] == 0.0 { 0.0 } else { noise[(j, j)] * inverse[(j, j)] };
        let attenuations: Vec<f64> = (0..n).map(attenuation).collect();
        // What noise adds to the products draws coefficients down, and is taken out where it is little.
        if more.is_some() && attenuations.iter().all(|a| *a < SLIGHT) {
            sums.products = Matrix::from_fn(n, n, |i, j| sums.products[(i, j)] - noise[(i, j)]);
            curvature = Curvature::of(&sums);
            inverse = curvature.inverse();
        }
        Fit {
            values: curvature.step(&sums.slope, 0.0),
            covariance: Matrix::from_fn(n, n, |i, j| deviation * deviation * inverse[(i, j)]),
            deviations: (0..n).map(|j| deviation * inverse[(j, j)].max(0.0).sqrt()).collect(),
            scatter: deviation,
            least,
            ends: (of_column(SLOPE) + of_column(PER_COUNT)).sqrt().min(deviation),
            degrees_of_freedom,
            attenuations,
        }
    }
}

fn row(window: &Window) -> [f64; COLUMNS] {
    [window.current, window.slope, window.rate, window.sense, 1.0]
}

/// Windows so long that rounding of the counts is small, where there are rows enough.
fn good_windows(course: &Course<'_>) -> Option<Vec<Window>> {
    let mut length = SHORTEST;
    let mut found = windows(course, length)?;
    loop {
        let counts = rms(found.iter().map(|w| w.rate * w.length));
        if counts >= COUNTS || counts == 0.0 {
            break;
        }
        let longer = windows(course, 2 * length)?;
        if longer.len() < ENOUGH {
            break;
        }
        (length, found) = (2 * length, longer);
    }
    // Neither a current nor a motion: nothing that a coefficient would belong to.
    found.retain(|w| w.rate != 0.0 || w.sense.abs() > SURE);
    (found.len() >= FEWEST).then_some(found)
}

/// Windows of so many intervals, one after the other, none across an interval that is not whole; a current that was not
/// recorded is none. None where the voltage, or the count of a shaft that may turn is missing.
pub(super) fn windows(course: &Course<'_>, length: usize) -> Option<Vec<Window>> {
    let voltage = course.voltage.as_deref()?;
    let current = course.current.as_deref();
    let counts = course.counts.as_deref();
    if counts.is_none() && !course.locked {
        return None;
    }
    let usable = |k: usize| {
        let ends = [k, k + 1].map(|row| {
            current.is_none_or(|i| i[row].is_finite()) && counts.is_none_or(|c| c[row].is_finite())
        });
        course.whole[k] && voltage[k].is_finite() && ends[0] && ends[1]
    };
    let mut found = Vec::new();
    let (mut start, mut k) = (0, 0);
    while k < course.whole.len() {
        if !usable(k) {
            start = k + 1;
        } else if k + 1 - start == length {
            found.push(window(course, voltage, current, counts, start..k + 1));
            start = k + 1;
        }
        k += 1;
    }
    Some(found)
}

fn window(
    course: &Course<'_>,
    voltage: &[f64],
    current: Option<&[f64]>,
    counts: Option<&[f64]>,
    rows: Range<usize>,
) -> Window {
    let (from, to) = (rows.start, rows.end);
    let times = &course.times;
    let length = times[to] - times[from];
    let mean =
        |f: &dyn Fn(usize) -> f64| (from..to).map(|k| f(k) * (times[k + 1] - times[k])).sum::<f64>() / length;
    let current = |row: usize| current.map_or(0.0, |i| i[row]);
    // Brushes without current drop anything up to their drop, and nothing where no voltage is.
    let flows = FLOWS * course.noise + course.offset;
    let sense = |i: f64| if flows > 0.0 { (i / flows).clamp(-1.0, 1.0) } else { i.signum() };
    Window {
        time: 0.5 * (times[from] + times[to]),
        length,
        voltage: mean(&|k| voltage[k]),
        current: mean(&|k| 0.5 * (current(k) + current(k + 1))),
        sense: mean(&|k| 0.5 * (sense(current(k)) + sense(current(k + 1)))),
        slope: (current(to) - current(from)) / length,
        rate: counts.map_or(0.0, |c| (c[to] - c[from]) / length),
        rows,
    }
}

//! The ripple of the PWM, folded by sampling to a slow wave of the current.
//!
//! ```text
//! f_a = |f_PWM − k·f_s|, k whole, f_a ≤ f_s/2
//! ```
//!
//! Looked for in stretches of one duty, each less its parabola under a Hann window, their spectra averaged, at exactly
//! that frequency: the power there against the median of its neighbours. Noise makes the ratio a chi-square of twice as
//! many degrees as there are stretches.

use super::CHANCE;
use super::course::{Course, less_parabola, rms};
use super::known::{Known, usable};
use super::picture::{axis, chart, curve, said};
use super::remark::{Remark, Sign, Spoils, Strength};
use super::steps::median;
use crate::parameter::Parameter;
use finding::chart::Purpose;
use numeric::distribution::chi_square_tail;
use numeric::spectrum::{Complex, transform};
use std::f64::consts::TAU;
use std::ops::Range;
use worked::Dimension;

/// Rows of a stretch: powers of two from the least to the most.
const LEAST_ROWS: usize = 64;
const MOST_ROWS: usize = 2048;
/// Bins at the lower end where what is left of the course lies.
const SLOW_BINS: usize = 4;
/// Bins that a Hann window spreads a line over, on either side, and those behind them that it is held against.
const SPREAD: usize = 2;
const BESIDE: usize = 16;
/// Power over that of its neighbours below which a line is none, however unlikely: slopes of the spectrum make some.
const LEAST_RATIO: f64 = 10.0;
/// Part of the effective current that a wave has to have for it to matter: a resistance is asked for to 3 %.
const MATTERS: f64 = 0.01;
/// Share of the spectrum above which the place of the line is known too loosely to name its cause.
const LOOSE: f64 = 0.25;

pub(super) fn judge(course: &Course<'_>, known: &Known<'_>) -> Option<Remark> {
    let period = usable(known.pwm_period)?;
    let current = course.current.as_deref()?;
    let duty = course.observed.duty?;
    let rate = 1.0 / course.step;
    let held = held_stretches(course, current, duty);
    let longest = held.iter().map(Range::len).max()?;
    if longest < LEAST_ROWS || !rate.is_finite() {
        return None;
    }
    let size = (1usize << longest.ilog2()).min(MOST_ROWS);
    let (powers, stretches) = spectrum(current, &held, size);
    let bins = bins_of_alias(period.low, period.high, rate, size)?;
    let tries = bins.len() as f64;
    let peak = bins.max_by(|a, b| powers[*a].total_cmp(&powers[*b]))?;
    let beside = (peak.saturating_sub(SPREAD + BESIDE)..peak + SPREAD + BESIDE + 1)
        .filter(|bin| bin.abs_diff(peak) > SPREAD && (SLOW_BINS..size / 2).contains(bin));
    let middle = median(beside.map(|bin| powers[bin]).collect())?;
    // The median of a chi-square of n degrees is n·(1 − 2/(9·n))³ (Wilson and Hilferty 1931).
    let degrees = 2.0 * stretches as f64;
    let part = 1.0 - 2.0 / (9.0 * degrees);
    let mean = middle / (part * part * part);
    let ratio = powers[peak] / mean;
    // A sine of amplitude A has the power (A·n/4)² under the window.
    let amplitude = 4.0 * powers[peak].sqrt() / size as f64;
    let usual = rms(held.iter().flat_map(|rows| current[rows.clone()].iter().copied()));
    let is_line = ratio > LEAST_RATIO
        && amplitude > MATTERS * usual
        && chi_square_tail(degrees * ratio, degrees) < CHANCE / tries;
    is_line.then(|| {
        let frequency = |bin: usize| bin as f64 * rate / size as f64;
        let says = format!(
            "the current has a wave of {} amplitude at {}, where sampling at {} folds the PWM of {} to: {ratio:.0} times \
             the power beside it",
            said(amplitude, Dimension::CURRENT),
            said(frequency(peak), Dimension::FREQUENCY),
            said(rate, Dimension::FREQUENCY),
            said(1.0 / period.middle(), Dimension::FREQUENCY)
        );
        let line = |bin: usize| [frequency(bin), 4.0 * powers[bin].sqrt() / size as f64];
        let series = vec![curve("amplitude", Purpose::Measured, (SLOW_BINS..size / 2).map(line))];
        let sign = Sign::Aliasing;
        let axes = (axis("frequency", "Hz"), axis("amplitude", "A"));
        Remark {
            sign,
            strength: Strength { measured: ratio, against: LEAST_RATIO, unit: "" },
            rows: Vec::new(),
            spoils: Spoils::These(&[Parameter::Resistance, Parameter::Inductance, Parameter::BrushDrop]),
            picture: chart(sign.name(), "Spectrum of the current at a held duty", &says, axes, series),
            says,
            remedy: "start the converter by the PWM, once in each period or in each n-th, or filter below half of the \
                     sampling rate"
                .to_owned(),
        }
    })
}

/// Rows of one duty, without the first eighth, in which the course settles.
fn held_stretches(course: &Course<'_>, current: &[f64], duty: &[f64]) -> Vec<Range<usize>> {
    let mut found: Vec<Range<usize>> = Vec::new();
    let mut start = 0;
    for row in 1..=duty.len() {
        let goes_on =
            row < duty.len() && duty[row] == duty[start] && course.whole[row - 1] && current[row].is_finite();
        if !goes_on {
            // Without duty there is no ripple.
            if duty[start] != 0.0 && current[start].is_finite() {
                found.push(start + (row - start) / 8..row);
            }
            start = row;
        }
    }
    found
}

/// Mean power of each bin over all stretches of so many rows, and how many they are.
fn spectrum(current: &[f64], held: &[Range<usize>], size: usize) -> (Vec<f64>, usize) {
    let mut powers = vec![0.0; size / 2];
    let mut stretches = 0;
    for part in held.iter().flat_map(|rows| current[rows.clone()].chunks_exact(size)) {
        let mut z = windowed(part);
        transform(&mut z);
        powers.iter_mut().zip(&z).for_each(|(power, z)| *power += z.squared());
        stretches += 1;
    }
    powers.iter_mut().for_each(|power| *power /= f64::from(stretches.max(1)));
    (powers, stretches.max(1) as usize)
}

/// Less its parabola, under a Hann window.
fn windowed(values: &[f64]) -> Vec<Complex> {
    let n = values.len() as f64;
    let window = |k: usize| 0.5 - 0.5 * libm::cos(TAU * k as f64 / n);
    less_parabola(values).iter().enumerate().map(|(k, v)| Complex::new(window(k) * v, 0.0)).collect()
}

/// Bins in which the alias may lie; none where it lies too low or anywhere.
fn bins_of_alias(shortest: f64, longest: f64, rate: f64, size: usize) -> Option<Range<usize>> {
    let fold = |frequency: f64| (frequency - (frequency / rate).round() * rate).abs();
    let (low, high) = (1.0 / longest, 1.0 / shortest);
    if high - low > LOOSE * rate {
        return None;
    }
    // Between both ends the fold may turn at zero or at half of the rate.
    let turns = |at: f64| (low / rate - at).floor() != (high / rate - at).floor();
    let (a, b) = (fold(low), fold(high));
    let least = if turns(0.0) { 0.0 } else { a.min(b) };
    let most = if turns(0.5) { 0.5 * rate } else { a.max(b) };
    let bin = |frequency: f64| frequency * size as f64 / rate;
    let from = (bin(least).floor() as usize).saturating_sub(1).max(SLOW_BINS);
    let to = (bin(most).ceil() as usize + 2).min(size / 2);
    (from < to).then_some(from..to)
}

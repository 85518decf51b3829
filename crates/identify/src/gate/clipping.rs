//! Rows whose current stands at an end of the range of its converter.

use super::CHANCE;
use super::course::noise;
use super::known::Known;
use super::observed::Observed;
use super::picture::{about, axis, chart, curve, stretches};
use super::remark::{Remark, Sign, Spoils, Strength};
use finding::chart::Purpose;
use std::ops::Range;

/// Rows at an end code from which on it is no single wild reading.
const LEAST_ROWS: usize = 2;
/// Largest chance that two rows read the same for which runs of the same reading tell anything.
const TOO_COARSE: f64 = 0.9;

pub(super) fn judge(observed: &Observed<'_>, known: &Known<'_>) -> Option<Remark> {
    match (observed.codes, observed.current) {
        (Some(codes), _) => {
            let at_end = |code: &f64| *code <= codes.lowest || *code >= codes.highest;
            let rows = stretches(codes.values.iter().map(at_end));
            let count: usize = rows.iter().map(Range::len).sum();
            let ends = format!("code {} or {}", codes.lowest, codes.highest);
            let says =
                format!("in {count} rows the converter of the current stands at an end of its range, {ends}");
            let strength = Strength { measured: count as f64, against: LEAST_ROWS as f64, unit: "" };
            (count >= LEAST_ROWS).then(|| remark(rows, strength, says, (codes.values, "code", "")))
        }
        (None, Some(current)) => by_repeats(current, known),
        (None, None) => None,
    }
}

/// Without codes: the highest or the lowest reading repeats exactly for longer than noise would let it.
fn by_repeats(current: &[f64], known: &Known<'_>) -> Option<Remark> {
    let (low, high) = ends(current)?;
    let inside = || current.iter().copied().filter(|i| low < *i && *i < high).collect::<Vec<_>>();
    let noise = known.sensors.current.noise.unwrap_or_else(|| noise(&inside()));
    // The most likely reading has the chance of a step of the converter over √(2π) deviations.
    let same = step(current) / (noise * std::f64::consts::TAU.sqrt());
    // A reading without noise repeats of itself, and says nothing.
    if same.is_nan() || same >= TOO_COARSE {
        return None;
    }
    let rows = current.len() as f64;
    let longest = 1.0 + (libm::log(CHANCE / rows) / libm::log(same.max(1e-6))).ceil().max(2.0);
    // No current at all is no end of a range: a prediction writes it without noise.
    let runs = |end: f64| stretches(current.iter().map(move |i| *i == end && end != 0.0));
    let mut clipped: Vec<Range<usize>> =
        [low, high].into_iter().flat_map(runs).filter(|run| run.len() as f64 >= longest).collect();
    clipped.sort_by_key(|run| run.start);
    let most = clipped.iter().map(Range::len).max()?;
    let says = format!(
        "the current reads exactly the same for {most} rows at an end of what it reads, and noise lets it do so for \
         fewer than {longest:.0}"
    );
    let strength = Strength { measured: most as f64, against: longest, unit: "" };
    Some(remark(clipped, strength, says, (current, "current", "A")))
}

fn ends(values: &[f64]) -> Option<(f64, f64)> {
    let there = values.iter().copied().filter(|v| v.is_finite());
    let (low, high) = there.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
    (low < high).then_some((low, high))
}

/// Smallest difference of neighbouring readings that is any: the step of the converter, or next to nothing.
fn step(values: &[f64]) -> f64 {
    let differences = values.windows(2).map(|pair| (pair[1] - pair[0]).abs());
    let least = differences.filter(|d| *d > 0.0).fold(f64::INFINITY, f64::min);
    if least.is_finite() { least } else { 0.0 }
}

fn remark(
    rows: Vec<Range<usize>>,
    strength: Strength,
    says: String,
    (column, name, unit): (&[f64], &str, &str),
) -> Remark {
    let shown = about(rows.first(), column.len());
    let points = shown.map(|row| [row as f64, column[row]]);
    let picture = chart(
        "clipping",
        "Readings at an end of the range",
        &says,
        (axis("row", ""), axis(name, unit)),
        vec![curve(name, Purpose::Measured, points)],
    );
    Remark {
        sign: Sign::Clipping,
        strength,
        rows,
        spoils: Spoils::Rows,
        says,
        remedy: "drive less voltage, or take less gain before the converter; where only one sign clips, move the zero \
                 to the middle of the range"
            .to_owned(),
        picture,
    }
}

#[cfg(test)]
mod tests {
    use super::super::observed::Codes;
    use super::*;
    use crate::record::Time;
    use worked::Stream;

    /// A sine of this amplitude with noise, in steps, held at ±10.
    fn sine(amplitude: f64, noise: f64, step: f64) -> Vec<f64> {
        let draw = Stream::new(3, "sine");
        let value = |k: u64| amplitude * libm::sin(0.01 * k as f64) + noise * draw.normal(k);
        (0..2000u64).map(|k| ((value(k) / step).round() * step).clamp(-10.0, 10.0)).collect()
    }

    fn is_clipped(current: &[f64]) -> bool {
        judge(&Observed { current: Some(current), ..Observed::at(Time::Even(1.0)) }, &Known::NOTHING)
            .is_some()
    }

    #[test]
    fn repeats_at_an_end_are_clipping_and_noise_at_a_peak_is_none() {
        assert!(is_clipped(&sine(12.0, 0.02, 0.01)));
        assert!(!is_clipped(&sine(9.9, 0.02, 0.01)));
        // Fine readings: three the same never come by chance.
        assert!(is_clipped(&sine(10.5, 0.02, 1e-9)));
        // Nothing but steps: what repeats says nothing.
        assert!(!is_clipped(&sine(9.9, 0.0, 0.5)));
    }

    #[test]
    fn a_code_at_an_end_is_clipping_and_one_below_is_none() {
        let codes = |top: f64| -> Vec<f64> { (0..100).map(|k| if k < 3 { top } else { 2000.0 }).collect() };
        let of = |values: &[f64]| {
            let codes = Some(Codes { values, lowest: 0.0, highest: 4095.0 });
            judge(&Observed { codes, ..Observed::at(Time::Even(1.0)) }, &Known::NOTHING)
        };
        assert_eq!(of(&codes(4094.0)), None);
        let remark = of(&codes(4095.0)).unwrap();
        assert_eq!(remark.rows, std::iter::once(0..3).collect::<Vec<_>>());
        assert!(remark.says.contains("in 3 rows"), "{}", remark.says);
        assert!(of(&codes(0.0)).is_some());
    }
}

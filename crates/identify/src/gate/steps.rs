//! Time stamps: gaps, a rate that was not meant, jitter.

use super::course::{noise, rms};
use super::known::Known;
use super::observed::Observed;
use super::picture::{axis, chart, curve, percent, said, stretches};
use super::remark::{Remark, Sign, Spoils, Strength};
use finding::Chart;
use finding::chart::Purpose;
use worked::Dimension;

/// Intervals longer than so many medians are gaps: halfway from no row missing to one.
const GAP: f64 = 1.5;
/// Where rows jitter, a gap also lies so many of their deviations above the median.
const DEVIATIONS: f64 = 6.0;
/// Part by which the median may be off what was meant: clocks of controllers are good for 1 % at worst (an RC oscillator;
/// common practice, no source).
const OFF_RATE: f64 = 0.01;
/// Jitter below this part of an interval moves a window of eight rows by a thousandth: it never matters.
const LEAST_JITTER: f64 = 0.01;
/// Jitter above which it matters where neither current nor count say how much they move in it.
const BLIND_JITTER: f64 = 0.05;
/// Deviation of a difference of two counts by rounding, √(1/6) counts.
const ROUNDING: f64 = 0.408;

pub(super) fn judge(observed: &Observed<'_>, known: &Known<'_>, times: &[f64]) -> Vec<Remark> {
    let intervals: Vec<f64> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let Some(usual) = usual_step(&intervals) else {
        let says = "time goes on nowhere: no row has a later stamp than the one before".to_owned();
        return vec![gap(
            (0.0, 0.0),
            says,
            std::iter::once(0..times.len()).collect(),
            Spoils::All,
            (times, &intervals),
        )];
    };
    let mut remarks = Vec::new();
    remarks.extend(gaps(times, &intervals, usual));
    remarks.extend(off_rate(known, times, &intervals, usual));
    remarks.extend(jitter(observed, known, times, &intervals, usual));
    remarks
}

/// Median of the intervals that go on.
pub(super) fn usual_step(intervals: &[f64]) -> Option<f64> {
    median(intervals.iter().copied().filter(|step| *step > 0.0 && step.is_finite()).collect())
}

pub(super) fn median(mut values: Vec<f64>) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let middle = values.len() / 2;
    Some(*values.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// Longest interval that is none with rows missing.
pub(super) fn longest(intervals: &[f64], usual: f64) -> f64 {
    let off = intervals.iter().map(|step| (step - usual).abs()).filter(|off| off.is_finite()).collect();
    // The median of a normal amount is 0.6745 deviations.
    let deviation = median(off).unwrap_or(0.0) / 0.6745;
    (GAP * usual).max(usual + DEVIATIONS * deviation)
}

fn gaps(times: &[f64], intervals: &[f64], usual: f64) -> Option<Remark> {
    let most = longest(intervals, usual);
    // Written so that an interval that is no number is bad too.
    let is_whole = |step: &f64| *step > 0.0 && *step <= most;
    let bad: Vec<f64> = intervals.iter().copied().filter(|step| !is_whole(step)).collect();
    if bad.is_empty() {
        return None;
    }
    let backward = bad.iter().filter(|step| step.is_nan() || **step <= 0.0).count();
    let worst = bad.iter().copied().filter(|step| step.is_finite()).fold(0.0, f64::max);
    let rows = stretches(std::iter::once(false).chain(intervals.iter().map(|step| !is_whole(step))));
    let first = rows.first().map_or(0, |stretch| stretch.start);
    let mut says = format!(
        "{} of {} intervals are no step of the record, the first before row {}: ",
        bad.len(),
        intervals.len(),
        first + 1
    );
    says += &match backward {
        0 => format!(
            "the longest takes {}, and {} is usual",
            said(worst, Dimension::TIME),
            said(usual, Dimension::TIME)
        ),
        n => format!("in {n} of them time stands, goes back or is no number"),
    };
    Some(gap((worst, most), says, rows, Spoils::Rows, (times, intervals)))
}

fn off_rate(known: &Known<'_>, times: &[f64], intervals: &[f64], usual: f64) -> Option<Remark> {
    let meant = known.interval.filter(|meant| *meant > 0.0 && meant.is_finite())?;
    let ratio = usual / meant;
    if (ratio - 1.0).abs() <= OFF_RATE {
        return None;
    }
    let whole = ratio.round();
    let why = match whole >= 2.0 && (ratio / whole - 1.0).abs() <= OFF_RATE {
        true => format!("as if only one row in {whole:.0} were kept"),
        false => "so the clock of the stamps or the rate is another".to_owned(),
    };
    let says = format!(
        "rows follow each {}, and {} was meant: {ratio:.3} times that, {why}",
        said(usual, Dimension::TIME),
        said(meant, Dimension::TIME)
    );
    Some(gap((usual, meant), says, Vec::new(), Spoils::All, (times, intervals)))
}

fn gap(
    (measured, against): (f64, f64),
    says: String,
    rows: Vec<std::ops::Range<usize>>,
    spoils: Spoils,
    (times, intervals): (&[f64], &[f64]),
) -> Remark {
    Remark {
        sign: Sign::TimeGap,
        strength: Strength { measured, against, unit: "s" },
        rows,
        spoils,
        picture: picture("time-gap", &says, times, intervals),
        says,
        remedy:
            "record fewer columns, more slowly or over a faster link; the record is cut at gaps, so that the \
                 stretches between them stay usable"
                .to_owned(),
    }
}

fn jitter(
    observed: &Observed<'_>,
    known: &Known<'_>,
    times: &[f64],
    intervals: &[f64],
    usual: f64,
) -> Option<Remark> {
    let most = longest(intervals, usual);
    let whole = |k: usize| intervals[k] > 0.0 && intervals[k] <= most;
    let off: Vec<f64> = (0..intervals.len()).filter(|&k| whole(k)).map(|k| intervals[k] - usual).collect();
    let deviation = rms(off.iter().copied());
    if deviation <= LEAST_JITTER * usual {
        return None;
    }
    // How far a column moves in the jitter, over what it is read to.
    let moved = |column: &[f64], resolution: f64| {
        let slope = rms((0..intervals.len())
            .filter(|&k| whole(k))
            .map(|k| (column[k + 1] - column[k]) / intervals[k])
            .filter(|slope| slope.is_finite()));
        slope * deviation / resolution
    };
    let by_count = observed.counts.map(|counts| ("count", moved(counts, ROUNDING)));
    let by_current = observed.current.and_then(|current| {
        let noise = known.sensors.current.noise.unwrap_or_else(|| noise(current));
        // Noise moves it as well from row to row: √2 of it in an interval.
        let moved = moved(current, noise) - 2.0_f64.sqrt() * deviation / usual;
        (noise > 0.0).then_some(("current", moved))
    });
    let worst = [by_count, by_current].into_iter().flatten().max_by(|a, b| a.1.total_cmp(&b.1));
    let says = match worst {
        Some((column, times)) if times > 1.0 => format!(
            "rows jitter by {} ({} of a step), in which the {column} moves {times:.1} times as far as it is read to",
            said(deviation, Dimension::TIME),
            percent(deviation / usual)
        ),
        None if deviation > BLIND_JITTER * usual => format!(
            "rows jitter by {}, {} of a step",
            said(deviation, Dimension::TIME),
            percent(deviation / usual)
        ),
        _ => return None,
    };
    Some(Remark {
        sign: Sign::TimeJitter,
        strength: Strength { measured: deviation, against: LEAST_JITTER * usual, unit: "s" },
        rows: Vec::new(),
        spoils: Spoils::All,
        picture: picture("time-jitter", &says, times, intervals),
        says,
        remedy: "take rows in the interrupt of a timer and stamp them there; whether the sampling jitters or only its \
                 stamps, they do not tell"
            .to_owned(),
    })
}

fn picture(id: &str, says: &str, times: &[f64], intervals: &[f64]) -> Chart {
    let points = times.iter().zip(intervals).map(|(t, step)| [*t, *step]);
    let series = vec![curve("interval to the next row", Purpose::Measured, points)];
    chart(id, "Intervals between rows", says, (axis("time", "s"), axis("interval", "s")), series)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Time;
    use worked::Stream;

    fn signs(times: &[f64], counts: Option<&[f64]>, interval: Option<f64>) -> Vec<Sign> {
        let observed = Observed { counts, ..Observed::at(Time::Stamps(times)) };
        let known = Known { interval, ..Known::NOTHING };
        judge(&observed, &known, times).into_iter().map(|remark| remark.sign).collect()
    }

    fn jittered(part: f64) -> Vec<f64> {
        let noise = Stream::new(1, "stamps");
        (0..1000u64).map(|k| 1e-3 * (k as f64 + part * noise.normal(k))).collect()
    }

    #[test]
    fn one_row_missing_is_a_gap_and_a_little_jitter_is_none() {
        let mut times = jittered(0.002);
        assert_eq!(signs(&times, None, Some(1e-3)), []);
        times.remove(500);
        assert_eq!(signs(&times, None, Some(1e-3)), [Sign::TimeGap]);
        let observed = Observed::at(Time::Stamps(&times));
        let remark = &judge(&observed, &Known::NOTHING, &times)[0];
        assert_eq!(remark.rows, std::iter::once(500..501).collect::<Vec<_>>());
        assert!(remark.says.contains("before row 501"), "{}", remark.says);
    }

    #[test]
    fn every_second_row_missing_shows_against_what_was_meant() {
        let times: Vec<f64> = (0..100).map(|k| 2e-3 * f64::from(k)).collect();
        assert_eq!(signs(&times, None, Some(1e-3)), [Sign::TimeGap]);
        assert_eq!(signs(&times, None, Some(1.99e-3)), []);
    }

    /// 30 counts a row, and intervals that deviate by √2·3 %: 1.27 counts over 0.41. At 0.8 % it is 0.34 counts.
    #[test]
    fn jitter_counts_by_what_moves_in_it() {
        let counts: Vec<f64> = (0..1000).map(|k| 30.0 * f64::from(k)).collect();
        assert_eq!(signs(&jittered(0.03), Some(&counts), None), [Sign::TimeJitter]);
        assert_eq!(signs(&jittered(0.008), Some(&counts), None), []);
        // A shaft at rest does not mind.
        assert_eq!(signs(&jittered(0.03), Some(&[0.0; 1000]), None), []);
        assert_eq!(signs(&jittered(0.03), None, None), []);
        assert_eq!(signs(&jittered(0.06), None, None), [Sign::TimeJitter]);
    }

    #[test]
    fn time_that_stands_or_is_no_number_is_a_gap() {
        let mut times = jittered(0.0);
        times[10] = f64::NAN;
        times[20] = times[19];
        assert_eq!(signs(&times, None, None), [Sign::TimeGap]);
        assert_eq!(signs(&[1.0; 20], None, None), [Sign::TimeGap]);
        assert_eq!(signs(&[f64::NAN; 20], None, None), [Sign::TimeGap]);
    }
}

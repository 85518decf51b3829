//! The counter: one that stands, and one that goes to and fro.

use super::balance::{Window, windows};
use super::course::{Course, less_parabola};
use super::known::{Known, UNSTATED_DROP, usable};
use super::picture::{about, axis, chart, curve, stretches};
use super::remark::{Remark, Sign, Spoils, Strength};
use super::steps::median;
use finding::Chart;
use finding::chart::Purpose;
use std::ops::Range;

/// Counts that a window should have at least where a counter that stands is told, and those that it may have.
const SHOULD: f64 = 10.0;
const STANDING: f64 = 2.0;
/// Windows in a line.
const LEAST_WINDOWS: usize = 3;
/// Deviations of a current that surely flows.
const FLOWS: f64 = 5.0;
/// Changes to and fro that a shaft may make as it comes to rest, and for each change of the voltage's sign.
const AT_REST: usize = 8;
const A_CHANGE: usize = 2;
/// Rows of a window in which a course is smooth, and fewest windows.
const SMOOTH: usize = 16;
const LEAST_SMOOTH: usize = 8;
/// Counts that both halves of it differ by at most: then a parabola follows what an exponential bends besides.
const MOST_BEND: f64 = 4.0;
/// Scatter of counts about a parabola: rounding makes 0.29, marks that are a quarter count off 0.38, together.
const SCATTER: f64 = 0.6;

/// Windows in which the motor surely turns and the counter stands.
pub(super) fn stands(course: &Course<'_>, known: &Known<'_>) -> Option<Remark> {
    let counts = course.counts.as_deref()?;
    course.current.as_ref()?;
    let (resistance, per_count) = (usable(known.resistance)?, known.per_count()?);
    let inductance = usable(known.inductance)?;
    let most = course
        .voltage
        .as_ref()?
        .iter()
        .copied()
        .filter(|u| u.is_finite())
        .fold(0.0, |a: f64, u| a.max(u.abs()));
    let rows = 4.0 * SHOULD * per_count.high / (most * course.step);
    if rows.is_nan() || rows >= course.rows() as f64 {
        return None;
    }
    let length = (rows.ceil() as usize).max(8);
    let drop = known.brush_drop.map_or(UNSTATED_DROP * most, |drop| drop.high);
    let windows = windows(course, length)?;
    let flowing = FLOWS * course.noise / (length as f64).sqrt() + 2.0 * known.sensors.current.offset;
    let should = |w: &Window| {
        let sense = w.voltage.signum();
        let taken = resistance.high * (sense * w.current).max(0.0) + inductance.high * w.slope.abs() + drop;
        (w.voltage.abs() - taken) * w.length / per_count.high
    };
    let is_standing = |w: &Window| {
        let seen = (w.rate * w.length).abs();
        should(w) >= SHOULD && seen <= STANDING && w.voltage.signum() * w.current > flowing
    };
    let standing: Vec<Range<usize>> = stretches(windows.iter().map(is_standing));
    let sure = |stretch: &Range<usize>| stretch.len() >= LEAST_WINDOWS;
    // A motor that turns too slowly to be judged in between does not mend it.
    let stretch = standing.iter().find(|s| sure(s))?.start..standing.iter().rfind(|s| sure(s))?.end;
    let from = windows[stretch.start].rows.start;
    let mut to = windows[stretch.end - 1].rows.end + 1;
    while to < counts.len() && (counts[to] - counts[to - 1]).abs() <= STANDING {
        to += 1;
    }
    let rows = from..to;
    let missing: f64 = windows[stretch.clone()].iter().filter(|w| is_standing(w)).map(should).sum();
    let changes = rows.clone().skip(1).filter(|&row| counts[row] != counts[row - 1]).count();
    let hovers = changes > 2 * stretch.len();
    let why = match hovers {
        true => format!(": it goes to and fro {changes} times, as with one channel alone"),
        false => ": neither channel changes, or the encoder does not turn with the motor".to_owned(),
    };
    let says = format!(
        "the counter stands from row {} to {} while voltage and current say that the motor turns by {missing:.0} counts at \
         least{why}",
        rows.start + 1,
        rows.end
    );
    let sign = Sign::CounterStands;
    let picture = counts_chart(sign, &says, counts, about(Some(&rows), counts.len()));
    Some(Remark {
        sign,
        strength: Strength {
            measured: counts[rows.end - 1] - counts[rows.start],
            against: missing,
            unit: "",
        },
        // What comes behind hangs on counts that are missing.
        rows: std::iter::once(rows).collect(),
        spoils: Spoils::Rows,
        says,
        remedy: if hovers {
            "look at both channels with a scope while somebody turns the shaft: one stays at its level"
        } else {
            "look at supply, plug and coupling of the encoder; turn the shaft by hand and watch the count"
        }
        .to_owned(),
        picture,
    })
}

/// A count that goes to and fro more often than the shaft can, or scatters about a smooth course.
pub(super) fn dithers(course: &Course<'_>) -> Option<Remark> {
    let counts = course.counts.as_deref().or(course.observed.counts)?;
    let drive = course.observed.duty.or(course.observed.motor_voltage)?;
    reversals(counts, drive).or_else(|| scatter(course, counts, drive))
}

fn reversals(counts: &[f64], drive: &[f64]) -> Option<Remark> {
    let mut rows = Vec::new();
    let mut before = 0.0;
    for row in 1..counts.len() {
        let step = counts[row] - counts[row - 1];
        if step == 0.0 || !step.is_finite() {
            continue;
        }
        // One count there and one back; a shaft that reverses under drive does so once.
        if before * step == -1.0 {
            rows.push(row);
        }
        before = step;
    }
    let most = drive.iter().copied().filter(|u| u.is_finite()).fold(0.0, |a: f64, u| a.max(u.abs()));
    let senses = drive.iter().copied().filter(|u| u.abs() > 0.02 * most);
    let mut last = 0.0;
    let changes = senses
        .filter(|u| {
            let changed = last * u < 0.0;
            last = *u;
            changed
        })
        .count();
    let allowed = AT_REST + A_CHANGE * changes;
    (rows.len() > allowed).then(|| {
        let says = format!(
            "the count goes one there and back {} times, and the voltage changes its sense {changes} times: one channel \
             goes to and fro at an edge",
            rows.len()
        );
        let shown = rows[0]..rows[rows.len() - 1] + 1;
        jitter(says, (rows.len() as f64, allowed as f64), counts, about(Some(&(shown.start..shown.start + 60)), counts.len()))
    })
}

/// Scatter of the counts about parabolas through a few rows each, while the voltage is held and the shaft turns.
fn scatter(course: &Course<'_>, counts: &[f64], drive: &[f64]) -> Option<Remark> {
    let mut scatters = Vec::new();
    let mut shown = None;
    let mut start = SMOOTH;
    while start + SMOOTH <= counts.len() {
        let rows = start..start + SMOOTH;
        start += SMOOTH;
        let is_held = (rows.start - SMOOTH..rows.end).all(|row| drive[row] == drive[rows.start]);
        let is_whole = rows.clone().skip(1).all(|row| course.whole[row - 1]);
        let moved = (counts[rows.end - 1] - counts[rows.start]).abs();
        let half = SMOOTH / 2;
        let bend = counts[rows.end - 1] - counts[rows.start + half] - counts[rows.start + half - 1]
            + counts[rows.start];
        if is_held && is_whole && moved >= SMOOTH as f64 && bend.abs() <= MOST_BEND {
            scatters.push(about_parabola(&counts[rows.clone()]));
            shown = shown.or(Some(rows));
        }
    }
    if scatters.len() < LEAST_SMOOTH {
        return None;
    }
    let found = median(scatters)?;
    (found > SCATTER).then(|| {
        let says = format!(
            "the count scatters by {found:.2} counts about a smooth course, where rounding makes 0.29: edges of a channel \
             jitter"
        );
        jitter(says, (found, SCATTER), counts, about(shown.as_ref(), counts.len()))
    })
}

/// Deviation of evenly spaced values about the parabola that fits them best.
fn about_parabola(values: &[f64]) -> f64 {
    let squares: f64 = less_parabola(values).iter().map(|v| v * v).sum();
    (squares / (values.len() as f64 - 3.0)).sqrt()
}

fn jitter(says: String, (measured, against): (f64, f64), counts: &[f64], shown: Range<usize>) -> Remark {
    let sign = Sign::ChannelJitter;
    Remark {
        sign,
        strength: Strength { measured, against, unit: "" },
        rows: Vec::new(),
        spoils: Spoils::All,
        picture: counts_chart(sign, &says, counts, shown),
        says,
        remedy: "look for a missing pull-up, a loose disc or noise on the encoder lines, and let the decoder filter edges \
                 that are shorter than any true one; a shaft that vibrates shows the same"
            .to_owned(),
    }
}

fn counts_chart(sign: Sign, says: &str, counts: &[f64], shown: Range<usize>) -> Chart {
    let points = shown.map(|row| [row as f64, counts[row]]);
    let series = vec![curve("count", Purpose::Measured, points)];
    chart(sign.name(), "Count of the encoder", says, (axis("row", ""), axis("count", "")), series)
}

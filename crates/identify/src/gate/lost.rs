//! Counts that are fewer, or more, than voltage and current make of them by all other rows.

use super::balance::{Balance, PER_COUNT, RESISTANCE, Window};
use super::picture::{axis, chart, curve, percent, said, stretches};
use super::remark::{Remark, Sign, Spoils, Strength};
use finding::chart::Purpose;
use std::ops::Range;
use worked::Dimension;

/// Part by which a stretch must differ, and deviations of the fit besides.
const LOST: f64 = 0.1;
const DEVIATIONS: f64 = 6.0;
/// Part of the largest voltage by turning from which on a window is judged, and the part of it that resistance may take.
const FAST: f64 = 0.3;
const OTHERS: f64 = 0.6;
/// Counts that a stretch should have, so that the two that rounding hides are a twentieth.
const SHOULD: f64 = 40.0;
/// Windows in a line.
const LEAST_WINDOWS: usize = 3;

/// Neighbouring windows that turn one way, with the counts that they should have and those that they have.
struct Stretch {
    windows: Range<usize>,
    should: f64,
    has: f64,
    /// By how many the fit itself may be off.
    room: f64,
}

pub(super) fn judge(balance: &Balance) -> Option<Remark> {
    let per_count = balance.fit.values[PER_COUNT];
    // Without a current that counts in the balance, speed and voltage differ for another reason.
    let (resistance, deviation) = (balance.fit.values[RESISTANCE], balance.fit.deviations[RESISTANCE]);
    if !(per_count > 0.0 && resistance > DEVIATIONS * deviation) {
        return None;
    }
    let all = clear_stretches(balance, per_count);
    let differs = |s: &Stretch| {
        let length = balance.windows[s.windows.start].length;
        let scatter = DEVIATIONS * balance.integral_scatter(s.windows.len(), length) / per_count;
        (s.has - s.should).abs() > LOST * s.should.abs() + scatter + s.room + 2.0
    };
    let found = stretches(all.iter().map(differs)).into_iter().map(|run| &all[run]);
    let found: Vec<&[Stretch]> =
        found.filter(|run| run.iter().map(|s| s.windows.len()).sum::<usize>() >= LEAST_WINDOWS).collect();
    let first = found.first()?;
    let sum = |of: fn(&Stretch) -> f64| first.iter().map(of).sum::<f64>();
    let share = sum(|s| s.has) / sum(|s| s.should);
    // What lies between two such stretches turned too slowly to be judged.
    let end = found.last()?.last()?.windows.end;
    let rows = balance.windows[first[0].windows.start].rows.start..balance.windows[end - 1].rows.end + 1;
    let says = format!(
        "from row {} to {} the counter tells {} of the speed that voltage and current make by all other rows",
        rows.start + 1,
        rows.end,
        percent(share)
    );
    let sign = Sign::LostEdges;
    let by_voltage = balance.windows.iter().map(|w| [w.time, balance.back_voltage(w)]);
    let by_counter = balance.windows.iter().map(|w| [w.time, per_count * w.rate]);
    let series = vec![
        curve("by voltage", Purpose::Nominal, by_voltage),
        curve("by counter", Purpose::Measured, by_counter),
    ];
    let axes = (axis("time", "s"), axis("back-EMF", "V"));
    let fastest =
        balance.windows.iter().map(|w| balance.back_voltage(w).abs()).fold(0.0, f64::max) / per_count;
    Some(Remark {
        sign,
        strength: Strength { measured: share, against: 1.0, unit: "" },
        rows: std::iter::once(rows).collect(),
        spoils: Spoils::Rows,
        picture: chart(sign.name(), "Speed by the counter and by the voltage", &says, axes, series),
        says,
        remedy: format!(
            "look for edges too fast for the input ({}), for a slipping hub of the encoder, and whether the bridge gave \
             its voltage there: a record of the motor voltage tells both apart",
            said(fastest, Dimension::FREQUENCY)
        ),
    })
}

/// Windows that turn fast by the voltage, joined until they should have counts enough.
fn clear_stretches(balance: &Balance, per_count: f64) -> Vec<Stretch> {
    let most = balance.windows.iter().map(|w| balance.back_voltage(w).abs()).fold(0.0, f64::max);
    let is_clear = |w: &Window| {
        let back = balance.back_voltage(w).abs();
        back >= FAST * most && balance.resistive(w).abs() <= OTHERS * back
    };
    let room = |w: &Window| DEVIATIONS * balance.fit_deviation(w) * w.length / per_count;
    let mut found: Vec<Stretch> = Vec::new();
    let mut open: Option<Stretch> = None;
    for (k, window) in balance.windows.iter().enumerate() {
        let should = balance.back_voltage(window) * window.length / per_count;
        let goes_on = is_clear(window) && open.as_ref().is_none_or(|s| s.should * should > 0.0);
        if !goes_on {
            open = None;
            continue;
        }
        let stretch = open.get_or_insert(Stretch { windows: k..k, should: 0.0, has: 0.0, room: 0.0 });
        stretch.windows.end = k + 1;
        stretch.should += should;
        stretch.has += window.rate * window.length;
        stretch.room += room(window);
        if stretch.should.abs() >= SHOULD {
            found.extend(open.take());
        }
    }
    found
}

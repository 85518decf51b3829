//! Thermal resistances and time constants by the resistance of the winding as it warms and cools.
//!
//! ```text
//! R_k = (ū − U_b·sgn ī − K·ω̄)/ī − R_series        R = R_ref·(1 + α·(ϑ_w − ϑ_ref))
//! ```
//!
//! The winding is its own thermometer. The course is that of [`drive::heat`]: winding and case as two bodies, the copper
//! loss growing with the temperature, exact for a steady current within a window. One body alone is fitted beside; which of
//! the two the windows speak for is told by information criteria. Windows without current tell no resistance, but the
//! bodies cool through them.

use crate::curve::{self, Curve};
use crate::record::{Drive, Record, Sensors, Shaft, Time, Unusable, Warmth};
use crate::told::Told;
use drive::heat::body::TwoBody;
use drive::heat::{Heat, Thermal};
use numeric::criterion::Criteria;
use numeric::levenberg::Status;

/// A stretch of a heat run.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Window {
    /// When it starts, s.
    pub start: f64,
    /// When it ends, s.
    pub end: f64,
    /// Effective current in it, A.
    pub effective_current: f64,
    /// Resistance of the loop in it, Ω; none where too little current flows to tell.
    pub resistance: Option<f64>,
    /// Mean current by amount, A: the weight of the resistance.
    pub mean_current: f64,
}

/// A heat run.
#[derive(Clone, Copy, Debug)]
pub struct HeatRun<'a> {
    /// Its windows, one after the other; between them no current flows.
    pub windows: &'a [Window],
    /// Temperature of the air, and of winding and case at the start, K.
    pub ambient: f64,
    /// Standard uncertainty of that, K.
    pub ambient_uncertainty: f64,
    /// Temperature coefficient of the copper, and the temperature that the resistance is told for.
    pub warmth: Warmth,
    /// Standard uncertainty of the coefficient, as a part of it.
    pub coefficient_uncertainty: f64,
    /// Drop of the brushes, whose loss heats the winding too, V.
    pub brush_drop: f64,
    /// Resistance of the loop outside of the winding, Ω.
    pub series_resistance: f64,
    /// What is known of the sensors; their gains make the loss uncertain.
    pub sensors: Sensors,
}

/// What a heat run tells.
#[derive(Clone, Debug)]
pub struct Heated {
    /// The model that the windows speak for.
    pub two_bodies: bool,
    /// Criteria of one body and of two; the lower Bayes criterion decides.
    pub criteria: [Criteria; 2],
    /// How the fit of the chosen model ended.
    pub status: Status,
    /// Resistance of the winding at the reference temperature, Ω.
    pub resistance: Told,
    /// Thermal resistance from winding to case, K/W; with one body that to the air.
    pub winding_to_case: Told,
    /// Thermal resistance from case to air, K/W; none with one body.
    pub case_to_air: Option<Told>,
    /// Time constant of the winding towards the case, s.
    pub winding_time: Told,
    /// Time constant of the case towards the air, s; none with one body.
    pub case_time: Option<Told>,
    /// Hottest temperature of the winding that the fit passes through, K.
    pub hottest: f64,
    /// Effective value of what is left of the resistances, Ω.
    pub residual: f64,
}

/// Windows over a record of this length each, s. A window whose mean current stays below `least_current` tells no
/// resistance.
///
/// # Errors
/// A record without current, or with rows that have none, as nobody knows how it warmed there; a turning shaft without
/// angle; a length that is not above zero; too few windows.
pub fn windows(
    record: &Record<'_>,
    length: f64,
    constant: f64,
    brush_drop: f64,
    least_current: f64,
) -> Result<Vec<Window>, Unusable> {
    let current = record.current.ok_or(Unusable::Missing("current"))?;
    if let Some(&value) = current.iter().find(|i| !i.is_finite()) {
        return Err(Unusable::Figure { what: "current in a row of the heat run", value, must: "a number" });
    }
    // Written so that a length that is no number is refused.
    let lasts = length > 0.0;
    if !lasts {
        return Err(Unusable::Figure { what: "length of a window", value: length, must: "above zero" });
    }
    let angle = record.angle.map(|angle| angle.values);
    let locked = record.trial.shaft == Shaft::Locked;
    if !locked && angle.is_none() {
        return Err(Unusable::Missing("angle, or a shaft that is held"));
    }
    let time = |row: usize| match record.time {
        Time::Even(step) => step * row as f64,
        Time::Stamps(stamps) => stamps[row],
    };
    let voltage = |row: usize| match record.drive {
        Drive::Voltage(u) => u[row],
        Drive::Duty(d, bus) => d[row] * bus[row],
        Drive::Supply(d, open) => d[row] * open,
    };
    let rows = record.rows();
    let mut windows = Vec::new();
    let mut first = 0;
    while first + 1 < rows {
        let mut last = first + 1;
        while last + 1 < rows && time(last) - time(first) < length {
            last += 1;
        }
        let n = (last - first) as f64;
        let mean = |f: &dyn Fn(usize) -> f64| (first..last).map(f).sum::<f64>() / n;
        let (i, u) = (mean(&|row| current[row]), mean(&voltage));
        let speed = match angle {
            Some(angle) if !locked => (angle[last] - angle[first]) / (time(last) - time(first)),
            _ => 0.0,
        };
        let resistance = (u - brush_drop * i.signum() - constant * speed) / i;
        windows.push(Window {
            start: time(first),
            end: time(last),
            effective_current: mean(&|row| current[row] * current[row]).max(0.0).sqrt(),
            resistance: (i.abs() >= least_current && resistance.is_finite()).then_some(resistance),
            mean_current: i.abs(),
        });
        first = last;
    }
    if windows.len() < LEAST {
        return Err(Unusable::Few { what: "windows of the heat run", found: windows.len(), least: LEAST });
    }
    Ok(windows)
}

/// Fewest windows with a resistance.
const LEAST: usize = 12;

/// Fits one body and two to a heat run, and says which the windows speak for.
///
/// # Errors
/// Too few windows with a resistance, windows that are not in order, figures that cannot be.
pub fn heat_run(run: &HeatRun<'_>) -> Result<Heated, Unusable> {
    check(run)?;
    let first = run.windows.iter().find_map(|w| w.resistance).unwrap_or(0.0) - run.series_resistance;
    let loss = run.windows.iter().map(|w| w.effective_current * w.effective_current * first);
    let most_loss = loss.fold(0.0, f64::max).max(f64::MIN_POSITIVE);
    let span = run.windows[run.windows.len() - 1].end - run.windows[0].start;
    let rise = run
        .windows
        .iter()
        .filter_map(|w| w.resistance)
        .map(|r| ((r - run.series_resistance) / first - 1.0) / run.warmth.resistance)
        .fold(0.0, f64::max)
        .max(0.1);
    let path = rise / most_loss;
    let one = fit(run, &[first, path, 0.2 * span]);
    // Two bodies from several starts: how the rise parts is not plain to see.
    let two = [(0.2, 0.02, 0.3), (0.5, 0.05, 0.5), (0.3, 0.005, 0.2)]
        .into_iter()
        .filter_map(|(part, quick, slow)| {
            fit(run, &[first, part * path, (1.0 - part) * path, quick * span, slow * span])
        })
        .min_by(|a, b| a.squares.total_cmp(&b.squares));
    let (Some(one), Some(two)) = (one, two) else {
        return Err(Unusable::Missing("heat run that can be fitted"));
    };
    let criteria = [&one, &two].map(|c| Criteria::of(c.squares, c.readings, c.values.len()));
    let two_bodies = criteria[1].bayes < criteria[0].bayes;
    Ok(heated(run, if two_bodies { &two } else { &one }, two_bodies, criteria))
}

fn check(run: &HeatRun<'_>) -> Result<(), Unusable> {
    let told = run.windows.iter().filter(|w| w.resistance.is_some()).count();
    if told < LEAST {
        return Err(Unusable::Few { what: "windows with a resistance", found: told, least: LEAST });
    }
    let ordered = |k: usize| run.windows[k].start >= run.windows[k - 1].end;
    let lasts = |w: &Window| w.end > w.start && w.end.is_finite() && w.effective_current.is_finite();
    if let Some(k) = (0..run.windows.len()).find(|&k| !lasts(&run.windows[k]) || (k > 0 && !ordered(k))) {
        return Err(Unusable::Time { record: 1, row: k + 1, time: run.windows[k].start });
    }
    for (what, value) in [
        ("uncertainty of the temperature of the air", run.ambient_uncertainty),
        ("uncertainty of the temperature coefficient", run.coefficient_uncertainty),
        ("brush drop", run.brush_drop),
        ("resistance in series", run.series_resistance),
    ] {
        if !(value >= 0.0 && value.is_finite()) {
            return Err(Unusable::Figure { what, value, must: "zero or more" });
        }
    }
    for (what, value) in [
        ("temperature coefficient of the winding", run.warmth.resistance),
        ("temperature of the air", run.ambient),
    ] {
        if !(value > 0.0 && value.is_finite()) {
            return Err(Unusable::Figure { what, value, must: "above zero" });
        }
    }
    Ok(())
}

/// One body by three parameters, two by five: resistance, thermal resistances, time constants.
fn fit(run: &HeatRun<'_>, start: &[f64]) -> Option<Curve> {
    let (readings, weights): (Vec<f64>, Vec<f64>) = run
        .windows
        .iter()
        .map(|w| w.resistance.map_or((0.0, 0.0), |r| (r, w.mean_current * w.mean_current)))
        .unzip();
    let bounds: Vec<(f64, f64)> = start.iter().map(|s| (1e-4 * s, 1e4 * s)).collect();
    let model = |p: &[f64], out: &mut [f64]| {
        course(run, &heat(run, p), |k, winding, heat| {
            out[k] = heat.resistance_at(winding) + run.series_resistance;
        });
    };
    curve::fit(&readings, &weights, start, &bounds, start, &model).ok()
}

fn heat(run: &HeatRun<'_>, p: &[f64]) -> Heat<f64> {
    // One body stands on a case that is as cool as the air.
    let (winding_to_case, case_to_air, winding_time, case_time) = match *p {
        [_, path, time] => (path, 1e-6 * path, time, 1e-6 * time),
        [_, inner, outer, quick, slow] => (inner, outer, quick, slow),
        _ => (f64::NAN, f64::NAN, f64::NAN, f64::NAN),
    };
    Heat {
        resistance: p[0],
        reference_temperature: run.warmth.reference,
        resistance_coefficient: run.warmth.resistance,
        drop: run.brush_drop,
        thermal: Thermal { winding_to_case, case_to_air, winding_time, case_time, limit: f64::INFINITY },
    }
}

/// Goes through the windows and hands out the temperature of the winding in the middle of each.
fn course(run: &HeatRun<'_>, heat: &Heat<f64>, mut take: impl FnMut(usize, f64, &Heat<f64>)) {
    let mut bodies = TwoBody::at_rest(run.ambient);
    let mut now = run.windows[0].start;
    for (k, window) in run.windows.iter().enumerate() {
        if window.start > now {
            bodies = bodies.after(heat, 0.0, run.ambient, window.start - now);
        }
        let half = 0.5 * (window.end - window.start);
        bodies = bodies.after(heat, window.effective_current, run.ambient, half);
        take(k, bodies.winding, heat);
        bodies = bodies.after(heat, window.effective_current, run.ambient, half);
        now = window.end;
    }
}

fn heated(run: &HeatRun<'_>, curve: &Curve, two_bodies: bool, criteria: [Criteria; 2]) -> Heated {
    let gains = libm::hypot(run.sensors.current.gain, run.sensors.voltage.gain);
    let loss = libm::hypot(gains, run.coefficient_uncertainty);
    let copper = libm::hypot(gains, run.warmth.resistance * run.ambient_uncertainty);
    let lost = |k: usize| curve.held[k] || curve.undetermined[k];
    // The path of the case and its time come together: where one runs off, the other only follows.
    let case_lost = two_bodies && (lost(2) || lost(4));
    let told = |k: usize, part: f64| {
        let open = lost(k) || (case_lost && (k == 2 || k == 4));
        let deviation = curve.covariance[(k, k)].max(0.0).sqrt();
        Told {
            value: curve.values[k],
            sampling: if open { f64::INFINITY } else { deviation },
            systematic: part * curve.values[k],
            degrees_of_freedom: curve.degrees_of_freedom[k],
        }
    };
    let mut hottest = run.ambient;
    course(run, &heat(run, &curve.values), |_, winding, _| hottest = hottest.max(winding));
    let weight: f64 =
        run.windows.iter().filter(|w| w.resistance.is_some()).map(|w| w.mean_current * w.mean_current).sum();
    let [winding_time, outer] = if two_bodies { [3, 2] } else { [2, 1] };
    Heated {
        two_bodies,
        criteria,
        status: curve.status,
        resistance: told(0, copper),
        winding_to_case: told(1, loss),
        case_to_air: two_bodies.then(|| told(outer, loss)),
        winding_time: told(winding_time, 0.0),
        case_time: two_bodies.then(|| told(4, 0.0)),
        hottest,
        residual: (curve.squares / weight).sqrt(),
    }
}

#[cfg(test)]
mod tests;

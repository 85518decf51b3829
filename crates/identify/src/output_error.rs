//! The whole model fitted to all records of an axis at once.
//!
//! ```text
//! minimise  Σ ρ((i_k − i(t_k))/σ_i) + Σ ρ((Δθ_k − ∫ω)/σ_θ)
//! ```
//!
//! i(t) and ∫ω are those of the fast model, driven by the recorded voltage from the start of a record on: no reading is
//! ever fed back (an output-error fit). ρ is Huber's loss. Angles are compared as ways over windows of a part of the
//! mechanical time constant. Damped Gauss–Newton steps with exact slopes, first on some of the stretches, then on all.

use crate::ask::Ask;
use crate::estimate::{Identified, Source, report};
use crate::model::pass::{Found, Gauge, Stretch, pass};
use crate::model::plant::{Lane, Plant, Values};
use crate::model::tally::Scale;
use crate::parameter::Parameter;
use crate::prepared::Prepared;
use crate::record::{Axis, Unusable};
use crate::start;
use numeric::levenberg::{Settings, Status};
use numeric::summed::{self, Sums, minimise};

/// Rows of a stretch that is walked by itself.
const STRETCH: usize = 1 << 15;
/// Time constants that a stretch starts ahead: e^(−30) of what was read wrong is left, 1e-13.
const AHEAD: f64 = 30.0;
/// Time constants that are left out where a run starts with the shaft moving.
const SETTLE: f64 = 12.0;
/// Part of the slow time constant over which a way is compared.
const WAY: f64 = 0.5;
/// Blocks that rows are summed in: about so many, each several times longer than residuals remember, where they do so
/// longer than is looked by this many slow time constants.
const BLOCKS: usize = 200;
const REMEMBERED: usize = 4;
const LONG: f64 = 4.0;
const LEAST_BLOCKS: usize = 16;
/// Most that is taken over from one way to the next: so an error dies out within some ways.
const MOST_LEAN: f64 = 0.95;
/// Deviations from which on a residual counts by its amount.
const BEND: f64 = 2.5;
/// Residuals of each kind that are kept for a median, about.
const KEPT: usize = 4000;
/// Stretches of which a first search takes every so many-th.
const COARSE: usize = 8;
/// Distance from the minimum at which a search ends, in standard deviations of the parameters.
const NEAR: f64 = 0.01;
const COARSE_NEAR: f64 = 0.3;

/// Fits the parameters asked for to all records of an axis.
///
/// # Errors
/// Records that cannot be used, or nothing in them to compare with.
pub fn fit(axis: &Axis<'_>, ask: &Ask<'_>) -> Result<Identified, Unusable> {
    axis.check()?;
    ask.check()?;
    let prepared = Prepared::all(axis);
    if !prepared.iter().any(|p| p.record.current.is_some() || p.angle().is_some()) {
        return Err(Unusable::Missing("current or angle"));
    }
    let sought = Sought::of(axis, ask);
    let given: Vec<(Parameter, f64)> = ask.known.iter().chain(ask.start).copied().collect();
    let mut values = start::values(axis, &prepared, ask.wanted, &given);
    let mut gauge = gauge(axis, &prepared, &values)?;
    // Roughly on a part, where there is much: squares alone, as nothing is an outlier yet.
    let coarse = if gauge.stretches.len() >= 2 * COARSE { COARSE } else { 1 };
    let rough = search(&prepared, &gauge, &mut values, &sought, coarse, COARSE_NEAR);
    rescale(&mut gauge, &prepared, &values, &sought.lanes, coarse);
    let end = search(&prepared, &gauge, &mut values, &sought, 1, NEAR);
    let source = Source { axis, prepared: &prepared, gauge: &gauge, ask, sought: &sought };
    let evaluations = rough.evaluations + end.evaluations + 1;
    Ok(report(&source, &values, end.status, &end.held, evaluations))
}

/// What is searched for: the parameters wanted, and zeros of sensors that may be off by what is known of them.
pub(crate) struct Sought {
    pub(crate) parameters: Vec<Parameter>,
    pub(crate) lanes: Vec<Lane>,
    /// Place and standard uncertainty of those that are known to lie about zero.
    pub(crate) known: Vec<(usize, f64)>,
}

impl Sought {
    fn of(axis: &Axis<'_>, ask: &Ask<'_>) -> Self {
        let mut parameters = ask.wanted.to_vec();
        let mut known = Vec::new();
        let has_current = axis.records.iter().any(|record| record.current.is_some());
        let zeros = [
            (Parameter::CurrentOffset, axis.sensors.current.offset, has_current),
            (Parameter::VoltageOffset, axis.sensors.voltage.offset, true),
        ];
        for (zero, uncertainty, there) in zeros {
            let is_held = ask.known.iter().any(|(parameter, _)| *parameter == zero);
            if there && uncertainty > 0.0 && !is_held && !parameters.contains(&zero) {
                known.push((parameters.len(), uncertainty));
                parameters.push(zero);
            }
        }
        let lanes = parameters.iter().map(|&p| Lane::Of(p)).collect();
        Self { parameters, lanes, known }
    }

    /// What is known beforehand, as sums, at these values.
    pub(crate) fn before(&self, values: &Values, lanes: usize) -> Sums {
        let mut sums = Sums::new(lanes);
        for &(place, uncertainty) in &self.known {
            sums.add_prior(place, 0.0, values.get(self.parameters[place]), uncertainty);
        }
        sums
    }
}

/// Searches from the values, which become those found.
fn search(
    prepared: &[Prepared<'_>],
    gauge: &Gauge,
    values: &mut Values,
    sought: &Sought,
    stride: usize,
    near: f64,
) -> summed::Fit {
    let parameters = &sought.parameters;
    let start: Vec<f64> = parameters.iter().map(|&p| values.get(p)).collect();
    let bounds: Vec<(f64, f64)> = parameters.iter().map(|&p| bound(p, values.get(p))).collect();
    let with = |found: &[f64]| {
        let mut trial = *values;
        parameters.iter().zip(found).for_each(|(&p, &v)| trial.set(p, v));
        trial
    };
    let rows: usize = gauge.stretches.iter().step_by(stride).map(|s| s.end - s.counted).sum();
    let settings = Settings { max_steps: 60, offset_tolerance: near / (rows.max(1) as f64).sqrt() };
    let sums = |found: &[f64]| {
        let trial = with(found);
        let mut sums = pass(prepared, gauge, &trial, &sought.lanes, stride)?.sums;
        sums.add(&sought.before(&trial, sought.lanes.len()));
        Some(sums)
    };
    let fit = minimise(&start, &bounds, &settings, sums).unwrap_or_else(|_| summed::Fit {
        status: Status::NotFinite,
        parameters: start.clone(),
        held: vec![false; start.len()],
        sums: Sums::new(start.len()),
        evaluations: 0,
    });
    *values = with(&fit.parameters);
    fit
}

/// Where a parameter can be, about where it starts.
fn bound(parameter: Parameter, start: f64) -> (f64, f64) {
    match parameter {
        _ if parameter.is_signed() => (f64::NEG_INFINITY, f64::INFINITY),
        _ if parameter.is_above_zero() => (1e-4 * start, 1e4 * start),
        _ => (0.0, f64::INFINITY),
    }
}

/// How records are compared, by the first values.
pub(crate) fn gauge(axis: &Axis<'_>, prepared: &[Prepared<'_>], values: &Values) -> Result<Gauge, Unusable> {
    let mut stretches = Vec::new();
    let (mut ways, mut blocks) = (Vec::new(), Vec::new());
    let rows: usize = prepared.iter().map(|p| p.record.rows()).sum();
    for (record, p) in prepared.iter().enumerate() {
        let plant = Plant::of(p, values);
        let slow = plant.slow_time() / p.usual_step();
        let all = p.record.rows();
        let way = ((WAY * slow) as usize).clamp(1, (all / 50).max(1));
        ways.push(way);
        blocks.push((rows / BLOCKS).div_ceil(way) * way);
        let ahead = (AHEAD * slow) as usize;
        let settle = (SETTLE * slow) as usize;
        for run in &p.runs {
            cut(&mut stretches, record, run.start, run.end, (ahead, settle), p.record.trial.from_rest);
        }
    }
    if stretches.is_empty() {
        return Err(Unusable::Missing("stretch of usable rows"));
    }
    let noise = axis.sensors.current.noise.filter(|noise| *noise > 0.0);
    let largest = |values: &mut dyn Iterator<Item = f64>| {
        values.filter(|x| x.is_finite()).fold(0.0_f64, |most, x| most.max(x.abs()))
    };
    let current = largest(&mut prepared.iter().filter_map(|p| p.record.current).flatten().copied());
    let count = prepared.iter().filter_map(Prepared::angle).map(|a| a.resolution).fold(0.0, f64::max);
    let keep = (rows / KEPT).max(1);
    let scale = |deviation: f64| Scale { deviation, bend: f64::INFINITY, keep };
    Ok(Gauge {
        stretches,
        // Currents to a percent where nothing is known; ways to the differences of counts.
        current: scale(noise.unwrap_or(0.01 * current).max(f64::MIN_POSITIVE)),
        way: scale(if count > 0.0 { count / 6.0_f64.sqrt() } else { 1e-3 }),
        ways,
        blocks,
        lean: 0.0,
        watched: false,
    })
}

/// Cuts a run into stretches.
fn cut(
    stretches: &mut Vec<Stretch>,
    record: usize,
    start: usize,
    end: usize,
    (ahead, settle): (usize, usize),
    from_rest: bool,
) {
    let from_rest = from_rest && start == 0;
    // A drive that is not at rest forgets where it began; no more than a third is given away for that.
    let first = if from_rest { start } else { start + settle.min((end - start) / 3) };
    stretches.push(Stretch { record, start, counted: first, end, from_rest });
    if ahead > STRETCH / 2 {
        return;
    }
    while let Some(last) = stretches.last_mut()
        && last.end - last.counted >= 2 * STRETCH
    {
        let (counted, end) = (last.counted + STRETCH, last.end);
        last.end = counted;
        stretches.push(Stretch {
            record,
            start: counted - ahead.min(counted - start),
            counted,
            end,
            from_rest: false,
        });
    }
}

/// Deviations by what is left of the residuals, and outliers held back from now on; blocks as long as residuals remember.
fn rescale(gauge: &mut Gauge, prepared: &[Prepared<'_>], values: &Values, lanes: &[Lane], stride: usize) {
    gauge.watched = true;
    let Some(Found { currents, ways, .. }) = pass(prepared, gauge, values, lanes, stride) else { return };
    gauge.lean = lean(ways.correlation());
    let innovation = ways.deviation() / (1.0 + gauge.lean * gauge.lean).sqrt();
    for (scale, deviation) in [(&mut gauge.current, currents.deviation()), (&mut gauge.way, innovation)] {
        if deviation > 0.0 && deviation.is_finite() {
            *scale = Scale { deviation, bend: BEND, ..*scale };
        }
    }
    let rows: usize = prepared.iter().map(|p| p.record.rows()).sum();
    for (record, p) in prepared.iter().enumerate() {
        let way = gauge.ways[record];
        let slow = Plant::of(p, values).slow_time() / p.usual_step();
        let of_currents =
            if currents.reaches_far() { LONG * slow } else { (REMEMBERED * currents.reach()) as f64 };
        let block = of_currents.max((REMEMBERED * way) as f64).max(rows as f64 / BLOCKS as f64);
        let most = (p.record.rows() / LEAST_BLOCKS).max(1) as f64;
        gauge.blocks[record] = (block.min(most) as usize).div_ceil(way) * way;
    }
}

/// The part that makes differences of ways independent: these are a moving average of first order, with the correlation
/// `−θ/(1 + θ²)` of neighbours (G. E. P. Box and G. M. Jenkins, *Time Series Analysis*, 1970, from memory).
fn lean(correlation: f64) -> f64 {
    if correlation >= 0.0 {
        return 0.0;
    }
    let square = (1.0 - 4.0 * correlation * correlation).max(0.0);
    ((1.0 - square.sqrt()) / (-2.0 * correlation)).min(MOST_LEAN)
}

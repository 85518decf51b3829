//! What a fit knows: values with uncertainties, sampling and systematic parts kept apart.
//!
//! Sampling: by the scatter between blocks of rows that are longer than anything the residuals remember, so that it holds
//! for residuals that are correlated ([`Scatter`]). Systematic: each gain of a sensor that may be off moves the minimum
//! by `A⁻¹·a·δ`, a the products of its slopes with those of the parameters. A zero that may be off is searched for with
//! the others, from what is known of it as one more row; what that row may be off by is its systematic part.

use crate::ask::Ask;
use crate::gauge::Gauge;
use crate::model::pass::Found;
use crate::model::plant::{Lane, Values};
use crate::model::tally::Residuals;
use crate::outlook::Information;
use crate::parameter::Parameter;
use crate::record::Axis;
use crate::refusal::Refusal;
use crate::search::{Model, Sought};
use crate::told::Told;
use numeric::Matrix;
use numeric::levenberg::Status;
use numeric::summed::{Curvature, Scatter, Sums};

/// What was found.
#[derive(Clone, Debug)]
pub struct Identified {
    /// How the search ended.
    pub status: Status,
    /// In the order that they were asked for in, then what had to be found beside, then the zeros of sensors that may be
    /// off.
    pub estimates: Vec<Estimate>,
    /// Covariance by scatter.
    pub sampling: Matrix,
    /// Covariance by what may be off with the sensors.
    pub systematic: Matrix,
    /// Condition number of the slopes, each column scaled to length 1.
    pub condition: f64,
    /// Residuals of the current, A, and of ways, rad.
    pub residuals: [Residual; 2],
    /// Blocks of rows that the scatter was told from.
    pub blocks: usize,
    /// Noise that the current sensor is said to have, A; more than this, and correlated, is none.
    pub noise: Option<f64>,
    /// Every record states the temperature of its winding.
    pub temperature_stated: bool,
    /// Temperature that resistance and constant are told for, K.
    pub temperature: f64,
    /// How often the model went over the records, or parts of them.
    pub evaluations: usize,
    /// What the records say together, for [`crate::outlook`].
    pub information: Information,
}

/// Residuals of one kind.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Residual {
    /// How many.
    pub count: usize,
    /// Their effective value.
    pub effective: f64,
    /// Their deviation by the median amount, which outliers do not move.
    pub deviation: f64,
    /// Correlation of neighbours, −1 to 1.
    pub correlation: f64,
}

/// One parameter.
#[derive(Clone, Debug)]
pub struct Estimate {
    /// Which.
    pub parameter: Parameter,
    /// Its value, SI.
    pub value: f64,
    /// Standard uncertainty by scatter.
    pub sampling: f64,
    /// Standard uncertainty by what may be off with the sensors.
    pub systematic: f64,
    /// Degrees of freedom of the sampling part.
    pub degrees_of_freedom: f64,
    /// What each systematic cause moves it by, for one standard uncertainty.
    pub causes: Vec<(Cause, f64)>,
    /// Where it lies about the band of its datasheet.
    pub standing: Option<Standing>,
    /// Why the data do not carry it.
    pub refused: Option<Refusal>,
}

/// What may be off in all records alike.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Cause {
    /// Gain of the current sensor.
    CurrentGain,
    /// Zero of the current sensor.
    CurrentZero,
    /// Gain of the voltage sensor.
    VoltageGain,
    /// Zero of the voltage sensor.
    VoltageZero,
    /// Known inertia that was added.
    ExtraInertia,
    /// Temperature of winding and magnets.
    Temperature,
    /// What was expected of a parameter.
    Expected(Parameter),
}

/// Where a value lies about a band.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Standing {
    /// Its 95 % interval lies inside.
    Inside,
    /// It reaches over an end.
    Across,
    /// It lies outside.
    Outside,
}

impl Estimate {
    /// Value and uncertainties alone.
    pub fn told(&self) -> Told {
        let Self { value, sampling, systematic, degrees_of_freedom, .. } = *self;
        Told { value, sampling, systematic, degrees_of_freedom }
    }

    /// Combined standard uncertainty.
    pub fn uncertainty(&self) -> f64 {
        self.told().uncertainty()
    }

    /// Half of the interval that holds the true value with this probability.
    pub fn half_width(&self, confidence: f64) -> f64 {
        self.told().half_width(confidence)
    }
}

impl Identified {
    /// The estimate of a parameter.
    pub fn get(&self, parameter: Parameter) -> Option<&Estimate> {
        self.estimates.iter().find(|e| e.parameter == parameter)
    }

    /// Correlation of two estimates by both parts of their covariance, by place.
    pub fn correlation(&self, i: usize, j: usize) -> f64 {
        let both = |i: usize, j: usize| self.sampling[(i, j)] + self.systematic[(i, j)];
        let product = (both(i, i) * both(j, j)).sqrt();
        if product > 0.0 && product.is_finite() {
            (both(i, j) / product).clamp(-1.0, 1.0)
        } else {
            f64::from(i == j)
        }
    }
}

/// What a report is made from.
pub(crate) struct Source<'a> {
    pub(crate) model: &'a dyn Model,
    pub(crate) axis: &'a Axis<'a>,
    pub(crate) gauge: &'a Gauge,
    pub(crate) ask: &'a Ask<'a>,
    pub(crate) sought: &'a Sought,
}

/// A cause with the lane that its slopes are taken in, and its standard uncertainty.
type Nuisance = (Cause, Lane, f64);

impl Source<'_> {
    /// What may be off and is not searched for.
    fn nuisances(&self) -> Vec<Nuisance> {
        let sensors = self.axis.sensors;
        let all = [
            (Cause::CurrentGain, Lane::CurrentGain, sensors.current.gain),
            (Cause::VoltageGain, Lane::VoltageGain, sensors.voltage.gain),
            (Cause::ExtraInertia, Lane::ExtraInertia, sensors.extra_inertia),
        ];
        all.into_iter().filter(|(.., uncertainty)| *uncertainty > 0.0).collect()
    }
}

/// Values at the end of a search, and all that is known about them.
pub(crate) fn report(
    source: &Source<'_>,
    values: &Values,
    status: Status,
    held: &[bool],
    evaluations: usize,
) -> Identified {
    let sought = source.sought;
    let nuisances = source.nuisances();
    let lanes: Vec<Lane> = sought.lanes.iter().copied().chain(nuisances.iter().map(|n| n.1)).collect();
    let found = source.model.pass(source.gauge, values, &lanes, 1);
    let mut found = found.unwrap_or_else(|| Found::nothing(lanes.len()));
    let before = sought.before(values, lanes.len());
    found.sums.add(&before);
    let n = sought.parameters.len();
    let is_held = |j: usize| held.get(j).copied().unwrap_or(false);
    // One that ended at its bound is not known there: it is as uncertain as if there were no bound, and so are those
    // that go with it.
    let all: Vec<usize> = (0..n).collect();
    let curvature = Curvature::of(&found.sums.of(&all));
    let open = curvature.undetermined();
    let blocks: Vec<Sums> = found.blocks.iter().map(|block| block.of(&all)).collect();
    let Scatter { covariance: sampling, degrees_of_freedom, .. } =
        Scatter::between(&blocks, &before.of(&all));
    let shifts = shifts(source, values, &found.sums, &curvature, &nuisances);
    let systematic = Matrix::from_fn(n, n, |i, j| shifts.iter().map(|(_, shift)| shift[i] * shift[j]).sum());
    let estimate = |j: usize| {
        let parameter = sought.parameters[j];
        let mut estimate = Estimate {
            parameter,
            value: values.get(parameter),
            sampling: sampling[(j, j)].max(0.0).sqrt(),
            systematic: systematic[(j, j)].max(0.0).sqrt(),
            degrees_of_freedom: degrees_of_freedom[j],
            causes: shifts.iter().map(|(cause, shift)| (*cause, shift[j])).collect(),
            standing: None,
            refused: None,
        };
        let half = estimate.half_width(0.95);
        estimate.refused = if is_held(j) {
            Some(Refusal::AtItsBound)
        } else {
            Refusal::of(parameter, estimate.value, half, 0.0, open[j])
        };
        let band = source.ask.bands.iter().find(|(p, _)| *p == parameter).map(|(_, band)| *band);
        estimate.standing = band.map(|band| standing(estimate.value, half, band));
        estimate
    };
    let residual = |r: &Residuals| Residual {
        count: r.count,
        effective: r.effective(),
        deviation: r.deviation(),
        correlation: r.correlation(),
    };
    Identified {
        status,
        estimates: (0..n).map(estimate).collect(),
        sampling,
        systematic,
        condition: curvature.condition(),
        residuals: [residual(&found.currents), residual(&found.ways)],
        blocks: found.blocks.len(),
        noise: source.axis.sensors.current.noise,
        temperature_stated: source.axis.records.iter().all(|record| record.trial.winding.is_some()),
        temperature: source.axis.warmth.reference,
        evaluations,
        information: Information {
            sums: found.sums,
            lanes,
            gains: nuisances.iter().map(|nuisance| nuisance.2).collect(),
            known: sought.known.iter().map(|&(place, _, u)| (place, u)).collect(),
            values: *values,
            scales: [source.gauge.current, source.gauge.way],
            lean: source.gauge.lean,
        },
    }
}

/// By how much each cause moves each parameter, for one standard uncertainty.
fn shifts(
    source: &Source<'_>,
    values: &Values,
    sums: &Sums,
    curvature: &Curvature,
    nuisances: &[Nuisance],
) -> Vec<(Cause, Vec<f64>)> {
    let parameters = &source.sought.parameters;
    let n = parameters.len();
    let mut shifts: Vec<(Cause, Vec<f64>)> = Vec::new();
    for (k, &(cause, _, uncertainty)) in nuisances.iter().enumerate() {
        let products: Vec<f64> = (0..n).map(|j| uncertainty * sums.products[(j, n + k)]).collect();
        shifts.push((cause, curvature.step(&products, 0.0)));
    }
    // What is known beforehand pulls with 1/u² for what it is off, and that is u.
    for &(place, _, uncertainty) in &source.sought.known {
        let cause = match parameters[place] {
            Parameter::CurrentOffset => Cause::CurrentZero,
            Parameter::VoltageOffset => Cause::VoltageZero,
            expected => Cause::Expected(expected),
        };
        let pull: Vec<f64> = (0..n).map(|j| if j == place { 1.0 / uncertainty } else { 0.0 }).collect();
        shifts.push((cause, curvature.step(&pull, 0.0)));
    }
    let warmth = source.axis.warmth;
    let off = source.axis.sensors.temperature;
    if off > 0.0 {
        let by = |p: &Parameter| match p {
            Parameter::Resistance => off * warmth.resistance * values.get(*p),
            Parameter::Constant => off * warmth.constant * values.get(*p),
            _ => 0.0,
        };
        shifts.push((Cause::Temperature, parameters.iter().map(by).collect()));
    }
    shifts
}

fn standing(value: f64, half: f64, (low, high): (f64, f64)) -> Standing {
    if value + half < low || value - half > high {
        Standing::Outside
    } else if value - half >= low && value + half <= high {
        Standing::Inside
    } else {
        Standing::Across
    }
}

//! The search for parameters, whatever the model.

use crate::ask::Ask;
use crate::estimate::{Identified, Source, report};
use crate::gauge::Gauge;
use crate::model::pass::Found;
use crate::model::plant::{Lane, Values};
use crate::parameter::Parameter;
use crate::prepared::Prepared;
use crate::record::Axis;
use numeric::levenberg::{Settings, Status};
use numeric::summed::{self, Sums, minimise};

/// Stretches of which a first search takes every so many-th.
const COARSE: usize = 8;
/// Distance from the minimum at which a search ends, in standard deviations of the parameters.
const NEAR: f64 = 0.01;
const COARSE_NEAR: f64 = 0.3;

/// A model that goes over the records.
pub(crate) trait Model {
    /// Over all stretches at these values, or over every `stride`-th. `None` where the model cannot take the values.
    fn pass(&self, gauge: &Gauge, values: &Values, lanes: &[Lane], stride: usize) -> Option<Found>;
}

/// Finds what is asked, and what is to be found beside, from these values on: roughly on a part of the records, then by scales told from what is left.
pub(crate) fn find(
    model: &dyn Model,
    axis: &Axis<'_>,
    prepared: &[Prepared<'_>],
    ask: &Ask<'_>,
    beside: &[Parameter],
    mut gauge: Gauge,
    mut values: Values,
) -> Identified {
    let sought = Sought::of(axis, ask, beside);
    let coarse = if gauge.stretches.len() >= 2 * COARSE { COARSE } else { 1 };
    // Squares alone at first, as nothing is an outlier yet.
    let rough = search(model, &gauge, &mut values, &sought, coarse, COARSE_NEAR);
    gauge.watched = true;
    if let Some(found) = model.pass(&gauge, &values, &sought.lanes, coarse) {
        gauge.rescale(prepared, &values, &found);
    }
    gauge.watched = false;
    let end = search(model, &gauge, &mut values, &sought, 1, NEAR);
    gauge.watched = true;
    let source = Source { model, axis, gauge: &gauge, ask, sought: &sought };
    let evaluations = rough.evaluations + end.evaluations + 2;
    report(&source, &values, end.status, &end.held, evaluations)
}

/// What is searched for: the parameters wanted, those that have to be found beside, and zeros of sensors that may be off by what is known of them.
pub(crate) struct Sought {
    pub(crate) parameters: Vec<Parameter>,
    pub(crate) lanes: Vec<Lane>,
    /// Place, value and standard uncertainty of those of which something is known beforehand.
    pub(crate) known: Vec<(usize, f64, f64)>,
}

impl Sought {
    fn of(axis: &Axis<'_>, ask: &Ask<'_>, beside: &[Parameter]) -> Self {
        let mut parameters = ask.wanted.to_vec();
        parameters.extend(beside);
        let expected = ask.expected.iter().filter_map(|&(parameter, (value, uncertainty))| {
            Some((parameters.iter().position(|p| *p == parameter)?, value, uncertainty))
        });
        let mut known: Vec<(usize, f64, f64)> = expected.collect();
        let has_current = axis.records.iter().any(|record| record.current.is_some());
        let zeros = [
            (Parameter::CurrentOffset, axis.sensors.current.offset, has_current),
            (Parameter::VoltageOffset, axis.sensors.voltage.offset, true),
        ];
        for (zero, uncertainty, there) in zeros {
            let is_held = ask.known.iter().any(|(parameter, _)| *parameter == zero);
            if there && uncertainty > 0.0 && !is_held && !parameters.contains(&zero) {
                known.push((parameters.len(), 0.0, uncertainty));
                parameters.push(zero);
            }
        }
        let lanes = parameters.iter().map(|&p| Lane::Of(p)).collect();
        Self { parameters, lanes, known }
    }

    /// What is known beforehand, as sums, at these values.
    pub(crate) fn before(&self, values: &Values, lanes: usize) -> Sums {
        let mut sums = Sums::new(lanes);
        for &(place, value, uncertainty) in &self.known {
            sums.add_prior(place, value, values.get(self.parameters[place]), uncertainty);
        }
        sums
    }
}

/// Searches from the values, which become those found.
fn search(
    model: &dyn Model,
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
        let mut sums = model.pass(gauge, &trial, &sought.lanes, stride)?.sums;
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

//! Which trial would tell most next: the uncertainty that would be left if one more record were there.
//!
//! ```text
//! A⁺ = A + A_c        u² = c·(A⁺⁻¹)_pp + Σ_k (A⁺⁻¹·a⁺_k·u_k)_p²
//! ```
//!
//! A and a are the sums of products of slopes of the records so far, at the values that were found; A_c those of the record
//! as the model would give it. c is by how much scatter between blocks is more than independent residuals would have, the
//! same for all records; u_k are the uncertainties of gains and zeros. First order; the values are taken as they are.

use crate::estimate::Identified;
use crate::gauge::Gauge;
use crate::model::pass::pass;
use crate::model::plant::{Lane, Values};
use crate::model::tally::Scale;
use crate::parameter::Parameter;
use crate::prepared::Prepared;
use crate::record::{Axis, Unusable};
use numeric::summed::{Curvature, Sums};

/// What the records so far say together, for the question of what one more would.
#[derive(Clone, Debug)]
pub struct Information {
    /// Over all lanes: parameters first, then gains that may be off. What was known beforehand is in it.
    pub(crate) sums: Sums,
    pub(crate) lanes: Vec<Lane>,
    /// Standard uncertainties of the last lanes, one each.
    pub(crate) gains: Vec<f64>,
    /// Places of what was known beforehand, with its standard uncertainty.
    pub(crate) known: Vec<(usize, f64)>,
    pub(crate) values: Values,
    /// Scales of currents and ways, and how ways lean on one another.
    pub(crate) scales: [Scale; 2],
    pub(crate) lean: f64,
}

/// What one parameter would be known to.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Expected {
    /// Which.
    pub parameter: Parameter,
    /// Its value, as found or as expected.
    pub value: f64,
    /// Standard uncertainty by what was recorded so far; infinite where nothing tells it.
    pub now: f64,
    /// The same with the further record.
    pub then: f64,
    /// The part of that which comes from sensors, and from what is expected: no record of the same kind makes it less.
    pub systematic: f64,
}

/// The uncertainties that one more record, or several together, would leave. `wanted` are parameters with the values that
/// they are expected to have where the records so far do not tell them.
///
/// # Errors
/// A record that cannot be used, or values that no drive can have.
pub fn outlook(
    found: &Identified,
    wanted: &[(Parameter, f64)],
    candidate: &Axis<'_>,
) -> Result<Vec<Expected>, Unusable> {
    candidate.check()?;
    let before = &found.information;
    let mut values = before.values;
    let count = before.lanes.len() - before.gains.len();
    let mut parameters: Vec<Parameter> = found.estimates.iter().map(|estimate| estimate.parameter).collect();
    for &(parameter, value) in wanted {
        if !parameters.contains(&parameter) {
            parameters.push(parameter);
            values.set(parameter, value);
        }
    }
    let n = parameters.len();
    let lanes: Vec<Lane> =
        parameters.iter().map(|p| Lane::Of(*p)).chain(before.lanes[count..].iter().copied()).collect();
    let prepared = Prepared::all(candidate);
    let mut gauge = Gauge::of(candidate, &prepared, &values)?;
    [gauge.current, gauge.way] = before.scales;
    gauge.lean = before.lean;
    let more = pass(&prepared, &gauge, &values, &lanes, 1).ok_or(Unusable::Figure {
        what: "set of figures that were found",
        value: f64::NAN,
        must: "one that a drive can have",
    })?;
    let so_far = spread(&before.sums, count, n);
    let mut both = so_far.clone();
    both.add(&more.sums);
    let now = Left::of(&so_far, before, n);
    let then = Left::of(&both, before, n);
    Ok((0..n)
        .map(|j| {
            let estimate = found.estimates.get(j);
            let scatter = estimate.map_or(1.0, |e| e.sampling * e.sampling / now.sampling[j]);
            let scatter = if scatter.is_finite() { scatter.max(1.0) } else { 1.0 };
            let told = |left: &Left| (scatter * left.sampling[j] + left.systematic[j]).sqrt();
            Expected {
                parameter: parameters[j],
                value: values.get(parameters[j]),
                now: told(&now),
                then: told(&then),
                systematic: then.systematic[j].sqrt(),
            }
        })
        .collect())
}

/// Sums with room for parameters that were not looked for so far.
fn spread(sums: &Sums, count: usize, parameters: usize) -> Sums {
    let gains = sums.parameters() - count;
    let place = |lane: usize| if lane < count { lane } else { lane - count + parameters };
    let mut all = Sums::new(parameters + gains);
    for i in 0..sums.parameters() {
        for j in 0..sums.parameters() {
            all.products[(place(i), place(j))] = sums.products[(i, j)];
        }
    }
    all
}

/// Variances that sums leave, parameter by parameter.
struct Left {
    sampling: Vec<f64>,
    systematic: Vec<f64>,
}

impl Left {
    fn of(sums: &Sums, before: &Information, n: usize) -> Self {
        let all: Vec<usize> = (0..n).collect();
        let curvature = Curvature::of(&sums.of(&all));
        let inverse = curvature.inverse();
        let open = curvature.undetermined();
        let squares = |products: Vec<f64>, sum: &mut [f64]| {
            let shift = curvature.step(&products, 0.0);
            sum.iter_mut().zip(shift).for_each(|(sum, shift)| *sum += shift * shift);
        };
        let (mut gains, mut known) = (vec![0.0; n], vec![0.0; n]);
        for (k, u) in before.gains.iter().enumerate() {
            squares((0..n).map(|j| u * sums.products[(j, n + k)]).collect(), &mut gains);
        }
        for &(place, u) in &before.known {
            squares((0..n).map(|j| if j == place { 1.0 / u } else { 0.0 }).collect(), &mut known);
        }
        // The inverse holds what was known beforehand too: A⁻¹ = A⁻¹·(A_rows + A_known)·A⁻¹.
        let rows = |j: usize| if open[j] { f64::INFINITY } else { (inverse[(j, j)] - known[j]).max(0.0) };
        let sampling = (0..n).map(rows).collect();
        Self { sampling, systematic: gains.iter().zip(&known).map(|(gain, known)| gain + known).collect() }
    }
}

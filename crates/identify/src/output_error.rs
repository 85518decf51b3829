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
use crate::estimate::{Identified, Residual};
use crate::gauge::Gauge;
use crate::model::pass::{Found, pass};
use crate::model::plant::{Lane, Values};
use crate::parameter::Parameter;
use crate::prepared::Prepared;
use crate::record::{Axis, Unusable};
use crate::search::{Model, find};
use crate::start;
use numeric::levenberg::Status;

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
    let given: Vec<(Parameter, f64)> = ask.known.iter().chain(ask.start).copied().collect();
    let beside = beside(&prepared, ask);
    let from = |values: Values| -> Result<Identified, Unusable> {
        let gauge = Gauge::of(axis, &prepared, &values)?;
        Ok(find(&Fast(&prepared), axis, &prepared, ask, &beside, gauge, values))
    };
    let found = from(start::values(axis, &prepared, ask.wanted, &given))?;
    if is_settled(&found) {
        return Ok(found);
    }
    // A single step bends too little for the linear fit, and its figures may lead into a valley beside.
    let other = from(start::guessed(&prepared, ask.wanted, &given))?;
    Ok(if misfit(&other) < misfit(&found) { other } else { found })
}

/// Correlation of neighbouring residuals of the current from which on a search may have ended beside the minimum.
const DOUBTFUL: f64 = 0.9;

/// Whether a search ended at a minimum that leaves something like noise.
fn is_settled(found: &Identified) -> bool {
    found.status == Status::Converged && found.residuals[0].correlation < DOUBTFUL
}

/// How much is left of currents and ways, as logarithm of the likelihood, but for its sign.
fn misfit(found: &Identified) -> f64 {
    let left = |residual: &Residual| match residual.count {
        0 => 0.0,
        count => count as f64 * libm::log(residual.effective.max(f64::MIN_POSITIVE)),
    };
    found.residuals.iter().map(left).sum()
}

/// What no drive is without, and nobody knows or asked for.
fn beside(prepared: &[Prepared<'_>], ask: &Ask<'_>) -> Vec<Parameter> {
    use Parameter as P;
    let turns = prepared.iter().any(|p| !p.is_locked());
    let all = [(P::Resistance, true), (P::Inductance, true), (P::Constant, turns), (P::Inertia, turns)];
    let is_there = |p: P| ask.wanted.contains(&p) || ask.known.iter().any(|(known, _)| *known == p);
    all.into_iter().filter(|&(p, acts)| acts && !is_there(p)).map(|(p, _)| p).collect()
}

/// The model that goes from row to row.
struct Fast<'a>(&'a [Prepared<'a>]);

impl Model for Fast<'_> {
    fn pass(&self, gauge: &Gauge, values: &Values, lanes: &[Lane], stride: usize) -> Option<Found> {
        pass(self.0, gauge, values, lanes, stride)
    }
}

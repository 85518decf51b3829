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
use crate::estimate::Identified;
use crate::gauge::Gauge;
use crate::model::pass::{Found, pass};
use crate::model::plant::{Lane, Values};
use crate::parameter::Parameter;
use crate::prepared::Prepared;
use crate::record::{Axis, Unusable};
use crate::search::{Model, find};
use crate::start;

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
    let values = start::values(axis, &prepared, ask.wanted, &given);
    let gauge = Gauge::of(axis, &prepared, &values)?;
    let beside = beside(&prepared, ask);
    Ok(find(&Fast(&prepared), axis, &prepared, ask, &beside, gauge, values))
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

//! The fit of several models of one axis, and which of them the records speak for.
//!
//! The plain model has resistance, inductance, constant, inertia, dry and viscous friction. A drop of the brushes, a steady
//! torque, and friction that is more at rest are each taken in where the Bayes criterion falls by more than six by it: strong
//! evidence (R. E. Kass and A. E. Raftery, *Bayes factors*, 1995, from memory). Neighbouring residuals that are correlated
//! count for fewer: `n·(1 − ρ)/(1 + ρ)`.

use crate::ask::Ask;
use crate::estimate::{Identified, Residual};
use crate::output_error;
use crate::parameter::Parameter;
use crate::record::{Axis, Shaft, Unusable};
use finding::{Stopped, Watch};
use numeric::criterion::Criteria;

/// A model with what it came to.
#[derive(Clone, Debug)]
pub struct Structure {
    /// What it has beyond the plain model, in words; empty for that.
    pub with: String,
    /// It was played PWM period by PWM period, with dead time and what the current does within a period.
    pub played: bool,
    /// By how much its Bayes criterion lies above that of the model that was chosen.
    pub above_chosen: f64,
    /// What was found.
    pub identified: Identified,
}

/// What a model may have beside.
const BESIDE: [(&str, &[Parameter]); 3] = [
    ("a drop of the brushes", &[Parameter::BrushDrop]),
    ("a steady torque", &[Parameter::Imbalance]),
    ("friction that is more at rest", &[Parameter::StaticExtra, Parameter::FrictionSpeed]),
];

/// By how much the criterion has to fall for a model that has more.
pub(super) const EVIDENCE: f64 = 6.0;

/// Models in the order in which they were fitted, the plain one first, and which was chosen.
pub(super) fn fitted(
    axis: &Axis<'_>,
    ask: &Ask<'_>,
    plain: Identified,
    watch: &Watch<'_>,
) -> Result<(Vec<Structure>, usize), Stopped> {
    let turns = axis.records.iter().any(|record| record.trial.shaft != Shaft::Locked);
    let mut wanted = ask.wanted.to_vec();
    let mut structures =
        vec![Structure { with: String::new(), played: false, above_chosen: 0.0, identified: plain }];
    let mut chosen = 0;
    let mut open: Vec<(&str, &[Parameter])> = BESIDE
        .into_iter()
        .filter(|(_, parameters)| turns || parameters == &[Parameter::BrushDrop])
        .filter(|(_, parameters)| !wanted.contains(&parameters[0]))
        .collect();
    let all = 1 + open.len();
    while !open.is_empty() {
        let base = structures[chosen].clone();
        let start: Vec<(Parameter, f64)> =
            base.identified.estimates.iter().map(|e| (e.parameter, e.value)).collect();
        let mut best: Option<(usize, usize, f64)> = None;
        for (k, (name, parameters)) in open.iter().enumerate() {
            watch.go_on(structures.len() as f64 / (all + 2) as f64)?;
            let more: Vec<Parameter> = wanted.iter().copied().chain(parameters.iter().copied()).collect();
            let with =
                if base.with.is_empty() { (*name).to_owned() } else { format!("{}, {name}", base.with) };
            // What is new starts where the fit would start it by itself.
            let Ok(structure) = one(axis, &Ask { start: &start, ..*ask }, &more, with) else { continue };
            let falls = above(&base.identified, &structure.identified);
            if falls < -EVIDENCE
                && carries(&structure.identified, parameters)
                && best.is_none_or(|(_, _, least)| falls < least)
            {
                best = Some((k, structures.len(), falls));
            }
            structures.push(structure);
        }
        let Some((k, at, _)) = best else { break };
        wanted.extend(open.remove(k).1);
        chosen = at;
    }
    against(&mut structures, chosen);
    Ok((structures, chosen))
}

/// Tells of each model by how much its criterion lies above that of the one that was chosen.
fn against(structures: &mut [Structure], chosen: usize) {
    let best = structures[chosen].identified.clone();
    structures.iter_mut().for_each(|structure| structure.above_chosen = above(&best, &structure.identified));
}

/// Whether what a model has more is told closely enough to be kept.
fn carries(identified: &Identified, parameters: &[Parameter]) -> bool {
    parameters.iter().all(|parameter| {
        identified.get(*parameter).is_some_and(|e| e.refused.is_none() && e.half_width(0.95) <= e.value.abs())
    })
}

fn one(axis: &Axis<'_>, ask: &Ask<'_>, wanted: &[Parameter], with: String) -> Result<Structure, Unusable> {
    let identified = output_error::fit(axis, &Ask { wanted, ..*ask })?;
    Ok(Structure { with, played: false, above_chosen: 0.0, identified })
}

/// By how much the criterion of another model lies above that of a base: over currents and ways, each with a deviation of its
/// own, and both models with the same number of independent residuals, or they could not be compared.
pub(super) fn above(base: &Identified, other: &Identified) -> f64 {
    let of = |k: usize, parameters: bool| {
        let (a, b) = (&base.residuals[k], &other.residuals[k]);
        let n = independent(a).max(independent(b));
        // Ways over other windows are other readings.
        let alike = a.count.abs_diff(b.count) <= a.count / 50;
        if n < 2 || !alike {
            return None;
        }
        let bayes = |residual: &Residual, identified: &Identified| {
            let parameters = if parameters { identified.estimates.len() } else { 0 };
            let effective = residual.effective.max(f64::MIN_POSITIVE);
            Criteria::of(n as f64 * effective * effective, n, parameters).bayes
        };
        Some(bayes(b, other) - bayes(a, base))
    };
    match of(0, true) {
        Some(currents) => currents + of(1, false).unwrap_or(0.0),
        None => of(1, true).unwrap_or(0.0),
    }
}

/// As how many independent ones correlated residuals count.
fn independent(residual: &Residual) -> usize {
    let rho = residual.correlation.clamp(-0.9, 0.999);
    ((residual.count as f64 * (1.0 - rho) / (1.0 + rho)) as usize).min(residual.count)
}

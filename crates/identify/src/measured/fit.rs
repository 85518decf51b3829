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
    /// Bayes criterion; the lowest speaks for the model.
    pub bayes: f64,
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

/// Why nothing was fitted.
pub(super) enum NotFitted {
    Unusable(Unusable),
    Stopped(Stopped),
}

/// Models in the order in which they were fitted, and which was chosen.
pub(super) fn fitted(
    axis: &Axis<'_>,
    ask: &Ask<'_>,
    watch: &Watch<'_>,
) -> Result<(Vec<Structure>, usize), NotFitted> {
    let turns = axis.records.iter().any(|record| record.trial.shaft != Shaft::Locked);
    let mut wanted = ask.wanted.to_vec();
    let mut structures = vec![one(axis, ask, &wanted, String::new()).map_err(NotFitted::Unusable)?];
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
        let mut best: Option<(usize, usize)> = None;
        for (k, (name, parameters)) in open.iter().enumerate() {
            watch.go_on(structures.len() as f64 / (all + 2) as f64).map_err(NotFitted::Stopped)?;
            let more: Vec<Parameter> = wanted.iter().copied().chain(parameters.iter().copied()).collect();
            let with =
                if base.with.is_empty() { (*name).to_owned() } else { format!("{}, {name}", base.with) };
            // What is new starts where the fit would start it by itself.
            let Ok(structure) = one(axis, &Ask { start: &start, ..*ask }, &more, with) else { continue };
            if structure.bayes < base.bayes - EVIDENCE
                && carries(&structure.identified, parameters)
                && best.is_none_or(|(_, at): (usize, usize)| structure.bayes < structures[at].bayes)
            {
                best = Some((k, structures.len()));
            }
            structures.push(structure);
        }
        let Some((k, at)) = best else { break };
        wanted.extend(open.remove(k).1);
        chosen = at;
    }
    Ok((structures, chosen))
}

/// Whether what a model has more is told closely enough to be kept.
fn carries(identified: &Identified, parameters: &[Parameter]) -> bool {
    parameters.iter().all(|parameter| {
        identified.get(*parameter).is_some_and(|e| e.refused.is_none() && e.half_width(0.95) <= e.value.abs())
    })
}

fn one(axis: &Axis<'_>, ask: &Ask<'_>, wanted: &[Parameter], with: String) -> Result<Structure, Unusable> {
    let identified = output_error::fit(axis, &Ask { wanted, ..*ask })?;
    Ok(Structure { with, played: false, bayes: bayes(&identified), identified })
}

/// The criterion over currents and ways, each with a deviation of its own.
pub(super) fn bayes(identified: &Identified) -> f64 {
    let of = |residual: &Residual, parameters: usize| {
        let n = independent(residual);
        if n < 2 {
            return 0.0;
        }
        Criteria::of(n as f64 * residual.effective * residual.effective, n, parameters).bayes
    };
    let [currents, ways] = &identified.residuals;
    let parameters = identified.estimates.len();
    match currents.count {
        0 => of(ways, parameters),
        _ => of(currents, parameters) + of(ways, 0),
    }
}

/// As how many independent ones correlated residuals count.
fn independent(residual: &Residual) -> usize {
    let rho = residual.correlation.clamp(-0.9, 0.999);
    ((residual.count as f64 * (1.0 - rho) / (1.0 + rho)) as usize).min(residual.count)
}

//! What the parameters found are good for, and figures that are made of several of them.
//!
//! Limits, as halves of 95 % intervals: R and K to 3 %, time constants to 10 %, friction to 20 % (common practice, no
//! source).

use crate::estimate::{Estimate, Identified};
use crate::parameter::Parameter;
use crate::told::Told;

/// What parameters may be used for.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Use {
    /// To lay out a current loop: R, L and their quotient.
    CurrentLoop,
    /// To lay out a speed loop: K, the mechanical time constant, dry friction.
    SpeedLoop,
    /// To tell the winding's temperature by its resistance.
    Thermal,
}

/// Whether they are good for it.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Verdict {
    /// Every figure is known well enough.
    Good,
    /// This figure is not: half of its 95 % interval is this part of it, and may be that.
    Weak(Figure, f64, f64),
    /// This one was not found, or is not carried by the records.
    Lacks(Figure),
    /// What the model leaves unexplained is not noise, so no interval can be trusted.
    ModelDoesNotFit,
}

/// A figure that a use rests on.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Figure {
    /// A parameter.
    Of(Parameter),
    /// `L/R`, s.
    ElectricalTime,
    /// `J·R/(K² + b·R)`, s.
    MechanicalTime,
    /// `J/K`, what current takes for acceleration, A·s²/rad. No gain of the current sensor is in it.
    CurrentForAcceleration,
    /// The temperature of the winding in the trials.
    WindingTemperature,
}

const CLOSE: f64 = 0.03;
const TIME: f64 = 0.10;
const FRICTION: f64 = 0.20;

/// Noise of the current over which it is said that the model does not fit, as a multiple of what the sensor has, and
/// the correlation of neighbours from which on what is left is no noise.
const UNEXPLAINED: f64 = 2.0;
const CORRELATED: f64 = 0.5;

impl Identified {
    /// A figure that is made of several parameters; none where one of them was not found.
    pub fn derived(&self, figure: Figure) -> Option<Told> {
        use Parameter as P;
        let value = |parameter: P| self.get(parameter).map(|e| e.value);
        let parts: Vec<(P, f64)>;
        let result = match figure {
            Figure::Of(parameter) => {
                let estimate = self.get(parameter)?;
                parts = vec![(parameter, 1.0)];
                estimate.value
            }
            Figure::ElectricalTime => {
                let (r, l) = (value(P::Resistance)?, value(P::Inductance)?);
                parts = vec![(P::Resistance, -l / (r * r)), (P::Inductance, 1.0 / r)];
                l / r
            }
            Figure::CurrentForAcceleration => {
                let (j, k) = (value(P::Inertia)?, value(P::Constant)?);
                parts = vec![(P::Inertia, 1.0 / k), (P::Constant, -j / (k * k))];
                j / k
            }
            Figure::MechanicalTime => {
                let (r, k, j) = (value(P::Resistance)?, value(P::Constant)?, value(P::Inertia)?);
                let b = value(P::ViscousFriction).unwrap_or(0.0);
                let damping = k * k + b * r;
                let time = j * r / damping;
                parts = vec![
                    (P::Inertia, r / damping),
                    (P::Resistance, j * k * k / (damping * damping)),
                    (P::Constant, -2.0 * k * time / damping),
                    (P::ViscousFriction, -r * time / damping),
                ];
                time
            }
            Figure::WindingTemperature => return None,
        };
        let place = |parameter: P| self.estimates.iter().position(|e| e.parameter == parameter);
        let placed: Vec<(usize, f64)> =
            parts.iter().filter_map(|&(parameter, slope)| Some((place(parameter)?, slope))).collect();
        let deviation = |covariance: &numeric::Matrix| {
            let row = |&(i, a): &(usize, f64)| -> f64 {
                placed.iter().map(|&(j, b)| a * b * covariance[(i, j)]).sum()
            };
            placed.iter().map(row).sum::<f64>().max(0.0).sqrt()
        };
        let degrees = placed.iter().map(|&(i, _)| self.estimates[i].degrees_of_freedom);
        Some(Told {
            value: result,
            sampling: deviation(&self.sampling),
            systematic: deviation(&self.systematic),
            degrees_of_freedom: degrees.fold(f64::INFINITY, f64::min),
        })
    }

    /// Whether what was found is good for a use.
    pub fn verdict(&self, purpose: Use) -> Verdict {
        use Figure as F;
        use Parameter as P;
        let asked: &[(Figure, f64)] = match purpose {
            Use::CurrentLoop => {
                &[(F::Of(P::Resistance), CLOSE), (F::Of(P::Inductance), TIME), (F::ElectricalTime, TIME)]
            }
            Use::SpeedLoop => &[
                (F::Of(P::Constant), CLOSE),
                (F::MechanicalTime, TIME),
                (F::Of(P::CoulombFriction), FRICTION),
            ],
            Use::Thermal => &[(F::Of(P::Resistance), CLOSE)],
        };
        if !self.explains() {
            return Verdict::ModelDoesNotFit;
        }
        let mut weak = None;
        for &(figure, limit) in asked {
            let Some(derived) = self.derived(figure) else { return Verdict::Lacks(figure) };
            if let F::Of(parameter) = figure
                && self.get(parameter).is_none_or(|e: &Estimate| e.refused.is_some())
            {
                return Verdict::Lacks(figure);
            }
            let relative = derived.half_width(0.95) / derived.value.abs();
            // Written so that one that is no number is weak.
            let close = relative <= limit;
            if !close && weak.is_none() {
                weak = Some(Verdict::Weak(figure, relative, limit));
            }
        }
        match weak {
            Some(weak) => weak,
            None if purpose == Use::Thermal && !self.temperature_stated => {
                Verdict::Lacks(F::WindingTemperature)
            }
            None => Verdict::Good,
        }
    }

    /// Whether what is left of the currents looks like the noise of their sensor.
    pub fn explains(&self) -> bool {
        let [current, _] = self.residuals;
        let loud = self.noise.is_some_and(|noise| current.effective > UNEXPLAINED * noise);
        let few = current.count == 0;
        few || !(loud && current.correlation > CORRELATED)
    }
}

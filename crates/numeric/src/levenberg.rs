//! Non-linear least squares by Levenberg and Marquardt's damped steps, inside a box.
//!
//! ```text
//! minimise  Σ r_i(b)²    with    low_j ≤ b_j ≤ high_j
//! each step:  (JᵀJ + λ·D²)·p = −Jᵀ·r,    J = ∂r/∂b,    D = column lengths of J
//! ```
//!
//! Damping by D makes the path independent of the units of the parameters. The damping λ follows the ratio of
//! gained to promised reduction (H. B. Nielsen, *Damping parameter in Marquardt's method*, IMM-REP-1999-05,
//! from memory). A parameter at its bound that wants to leave the box is held there; steps are cut off at the
//! box. For small dense problems: cost grows with observations · parameters² a step, and a step allocates
//! nothing.

mod search;

use self::search::{Search, rank_tolerance};
use crate::error::{InputError, expect_finite, expect_length, expect_positive};
use crate::inference::{Inference, Noise};
use crate::matrix::Matrix;

/// How the search ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    /// A minimum in the box: no direction that the model sees reduces the sum of squares any more.
    Converged,
    /// As converged, but some combination of parameters changes no residual; [`Inference::undetermined`]
    /// names those concerned.
    RankDeficient,
    /// No step reduces the sum of squares although the slope says one should: the model is rough at the scale
    /// of the steps, or the Jacobian does not belong to the residuals. The parameters are the best found.
    Stalled,
    /// The limit of steps was reached; the parameters are the best found.
    TooManySteps,
    /// Residuals at the start, or sensitivities on the way, are not finite.
    NotFinite,
}

/// When to stop.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Most trial steps. Default 500.
    pub max_steps: usize,
    /// Converged when the model can still reach less than this part of the residuals (their cosine with the
    /// space of the sensitivities, after D. M. Bates and D. G. Watts, 1981, from memory). The error of a
    /// parameter is then below this many of its standard deviations, times the root of the degrees of
    /// freedom. Default 1e-8, about where the sum of squares does not change any more in `f64`.
    pub offset_tolerance: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Self { max_steps: 500, offset_tolerance: 1e-8 }
    }
}

/// The parameters found and what is known about them.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// How it ended; only [`Status::Converged`] makes the other fields what their names say.
    pub status: Status,
    /// The parameters, in the order of the start.
    pub parameters: Vec<f64>,
    /// Which parameters a bound holds at the solution; they count as known, without uncertainty.
    pub held: Vec<bool>,
    /// Covariance and residuals at the solution, to first order.
    pub inference: Inference,
    /// Trial steps taken.
    pub steps: usize,
    /// Calls of the residuals, differences included.
    pub evaluations: usize,
}

type Residuals<'a> = Box<dyn FnMut(&[f64], &mut [f64]) + 'a>;
type Jacobian<'a> = Box<dyn FnMut(&[f64], &mut Matrix) + 'a>;

/// A least-squares problem: residuals, and what is known about the parameters beforehand.
///
/// ```
/// use numeric::{Noise, levenberg::{Problem, Settings, Status}};
///
/// // Coast-down: speed falls from 100 rad/s with a time constant, read without noise.
/// let times = [0.0, 0.1, 0.2, 0.4];
/// let speeds = times.map(|t: f64| 100.0 * (-t / 0.25).exp());
/// let mut problem = Problem::new(4, |b, r| {
///     for (r, (t, v)) in r.iter_mut().zip(times.iter().zip(&speeds)) {
///         *r = v - b[0] * (-t / b[1]).exp();
///     }
/// })
/// .bounds(&[(0.0, f64::INFINITY), (1e-3, 10.0)]);
/// let fit = problem.solve(&[50.0, 1.0], Noise::Estimated, &Settings::default())?;
/// assert_eq!(fit.status, Status::Converged);
/// assert!((fit.parameters[1] - 0.25).abs() < 1e-9);
/// # Ok::<(), numeric::InputError>(())
/// ```
pub struct Problem<'a> {
    observations: usize,
    residuals: Residuals<'a>,
    jacobian: Option<Jacobian<'a>>,
    bounds: Option<Vec<(f64, f64)>>,
    typical: Option<Vec<f64>>,
}

impl<'a> Problem<'a> {
    /// A problem with this many residuals. `residuals(parameters, out)` writes every residual, observation −
    /// model, divided by the standard deviation of the observation where that is known. A value that is not
    /// finite marks parameters that the model cannot take: the search turns back from there.
    pub fn new(observations: usize, residuals: impl FnMut(&[f64], &mut [f64]) + 'a) -> Self {
        Self { observations, residuals: Box::new(residuals), jacobian: None, bounds: None, typical: None }
    }

    /// Gives the sensitivities: `jacobian(parameters, out)` writes ∂(residual i)/∂(parameter j) to row i,
    /// column j, every entry. Without it, differences are taken.
    pub fn jacobian(mut self, jacobian: impl FnMut(&[f64], &mut Matrix) + 'a) -> Self {
        self.jacobian = Some(Box::new(jacobian));
        self
    }

    /// Keeps each parameter within (low, high), bounds included; infinities are allowed. The model is never
    /// called outside.
    pub fn bounds(mut self, bounds: &[(f64, f64)]) -> Self {
        self.bounds = Some(bounds.to_vec());
        self
    }

    /// The size each parameter typically has, for differences and step tests where it comes near zero.
    /// Default: its size at the start, or 1.
    pub fn typical(mut self, typical: &[f64]) -> Self {
        self.typical = Some(typical.to_vec());
        self
    }

    /// Searches from `start`, which is moved into the box first.
    ///
    /// # Errors
    /// No residuals or parameters, a start that is not finite, bounds or typical sizes of another length,
    /// bounds that leave no room, a typical size that is not above zero.
    pub fn solve(&mut self, start: &[f64], noise: Noise, settings: &Settings) -> Result<Fit, InputError> {
        let bounds = self.check(start)?;
        let mut search = Search::new(self.observations, start, bounds, self.typical.as_deref());
        let status = search.run(self, settings);
        Ok(search.finish(status, noise, rank_tolerance(self)))
    }

    fn check(&self, start: &[f64]) -> Result<Vec<(f64, f64)>, InputError> {
        if self.observations == 0 {
            return Err(InputError::Empty { what: "residuals" });
        }
        if start.is_empty() {
            return Err(InputError::Empty { what: "parameters" });
        }
        expect_finite("start of parameter", start)?;
        if let Some(typical) = &self.typical {
            expect_length("typical sizes", typical, start.len())?;
            expect_positive("typical size", typical)?;
        }
        let Some(bounds) = &self.bounds else {
            return Ok(vec![(f64::NEG_INFINITY, f64::INFINITY); start.len()]);
        };
        if bounds.len() != start.len() {
            return Err(InputError::Length { what: "bounds", expected: start.len(), found: bounds.len() });
        }
        // Written so that bounds that are not a number are refused too.
        let room = |&(low, high): &(f64, f64)| low < high && low < f64::INFINITY && high > f64::NEG_INFINITY;
        match bounds.iter().position(|b| !room(b)) {
            Some(index) => Err(InputError::Bounds { index, low: bounds[index].0, high: bounds[index].1 }),
            None => Ok(bounds.clone()),
        }
    }
}

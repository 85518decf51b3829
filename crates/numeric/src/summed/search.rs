//! Damped Gauss–Newton steps on sums of products.

use super::{Curvature, Sums};
use crate::error::{InputError, expect_finite};
use crate::levenberg::{Settings, Status};

const FIRST_DAMPING: f64 = 1e-3;
const LEAST_DAMPING: f64 = 1e-16;
const MOST_DAMPING: f64 = 1e20;
/// A step must gain at least this part of what the linear model promised.
const LEAST_GAIN: f64 = 1e-4;
/// Relative change of a sum of squares that rounding alone can make.
const ROUNDING: f64 = 1e-12;

/// Where a search ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// How it ended; the statuses mean what they mean for [`crate::levenberg`].
    pub status: Status,
    /// The parameters found.
    pub parameters: Vec<f64>,
    /// Which of them a bound holds.
    pub held: Vec<bool>,
    /// The sums there.
    pub sums: Sums,
    /// How often sums were made.
    pub evaluations: usize,
}

/// Searches from `start` inside `bounds` for the parameters with the smallest sum of squares. `sums(parameters)` makes
/// the sums there, `None` where the model cannot take the parameters: the search turns back from there.
///
/// The steps are those of [`crate::levenberg`]: damped by the lengths of the columns, the damping following gained over
/// promised reduction, cut off at the bounds; converged when the model can reach less of the residuals than
/// `settings.offset_tolerance`.
///
/// # Errors
/// No parameters, a start that is not finite, bounds of another number or without room.
pub fn minimise(
    start: &[f64],
    bounds: &[(f64, f64)],
    settings: &Settings,
    mut sums: impl FnMut(&[f64]) -> Option<Sums>,
) -> Result<Fit, InputError> {
    check(start, bounds)?;
    let mut parameters: Vec<f64> =
        start.iter().zip(bounds).map(|(b, (low, high))| b.max(*low).min(*high)).collect();
    let mut evaluations = 1;
    let Some(mut here) = sums(&parameters).filter(is_finite) else {
        let n = start.len();
        let (held, sums) = (vec![false; n], Sums::new(n));
        return Ok(Fit { status: Status::NotFinite, parameters, held, sums, evaluations });
    };
    let mut damping = FIRST_DAMPING;
    // What was reachable before a step that rounding alone judged.
    let mut last_reachable = f64::INFINITY;
    let status = 'search: loop {
        let free = free(&here, &parameters, bounds);
        let seen = here.of(&free);
        let curvature = Curvature::of(&seen);
        let reachable = curvature.reachable(&seen.slope);
        let minimum = if curvature.rank() < free.len() { Status::RankDeficient } else { Status::Converged };
        let near = settings.offset_tolerance * settings.offset_tolerance * here.squares;
        if reachable <= near || reachable > 0.5 * last_reachable {
            break minimum;
        }
        // So near the minimum rounding decides whether the sum of squares falls; that less is reachable still shows.
        let unmeasurable = reachable <= ROUNDING * here.squares;
        let mut growth = 2.0;
        loop {
            if evaluations > settings.max_steps {
                break 'search Status::TooManySteps;
            }
            if damping > MOST_DAMPING {
                break 'search Status::Stalled;
            }
            let step = curvature.step(&seen.slope, if unmeasurable { 0.0 } else { damping });
            let mut trial = parameters.clone();
            for (&j, s) in free.iter().zip(&step) {
                trial[j] = (parameters[j] + s).max(bounds[j].0).min(bounds[j].1);
            }
            if trial == parameters {
                break 'search minimum;
            }
            evaluations += 1;
            if let Some(there) = sums(&trial).filter(is_finite) {
                let promised = promised(&here, &parameters, &trial);
                let gained = here.squares - there.squares;
                if unmeasurable && gained.abs() <= ROUNDING * here.squares {
                    (parameters, here, last_reachable) = (trial, there, reachable);
                    break;
                }
                if gained > LEAST_GAIN * promised {
                    let surplus = 2.0 * (gained / promised).clamp(0.0, 1.0) - 1.0;
                    damping =
                        (damping * (1.0 - surplus * surplus * surplus).max(1.0 / 3.0)).max(LEAST_DAMPING);
                    (parameters, here) = (trial, there);
                    break;
                }
            }
            if unmeasurable {
                break 'search minimum;
            }
            damping *= growth;
            growth *= 2.0;
        }
    };
    let free = free(&here, &parameters, bounds);
    let held = (0..parameters.len()).map(|j| !free.contains(&j)).collect();
    Ok(Fit { status, parameters, held, sums: here, evaluations })
}

fn check(start: &[f64], bounds: &[(f64, f64)]) -> Result<(), InputError> {
    if start.is_empty() {
        return Err(InputError::Empty { what: "parameters" });
    }
    expect_finite("start of parameter", start)?;
    if bounds.len() != start.len() {
        return Err(InputError::Length { what: "bounds", expected: start.len(), found: bounds.len() });
    }
    // Written so that bounds that are not a number are refused too.
    let room = |(low, high): &(f64, f64)| low < high;
    match bounds.iter().position(|b| !room(b)) {
        Some(index) => Err(InputError::Bounds { index, low: bounds[index].0, high: bounds[index].1 }),
        None => Ok(()),
    }
}

fn is_finite(sums: &Sums) -> bool {
    sums.squares.is_finite()
        && sums.slope.iter().all(|g| g.is_finite())
        && sums.products.values().iter().all(|p| p.is_finite())
}

/// Parameters that no bound holds: one at its bound is held while the slope leads out of the box.
fn free(sums: &Sums, parameters: &[f64], bounds: &[(f64, f64)]) -> Vec<usize> {
    let held = |j: usize| {
        let (low, high) = bounds[j];
        (parameters[j] <= low && sums.slope[j] < 0.0) || (parameters[j] >= high && sums.slope[j] > 0.0)
    };
    (0..parameters.len()).filter(|&j| !held(j)).collect()
}

/// What the linear model says that the way loses of the sum of squares: `2·gᵀ·p − pᵀ·A·p`.
fn promised(sums: &Sums, from: &[f64], to: &[f64]) -> f64 {
    let step: Vec<f64> = to.iter().zip(from).map(|(t, f)| t - f).collect();
    let bent = |j: usize| sums.products.column(j).iter().zip(&step).map(|(a, s)| a * s).sum::<f64>();
    (0..step.len()).map(|j| step[j] * (2.0 * sums.slope[j] - bent(j))).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// First-order rise without noise: 3·(1 − e^(−t/0.2)).
    fn rise(b: &[f64]) -> Option<Sums> {
        let mut sums = Sums::new(2);
        for k in 1..50 {
            let t = 0.02 * f64::from(k);
            let decay = libm::exp(-t / b[1]);
            let y = 3.0 * (1.0 - libm::exp(-t / 0.2));
            sums.add_row(&[1.0 - decay, -b[0] * decay * t / (b[1] * b[1])], y - b[0] * (1.0 - decay), 1.0);
        }
        Some(sums)
    }

    const OPEN: [(f64, f64); 2] = [(0.0, f64::INFINITY), (1e-3, 10.0)];

    #[test]
    fn finds_what_was_put_in() {
        let fit = minimise(&[1.0, 1.0], &OPEN, &Settings::default(), rise).unwrap();
        assert_eq!(fit.status, Status::Converged);
        assert!((fit.parameters[0] - 3.0).abs() < 1e-9 && (fit.parameters[1] - 0.2).abs() < 1e-9, "{fit:?}");
    }

    #[test]
    fn a_bound_holds_and_says_so() {
        let fit = minimise(&[1.0, 1.0], &[(0.0, 2.0), (1e-3, 10.0)], &Settings::default(), rise).unwrap();
        assert_eq!((fit.status, fit.held.as_slice()), (Status::Converged, &[true, false][..]));
        assert_eq!(fit.parameters[0], 2.0);
    }

    #[test]
    fn endings_are_told() {
        let cut = Settings { max_steps: 1, ..Settings::default() };
        assert_eq!(minimise(&[1.0, 1.0], &OPEN, &cut, rise).unwrap().status, Status::TooManySteps);
        let nowhere = minimise(&[1.0, 1.0], &OPEN, &Settings::default(), |_| None).unwrap();
        assert_eq!(nowhere.status, Status::NotFinite);
        let refused = |start: &[f64], bounds: &[(f64, f64)]| {
            minimise(start, bounds, &Settings::default(), rise).unwrap_err().to_string()
        };
        assert_eq!(refused(&[], &[]), "parameters: none given, at least one needed");
        assert_eq!(refused(&[1.0], &[]), "bounds: 0 values, 1 needed");
        assert!(refused(&[f64::NAN], &OPEN[..1]).contains("is NaN"));
        assert!(refused(&[1.0], &[(1.0, 1.0)]).contains("1 is not below 1"));
    }

    /// The model takes no negative time constant: the search turns back and still gets there.
    #[test]
    fn turns_back_where_the_model_has_no_value() {
        let guarded = |b: &[f64]| if b[1] > 0.05 { rise(b) } else { None };
        let fit =
            minimise(&[1.0, 3.0], &[(0.0, 99.0), (-10.0, 10.0)], &Settings::default(), guarded).unwrap();
        assert_eq!(fit.status, Status::Converged);
        assert!((fit.parameters[1] - 0.2).abs() < 1e-9);
    }
}

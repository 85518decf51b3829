//! How computations end on input that is bad, unlucky or at the edge.

use numeric::{
    InputError, Matrix, Noise,
    levenberg::{self, Problem, Settings},
    linear,
};

fn column(values: &[f64]) -> Matrix {
    Matrix::from_fn(values.len(), 1, |i, _| values[i])
}

#[test]
fn linear_input_that_cannot_start_is_refused_with_its_place() {
    let x = column(&[1.0, 2.0]);
    let fit = |x: &Matrix, y: &[f64], sigma: Option<&[f64]>| {
        linear::fit(x, y, sigma, Noise::Known).unwrap_err().to_string()
    };
    assert_eq!(fit(&x, &[1.0], None), "observations: 1 values, 2 needed");
    assert_eq!(
        fit(&x, &[1.0, f64::NAN], None),
        "observation 1 (counted from 0) is NaN, a finite number needed"
    );
    assert_eq!(
        fit(&x, &[1.0, 2.0], Some(&[1.0, 0.0])),
        "deviation 1 (counted from 0) is 0, a number above zero needed"
    );
    assert_eq!(fit(&Matrix::zeros(0, 1), &[], None), "observations: none given, at least one needed");
    assert_eq!(fit(&Matrix::zeros(2, 0), &[1.0, 2.0], None), "regressors: none given, at least one needed");
    let infinite = column(&[1.0, f64::INFINITY]);
    assert_eq!(
        fit(&infinite, &[1.0, 2.0], None),
        "regressor entry 1 (counted from 0) is inf, a finite number needed"
    );
}

#[test]
fn search_input_that_cannot_start_is_refused_with_its_place() {
    let solve = |problem: Problem<'_>, start: &[f64]| {
        let mut problem = problem;
        problem.solve(start, Noise::Known, &Settings::default()).unwrap_err()
    };
    let plain = || Problem::new(2, |b, r| r.fill(b[0]));
    assert_eq!(solve(Problem::new(0, |_, _| ()), &[1.0]), InputError::Empty { what: "residuals" });
    assert_eq!(solve(plain(), &[]), InputError::Empty { what: "parameters" });
    assert!(matches!(solve(plain(), &[f64::NAN]), InputError::NotFinite { index: 0, .. }));
    assert_eq!(
        solve(plain().bounds(&[(1.0, 1.0)]), &[1.0]),
        InputError::Bounds { index: 0, low: 1.0, high: 1.0 }
    );
    assert!(matches!(solve(plain().bounds(&[(f64::NAN, 1.0)]), &[1.0]), InputError::Bounds { index: 0, .. }));
    assert!(matches!(
        solve(plain().bounds(&[]), &[1.0]),
        InputError::Length { what: "bounds", expected: 1, found: 0 }
    ));
    assert!(matches!(solve(plain().typical(&[-1.0]), &[1.0]), InputError::NotPositive { index: 0, .. }));
}

#[test]
fn exactly_as_many_observations_as_coefficients() {
    let x = Matrix::from_fn(2, 2, |i, j| if i == j { 2.0 } else { 1.0 });
    let estimated = linear::fit(&x, &[3.0, 3.0], None, Noise::Estimated).unwrap();
    assert_eq!(estimated.coefficients, [1.0, 1.0]);
    assert_eq!(estimated.inference.residual_deviation, None);
    // Nothing is left to tell the noise from, so nothing is known about the coefficients.
    assert_eq!(estimated.inference.standard_deviations, [f64::INFINITY; 2]);
    assert_eq!(estimated.inference.half_width(0, 0.95), f64::INFINITY);
    assert_eq!(estimated.inference.standardised_residuals, [None, None]);
    // With the noise known the deviations are those of the inverse: √(5/9).
    let known = linear::fit(&x, &[3.0, 3.0], None, Noise::Known).unwrap();
    assert!((known.inference.standard_deviations[0] - (5.0_f64 / 9.0).sqrt()).abs() < 1e-15);
    assert_eq!(known.inference.goodness_of_fit(), None);
}

#[test]
fn fewer_observations_than_coefficients() {
    let fit = linear::fit(&Matrix::from_fn(1, 2, |_, _| 1.0), &[4.0], None, Noise::Known).unwrap();
    assert_eq!(fit.status, linear::Status::RankDeficient);
    assert_eq!(fit.inference.rank, 1);
    assert_eq!(fit.inference.undetermined, [true, true]);
    // The shortest of all solutions.
    assert!(fit.coefficients.iter().all(|c| (c - 2.0).abs() < 1e-14), "{:?}", fit.coefficients);
}

#[test]
fn a_column_of_zeros_and_observations_of_zero() {
    let x = Matrix::from_fn(3, 2, |i, j| if j == 0 { i as f64 } else { 0.0 });
    let fit = linear::fit(&x, &[0.0; 3], None, Noise::Known).unwrap();
    assert_eq!((fit.status, fit.inference.rank), (linear::Status::RankDeficient, 1));
    assert_eq!(fit.coefficients, [0.0, 0.0]);
    assert_eq!(fit.inference.undetermined, [false, true]);
    assert_eq!(fit.inference.condition, f64::INFINITY);
}

#[test]
fn numbers_too_large_to_compute_with_are_said_to_be() {
    let fit =
        linear::fit(&column(&[1e200, 1e-200]), &[1.0, 1.0], Some(&[1e-200, 1.0]), Noise::Known).unwrap();
    assert_eq!(fit.status, linear::Status::NotFinite);
}

/// Only the first figure speaks about the first parameter, so nothing checks it.
#[test]
fn an_observation_that_nothing_checks_has_no_standardised_residual() {
    let x = Matrix::from_fn(4, 2, |i, j| f64::from((i == 0) == (j == 0)));
    let inference = linear::fit(&x, &[5.0, 1.0, 2.0, 4.0], None, Noise::Known).unwrap().inference;
    assert!((inference.leverages[0] - 1.0).abs() < 1e-14);
    assert_eq!(inference.standardised_residuals[0], None);
    // The other three share one mean: leverage 1/3, residual −4/3 over √(2/3).
    let first = inference.standardised_residuals[1].unwrap();
    assert!((first + 4.0 / 3.0 / (2.0_f64 / 3.0).sqrt()).abs() < 1e-14);
}

#[test]
fn a_model_without_a_value_at_the_start() {
    let mut problem = Problem::new(2, |b, r| r.fill(libm::log(b[0])));
    let fit = problem.solve(&[-1.0], Noise::Known, &Settings::default()).unwrap();
    assert_eq!(fit.status, levenberg::Status::NotFinite);
    assert_eq!(fit.parameters, [-1.0]);
    assert_eq!(fit.inference.standard_deviations, [f64::INFINITY]);
}

/// A logarithm that the first undamped steps would leave: the search turns back and still finds b = 1e-3.
#[test]
fn a_model_without_a_value_on_the_way() {
    let mut problem = Problem::new(1, |b, r| r[0] = libm::log(b[0]) - libm::log(1e-3));
    let fit = problem.solve(&[5.0], Noise::Known, &Settings::default()).unwrap();
    assert_eq!(fit.status, levenberg::Status::Converged);
    assert!((fit.parameters[0] - 1e-3).abs() < 1e-12);
}

#[test]
fn a_jacobian_that_does_not_belong_to_the_residuals_stalls() {
    let mut problem = Problem::new(3, |b, r| {
        for (i, r) in r.iter_mut().enumerate() {
            *r = b[0] * (i as f64 + 1.0) - 6.0;
        }
    })
    .jacobian(|_, j| j.column_mut(0).copy_from_slice(&[-1.0, -2.0, -3.0]));
    let fit = problem.solve(&[1.0], Noise::Known, &Settings::default()).unwrap();
    assert_eq!(fit.status, levenberg::Status::Stalled);
    assert_eq!(fit.parameters, [1.0]);
}

#[test]
fn a_parameter_without_effect_is_named() {
    let mut problem = Problem::new(3, |b, r| {
        for (i, r) in r.iter_mut().enumerate() {
            *r = b[0] * libm::exp(-(i as f64) / b[1]) - 2.0 * libm::exp(-(i as f64) / 3.0) + 0.0 * b[2];
        }
    });
    let fit = problem.solve(&[1.0, 1.0, 7.0], Noise::Known, &Settings::default()).unwrap();
    assert_eq!(fit.status, levenberg::Status::RankDeficient);
    assert_eq!(fit.inference.undetermined, [false, false, true]);
    assert_eq!(fit.parameters[2], 7.0);
    assert!((fit.parameters[1] - 3.0).abs() < 1e-8);
}

/// Rosenbrock's valley (1960): minimum at (1, 1), from the usual start.
#[test]
fn a_curved_valley_and_the_limit_of_steps() {
    let valley = |b: &[f64], r: &mut [f64]| {
        r[0] = 10.0 * (b[1] - b[0] * b[0]);
        r[1] = 1.0 - b[0];
    };
    let solve = |max_steps| {
        let settings = Settings { max_steps, ..Settings::default() };
        Problem::new(2, valley).solve(&[-1.2, 1.0], Noise::Known, &settings).unwrap()
    };
    let found = solve(500);
    assert_eq!(found.status, levenberg::Status::Converged);
    assert!(found.parameters.iter().all(|b| (b - 1.0).abs() < 1e-10), "{:?}", found.parameters);
    let cut = solve(3);
    assert_eq!((cut.status, cut.steps), (levenberg::Status::TooManySteps, 3));
    assert!(cut.inference.sum_of_squares < 24.2, "worse than the start");
    // The same input gives the same bytes.
    assert_eq!(found, solve(500));
}

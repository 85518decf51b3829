//! Laws that every least-squares fit obeys, on random problems.

use nalgebra::{DMatrix, DVector};
use numeric::{
    Matrix, Noise,
    distribution::normal_quantile,
    levenberg::{Problem, Settings},
    linear::{self, Status},
};
use proptest::prelude::*;

/// Regressors, observations and deviations of a problem with more rows than columns.
#[derive(Debug, Clone)]
struct Case {
    x: Matrix,
    y: Vec<f64>,
    sigma: Vec<f64>,
}

impl Case {
    fn fit(&self, noise: Noise) -> linear::Fit {
        linear::fit(&self.x, &self.y, Some(&self.sigma), noise).unwrap()
    }

    fn rows_in_order(&self, order: &[usize]) -> Self {
        Self {
            x: Matrix::from_fn(order.len(), self.x.columns(), |i, j| self.x[(order[i], j)]),
            y: order.iter().map(|&i| self.y[i]).collect(),
            sigma: order.iter().map(|&i| self.sigma[i]).collect(),
        }
    }
}

fn cases() -> impl Strategy<Value = Case> {
    (1_usize..6, 2_usize..20).prop_flat_map(|(columns, more)| {
        let rows = columns + more;
        let values = |n| prop::collection::vec(-10.0..10.0_f64, n);
        (values(rows * columns), values(rows), prop::collection::vec(0.1..5.0_f64, rows))
            .prop_map(move |(x, y, sigma)| Case {
                x: Matrix::from_fn(rows, columns, |i, j| x[j * rows + i]),
                y,
                sigma,
            })
            // Squares of the condition come into covariances: the laws' 1e-8 and less are the digits that are left.
            .prop_filter("well conditioned", |case| case.fit(Noise::Known).inference.condition < 1e3)
    })
}

fn assert_all_close(got: &[f64], want: &[f64], tolerance: f64) {
    let size = want.iter().fold(0.0_f64, |m, w| m.max(w.abs()));
    assert_eq!(got.len(), want.len());
    for (g, w) in got.iter().zip(want) {
        assert!((g - w).abs() <= tolerance * size.max(1e-30), "{got:?}, want {want:?}");
    }
}

proptest! {
    /// Another library, another method (normal equations and an explicit inverse).
    #[test]
    fn agrees_with_the_normal_equations(case in cases()) {
        let fit = case.fit(Noise::Estimated);
        let (rows, columns) = (case.x.rows(), case.x.columns());
        let a = DMatrix::from_fn(rows, columns, |i, j| case.x[(i, j)] / case.sigma[i]);
        let b = DVector::from_fn(rows, |i, _| case.y[i] / case.sigma[i]);
        let inverse = (a.transpose() * &a).try_inverse().unwrap();
        let coefficients = &inverse * a.transpose() * &b;
        let rss = (&b - &a * &coefficients).norm_squared();
        let covariance = &inverse * (rss / (rows - columns) as f64);
        let hat = &a * &inverse * a.transpose();
        prop_assert_eq!(fit.status, Status::Determined);
        assert_all_close(&fit.coefficients, coefficients.as_slice(), 1e-7);
        assert_all_close(fit.inference.covariance.values(), covariance.as_slice(), 1e-7);
        assert_all_close(&fit.inference.leverages, hat.diagonal().as_slice(), 1e-7);
        assert_all_close(&[fit.inference.sum_of_squares], &[rss], 1e-7);
        let scaled = DMatrix::from_fn(rows, columns, |i, j| a[(i, j)] / a.column(j).norm());
        let sigma = scaled.singular_values();
        assert_all_close(&[fit.inference.condition], &[sigma.max() / sigma.min()], 1e-9);
    }

    /// A column in another unit changes its coefficient by that unit and nothing else.
    #[test]
    fn does_not_depend_on_units(case in cases(), powers in prop::collection::vec(-8..8_i32, 6)) {
        let unit = |j: usize| libm::exp10(f64::from(powers[j]));
        let x = Matrix::from_fn(case.x.rows(), case.x.columns(), |i, j| case.x[(i, j)] * unit(j));
        let plain = case.fit(Noise::Estimated);
        let fit = Case { x, ..case }.fit(Noise::Estimated);
        let back = |values: &[f64]| values.iter().enumerate().map(|(j, v)| v * unit(j)).collect::<Vec<_>>();
        assert_all_close(&back(&fit.coefficients), &plain.coefficients, 1e-9);
        assert_all_close(&back(&fit.inference.standard_deviations), &plain.inference.standard_deviations, 1e-9);
        assert_all_close(&[fit.inference.condition], &[plain.inference.condition], 1e-9);
        assert_all_close(&fit.inference.residuals, &plain.inference.residuals, 1e-9);
    }

    #[test]
    fn does_not_depend_on_the_order_of_the_data(case in cases(), seed in any::<u64>()) {
        let mut order: Vec<usize> = (0..case.y.len()).collect();
        let mut random = Random(seed);
        for i in (1..order.len()).rev() {
            order.swap(i, (random.uniform() * (i + 1) as f64) as usize);
        }
        let (plain, fit) = (case.fit(Noise::Known), case.rows_in_order(&order).fit(Noise::Known));
        assert_all_close(&fit.coefficients, &plain.coefficients, 1e-10);
        assert_all_close(fit.inference.covariance.values(), plain.inference.covariance.values(), 1e-10);
        let leverages: Vec<f64> = order.iter().map(|&i| plain.inference.leverages[i]).collect();
        assert_all_close(&fit.inference.leverages, &leverages, 1e-10);
    }

    #[test]
    fn recovers_coefficients_from_data_without_noise(case in cases(), truth in prop::collection::vec(-100.0..100.0_f64, 6)) {
        let truth = &truth[..case.x.columns()];
        let y = (0..case.x.rows()).map(|i| (0..truth.len()).map(|j| case.x[(i, j)] * truth[j]).sum()).collect();
        assert_all_close(&Case { y, ..case }.fit(Noise::Estimated).coefficients, truth, 1e-10);
    }

    /// What [`numeric::Inference::standardised_residuals`] promises: the square is what the sum of squares
    /// loses without it.
    #[test]
    fn standardised_residuals_tell_what_leaving_out_gains(case in cases()) {
        let full = case.fit(Noise::Known).inference;
        for left_out in 0..case.y.len() {
            let rest: Vec<usize> = (0..case.y.len()).filter(|&i| i != left_out).collect();
            let without = case.rows_in_order(&rest).fit(Noise::Known).inference;
            let Some(standardised) = full.standardised_residuals[left_out] else { continue };
            // Close to leverage 1 both sides lose their digits.
            if full.leverages[left_out] < 0.999 {
                let gain = full.sum_of_squares - without.sum_of_squares;
                prop_assert!((gain - standardised * standardised).abs() <= 1e-8 * full.sum_of_squares);
            }
        }
        let total: f64 = full.leverages.iter().sum();
        prop_assert!((total - full.rank as f64).abs() < 1e-9);
    }

    /// A column that is a sum of two others: those three are open, all others stay as they are without it.
    #[test]
    fn names_what_is_not_determined(case in cases(), a in -3.0..3.0_f64, b in 0.5..3.0_f64) {
        let columns = case.x.columns();
        prop_assume!(columns >= 3);
        let wide = Matrix::from_fn(case.x.rows(), columns + 1, |i, j| {
            if j < columns { case.x[(i, j)] } else { a * case.x[(i, 0)] + b * case.x[(i, 1)] }
        });
        let plain = case.fit(Noise::Known);
        let fit = Case { x: wide, ..case }.fit(Noise::Known);
        prop_assert_eq!(fit.status, Status::RankDeficient);
        prop_assert_eq!(fit.inference.rank, columns);
        for j in 0..=columns {
            let open = j == 1 || j == columns || (j == 0 && a.abs() > 1e-3);
            if j == 0 && a.abs() <= 1e-3 {
                continue;
            }
            prop_assert_eq!(fit.inference.undetermined[j], open);
            prop_assert_eq!(fit.inference.standard_deviations[j].is_infinite(), open);
        }
        assert_all_close(&fit.coefficients[2..columns], &plain.coefficients[2..], 1e-8);
        assert_all_close(&fit.inference.standard_deviations[2..columns], &plain.inference.standard_deviations[2..], 1e-8);
        assert_all_close(&[fit.inference.sum_of_squares], &[plain.inference.sum_of_squares], 1e-8);
    }

    /// On a straight problem the damped search ends where the direct solution is, whatever the start.
    #[test]
    fn the_search_agrees_with_the_direct_solution(case in cases(), start in prop::collection::vec(-50.0..50.0_f64, 6)) {
        let direct = case.fit(Noise::Estimated);
        let columns = case.x.columns();
        let mut problem = Problem::new(case.y.len(), |b, r| {
            for (i, r) in r.iter_mut().enumerate() {
                let model: f64 = (0..columns).map(|j| case.x[(i, j)] * b[j]).sum();
                *r = (case.y[i] - model) / case.sigma[i];
            }
        });
        let fit = problem.solve(&start[..columns], Noise::Estimated, &Settings::default()).unwrap();
        prop_assert_eq!(fit.status, numeric::levenberg::Status::Converged);
        // A search stops at a part of what it looks for or of its uncertainty, whichever is more.
        for ((got, want), deviation) in
            fit.parameters.iter().zip(&direct.coefficients).zip(&direct.inference.standard_deviations)
        {
            prop_assert!((got - want).abs() <= 1e-6 * want.abs().max(*deviation), "{} for {} ± {}", got, want, deviation);
        }
        assert_all_close(&fit.inference.standard_deviations, &direct.inference.standard_deviations, 1e-6);
        assert_all_close(&fit.inference.leverages, &direct.inference.leverages, 1e-6);
    }

    /// Decay with an offset, without noise, from a start that is off by up to a factor of three, in any unit
    /// of time.
    #[test]
    fn recovers_a_decay_without_noise(
        amplitude in 1.0..100.0_f64,
        time_constant in 0.2..2.0_f64,
        offset in -10.0..10.0_f64,
        off in 0.34..3.0_f64,
        power in -6..6_i32,
    ) {
        let unit = libm::exp10(f64::from(power));
        let curve = |b: &[f64], t: f64| b[0] * libm::exp(-t / b[1]) + b[2];
        let truth = [amplitude, time_constant * unit, offset];
        let mut problem = Problem::new(30, |b, r| {
            for (i, r) in r.iter_mut().enumerate() {
                let t = 0.1 * i as f64 * unit;
                *r = curve(&truth, t) - curve(b, t);
            }
        })
        .bounds(&[(f64::NEG_INFINITY, f64::INFINITY), (0.01 * unit, 100.0 * unit), (-1e3, 1e3)]);
        let start = [amplitude * off, time_constant * unit * off, 0.0];
        let fit = problem.solve(&start, Noise::Estimated, &Settings::default()).unwrap();
        prop_assert_eq!(fit.status, numeric::levenberg::Status::Converged);
        for (got, want) in fit.parameters.iter().zip(&truth) {
            prop_assert!((got - want).abs() <= 1e-7 * want.abs().max(1e-3), "{:?}, want {:?}", fit.parameters, truth);
        }
    }

    /// In a box the solution obeys the conditions of Karush, Kuhn and Tucker, and is the fit with the held
    /// ones fixed.
    #[test]
    fn a_box_holds_what_wants_to_leave(case in cases(), ends in prop::collection::vec((-2.0..0.0_f64, 0.1..2.0_f64), 6)) {
        let columns = case.x.columns();
        let ends = &ends[..columns];
        let residuals = |b: &[f64], r: &mut [f64]| {
            for (i, r) in r.iter_mut().enumerate() {
                *r = (case.y[i] - (0..columns).map(|j| case.x[(i, j)] * b[j]).sum::<f64>()) / case.sigma[i];
            }
        };
        let inside = |b: &[f64]| b.iter().zip(ends).all(|(b, (low, high))| (*low..=*high).contains(b));
        let mut problem = Problem::new(case.y.len(), |b, r| {
            assert!(inside(b), "called outside the box at {b:?}");
            residuals(b, r);
        })
        .bounds(ends);
        let fit = problem.solve(&vec![0.0; columns], Noise::Known, &Settings::default()).unwrap();
        prop_assert_eq!(fit.status, numeric::levenberg::Status::Converged);
        for (j, &(low, high)) in ends.iter().enumerate() {
            let at = fit.parameters[j];
            let column = (0..case.y.len()).map(|i| case.x[(i, j)] / case.sigma[i]);
            let pull: f64 = column.clone().zip(&fit.inference.residuals).map(|(x, r)| x * r).sum();
            let size = column.map(|x| x * x).sum::<f64>().sqrt() * fit.inference.sum_of_squares.sqrt();
            if fit.held[j] {
                prop_assert!((at == low && pull < 0.0) || (at == high && pull > 0.0));
                prop_assert_eq!(fit.inference.standard_deviations[j], 0.0);
            } else {
                prop_assert!(pull.abs() <= 1e-7 * size, "pull {} of {}", pull, size);
            }
        }
    }
}

/// 95 % intervals cover the truth in 95 % of many simulated experiments, with the noise known and with it
/// estimated; the probability of a good fit is uniform when the model is true. Of 2 000 runs, 2 % is four
/// standard deviations of the share.
#[test]
fn intervals_cover_what_they_promise() {
    const RUNS: usize = 2_000;
    let (x, sigma) = design();
    let truth = [3.0, -0.5, 0.02];
    let mut random = Random(20_260_117);
    let mut covered = [[0_usize; 3]; 2];
    let mut poor_fits = 0;
    for _ in 0..RUNS {
        let y: Vec<f64> = (0..sigma.len())
            .map(|i| {
                (0..3).map(|j| x[(i, j)] * truth[j]).sum::<f64>()
                    + sigma[i] * normal_quantile(random.uniform())
            })
            .collect();
        for (noise, covered) in [Noise::Known, Noise::Estimated].into_iter().zip(&mut covered) {
            let fit = linear::fit(&x, &y, Some(&sigma), noise).unwrap();
            for j in 0..3 {
                let off = (fit.coefficients[j] - truth[j]).abs();
                covered[j] += usize::from(off <= fit.inference.half_width(j, 0.95));
            }
            poor_fits += usize::from(fit.inference.goodness_of_fit().is_some_and(|p| p < 0.05));
        }
    }
    for count in covered.as_flattened() {
        let share = *count as f64 / RUNS as f64;
        assert!((0.93..=0.97).contains(&share), "{covered:?} of {RUNS}");
    }
    let share = poor_fits as f64 / RUNS as f64;
    assert!((0.03..=0.07).contains(&share), "{poor_fits} of {RUNS}");
}

/// Nine uneven readings of a parabola: few degrees of freedom, so that Student's t matters (2.45 instead of
/// 1.96).
fn design() -> (Matrix, [f64; 9]) {
    let at = [0.0, 1.0, 1.5, 3.0, 4.5, 6.0, 8.0, 9.0, 10.0_f64];
    (Matrix::from_fn(9, 3, |i, j| libm::pow(at[i], j as f64)), [0.5, 0.5, 1.0, 1.0, 0.2, 0.2, 2.0, 2.0, 0.5])
}

/// SplitMix64 (G. L. Steele, D. Lea, C. H. Flood, 2014, from memory): small, and good enough to scatter data.
struct Random(u64);

impl Random {
    /// Between 0 and 1, both left out.
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (((z ^ (z >> 31)) >> 11) as f64 + 0.5) / 9_007_199_254_740_992.0
    }
}

//! Norris, Longley and Wampler1–5.
//!
//! Longley is the classic of ill-conditioned economic data (condition of the scaled regressors 4e4). Wampler
//! is a polynomial of degree five whose five responses differ in the size of the residuals: from none (1, 2) to
//! ten million times the coefficients (5). Without refinement Wampler1 keeps nine digits.

use crate::set::{digits, fewest_digits, reference_folder};
use numeric::{
    Matrix, Noise,
    linear::{Fit, Status, fit},
};

/// NIST StRD, Linear Least Squares Regression, data set Norris (J. Norris, NIST, calibration of ozone
/// monitors): y, x.
#[rustfmt::skip]
const NORRIS: [(f64, f64); 36] = [
    (0.1, 0.2), (338.8, 337.4), (118.1, 118.2), (888.0, 884.6), (9.2, 10.1), (228.1, 226.5),
    (668.5, 666.3), (998.5, 996.3), (449.1, 448.6), (778.9, 777.0), (559.2, 558.2), (0.3, 0.4),
    (0.1, 0.6), (778.1, 775.5), (668.8, 666.9), (339.3, 338.0), (448.9, 447.5), (10.8, 11.6),
    (557.7, 556.0), (228.3, 228.1), (998.0, 995.8), (888.8, 887.6), (119.6, 120.2), (0.3, 0.3),
    (0.6, 0.3), (557.6, 556.8), (339.3, 339.1), (888.0, 887.2), (998.5, 999.0), (778.9, 779.0),
    (10.2, 11.1), (117.6, 118.3), (228.9, 229.2), (668.4, 669.1), (449.2, 448.9), (0.2, 0.5),
];

#[test]
fn norris() {
    let y: Vec<f64> = NORRIS.iter().map(|row| row.0).collect();
    let fit = fit(&powers(NORRIS.map(|row| row.1).as_slice(), 1), &y, None, Noise::Estimated).unwrap();
    assert_eq!(fit.status, Status::Determined);
    // The file certifies 15 digits.
    assert_digits("Norris", &fit.coefficients, &[-0.262323073774029, 1.00211681802045], 13.0);
    assert_digits(
        "Norris",
        &fit.inference.standard_deviations,
        &[0.232818234301152, 0.429796848199937e-3],
        13.0,
    );
    assert_digits("Norris", &[fit.inference.residual_deviation.unwrap()], &[0.884796396144373], 13.0);
    assert_eq!(fit.inference.degrees_of_freedom, 34);
}

/// NIST StRD, data set Longley (J. W. Longley, JASA 62, 1967): the certified values are in a_nist_strd.toml.
#[test]
fn longley() {
    let Some(folder) = reference_folder() else { return };
    let rows = csv(&std::fs::read_to_string(folder.join("nist_strd/Longley.csv")).unwrap());
    let x = Matrix::from_fn(rows.len(), 7, |i, j| if j == 0 { 1.0 } else { rows[i][j + 1] });
    let y: Vec<f64> = rows.iter().map(|row| row[1]).collect();
    let fit = fit(&x, &y, None, Noise::Estimated).unwrap();
    let certified = Certified::read(&folder);
    assert_digits("Longley", &fit.coefficients, &certified.list("longley.b", 7), 10.0);
    assert_digits("Longley", &fit.inference.standard_deviations, &certified.list("longley.sd", 7), 10.0);
    assert_digits(
        "Longley",
        &[fit.inference.residual_deviation.unwrap()],
        &[certified.one("longley.rsd")],
        10.0,
    );
    println!("condition of the scaled regressors: {:.3e}", fit.inference.condition);
}

/// NIST StRD, data sets Wampler1–5 (R. H. Wampler, JASA 65, 1970): the certified values are in
/// a_nist_strd.toml.
#[test]
fn wampler() {
    let Some(folder) = reference_folder() else { return };
    let rows = csv(&std::fs::read_to_string(folder.join("nist_strd/Wampler.csv")).unwrap());
    let x = powers(&rows.iter().map(|row| row[0]).collect::<Vec<_>>(), 5);
    let certified = Certified::read(&folder);
    for k in 1..=5 {
        let y: Vec<f64> = rows.iter().map(|row| row[k]).collect();
        let Fit { status, coefficients, inference } = fit(&x, &y, None, Noise::Estimated).unwrap();
        assert_eq!(status, Status::Determined);
        let name = format!("Wampler{k}");
        println!(
            "{name}: {:.1} digits, condition {:.2e}",
            fewest_digits(&coefficients, &certified.list(&format!("wampler{k}.b"), 6), 16.0),
            inference.condition
        );
        assert_digits(&name, &coefficients, &certified.list(&format!("wampler{k}.b"), 6), 12.0);
        if k < 3 {
            // Exact polynomials: the deviations are zero, up to rounding against responses of up to 3e6.
            assert!(inference.residual_deviation.unwrap() < 1e-8, "{name}");
        } else {
            let deviations = certified.list(&format!("wampler{k}.sd"), 6);
            assert_digits(&name, &inference.standard_deviations, &deviations, 11.0);
        }
    }
    println!("RSS of Wampler3: {}", certified.one("wampler3.rss"));
}

fn powers(x: &[f64], degree: usize) -> Matrix {
    Matrix::from_fn(x.len(), degree + 1, |i, j| libm::pow(x[i], j as f64))
}

fn assert_digits(name: &str, got: &[f64], certified: &[f64], least: f64) {
    for (k, (g, c)) in got.iter().zip(certified).enumerate() {
        assert!(digits(*g, *c, 16.0) >= least, "{name}, value {k}: {g}, certified {c}");
    }
    assert_eq!(got.len(), certified.len());
}

fn csv(text: &str) -> Vec<Vec<f64>> {
    text.lines().skip(1).map(|l| l.split(',').map(|v| v.trim().parse().unwrap()).collect()).collect()
}

/// The certified values as collected in `a_nist_strd.toml`.
struct Certified(Vec<toml::Value>);

impl Certified {
    fn read(folder: &std::path::Path) -> Self {
        let text = std::fs::read_to_string(folder.join("a_nist_strd.toml")).unwrap();
        let table: toml::Table = text.parse().unwrap();
        Self(table["check"].as_array().unwrap().clone())
    }

    fn one(&self, id: &str) -> f64 {
        let wanted = format!("strd.{id}");
        let check = self.0.iter().find(|c| c["id"].as_str() == Some(wanted.as_str()));
        check.unwrap_or_else(|| panic!("no {wanted}"))["value"].as_float().unwrap()
    }

    fn list(&self, prefix: &str, count: usize) -> Vec<f64> {
        (0..count).map(|k| self.one(&format!("{prefix}{k}"))).collect()
    }
}

//! JCGM 100:2008 (GUM), annex H.2: resistance, reactance and impedance from voltage, current and phase that
//! were read together and are correlated. Readings of table H.2, results of tables H.3 and H.4 as printed
//! there, read in public re-implementations. The standard prints u(X) = 0.295; its data give 0.2956.

use worked::{Dimension, Input, Number, Worked, correlated, covariance};

const V: [f64; 5] = [5.007, 4.994, 5.005, 4.990, 4.999];
const I: [f64; 5] = [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3];
const PHI: [f64; 5] = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433];

fn mean(x: &[f64; 5]) -> f64 {
    x.iter().sum::<f64>() / 5.0
}

/// Covariance of two means (JCGM 100, 5.2.3).
fn covariance_of_means(x: &[f64; 5], y: &[f64; 5]) -> f64 {
    x.iter().zip(y).map(|(a, b)| (a - mean(x)) * (b - mean(y))).sum::<f64>() / 20.0
}

fn inputs() -> Vec<Worked> {
    let columns =
        [("V", Dimension::VOLTAGE, &V), ("I", Dimension::CURRENT, &I), ("φ", Dimension::ANGLE, &PHI)];
    let u = |x: &[f64; 5]| covariance_of_means(x, x).sqrt();
    let mut matrix = Vec::new();
    for (_, _, x) in &columns {
        for (_, _, y) in &columns {
            matrix.push(covariance_of_means(x, y) / (u(x) * u(y)));
        }
    }
    assert!((matrix[1] + 0.36).abs() < 0.005, "r(V, I) = −0.36");
    assert!((matrix[2] - 0.86).abs() < 0.005, "r(V, φ) = 0.86");
    assert!((matrix[5] + 0.65).abs() < 0.005, "r(I, φ) = −0.65");
    let inputs = columns
        .iter()
        .map(|(name, d, x)| Input::new(name, name, name, *d).value(mean(x)).standard_uncertainty(u(x)))
        .collect();
    correlated("simultaneous readings", inputs, &matrix).expect("a correlation matrix")
}

fn results() -> [Worked; 3] {
    let x = inputs();
    let z = &x[0] / &x[1];
    [&z * x[2].clone().cos(), &z * x[2].clone().sin(), z]
}

#[test]
fn values_uncertainties_and_correlations_are_the_printed_ones() {
    let rows = [("R", 127.732, 0.071, 5e-4), ("X", 219.847, 0.295, 6e-4), ("Z", 254.260, 0.236, 5e-4)];
    let results = results();
    for (result, (name, value, u, within)) in results.iter().zip(rows) {
        assert!((result.value() - value).abs() < 5e-4, "{name} = {value}: {}", result.value());
        let found = result.uncertainty().expect("all data are given").u;
        assert!((found - u).abs() < within, "u({name}) = {u}: {found}");
    }
    let c = covariance(&results).expect("all data are given");
    let r = |i: usize, j: usize| c[3 * i + j] / (c[3 * i + i] * c[3 * j + j]).sqrt();
    assert!((r(0, 1) + 0.588).abs() < 6e-4, "r(R, X) = −0.588");
    assert!((r(0, 2) + 0.485).abs() < 6e-4, "r(R, Z) = −0.485");
    assert!((r(1, 2) - 0.993).abs() < 6e-4, "r(X, Z) = 0.993");
}

#[test]
fn draws_agree_with_first_order() {
    let [r, x, z] = results();
    for (result, u) in [(r, 0.071), (x, 0.2956), (z, 0.236)] {
        let drawn = result.drawn(100_000, 1).expect("nothing leaves its domain");
        assert!((drawn.u - u).abs() < 0.01 * u + 5e-4, "{}", drawn.u);
    }
}

#[test]
fn inputs_known_together_share_one_row() {
    let shares = results()[0].uncertainty().expect("all data are given").shares;
    assert_eq!(shares.len(), 1);
    assert!((shares[0].share - 1.0).abs() < 1e-9, "{shares:?}");
}

//! JCGM 101:2008 (GUM Supplement 1), clause 9.2 and 9.3, and the NPL example of ln x: what drawing finds
//! and first order does not.

use worked::{Dimension, Input, Number, Worked};

const RUNS: usize = 400_000;

fn rectangular(path: &str, u: f64) -> Worked {
    let half = u * 3f64.sqrt();
    Input::new(path, path, path, Dimension::NONE).value(0.0).limits(-half, half).worked()
}

fn normal(path: &str, u: f64) -> Worked {
    Input::new(path, path, path, Dimension::NONE).value(0.0).standard_uncertainty(u).worked()
}

fn half_95(sum: &Worked) -> f64 {
    let (low, high) = sum.drawn(RUNS, 2008).expect("nothing is missing").shortest_interval(0.95);
    0.5 * (high - low)
}

#[test]
fn clause_9_2_2_four_normal() {
    let sum: Worked = ["a", "b", "c", "d"].map(|p| normal(p, 1.0)).into_iter().sum();
    assert!((sum.uncertainty().expect("given").u - 2.0).abs() < 1e-12);
    assert!((half_95(&sum) - 3.92).abs() < 0.03, "table 2: ±3.92: {}", half_95(&sum));
}

#[test]
fn clause_9_2_3_four_rectangular() {
    let sum: Worked = ["a", "b", "c", "d"].map(|p| rectangular(p, 1.0)).into_iter().sum();
    assert!((sum.uncertainty().expect("given").u - 2.0).abs() < 1e-12);
    assert!((half_95(&sum) - 3.88).abs() < 0.03, "table 3: ±3.88: {}", half_95(&sum));
}

#[test]
fn clause_9_2_4_one_wide_rectangular_rules() {
    let sum: Worked =
        [rectangular("a", 1.0), rectangular("b", 1.0), rectangular("c", 1.0), rectangular("d", 10.0)]
            .into_iter()
            .sum();
    let u = sum.uncertainty().expect("given").u;
    assert!((u - 10.15).abs() < 0.01, "table 4: u = 10.1");
    // The normal framework would say ±19.9.
    assert!((half_95(&sum) - 17.0).abs() < 0.15, "table 4: ±17.0: {}", half_95(&sum));
}

/// Clause 9.3, mass calibration: m = (m_rc + δm_rc)(1 + (a − a0)(1/ρ_w − 1/ρ_r)) − m_nom, in mg.
/// Printed: first order u = 0.0539 mg, drawn and second order u = 0.0754 mg, estimate 1.2340 mg
/// (from memory).
#[test]
fn clause_9_3_mass_calibration() {
    let pure = |path: &str, value: f64| Input::new(path, path, path, Dimension::NONE).value(value);
    let reference = pure("m_rc", 100_000.000).standard_uncertainty(0.050).worked();
    let small = pure("dm_rc", 1.234).standard_uncertainty(0.020).worked();
    let air = pure("rho_a", 1.20).limits(1.10, 1.30).worked();
    let weight = pure("rho_w", 8000.0).limits(7000.0, 9000.0).worked();
    let standard = pure("rho_r", 8000.0).limits(7950.0, 8050.0).worked();
    let mass = (reference + small) * (1.0 + (air - 1.2) * (1.0 / weight - 1.0 / standard)) - 100_000.0;
    assert!((mass.value() - 1.2340).abs() < 5e-5);
    let u = mass.uncertainty().expect("given");
    assert!((u.u - 0.0539).abs() < 5e-5, "first order: {}", u.u);
    let drawn = mass.drawn(RUNS, 3).expect("given");
    assert!((drawn.u - 0.0754).abs() < 3e-4, "drawn: {}", drawn.u);
    let (low, high) = drawn.shortest_interval(0.95);
    assert!((low - 1.0834).abs() < 4e-3 && (high - 1.3825).abs() < 4e-3, "[1.0834, 1.3825]: {low} {high}");
}

/// NPL's example: y = ln x with x rectangular on 0.1 … 1.1; the exact 95 % shortest interval reaches from
/// −1.8971 to 0.0953, mean and standard deviation follow in closed form.
#[test]
fn npl_logarithm_of_a_rectangular_input() {
    let x = Input::new("x", "x", "x", Dimension::NONE).value(0.6).limits(0.1, 1.1).worked();
    let y = x.ln();
    let first = y.uncertainty().expect("given");
    assert!(!first.first_order_holds, "a logarithm over a decade is no straight line");
    let drawn = y.drawn(RUNS, 4).expect("given");
    // ∫ ln x over 0.1..1.1, and the second moment, by parts.
    let f1 = |x: f64| x * libm::log(x) - x;
    let f2 = |x: f64| x * libm::log(x) * libm::log(x) - 2.0 * x * libm::log(x) + 2.0 * x;
    let mean = f1(1.1) - f1(0.1);
    let u = (f2(1.1) - f2(0.1) - mean * mean).sqrt();
    assert!((drawn.mean - mean).abs() < 4e-3, "{} {mean}", drawn.mean);
    assert!((drawn.u - u).abs() < 4e-3, "{} {u}", drawn.u);
    let (low, high) = drawn.shortest_interval(0.95);
    assert!((low + 1.8971).abs() < 0.02 && (high - 0.0953).abs() < 1e-3, "{low} {high}");
}

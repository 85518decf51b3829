//! Student t factors against the table of the *Guide to the expression of uncertainty in measurement*.

// A skipped check has to say so.
#![allow(clippy::print_stdout)]

use numeric::distribution::student_t_quantile;

/// JCGM 100:2008, table G.2, as printed there to two decimals.
const TABLE: [(f64, f64, f64); 5] =
    [(5.0, 0.95, 2.57), (10.0, 0.95, 2.23), (16.0, 0.99, 2.92), (20.0, 0.95, 2.09), (50.0, 0.95, 2.01)];

#[test]
fn two_sided_factors_round_to_the_printed_ones() {
    for (degrees, confidence, printed) in TABLE {
        let factor = student_t_quantile(0.5 + 0.5 * confidence, degrees);
        assert!(
            (factor - printed).abs() <= 0.005,
            "{confidence} with {degrees} degrees: {factor}, printed {printed}"
        );
    }
}

/// The same from the reference file beside the project, where there is one: more entries as that file grows.
#[test]
fn two_sided_factors_match_the_reference_file() {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../../shared/references/b_uncertainty.toml");
    let Ok(text) = std::fs::read_to_string(&path) else {
        println!("skipped: no reference file at {}", path.display());
        return;
    };
    let table: toml::Table = text.parse().unwrap();
    let checks = table["check"].as_array().unwrap().iter();
    let factors: Vec<_> = checks.filter(|c| c["id"].as_str().unwrap().starts_with("t.")).collect();
    assert!(factors.len() >= 5);
    let number = |v: &toml::Value| v.as_float().or(v.as_integer().map(|i| i as f64)).unwrap();
    for check in factors {
        let (degrees, confidence) = (number(&check["in"]["nu"]), number(&check["in"]["p"]));
        let factor = student_t_quantile(0.5 + 0.5 * confidence, degrees);
        assert!((factor - number(&check["value"])).abs() <= number(&check["tol_abs"]), "{check}: {factor}");
    }
}

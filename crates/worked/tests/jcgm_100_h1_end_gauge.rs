//! JCGM 100:2008 (GUM), annex H.1: calibration of an end gauge. Figures as printed there, read in public
//! re-implementations of the example; the effective degrees of freedom are printed truncated to 16.

use worked::{Dimension, Input, Worked};

fn nm(path: &str, value: f64, u: f64, dof: f64) -> Worked {
    Input::new(path, path, path, Dimension::LENGTH)
        .value(value * 1e-9)
        .standard_uncertainty_with(u * 1e-9, dof)
        .worked()
}

fn plain(path: &str, dimension: Dimension, value: f64) -> Input {
    Input::new(path, path, path, dimension).value(value)
}

/// Half the t interval that holds 95 % with 5 degrees of freedom is 2.5706 (JCGM 100, table G.2).
const T95_5: f64 = 2.570_581_8;

fn length() -> (Worked, Worked) {
    let standard = nm("l_S", 50_000_623.0, 25.0, 18.0);
    let difference = nm("d_0", 215.0, 13.0 / 5f64.sqrt(), 24.0)
        + nm("d_1", 0.0, 10.0 / T95_5, 5.0)
        + nm("d_2", 0.0, 20.0 / 3.0, 8.0);
    let per_kelvin = Dimension::PER_KELVIN;
    let kelvin = Dimension::TEMPERATURE_DIFFERENCE;
    let expansion = plain("alpha_S", per_kelvin, 11.5e-6).limits(9.5e-6, 13.5e-6).worked();
    let deviation = plain("theta", kelvin, -0.1).standard_uncertainty(0.41).worked();
    let expansion_difference =
        plain("delta_alpha", per_kelvin, 0.0).standard_uncertainty_with(1e-6 / 3f64.sqrt(), 50.0).worked();
    let temperature_difference =
        plain("delta_theta", kelvin, 0.0).standard_uncertainty_with(0.05 / 3f64.sqrt(), 2.0).worked();
    let gauge = &standard + &difference
        - &standard * (expansion_difference * deviation + expansion * temperature_difference);
    (gauge, difference)
}

#[test]
fn length_and_uncertainty_are_the_printed_ones() {
    let (gauge, difference) = length();
    assert!((gauge.value() * 1e9 - 50_000_838.0).abs() < 0.5, "l = 50 000 838 nm (H.1.8)");
    let d = difference.uncertainty().expect("all data are given");
    assert!((d.u * 1e9 - 9.7).abs() < 0.05, "u(d) = 9.7 nm (H.1.3.2): {}", d.u * 1e9);
    assert!((d.degrees_of_freedom - 25.6).abs() < 0.05, "ν(d) = 25.6 (H.1.6): {}", d.degrees_of_freedom);
    let u = gauge.uncertainty().expect("all data are given");
    assert!((u.u * 1e9 - 31.71).abs() < 0.06, "u_c = 32 nm (H.1.4): {}", u.u * 1e9);
    assert!((u.degrees_of_freedom - 16.7).abs() < 0.1, "ν_eff = 16 (H.1.6): {}", u.degrees_of_freedom);
}

#[test]
fn contributions_are_the_printed_ones() {
    let (gauge, _) = length();
    let u = gauge.uncertainty().expect("all data are given");
    let nm_of = |path: &str| {
        let row = u.shares.iter().find(|s| s.path == path).unwrap_or_else(|| panic!("{path} has a share"));
        row.share.sqrt() * u.u * 1e9
    };
    assert!((nm_of("l_S") - 25.0).abs() < 0.1, "H.1.3.1");
    assert!((nm_of("delta_alpha") - 2.9).abs() < 0.05, "H.1.3.4: {}", nm_of("delta_alpha"));
    assert!((nm_of("delta_theta") - 16.6).abs() < 0.11, "H.1.3.5: {}", nm_of("delta_theta"));
    assert_eq!(u.shares[0].path, "l_S", "the standard weighs most");
}

//! The 27 model functions of the non-linear sets, as each file prints them.

use libm::{atan, cos, exp, pow, sin};
use std::f64::consts::PI;

/// Value of the model at the regressors `x` with the parameters `b`.
pub(crate) type Model = fn(b: &[f64], x: &[f64]) -> f64;

/// Name of the set, model.
pub(crate) const MODELS: [(&str, Model); 27] = [
    ("Bennett5", |b, x| b[0] * pow(b[1] + x[0], -1.0 / b[2])),
    ("BoxBOD", |b, x| b[0] * (1.0 - exp(-b[1] * x[0]))),
    ("Chwirut1", chwirut),
    ("Chwirut2", chwirut),
    ("DanWood", |b, x| b[0] * pow(x[0], b[1])),
    ("ENSO", enso),
    ("Eckerle4", |b, x| b[0] / b[1] * exp(-0.5 * squared((x[0] - b[2]) / b[1]))),
    ("Gauss1", two_peaks),
    ("Gauss2", two_peaks),
    ("Gauss3", two_peaks),
    ("Hahn1", cubic_over_cubic),
    ("Kirby2", |b, x| (b[0] + x[0] * (b[1] + x[0] * b[2])) / (1.0 + x[0] * (b[3] + x[0] * b[4]))),
    ("Lanczos1", three_exponentials),
    ("Lanczos2", three_exponentials),
    ("Lanczos3", three_exponentials),
    ("MGH09", |b, x| b[0] * (x[0] * x[0] + x[0] * b[1]) / (x[0] * x[0] + x[0] * b[2] + b[3])),
    ("MGH10", |b, x| b[0] * exp(b[1] / (x[0] + b[2]))),
    ("MGH17", |b, x| b[0] + b[1] * exp(-x[0] * b[3]) + b[2] * exp(-x[0] * b[4])),
    ("Misra1a", |b, x| b[0] * (1.0 - exp(-b[1] * x[0]))),
    ("Misra1b", |b, x| b[0] * (1.0 - pow(1.0 + b[1] * x[0] / 2.0, -2.0))),
    ("Misra1c", |b, x| b[0] * (1.0 - pow(1.0 + 2.0 * b[1] * x[0], -0.5))),
    ("Misra1d", |b, x| b[0] * b[1] * x[0] / (1.0 + b[1] * x[0])),
    // The response of Nelson is the logarithm of y, taken when the file is read.
    ("Nelson", |b, x| b[0] - b[1] * x[0] * exp(-b[2] * x[1])),
    ("Rat42", |b, x| b[0] / (1.0 + exp(b[1] - b[2] * x[0]))),
    ("Rat43", |b, x| b[0] / pow(1.0 + exp(b[1] - b[2] * x[0]), 1.0 / b[3])),
    ("Roszman1", |b, x| b[0] - b[1] * x[0] - atan(b[2] / (x[0] - b[3])) / PI),
    ("Thurber", cubic_over_cubic),
];

/// The model of a set.
pub(crate) fn model(name: &str) -> Model {
    MODELS.iter().find(|(n, _)| *n == name).unwrap_or_else(|| panic!("no model {name}")).1
}

fn squared(x: f64) -> f64 {
    x * x
}

fn chwirut(b: &[f64], x: &[f64]) -> f64 {
    exp(-b[0] * x[0]) / (b[1] + b[2] * x[0])
}

fn enso(b: &[f64], x: &[f64]) -> f64 {
    let turn = 2.0 * PI * x[0];
    b[0] + b[1] * cos(turn / 12.0)
        + b[2] * sin(turn / 12.0)
        + b[4] * cos(turn / b[3])
        + b[5] * sin(turn / b[3])
        + b[7] * cos(turn / b[6])
        + b[8] * sin(turn / b[6])
}

fn two_peaks(b: &[f64], x: &[f64]) -> f64 {
    b[0] * exp(-b[1] * x[0])
        + b[2] * exp(-squared((x[0] - b[3]) / b[4]))
        + b[5] * exp(-squared((x[0] - b[6]) / b[7]))
}

fn cubic_over_cubic(b: &[f64], x: &[f64]) -> f64 {
    let x = x[0];
    (b[0] + x * (b[1] + x * (b[2] + x * b[3]))) / (1.0 + x * (b[4] + x * (b[5] + x * b[6])))
}

fn three_exponentials(b: &[f64], x: &[f64]) -> f64 {
    b[0] * exp(-b[1] * x[0]) + b[2] * exp(-b[3] * x[0]) + b[4] * exp(-b[5] * x[0])
}

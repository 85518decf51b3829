//! One reference set: read from NIST's own file layout.

use std::path::{Path, PathBuf};

/// Data, starts and certified values of one non-linear set.
pub(crate) struct Set {
    pub(crate) name: String,
    pub(crate) starts: [Vec<f64>; 2],
    pub(crate) parameters: Vec<f64>,
    pub(crate) deviations: Vec<f64>,
    pub(crate) sum_of_squares: f64,
    pub(crate) residual_deviation: f64,
    pub(crate) y: Vec<f64>,
    /// One row of regressors for each y.
    pub(crate) x: Vec<Vec<f64>>,
}

/// The folder of a copy of the reference files beside the project; the checks that need it say so when it is
/// not there.
pub(crate) fn reference_folder() -> Option<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared/references");
    if folder.join("nist_strd").is_dir() {
        Some(folder)
    } else {
        println!("skipped: no reference files at {}", folder.display());
        None
    }
}

/// Reads a non-linear set from the text of its file: `b1 = start 1, start 2, certified value, deviation`, the
/// two statistics, and the table after the line `Data: y x`.
pub(crate) fn parse(text: &str) -> Set {
    let numbers = |s: &str| {
        s.split_whitespace().map(|w| w.parse().unwrap_or_else(|_| panic!("number {w}"))).collect::<Vec<f64>>()
    };
    let after_colon = |start: &str| -> f64 {
        let line = text.lines().find(|l| l.starts_with(start)).unwrap_or_else(|| panic!("no line {start}"));
        numbers(line.split_once(':').unwrap().1)[0]
    };
    let name = text.split("Dataset Name:").nth(1).unwrap().split_whitespace().next().unwrap().to_string();
    let rows: Vec<Vec<f64>> = text
        .lines()
        .filter_map(|l| l.trim().strip_prefix('b')?.split_once(" ="))
        .filter(|(index, _)| index.parse::<usize>().is_ok())
        .map(|(_, rest)| numbers(rest))
        .collect();
    let column = |k: usize| rows.iter().map(|r| r[k]).collect::<Vec<f64>>();
    let data: Vec<Vec<f64>> = text
        .lines()
        .skip_while(|l| {
            !(l.starts_with("Data:") && l.contains('x') && l.contains('y') && !l.contains("Response"))
        })
        .skip(1)
        .map(numbers)
        .filter(|row| !row.is_empty())
        .collect();
    let response = |y: f64| if name == "Nelson" { libm::log(y) } else { y };
    Set {
        starts: [column(0), column(1)],
        parameters: column(2),
        deviations: column(3),
        sum_of_squares: after_colon("Residual Sum of Squares"),
        residual_deviation: after_colon("Residual Standard Deviation"),
        y: data.iter().map(|row| response(row[0])).collect(),
        x: data.iter().map(|row| row[1..].to_vec()).collect(),
        name,
    }
}

/// Digits that agree: −log10 of the relative error, NIST's own measure (log relative error), capped at the
/// digits certified.
pub(crate) fn digits(got: f64, certified: f64, most: f64) -> f64 {
    if !got.is_finite() {
        return 0.0;
    }
    let error = if certified == 0.0 { got.abs() } else { ((got - certified) / certified).abs() };
    if error == 0.0 { most } else { (-libm::log10(error)).clamp(0.0, most) }
}

/// The worst of several.
pub(crate) fn fewest_digits(got: &[f64], certified: &[f64], most: f64) -> f64 {
    assert_eq!(got.len(), certified.len());
    got.iter().zip(certified).map(|(g, c)| digits(*g, *c, most)).fold(most, f64::min)
}

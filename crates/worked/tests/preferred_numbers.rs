//! Preferred numbers against IEC 60063.

use worked::preferred::{Series, at_least, at_most, nearest};

/// Tables of the standard as printed in data books (from memory): all of E24, and of E96 each eighth value.
#[test]
fn series_match_the_printed_tables() {
    let e24 = [
        1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2,
        6.8, 7.5, 8.2, 9.1,
    ];
    assert_eq!(Series::E24.values().collect::<Vec<_>>(), e24);
    assert_eq!(Series::E6.values().collect::<Vec<_>>(), [1.0, 1.5, 2.2, 3.3, 4.7, 6.8]);
    assert_eq!(Series::E3.values().collect::<Vec<_>>(), [1.0, 2.2, 4.7]);
    let e96: Vec<f64> = Series::E96.values().step_by(8).collect();
    assert_eq!(e96, [1.00, 1.21, 1.47, 1.78, 2.15, 2.61, 3.16, 3.83, 4.64, 5.62, 6.81, 8.25]);
    // The one value of E192 that its rule does not give (10^(185/192) is 9.195).
    assert!(Series::E192.values().any(|value| value == 9.20));
    assert!(Series::E192.values().all(|value| value != 9.19));
}

#[test]
fn searches_find_the_neighbours() {
    for (series, x, below, above, near) in [
        (Series::E12, 1.0e3, 1.0e3, 1.0e3, 1.0e3),
        (Series::E12, 3.4e3, 3.3e3, 3.9e3, 3.3e3),
        (Series::E24, 9.2, 9.1, 10.0, 9.1),
        (Series::E24, 9.6, 9.1, 10.0, 10.0),
        (Series::E96, 4.98e-3, 4.87e-3, 4.99e-3, 4.99e-3),
        (Series::E6, 150.1, 150.0, 220.0, 150.0),
    ] {
        assert_eq!(at_most(series, x), Some(below), "{series:?} at most {x}");
        assert_eq!(at_least(series, x), Some(above), "{series:?} at least {x}");
        assert_eq!(nearest(series, x), Some(near), "{series:?} nearest {x}");
    }
}

/// A larger table kept outside of the project, where it is there.
#[test]
fn series_match_the_reference_table() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../../shared/references/d_preferred_numbers.csv");
    let Ok(table) = std::fs::read_to_string(path) else {
        println!("skipped: no reference table beside the project");
        return;
    };
    let mut rows = 0;
    for line in table.lines().filter(|line| line.starts_with('E')) {
        let mut cells = line.split(',');
        let mut cell = || cells.next().expect("four columns");
        let (series, index, mantissa, by_rule) = (cell(), cell(), cell(), cell());
        let (series, rounding) = match series {
            "E12" => (Series::E12, 10.0),
            "E24" => (Series::E24, 10.0),
            "E48" => (Series::E48, 100.0),
            "E96" => (Series::E96, 100.0),
            other => panic!("an unknown series {other}"),
        };
        let index: usize = index.parse().expect("an index");
        let want: f64 = mantissa.parse().expect("a number");
        assert_eq!(series.values().nth(index), Some(want), "{line}");
        // The table says which values its rule gives; so must ours.
        let rule = (rounding * libm::pow(10.0, index as f64 / series.per_decade() as f64)).round() / rounding;
        assert_eq!(rule == want, by_rule == "yes", "{line}");
        rows += 1;
    }
    assert_eq!(rows, 12 + 24 + 48 + 96);
}

//! Preferred numbers for resistors and capacitors, and the search for the next one.
//!
//! Source: IEC 60063. A series of n values a decade is `10^(i/n)`, rounded to two figures up to E24 and to
//! three from E48 on. The standard keeps nine older values that this rule does not give (which: from memory).

use crate::quantity::Decimal;

/// A series by its number of values in a decade.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Series {
    /// Three values: ± 40 % cover all between.
    E3,
    /// Six values, for ± 20 %.
    E6,
    /// Twelve values, for ± 10 %.
    E12,
    /// Twenty-four values, for ± 5 %.
    E24,
    /// Forty-eight values, for ± 2 %.
    E48,
    /// Ninety-six values, for ± 1 %.
    E96,
    /// A hundred and ninety-two values, for ± 0.5 %.
    E192,
}

impl Series {
    /// Values in a decade.
    pub fn per_decade(self) -> usize {
        match self {
            Self::E3 => 3,
            Self::E6 => 6,
            Self::E12 => 12,
            Self::E24 => 24,
            Self::E48 => 48,
            Self::E96 => 96,
            Self::E192 => 192,
        }
    }

    /// The values from 1 up to, not including, 10.
    pub fn values(self) -> impl Iterator<Item = f64> {
        (0..self.per_decade() as i64).map(move |i| self.value(i))
    }

    /// The value at a place counted from 1.0, through all decades.
    fn value(self, place: i64) -> f64 {
        let per_decade = self.per_decade() as i64;
        let (decade, i) = (place.div_euclid(per_decade), place.rem_euclid(per_decade));
        let (figures, digits) = if per_decade > 24 {
            (2, hundredths(i * 192 / per_decade))
        } else {
            (1, tenths(i * 24 / per_decade))
        };
        let exponent = i32::try_from(decade - figures).unwrap_or(i32::MIN / 2);
        Decimal { mantissa: i128::from(digits), exponent }.nearest()
    }

    /// A place in the series a little below `x`, from which to search upward.
    fn place_below(self, x: f64) -> Option<i64> {
        let usable = x.is_finite() && x > 0.0;
        // The older values lie up to one place beside the rule's.
        usable.then(|| libm::floor(libm::log10(x) * self.per_decade() as f64) as i64 - 2)
    }
}

/// The smallest value of the series that is not below `x`; `None` unless `x` is finite and above zero.
pub fn at_least(series: Series, x: f64) -> Option<f64> {
    let start = series.place_below(x)?;
    (start..start + 6).map(|place| series.value(place)).find(|value| *value >= x && value.is_finite())
}

/// The largest value of the series that is not above `x`; `None` unless `x` is finite and above zero.
pub fn at_most(series: Series, x: f64) -> Option<f64> {
    let start = series.place_below(x)?;
    (start..start + 6).rev().map(|place| series.value(place)).find(|value| *value <= x && *value > 0.0)
}

/// The value of the series with the smallest ratio to `x`, the smaller one of two; `None` unless `x` is
/// finite and above zero.
pub fn nearest(series: Series, x: f64) -> Option<f64> {
    let (below, above) = (at_most(series, x)?, at_least(series, x)?);
    Some(if x / below <= above / x { below } else { above })
}

/// E24 in tenths: the rule, but for eight values.
fn tenths(i: i64) -> i64 {
    match i {
        10 => 27,
        11 => 30,
        12 => 33,
        13 => 36,
        14 => 39,
        15 => 43,
        16 => 47,
        22 => 82,
        _ => rule(i, 24.0, 10.0),
    }
}

/// E192 in hundredths: the rule, but for one value.
fn hundredths(i: i64) -> i64 {
    if i == 185 { 920 } else { rule(i, 192.0, 100.0) }
}

fn rule(i: i64, per_decade: f64, scale: f64) -> i64 {
    libm::round(scale * libm::pow(10.0, i as f64 / per_decade)) as i64
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const ALL: [Series; 7] =
        [Series::E3, Series::E6, Series::E12, Series::E24, Series::E48, Series::E96, Series::E192];

    #[test]
    fn each_series_is_every_other_value_of_the_next() {
        for pair in ALL.windows(2).filter(|pair| pair[0] != Series::E24) {
            let fine: Vec<f64> = pair[1].values().step_by(2).collect();
            assert_eq!(pair[0].values().collect::<Vec<_>>(), fine, "{pair:?}");
        }
    }

    #[test]
    fn ends_and_nonsense() {
        assert_eq!(at_least(Series::E12, 4.7), Some(4.7));
        assert_eq!(at_most(Series::E12, 4.7), Some(4.7));
        assert_eq!(at_least(Series::E6, 6.81e3), Some(10e3));
        assert_eq!(at_most(Series::E6, 0.99e-3), Some(0.68e-3));
        assert_eq!(nearest(Series::E24, 8.25), Some(8.2));
        for x in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!((at_least(Series::E24, x), at_most(Series::E24, x)), (None, None));
        }
        assert_eq!(at_least(Series::E24, f64::MAX), None);
        // Smaller than any value that a search could need; it must only end.
        let _ = at_most(Series::E192, f64::from_bits(1));
    }

    proptest! {
        #[test]
        fn neighbours_enclose_and_nothing_lies_between(x in 1e-12..1e12_f64, which in 0..7_usize) {
            let series = ALL[which];
            let (below, above) = (at_most(series, x).expect("above zero"), at_least(series, x).expect("above zero"));
            prop_assert!(below <= x && x <= above);
            let decade = libm::pow(10.0, libm::floor(libm::log10(x)));
            for value in series.values().flat_map(|v| [v * decade / 10.0, v * decade, v * decade * 10.0]) {
                // The decade is itself rounded, so values within that of an end are the end.
                let apart = |end: f64| (value / end - 1.0).abs() > 1e-12;
                prop_assert!(!(below < value && value < above && apart(below) && apart(above) && apart(x)));
            }
        }
    }
}

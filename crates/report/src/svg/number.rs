//! Numbers as a chart prints them, ticks included.

/// A power of ten, correctly rounded (a product of tens would not be).
pub(super) fn ten(exponent: i32) -> f64 {
    format!("1e{exponent}").parse().unwrap_or(f64::MAX)
}

/// Decimal exponent of a finite value that is not zero: 2 for 120.
pub(super) fn exponent(v: f64) -> i32 {
    libm::floor(libm::log10(v.abs())) as i32
}

/// A coordinate in a drawing: two decimals, no trailing zeros, no negative zero.
pub(crate) fn coordinate(v: f64) -> String {
    let text = format!("{v:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" || !v.is_finite() { "0".to_owned() } else { text.to_owned() }
}

/// A value with up to four significant digits: `6.9`, `0.01235`, `3277`, `1.2·10⁻⁹`.
pub(crate) fn number(v: f64) -> String {
    if v == 0.0 {
        return "0".to_owned();
    }
    if !v.is_finite() {
        return "–".to_owned();
    }
    let scientific = format!("{v:.3e}");
    let (mantissa, power) = scientific.split_once('e').unwrap_or((&scientific, "0"));
    let power: i32 = power.parse().unwrap_or(0);
    if (-4..6).contains(&power) {
        trimmed(&format!("{v:.*}", (3 - power).max(0) as usize))
    } else {
        with_power(&trimmed(mantissa), power)
    }
}

/// A share as a percentage; one that is there is never rounded to nothing.
pub(crate) fn percent(share: f64) -> String {
    let text = format!("{:.0} %", share * 100.0).replace('-', "−");
    match text.as_str() {
        _ if !share.is_finite() => "–".to_owned(),
        "0 %" | "−0 %" if share.abs() > 1e-12 => "below 1 %".to_owned(),
        "−0 %" => "0 %".to_owned(),
        _ => text,
    }
}

fn trimmed(text: &str) -> String {
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { text };
    text.replace('-', "−")
}

fn with_power(mantissa: &str, power: i32) -> String {
    let raised: String = power
        .to_string()
        .chars()
        .map(|c| match c {
            '-' => '⁻',
            '1' => '¹',
            '2' => '²',
            '3' => '³',
            '0' | '4'..='9' => char::from_u32('⁰' as u32 + (c as u32 - '0' as u32)).unwrap_or(c),
            other => other,
        })
        .collect();
    match mantissa {
        "1" => format!("10{raised}"),
        "−1" => format!("−10{raised}"),
        _ => format!("{mantissa}·10{raised}"),
    }
}

/// A division of an axis.
#[derive(Clone, PartialEq, Debug)]
pub(super) struct Tick {
    pub(super) at: f64,
    /// Empty for a minor division.
    pub(super) label: String,
}

/// Even divisions of `low..high`, about `wanted` of them, at 1, 2 or 5 times a power of ten.
pub(super) fn linear_ticks(low: f64, high: f64, wanted: f64) -> Vec<Tick> {
    let rough = (high - low) / wanted.max(1.0);
    if !rough.is_finite() || rough <= 0.0 {
        return Vec::new();
    }
    let decade = ten(exponent(rough));
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|m| m * decade)
        .find(|s| *s >= rough * (1.0 - 1e-9))
        .unwrap_or(10.0 * decade);
    let digits = exponent(step * 1.000_001);
    let largest = exponent(low.abs().max(high.abs()).max(step));
    let first = libm::ceil(low / step - 1e-6);
    let last = libm::floor(high / step + 1e-6);
    let count = (last - first).clamp(-1.0, 100.0) as i32;
    (0..=count)
        .map(|i| {
            let at = (first + f64::from(i)) * step;
            let label = if first + f64::from(i) == 0.0 {
                "0".to_owned()
            } else if largest >= 6 || digits < -4 {
                let decimals = (exponent(at) - digits).clamp(0, 15) as usize;
                let text = format!("{at:.decimals$e}");
                let (mantissa, power) = text.split_once('e').unwrap_or((&text, "0"));
                with_power(&trimmed(mantissa), power.parse().unwrap_or(0))
            } else {
                format!("{at:.*}", (-digits).max(0) as usize).replace('-', "−")
            };
            Tick { at, label }
        })
        .collect()
}

/// Divisions of a logarithmic axis: each decade with its 2 to 9. Decades carry labels; 2 and 5 too where
/// the axis shows less than three decades; where there are many decades, every n-th.
pub(super) fn log_ticks(low: f64, high: f64, most_labels: f64) -> Vec<Tick> {
    if !(low > 0.0 && high > low && high.is_finite()) {
        return Vec::new();
    }
    let (from, to) = (exponent(low), exponent(high));
    let decades = libm::log10(high) - libm::log10(low);
    let every = libm::ceil(decades / most_labels.max(1.0)).max(1.0) as i32;
    let minor = decades < 8.0;
    let mut ticks = Vec::new();
    for power in from..=to {
        for m in 1..10 {
            let at = f64::from(m) * ten(power);
            let in_range = at >= low * (1.0 - 1e-9) && at <= high * (1.0 + 1e-9);
            if !in_range || (m > 1 && !minor) {
                continue;
            }
            let labelled = match m {
                1 => power.rem_euclid(every) == 0,
                2 | 5 => decades < 3.0,
                _ => decades < 0.7,
            };
            ticks.push(Tick { at, label: if labelled { number(at) } else { String::new() } });
        }
    }
    ticks
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_well() {
        for (v, want) in [
            (0.0, "0"),
            (6.9, "6.9"),
            (-62.0, "−62"),
            (0.012_346, "0.01235"),
            (3276.8, "3277"),
            (123_456.0, "123456"),
            (1.2e-9, "1.2·10⁻⁹"),
            (1e7, "10⁷"),
            (9.9999, "10"),
            (-0.0, "0"),
        ] {
            assert_eq!(number(v), want);
        }
    }

    #[test]
    fn shares_are_never_rounded_to_nothing() {
        for (share, want) in [
            (0.002, "below 1 %"),
            (-0.002, "below 1 %"),
            (0.0, "0 %"),
            (-0.0, "0 %"),
            (-0.62, "−62 %"),
            (1.81, "181 %"),
            (f64::NAN, "–"),
        ] {
            assert_eq!(percent(share), want);
        }
    }

    #[test]
    fn coordinates_have_no_negative_zero() {
        assert_eq!(coordinate(-0.001), "0");
        assert_eq!(coordinate(12.30), "12.3");
        assert_eq!(coordinate(100.0), "100");
        assert_eq!(coordinate(f64::NAN), "0");
    }

    fn labels(ticks: &[Tick]) -> Vec<&str> {
        ticks.iter().map(|t| t.label.as_str()).filter(|l| !l.is_empty()).collect()
    }

    #[test]
    fn linear_divisions_are_round() {
        assert_eq!(labels(&linear_ticks(0.0, 1.0, 5.0)), ["0", "0.2", "0.4", "0.6", "0.8", "1.0"]);
        assert_eq!(labels(&linear_ticks(-30.0, 55.0, 5.0)), ["−20", "0", "20", "40"]);
        assert_eq!(labels(&linear_ticks(0.0, 4095.0, 5.0)), ["0", "1000", "2000", "3000", "4000"]);
        assert_eq!(labels(&linear_ticks(0.0, 2.0e-7, 2.0)), ["0", "10⁻⁷", "2·10⁻⁷"]);
        assert!(linear_ticks(1.0, 1.0, 5.0).is_empty());
    }

    #[test]
    fn log_divisions_carry_decades() {
        assert_eq!(labels(&log_ticks(1e-3, 1e3, 10.0)), ["0.001", "0.01", "0.1", "1", "10", "100", "1000"]);
        assert_eq!(labels(&log_ticks(1.0, 30.0, 10.0)), ["1", "2", "5", "10", "20"]);
        assert_eq!(log_ticks(1.0, 10.0, 10.0).len(), 10);
        assert!(log_ticks(0.0, 10.0, 10.0).is_empty());
    }
}

//! Numbers for people: sensible digits, a fitting unit, limits rounded outward, and a real minus sign.

use crate::unit::usual;
use crate::{Dimension, Unit};

/// Digits behind the leading one that a tolerance band earns: its twentieth part is still shown.
const PARTS_OF_BAND: f64 = 20.0;
/// Digits of a value without a band.
const DEFAULT_DIGITS: i32 = 3;
/// A value shows at least and at most so many digits, whatever its band.
const FEWEST_DIGITS: i32 = 2;
const MOST_DIGITS: i32 = 7;
/// Part of a number by which a limit may be printed inward: a thousand times the rounding of long
/// arithmetic and a millionth of any tolerance, so that 22.8 less one rounding prints as 22.8.
const ROUNDING: f64 = 1e-12;
/// Smallest and largest number that prints without an exponent.
const PLAIN: std::ops::Range<f64> = 1e-6..1e9;

/// Value with unit and sensible digits: from the width of the band where there is one, three significant
/// digits (but never fewer than the whole part) otherwise. Takes and prints what is not finite as `—`.
pub fn sensible(si: f64, unit: &Unit, band: Option<(f64, f64)>) -> String {
    with_unit(&plain_in(si, unit, band), unit)
}

/// As [`difference`], with a sign before a number above zero too.
pub fn signed(si: f64, unit: &Unit, band: Option<(f64, f64)>) -> String {
    let text = difference(si, unit, band);
    if si > 0.0 && si.is_finite() { format!("+{text}") } else { text }
}

/// As [`sensible`], of what lies between two values in this unit, such as a margin: between two temperatures there are
/// kelvins, on whichever scale these are read.
pub fn difference(si: f64, unit: &Unit, band: Option<(f64, f64)>) -> String {
    let dimension = unit.dimension();
    match dimension.is_level() {
        true => sensible(si, &Unit::si(dimension.as_difference()), band),
        false => sensible(si, unit, band),
    }
}

/// As [`sensible`] without a band: the value with its unit.
pub fn plain(si: f64, unit: &Unit) -> String {
    sensible(si, unit, None)
}

/// `5.21 A .. 6.63 A`: a range rounded outward, with enough digits to tell its ends apart.
///
/// The printed numbers enclose the range up to the rounding of the arithmetic itself (1e-12).
pub fn range(low: f64, high: f64, unit: &Unit) -> String {
    let (a, b) = (unit.from_si(low), unit.from_si(high));
    if !a.is_finite() || !b.is_finite() {
        let end = |si: f64, x: f64| if x.is_finite() { plain(si, unit) } else { DASH.to_owned() };
        return format!("{} .. {}", end(low, a), end(high, b));
    }
    // The zero of a temperature scale lies far from that of the arithmetic, so the slack is counted in SI.
    let slack = ROUNDING * low.abs().max(high.abs()) / unit.factor();
    let size = a.abs().max(b.abs());
    let decimals = decimals_for(size, Some((b - a).abs()).filter(|width| *width > slack));
    let ends = [outward(a + slack, decimals, false), outward(b - slack, decimals, true)];
    let [low, high] = ends.map(|text| with_unit(&text, unit));
    format!("{low} .. {high}")
}

/// The unit to print a value in: the user's own while it gives a number between 0.01 and 9999, otherwise
/// one of the same family, or of the family that is usual, with a prefix that suits.
pub fn choose_unit(si: f64, dimension: Dimension, like: Option<&Unit>) -> Unit {
    let like = like.filter(|unit| unit.dimension() == dimension);
    let fits = |unit: &Unit| {
        let size = unit.from_si(si).abs();
        si == 0.0 || dimension.is_level() || (0.01..=9999.0).contains(&size)
    };
    if let Some(unit) = like.filter(|unit| fits(unit)) {
        return unit.clone();
    }
    let Some(row) = usual::usual(dimension) else {
        return like.cloned().unwrap_or_else(|| Unit::si(dimension));
    };
    let own = like.and_then(|unit| {
        row.families.iter().find(|family| family.iter().any(|(symbol, _)| *symbol == unit.symbol()))
    });
    let read = |symbol: &str| Unit::parse(symbol).ok().and_then(|unit| unit.fit(dimension));
    let Some(family) = own.or(row.families.first()) else { return Unit::si(dimension) };
    let suits = family.iter().rev().find_map(|(symbol, least)| {
        let unit = read(symbol)?;
        (unit.from_si(si).abs() >= *least).then_some(unit)
    });
    let at_zero = si == 0.0 || !si.is_finite();
    suits.filter(|_| !at_zero).unwrap_or_else(|| Unit::si(dimension))
}

/// What stands in the place of a number that there is not.
const DASH: &str = "—";

fn with_unit(number: &str, unit: &Unit) -> String {
    let symbol = unit.symbol();
    if symbol.is_empty() || number == DASH {
        return number.to_owned();
    }
    // SI brochure, 9th edition, 5.4.3: a space before every unit but the degree of an angle.
    let space = if symbol == "°" { "" } else { " " };
    [number, space, symbol].concat()
}

/// The number alone, without its unit.
fn plain_in(si: f64, unit: &Unit, band: Option<(f64, f64)>) -> String {
    let mut value = unit.from_si(si);
    if !value.is_finite() || !si.is_finite() {
        return DASH.to_owned();
    }
    // What is left over at the zero of a temperature scale is rounding.
    if value.abs() < ROUNDING * (si / unit.factor()).abs() {
        value = 0.0;
    }
    let width = band
        .map(|(low, high)| (unit.from_si(high) - unit.from_si(low)).abs())
        .filter(|width| width.is_finite() && *width > value.abs() * ROUNDING);
    let text = digits(value, decimals_for(value, width));
    // Zeros behind the point tell how wide the band is; without a band they tell nothing.
    if width.is_none() { trimmed(text) } else { text }
}

/// Places behind the point for a number of this size, and a band of this width if there is one.
fn decimals_for(size: f64, band: Option<f64>) -> i32 {
    let leading = if size == 0.0 { 0 } else { exponent(size) };
    match band {
        None if size == 0.0 => 0,
        None => DEFAULT_DIGITS - 1 - leading,
        // A number that is nothing beside its band has no digits of its own to show.
        Some(width) if size.abs() < width / 1e3 => (-exponent(width / PARTS_OF_BAND)).max(0),
        Some(width) => {
            (-exponent(width / PARTS_OF_BAND)).clamp(FEWEST_DIGITS - 1 - leading, MOST_DIGITS - 1 - leading)
        }
    }
}

/// The power of ten of the leading digit.
fn exponent(x: f64) -> i32 {
    libm::floor(libm::log10(x.abs())).clamp(-400.0, 400.0) as i32
}

/// The number with so many places behind the point; very small and very large ones with an exponent.
fn digits(value: f64, decimals: i32) -> String {
    let size = value.abs();
    let text = if size >= PLAIN.end || size != 0.0 && size < PLAIN.start && decimals > MOST_DIGITS {
        let places = usize::try_from(decimals + exponent(value)).unwrap_or(0);
        format!("{value:.places$e}")
    } else {
        format!("{value:.*}", usize::try_from(decimals).unwrap_or(0))
    };
    let zero = text.strip_prefix('-').filter(|rest| rest.bytes().all(|b| matches!(b, b'0' | b'.')));
    match zero {
        Some(zero) => zero.to_owned(),
        None => text.replace('-', "−"),
    }
}

/// Without the zeros at the end of its fraction.
fn trimmed(text: String) -> String {
    if !text.contains('.') || text.contains('e') {
        return text;
    }
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// The number rounded away from the middle of its range, to so many places.
fn outward(value: f64, decimals: i32, up: bool) -> String {
    let nearest = digits(value, decimals);
    let beyond = |text: &str| {
        let read: f64 = text.replace('−', "-").parse().unwrap_or(f64::NAN);
        if up { read >= value } else { read <= value }
    };
    if beyond(&nearest) {
        return nearest;
    }
    // A plain number shows its whole part in full; one with an exponent drops digits of it.
    let places = if value.abs() < PLAIN.end { decimals.max(0) } else { decimals };
    let step = libm::pow(10.0, f64::from(-places));
    let moved = digits(if up { value + step / 2.0 } else { value - step / 2.0 }, decimals);
    if beyond(&moved) { moved } else { digits(if up { value + step } else { value - step }, decimals) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn unit(text: &str) -> Unit {
        Unit::parse(text).expect("a unit")
    }

    #[test]
    fn digits_come_from_the_band() {
        for (si, symbol, band, text) in [
            (5.858_585, "A", Some((5.21, 6.63)), "5.86 A"),
            (24.0, "V", Some((22.8, 25.2)), "24.0 V"),
            (3.65, "Ω", Some((3.285, 4.015)), "3.65 Ω"),
            (5.858_585, "A", None, "5.86 A"),
            (0.62e-3, "mH", None, "0.62 mH"),
            (27e-3, "mN·m", None, "27 mN·m"),
            (32.463_124, "rpm", None, "310 rpm"),
            (298.15, "°C", None, "25 °C"),
            (298.15, "°C", Some((297.15, 299.15)), "25.0 °C"),
            (-0.5, "V", None, "−0.5 V"),
            (-1e-12, "V", Some((-1.0, 1.0)), "0.0 V"),
            (0.0, "V", None, "0 V"),
            (0.0, "V", Some((-1.0, 1.0)), "0.0 V"),
            (123_456.0, "rad/s", None, "123456 rad/s"),
            (3.0, "V", Some((0.0, 100.0)), "3.0 V"),
            (1.0, "V", Some((1.0 - 1e-9, 1.0 + 1e-9)), "1.000000 V"),
            (0.069_813_17, "°", None, "4°"),
            (0.05, "%", None, "5 %"),
            (2e12, "V", None, "2.00e12 V"),
            (2.5e-9, "V", None, "2.50e−9 V"),
            (f64::NAN, "V", None, "—"),
            (f64::INFINITY, "V", None, "—"),
            (5.0, "V", Some((f64::NEG_INFINITY, f64::INFINITY)), "5 V"),
        ] {
            assert_eq!(sensible(si, &unit(symbol), band), text);
        }
        assert_eq!(sensible(0.82, &Unit::one(), None), "0.82");
        assert_eq!(signed(0.5, &unit("V"), None), "+0.5 V");
        assert_eq!(signed(-0.5, &unit("V"), None), "−0.5 V");
        // 101 K from 24 °C to 125 °C.
        assert_eq!(signed(101.0, &unit("°C"), None), "+101 K");
        assert_eq!(difference(-4.5, &unit("°C"), None), "−4.5 K");
        assert_eq!(plain(273.15, &unit("°C")), "0 °C");
        assert_eq!(signed(0.0, &unit("V"), None), "0 V");
        assert_eq!(signed(f64::NAN, &unit("V"), None), "—");
    }

    #[test]
    fn ranges_round_outward() {
        for (low, high, symbol, text) in [
            (5.2141, 6.6259, "A", "5.21 A .. 6.63 A"),
            (5.2199, 6.6201, "A", "5.21 A .. 6.63 A"),
            (8.0, 28.0, "V", "8 V .. 28 V"),
            (22.8_f64.next_down(), 25.2_f64.next_up(), "V", "22.8 V .. 25.2 V"),
            (263.149_999_999_999_4, 313.150_000_000_000_6, "°C", "−10 °C .. 40 °C"),
            (-0.151, 0.151, "V", "−0.16 V .. 0.16 V"),
            (5.861_23, 5.861_23, "A", "5.86 A .. 5.87 A"),
            (4.499_6, 4.500_4, "A", "4.49960 A .. 4.50040 A"),
            (1.234_56e12, 5.678_9e12, "V", "1.2e12 V .. 5.7e12 V"),
            (f64::NEG_INFINITY, 3.0, "V", "— .. 3 V"),
            (0.0, 0.0, "V", "0 V .. 0 V"),
        ] {
            assert_eq!(range(low, high, &unit(symbol)), text);
        }
    }

    #[test]
    fn units_are_chosen_for_reading() {
        use Dimension as D;
        for (si, dimension, like, text) in [
            (5.86, D::CURRENT, None, "5.86 A"),
            (0.0586, D::CURRENT, None, "58.6 mA"),
            (0.62e-3, D::INDUCTANCE, Some("mH"), "0.62 mH"),
            (0.62e-3, D::INDUCTANCE, None, "620 µH"),
            (0.18, D::RESISTANCE, None, "180 mΩ"),
            (27e-3, D::TORQUE, None, "27 mN·m"),
            (32.463_124, D::ANGULAR_SPEED, Some("rpm"), "310 rpm"),
            (2617.994, D::ANGULAR_SPEED, Some("rpm"), "25 krpm"),
            (32.463_124, D::ANGULAR_SPEED, None, "32.5 rad/s"),
            (298.15, D::TEMPERATURE, None, "25 °C"),
            (268.15, D::TEMPERATURE, None, "−5 °C"),
            (5e-6, D::VOLTAGE, Some("V"), "5 µV"),
            (-5e-6, D::VOLTAGE, Some("V"), "−5 µV"),
            (0.0, D::VOLTAGE, Some("mV"), "0 mV"),
            (0.0, D::VOLTAGE, None, "0 V"),
            (5.2e-6, D::INERTIA, None, "52 g·cm²"),
            (0.8, D::NONE, Some("%"), "80 %"),
            (0.8, D::NONE, None, "0.8"),
            (5.0, D::VOLTAGE, Some("mA"), "5 V"),
            (0.069_813_17, D::ANGLE, None, "4°"),
            (250e-3, D::TIME, None, "250 ms"),
            (0.18, D::RESISTANCE, Some("mV/A"), "180 mV/A"),
            (12.0, D::RESISTANCE, Some("mV/A"), "12 V/A"),
        ] {
            let like = like.map(unit);
            assert_eq!(plain(si, &choose_unit(si, dimension, like.as_ref())), text);
        }
        assert_eq!(choose_unit(f64::NAN, D::VOLTAGE, None).symbol(), "V");
        let wheel = unit("mm").fit(D::TRAVEL_PER_ANGLE).expect("a radius");
        assert_eq!(plain(0.045, &choose_unit(0.045, D::TRAVEL_PER_ANGLE, Some(&wheel))), "45 mm");
    }

    proptest! {
        /// What is printed encloses what is meant, up to the rounding that is allowed for.
        #[test]
        fn printed_ranges_enclose(
            a in prop_oneof![-1e4..1e4_f64, -1e-5..1e-5_f64, Just(0.0)],
            width in prop_oneof![0.0..1e4_f64, 0.0..1e-3_f64, 0.0..1e-9_f64],
            symbol in prop::sample::select(vec!["V", "mV", "rpm", "°C", "g·cm²", "%", "kV"]),
        ) {
            let unit = unit(symbol);
            let (low, high) = (unit.to_si(a), unit.to_si(a + width));
            let text = range(low, high, &unit).replace('−', "-");
            let ends: Vec<f64> = text
                .split("..")
                .map(|end| end.trim().trim_end_matches(symbol).trim().parse().expect("a number"))
                .map(|value: f64| unit.to_si(value))
                .collect();
            // The reader's own rounding comes on top.
            let slack = 1.1e-12 * low.abs().max(high.abs());
            prop_assert!(ends[0] <= low + slack && ends[1] >= high - slack, "{} for {:e} .. {:e}", text, low, high);
            // And it does not give away more than a fifth of the range, or a hundredth of its size.
            let spare = (0.2 * (high - low)).max(0.02 * low.abs().max(high.abs())) + 1e-300;
            prop_assert!(low - ends[0] <= spare && ends[1] - high <= spare, "{} for {:e} .. {:e}", text, low, high);
        }

        #[test]
        fn nothing_panics(bits in any::<u64>(), other in any::<u64>(), third in any::<u64>()) {
            let [x, a, b] = [bits, other, third].map(f64::from_bits);
            for symbol in ["V", "rpm", "°C", "%", "µF"] {
                let unit = unit(symbol);
                let _ = sensible(x, &unit, Some((a, b)));
                let _ = range(a, b, &unit);
                let _ = choose_unit(x, unit.dimension(), Some(&unit));
            }
        }
    }
}

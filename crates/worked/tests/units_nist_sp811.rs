//! Unit factors against published tables, with the source of each.
//!
//! "SP 811" is NIST Special Publication 811, 2008 edition, appendix B.8, whose factors are given to seven
//! digits where they are not exact; the figures were written down from memory and each rounded one is derived
//! again below from exact definitions. "SI brochure" is the 9th edition of 2019.

use worked::{Dimension as D, Quantity, Unit};

/// Exact by definition, so only the rounding of arithmetic may show.
const EXACT: f64 = 4.0 * f64::EPSILON;
/// Printed to seven digits.
const SEVEN_DIGITS: f64 = 5e-7;

#[test]
#[allow(clippy::approx_constant, reason = "2π stands here as it is printed, to seven digits")]
fn factors_match_the_published_ones() {
    let pi = std::f64::consts::PI;
    for (text, wanted, si, tolerance, source) in [
        ("1 in", D::LENGTH, 0.0254, EXACT, "SP 811: inch, exact"),
        ("1 ft", D::LENGTH, 0.3048, EXACT, "SP 811: foot, exact"),
        ("1 lb", D::MASS, 0.453_592_37, EXACT, "SP 811: pound (avoirdupois), exact"),
        ("1 oz", D::MASS, 2.834_952e-2, SEVEN_DIGITS, "SP 811: ounce (avoirdupois)"),
        ("1 kgf", D::FORCE, 9.806_65, EXACT, "SP 811: kilogram-force, exact"),
        ("1 gf", D::FORCE, 9.806_65e-3, EXACT, "SP 811: kilogram-force / 1000"),
        ("1 lbf", D::FORCE, 4.448_222, SEVEN_DIGITS, "SP 811: pound-force"),
        ("1 ozf", D::FORCE, 2.780_139e-1, SEVEN_DIGITS, "SP 811: ounce-force"),
        ("1 kgf·m", D::TORQUE, 9.806_65, EXACT, "SP 811: kilogram-force metre, exact"),
        ("1 kgf·cm", D::TORQUE, 9.806_65e-2, EXACT, "SP 811: kilogram-force metre / 100"),
        ("1 gf·cm", D::TORQUE, 9.806_65e-5, EXACT, "SP 811: kilogram-force metre / 100 000"),
        ("1 ozf·in", D::TORQUE, 7.061_552e-3, SEVEN_DIGITS, "SP 811: ounce-force inch"),
        (
            "1 oz·in",
            D::TORQUE,
            7.061_552e-3,
            SEVEN_DIGITS,
            "SP 811: ounce-force inch, as the trade writes it",
        ),
        ("1 lbf·in", D::TORQUE, 0.112_984_8, SEVEN_DIGITS, "SP 811: pound-force inch"),
        ("1 lbf·ft", D::TORQUE, 1.355_818, SEVEN_DIGITS, "SP 811: pound-force foot"),
        ("1 lb·in²", D::INERTIA, 2.926_397e-4, SEVEN_DIGITS, "SP 811: pound inch squared"),
        ("1 lb·ft²", D::INERTIA, 4.214_011e-2, SEVEN_DIGITS, "SP 811: pound foot squared"),
        ("1 oz·in²", D::INERTIA, 2.926_397e-4 / 16.0, SEVEN_DIGITS, "SP 811: pound inch squared / 16"),
        ("1 lbf/in", D::STIFFNESS, 1.751_268e2, SEVEN_DIGITS, "SP 811: pound-force per inch"),
        ("1 rpm", D::ANGULAR_SPEED, pi / 30.0, EXACT, "SP 811: revolution per minute, 1.047 198 E-01"),
        ("1 rpm", D::ANGULAR_SPEED, 1.047_198e-1, SEVEN_DIGITS, "SP 811: revolution per minute"),
        ("1 rev", D::ANGLE, 6.283_185, SEVEN_DIGITS, "SP 811: revolution"),
        ("1°", D::ANGLE, 1.745_329e-2, SEVEN_DIGITS, "SP 811: degree (angle)"),
        ("1 arcmin", D::ANGLE, 2.908_882e-4, SEVEN_DIGITS, "SP 811: minute (angle)"),
        ("1 arcsec", D::ANGLE, 4.848_137e-6, SEVEN_DIGITS, "SP 811: second (angle)"),
        ("1 min", D::TIME, 60.0, EXACT, "SI brochure, table 8"),
        ("1 h", D::TIME, 3600.0, EXACT, "SI brochure, table 8"),
        ("1 A·h", D::CHARGE, 3600.0, EXACT, "SP 811: ampere hour, exact"),
        ("1 W·h", D::ENERGY, 3600.0, EXACT, "SP 811: watt hour, exact"),
        ("1 kW·h", D::ENERGY, 3.6e6, EXACT, "SP 811: kilowatt hour, exact"),
        ("1 ft/s²", D::ACCELERATION, 0.3048, EXACT, "SP 811: foot per second squared, exact"),
        ("0 °C", D::TEMPERATURE, 273.15, EXACT, "SP 811, B.8: T/K = t/°C + 273.15"),
        ("212 °F", D::TEMPERATURE, 373.15, EXACT, "SP 811, B.8: T/K = (t/°F + 459.67)/1.8"),
        ("1.8 °F", D::TEMPERATURE_DIFFERENCE, 1.0, EXACT, "SP 811, B.8: an interval of 1 °F is 1/1.8 K"),
        ("1 °C/W", D::THERMAL_RESISTANCE, 1.0, EXACT, "an interval of 1 °C is 1 K"),
        ("1 V/krpm", D::MACHINE_CONSTANT, 0.03 / pi, EXACT, "from rpm = π/30 rad/s: 9.549 297e-3 V·s/rad"),
        ("1 mN·m/krpm", D::VISCOUS_FRICTION, 3e-5 / pi, EXACT, "from rpm = π/30 rad/s"),
        ("1 rpm/V", D::SPEED_CONSTANT, pi / 30.0, EXACT, "from rpm = π/30 rad/s"),
        ("1/rev", D::PER_ANGLE, 0.5 / pi, EXACT, "one mark a turn"),
        ("1 ppm/K", D::PER_KELVIN, 1e-6, EXACT, "parts per million"),
    ] {
        // `1/rev` is the unit itself, everything else a quantity.
        let quantity = match text {
            "1/rev" => Quantity::parse("1 1/rev", wanted),
            _ => Quantity::parse(text, wanted),
        };
        let got = quantity.unwrap_or_else(|e| panic!("{text}: {e}")).nominal.expect("a value");
        assert!((got / si - 1.0).abs() <= tolerance, "{text}: {got:e}, want {si:e} ({source})");
    }
}

/// Every rounded factor of the table above again, from exact definitions alone.
#[test]
fn derived_factors_follow_from_the_definitions() {
    const INCH: f64 = 0.0254;
    const POUND: f64 = 0.453_592_37;
    const GRAVITY: f64 = 9.806_65;
    for (symbol, si) in [
        ("lbf", POUND * GRAVITY),
        ("ozf", POUND / 16.0 * GRAVITY),
        ("ozf·in", POUND / 16.0 * GRAVITY * INCH),
        ("lbf·in", POUND * GRAVITY * INCH),
        ("lbf·ft", POUND * GRAVITY * 12.0 * INCH),
        ("oz", POUND / 16.0),
        ("oz·in²", POUND / 16.0 * INCH * INCH),
        ("lb·in²", POUND * INCH * INCH),
        ("lb·ft²", POUND * 144.0 * INCH * INCH),
        ("lbf/in", POUND * GRAVITY / INCH),
        ("rev", std::f64::consts::TAU),
        ("°", std::f64::consts::TAU / 360.0),
        ("arcmin", std::f64::consts::TAU / 360.0 / 60.0),
        ("arcsec", std::f64::consts::TAU / 360.0 / 3600.0),
        ("rpm", std::f64::consts::TAU / 60.0),
    ] {
        let factor = Unit::parse(symbol).expect("a unit").factor();
        assert!((factor / si - 1.0).abs() <= EXACT, "{symbol}: {factor:e}, want {si:e}");
    }
}

/// SI brochure, 9th edition, table 7: each prefix on each decimal unit is exactly the decimal shifted.
#[test]
fn prefixes_shift_the_decimal_point() {
    for (prefix, exponent) in
        [("p", -12), ("n", -9), ("µ", -6), ("m", -3), ("", 0), ("k", 3), ("M", 6), ("G", 9)]
    {
        for (unit, dimension) in
            [("V", D::VOLTAGE), ("A", D::CURRENT), ("Ω", D::RESISTANCE), ("F", D::CAPACITANCE)]
        {
            for digits in ["1", "0.62", "4.7", "123.456", "33"] {
                let text = format!("{digits} {prefix}{unit}");
                let want: f64 = format!("{digits}e{exponent}").parse().expect("a number");
                assert_eq!(Quantity::parse(&text, dimension).map(|q| q.nominal), Ok(Some(want)), "{text}");
            }
        }
    }
}

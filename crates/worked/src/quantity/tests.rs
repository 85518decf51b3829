use super::*;
use Dimension as D;

fn quantity(text: &str, wanted: D) -> Quantity {
    Quantity::parse(text, wanted).unwrap_or_else(|error| panic!("{text}: {error}"))
}

/// A limit that decimal arithmetic gives as `exact`: itself where binary holds it, else one step outward.
fn down(exact: f64) -> Option<f64> {
    Some(exact.next_down())
}
fn up(exact: f64) -> Option<f64> {
    Some(exact.next_up())
}

#[test]
fn values_are_the_nearest_number() {
    for (text, wanted, si) in [
        ("24 V", D::VOLTAGE, 24.0),
        ("12V", D::VOLTAGE, 12.0),
        ("12_000 V", D::VOLTAGE, 12e3),
        ("0.62 mH", D::INDUCTANCE, 0.62e-3),
        ("0.6 µs", D::TIME, 0.6e-6),
        ("310 mΩ", D::RESISTANCE, 0.31),
        ("1e-3 A", D::CURRENT, 1e-3),
        ("−40 °C", D::TEMPERATURE, 233.15),
        ("25 °C", D::TEMPERATURE, 298.15),
        ("60 K", D::TEMPERATURE_DIFFERENCE, 60.0),
        ("60 °C", D::TEMPERATURE_DIFFERENCE, 60.0),
        ("27 mN·m", D::TORQUE, 27e-3),
        ("52 g·cm²", D::INERTIA, 52e-7),
        ("45 mm", D::TRAVEL_PER_ANGLE, 45e-3),
        ("80 %", D::NONE, 0.8),
        ("0.02", D::NONE, 0.02),
        ("+.5 A", D::CURRENT, 0.5),
        ("4°", D::ANGLE, 4.0_f64.to_radians()),
        ("0.39 %/K", D::PER_KELVIN, 0.0039),
        ("0.0039/K", D::PER_KELVIN, 0.0039),
    ] {
        let read = quantity(text, wanted);
        assert_eq!(read.nominal, Some(si), "{text}");
        assert_eq!((read.low, read.high, read.relative), (None, None, false), "{text}");
        assert_eq!(read.dimension(), wanted, "{text}");
        assert_eq!(read.to_string(), text);
    }
}

#[test]
fn limits_are_rounded_outward() {
    for (text, wanted, nominal, low, high, relative) in [
        ("24 V ± 5 %", D::VOLTAGE, Some(24.0), down(22.8), up(25.2), true),
        ("24 V +/- 5%", D::VOLTAGE, Some(24.0), down(22.8), up(25.2), true),
        ("24V±1V", D::VOLTAGE, Some(24.0), Some(23.0), Some(25.0), false),
        ("24 ± 1 V", D::VOLTAGE, Some(24.0), Some(23.0), Some(25.0), false),
        ("24 V ± 500 mV", D::VOLTAGE, Some(24.0), Some(23.5), Some(24.5), false),
        ("-24 V ± 50 %", D::VOLTAGE, Some(-24.0), Some(-36.0), Some(-12.0), true),
        ("8 .. 28 V", D::VOLTAGE, None, Some(8.0), Some(28.0), false),
        ("8V..28V", D::VOLTAGE, None, Some(8.0), Some(28.0), false),
        ("8 … 28 V", D::VOLTAGE, None, Some(8.0), Some(28.0), false),
        ("500 mV .. 1.5 V", D::VOLTAGE, None, Some(0.5), Some(1.5), false),
        ("4.75 .. 5.25 V", D::VOLTAGE, None, Some(4.75), Some(5.25), false),
        ("-10 .. 40 °C", D::TEMPERATURE, None, down(263.15), up(313.15), false),
        ("25 °C ± 5 K", D::TEMPERATURE, Some(298.15), down(293.15), up(303.15), false),
        ("25 ± 5 °C", D::TEMPERATURE, Some(298.15), down(293.15), up(303.15), false),
        ("0 .. 40 kHz", D::FREQUENCY, None, Some(0.0), Some(40e3), false),
        ("70 .. 85 %", D::NONE, None, down(0.70), up(0.85), false),
        ("0.02 ± 20 %", D::NONE, Some(0.02), down(0.016), up(0.024), true),
        ("0.5 ± 0.25", D::NONE, Some(0.5), Some(0.25), Some(0.75), false),
        ("24 V +1 V -2 V", D::VOLTAGE, Some(24.0), Some(22.0), Some(25.0), false),
        ("24 V -2 V +1 V", D::VOLTAGE, Some(24.0), Some(22.0), Some(25.0), false),
        ("24 +1/-2 V", D::VOLTAGE, Some(24.0), Some(22.0), Some(25.0), false),
        ("24 V +0 -2 V", D::VOLTAGE, Some(24.0), Some(22.0), Some(24.0), false),
        ("24 V +50 % / -25 %", D::VOLTAGE, Some(24.0), Some(18.0), Some(36.0), true),
        ("8 MHz ± 50 ppm", D::FREQUENCY, Some(8e6), Some(7_999_600.0), Some(8_000_400.0), true),
        ("500 counts ± 1 %", D::NONE, Some(500.0), Some(495.0), Some(505.0), true),
    ] {
        let read = quantity(text, wanted);
        assert_eq!(
            (read.nominal, read.low, read.high, read.relative),
            (nominal, low, high, relative),
            "{text}"
        );
    }
}

#[test]
fn limits_in_other_units_enclose() {
    for (text, wanted, low, high) in [
        ("300 rpm ± 10 rpm", D::ANGULAR_SPEED, 290.0, 310.0),
        ("300 rpm ± 10 %", D::ANGULAR_SPEED, 270.0, 330.0),
        ("290 .. 310 rpm", D::ANGULAR_SPEED, 290.0, 310.0),
    ] {
        let read = quantity(text, wanted);
        let (got_low, got_high) = (read.low.expect("a limit"), read.high.expect("a limit"));
        let [low, high] = [low, high].map(|x| x * std::f64::consts::PI / 30.0);
        assert!(got_low <= low && low - got_low < 1e-13 * low, "{text}");
        assert!(got_high >= high && got_high - high < 1e-13 * high, "{text}");
    }
}

#[test]
fn errors_name_the_part_and_the_way_out() {
    for (text, wanted, part, says, fix) in [
        ("0.5 mHz", D::INDUCTANCE, "mHz", "measures frequency; wanted is inductance", None),
        ("24", D::VOLTAGE, "24", "no unit", None),
        ("0", D::VOLTAGE, "0", "no unit", None),
        ("24 V ± 1", D::VOLTAGE, "1", "no unit", None),
        ("8 V .. 28", D::VOLTAGE, "28", "no unit", Some("28 V")),
        ("78 % ± 5 %", D::NONE, "5 %", "two things", None),
        ("100 ppm ± 5 %", D::NONE, "5 %", "two things", None),
        ("25 °C ± 5 %", D::TEMPERATURE, "5 %", "zero is a choice", None),
        ("60 K", D::TEMPERATURE, "K", "measures temperature difference", None),
        ("25 C", D::TEMPERATURE, "C", "measures charge", Some("°C")),
        ("28 .. 8 V", D::VOLTAGE, "28 .. 8 V", "down to", None),
        ("8 to 28 V", D::VOLTAGE, "to", "cannot stand", Some("..")),
        ("8–28 V", D::VOLTAGE, "–", "cannot stand", Some("..")),
        ("12 000 rpm", D::ANGULAR_SPEED, "12 000", "space", Some("12_000")),
        ("3,3 V", D::VOLTAGE, "3,3", "comma", Some("3.3")),
        ("3.3 V, typical", D::VOLTAGE, ",", "cannot stand", None),
        ("24 V ± 5 % ± 2 %", D::VOLTAGE, "± 2 %", "cannot follow", None),
        ("24 V ± -5 %", D::VOLTAGE, "-5", "no sign", None),
        ("24 V + 5 %", D::VOLTAGE, "5 %", "one side", None),
        ("24 V +5 % -1 V", D::VOLTAGE, "5 %", "per cent and the other", None),
        ("24 V ± 5 A", D::VOLTAGE, "A", "measures current; wanted is voltage", None),
        ("NaN V", D::VOLTAGE, "NaN", "finite", None),
        ("inf V", D::VOLTAGE, "inf", "finite", None),
        ("1e999 V", D::VOLTAGE, "1e999", "too large", None),
        ("1e308 kV", D::VOLTAGE, "1e308 kV", "too large", None),
        ("1e-320 pF", D::CAPACITANCE, "1e-320 pF", "too small", None),
        ("1e300 V ± 1e200 %", D::VOLTAGE, "1e300 V ± 1e200 %", "too large", None),
        ("300 Rpm", D::ANGULAR_SPEED, "Rpm", "not a unit", Some("rpm")),
        ("5 nm", D::TORQUE, "nm", "measures length", None),
        ("25 ˚C", D::TEMPERATURE, "˚C", "not a unit", Some("°C")),
        ("24 VDC", D::VOLTAGE, "VDC", "not a unit", Some("V")),
        ("V", D::VOLTAGE, "V", "not a number", None),
        ("", D::VOLTAGE, "", "missing", None),
        ("24 V ±", D::VOLTAGE, "", "missing", None),
        ("8 ..", D::VOLTAGE, "", "missing", None),
        ("20 AWG", D::LENGTH, "AWG", "area of a wire; wanted is length", None),
        ("20 awg", D::AREA, "awg", "capitals", Some("AWG")),
        ("57 AWG", D::AREA, "57", "no gauge", None),
        ("5/0 AWG", D::AREA, "5/0", "no gauge", None),
        ("20 AWG ± 5 %", D::AREA, "20 AWG ± 5 %", "no wire gauge", None),
        ("3/0", D::NONE, "0", "below the line", None),
    ] {
        let error = Quantity::parse(text, wanted).map(|q| q.to_string()).expect_err(text);
        assert_eq!(&text[error.range.clone()], part, "{text}: {error}");
        assert!(error.message.contains(says), "{text}: {error}");
        assert_eq!(error.fix.as_deref(), fix, "{text}: {error}");
        if let Some(fix) = fix {
            let mended = [&text[..error.range.start], fix, &text[error.range.end..]].concat();
            quantity(&mended, wanted);
        }
    }
    let long = "1".repeat(300);
    assert_eq!(Quantity::parse(&long, D::NONE).expect_err("long").range, 0..300);
}

#[test]
fn helps_give_units_and_both_meanings() {
    let help = |text: &str, wanted| Quantity::parse(text, wanted).expect_err(text).help.join("\n");
    assert!(help("24", D::VOLTAGE).contains("V, µV, mV or kV"));
    assert!(help("78 % ± 5 %", D::NONE).contains("73 .. 83 %, or 74.1 .. 81.9 %"));
    assert!(help("5 nm", D::TORQUE).contains("`N·m`"));
    assert!(help("60 K", D::TEMPERATURE).contains("°C"));
    assert!(help("3000 1/min", D::ANGULAR_SPEED).contains("rpm"));
    assert!(help("100 rpm/V", D::MACHINE_CONSTANT).contains("10 V/krpm"));
    assert!(help("5 A max", D::CURRENT).contains("as a table"));
    assert!(help("5 A min", D::CURRENT).contains("as a table"));
    assert!(help("512 CPR", D::PER_ANGLE).contains("lines/rev"));
    assert!(help("28 .. 8 V", D::VOLTAGE).contains("8 .. 28 V"));
    assert!(help("28 V .. 800 mV", D::VOLTAGE).contains("800 mV .. 28 V"));
}

#[test]
fn gauges_are_areas() {
    use crate::conductors::awg_area;
    for (text, gauge) in
        [("20 AWG", 20), ("AWG 20", 20), ("20AWG", 20), ("AWG20", 20), ("1/0 AWG", 0), ("4/0 AWG", -3)]
    {
        let read = quantity(text, D::AREA);
        assert_eq!((read.nominal, read.unit.symbol()), (Some(awg_area(gauge)), "mm²"), "{text}");
    }
    for text in ["24 .. 20 AWG", "20 .. 24 AWG", "AWG 20..24"] {
        let read = quantity(text, D::AREA);
        let (low, high) = (read.low.expect("a limit"), read.high.expect("a limit"));
        assert!(low < awg_area(24) && high > awg_area(20), "{text}");
        assert_eq!(read.nominal, None);
    }
    assert_eq!(Quantity::parse_any("20 AWG").map(|q| q.dimension()), Ok(D::AREA));
}

#[test]
fn fractions_are_exact() {
    let read = quantity("26 20/21", D::NONE);
    let exact = 566.0 / 21.0;
    assert_eq!(read.nominal, Some(exact));
    assert!(read.low.is_some_and(|low| low < exact && exact - low < 1e-13));
    assert_eq!(quantity("27/3", D::NONE).low, Some(9.0));
    assert!(Quantity::parse("26 20/21", D::LENGTH).is_err());
}

#[test]
fn whatever_the_unit_measures() {
    for (text, dimension) in [
        ("24 V ± 5 %", D::VOLTAGE),
        ("8 .. 28 V", D::VOLTAGE),
        ("25 °C ± 5 K", D::TEMPERATURE),
        ("3", D::NONE),
        ("27 mN·m", D::TORQUE),
    ] {
        assert_eq!(Quantity::parse_any(text).map(|q| q.dimension()), Ok(dimension), "{text}");
    }
    assert!(Quantity::parse_any("8 V .. 28 A").is_err());
}

#[test]
fn speed_constants_turn_into_back_emf_constants() {
    let speed = quantity("100 rpm/V ± 10 %", D::SPEED_CONSTANT);
    let back_emf = speed.reciprocal().expect("not zero");
    // 100 rpm/V is 0.01 V/rpm, that is 0.01·30/π V·s/rad.
    let expected = 0.3 / std::f64::consts::PI;
    assert_eq!((back_emf.dimension(), back_emf.unit.symbol()), (D::MACHINE_CONSTANT, "V/krpm"));
    assert!(back_emf.nominal.is_some_and(|k| (k / expected - 1.0).abs() < 1e-14));
    assert!(back_emf.low.is_some_and(|k| k < expected / 1.1 && k > expected / 1.1001));
    assert!(back_emf.high.is_some_and(|k| k > expected / 0.9 && k < expected / 0.8999));
    assert!(quantity("-1 .. 1 V", D::VOLTAGE).reciprocal().is_none());
    assert!(quantity("20 °C", D::TEMPERATURE).reciprocal().is_none());
}

#[test]
fn a_lead_is_a_travel_for_a_turn() {
    for text in ["4 mm", "4 mm/rev"] {
        let lead = Quantity::parse_lead(text).expect("reads");
        assert_eq!((lead.dimension(), lead.unit.symbol()), (D::TRAVEL_PER_ANGLE, "mm/rev"), "{text}");
        let expected = 4e-3 / std::f64::consts::TAU;
        assert!(lead.nominal.is_some_and(|x| (x / expected - 1.0).abs() < 1e-15), "{text}");
    }
    let limits = Quantity::parse_lead("4 mm ± 0.01 mm").expect("reads");
    assert!(limits.low.is_some_and(|x| x < 3.99e-3 / std::f64::consts::TAU));
    assert!(
        Quantity::parse_lead("4 A").expect_err("no length").message.contains("wanted is travel per angle")
    );
}

#[test]
fn the_long_form() {
    let parts = Parts {
        value: Some("2.0 A"),
        min: Some("1.7 A"),
        max: Some("2.4 A"),
        u: Some("0.1 A"),
        ..Parts::default()
    };
    let read = Quantity::from_parts(&parts, D::CURRENT).expect("reads");
    assert_eq!((read.nominal, read.low, read.high), (Some(2.0), down(1.7), up(2.4)));
    assert_eq!(read.standard_uncertainty, Some(0.1));
    assert_eq!(read.to_string(), "2.0 A (1.7 A .. 2.4 A, u = 0.1 A)");

    let read = |parts: Parts<'_>| Quantity::from_parts(&parts, D::CURRENT);
    let one_sided =
        read(Parts { typ: Some("2.0 A"), max: Some("2500 mA"), ..Parts::default() }).expect("reads");
    assert_eq!((one_sided.nominal, one_sided.low, one_sided.high), (Some(2.0), None, Some(2.5)));
    let whole = read(Parts { min: Some("1 A"), max: Some("2 A"), ..Parts::default() }).expect("reads");
    assert_eq!((whole.nominal, whole.low, whole.high), (None, Some(1.0), Some(2.0)));
    assert_eq!(whole.to_string(), "1 A .. 2 A");
    let only_max = read(Parts { max: Some("3 A"), ..Parts::default() }).expect("reads");
    assert_eq!((only_max.nominal, only_max.low, only_max.high), (None, None, Some(3.0)));
    assert_eq!(only_max.to_string(), "max 3 A");
    let tolerance =
        read(Parts { value: Some("2 A ± 50 %"), u: Some("5 %"), ..Parts::default() }).expect("reads");
    assert_eq!((tolerance.low, tolerance.high, tolerance.relative), (Some(1.0), Some(3.0), true));
    assert_eq!(tolerance.standard_uncertainty, Some(0.1));

    let level = Parts { value: Some("25 °C"), u: Some("2 K"), ..Parts::default() };
    let level = Quantity::from_parts(&level, D::TEMPERATURE).expect("reads");
    assert_eq!(level.standard_uncertainty, Some(2.0));
}

#[test]
fn the_long_form_says_which_key_is_wrong() {
    let some = Some;
    for (parts, key, says) in [
        (Parts { value: some("2 A"), min: some("2.1 A"), ..Parts::default() }, "min", "above `value`"),
        (Parts { typ: some("2 A"), max: some("1.9 A"), ..Parts::default() }, "max", "below `typ`"),
        (Parts { min: some("3 A"), max: some("2 A"), ..Parts::default() }, "min", "above `max`"),
        (Parts { value: some("2 A"), typ: some("2 A"), ..Parts::default() }, "typ", "one thing"),
        (
            Parts { value: some("2 A ± 5 %"), max: some("3 A"), ..Parts::default() },
            "value",
            "limits stand here",
        ),
        (Parts { value: some("2 A"), max: some("3 A ± 1 A"), ..Parts::default() }, "max", "one number"),
        (Parts { value: some("2 A"), max: some("1 .. 3 A"), ..Parts::default() }, "max", "one number"),
        (Parts { u: some("0.1 A"), ..Parts::default() }, "u", "no value"),
        (Parts { max: some("2 A"), u: some("0.1 A"), ..Parts::default() }, "u", "belongs to a value"),
        (Parts { value: some("1 .. 2 A"), u: some("0.1 A"), ..Parts::default() }, "u", "belongs to a value"),
        (Parts { value: some("2 A"), u: some("-0.1 A"), ..Parts::default() }, "u", "above zero"),
        (Parts { value: some("2 A"), u: some("0.1 V"), ..Parts::default() }, "u", "measures voltage"),
        (Parts { value: some("2 A"), min: some("1"), ..Parts::default() }, "min", "no unit"),
        (Parts { value: some("2 V"), ..Parts::default() }, "value", "measures voltage"),
        (Parts::default(), "value", "no value"),
    ] {
        let error = Quantity::from_parts(&parts, D::CURRENT).map(|q| q.to_string()).expect_err(key);
        assert_eq!(error.key, key, "{error}");
        assert!(error.to_string().contains(says), "{error}");
    }
}

use super::*;
use Dimension as D;
use proptest::prelude::*;

fn unit(text: &str) -> Unit {
    Unit::parse(text).unwrap_or_else(|error| panic!("{text}: {error}"))
}

/// Every word that is a unit, with every prefix it takes.
fn words() -> Vec<String> {
    let prefixed = table::ATOMS.iter().flat_map(|atom| {
        let with = table::PREFIXES.iter().filter(|prefix| table::takes(atom, prefix));
        std::iter::once(atom.symbol.to_owned())
            .chain(with.map(|prefix| format!("{}{}", prefix.symbol, atom.symbol)))
    });
    prefixed.chain(table::JOINED.iter().map(|(word, _)| (*word).to_owned())).collect()
}

#[test]
fn spellings_of_one_unit_are_one_unit() {
    for (shown, spellings) in [
        ("mN·m", &["mN·m", "mN⋅m", "mN*m", "mN.m", "mN m", "mNm", "mN-m", " mN · m ", "mN × m"][..]),
        ("g·cm²", &["g·cm²", "g*cm^2", "g.cm2", "gcm²", "gcm2", "g cm²", "g·cm·cm"]),
        ("µH", &["µH", "μH", "uH"]),
        ("Ω", &["Ω", "\u{2126}", "ohm"]),
        ("kΩ", &["kΩ", "k\u{2126}", "kohm"]),
        ("m/s²", &["m/s²", "m/s^2", "m/s2", "m·s⁻²", "m s^-2", "m/s/s", "m/(s·s)"]),
        ("1/K", &["1/K", "/K", "K⁻¹", "K^-1", "K^−1"]),
        ("N·m·s/rad", &["N·m·s/rad", "N·m/(rad/s)", "Nms/rad"]),
        ("°/s", &["°/s", "deg/s", "deg·s^-1"]),
        ("°C/W", &["°C/W", "degC/W", "℃/W"]),
        ("rev/min", &["rev/min", "r/min", "turns/min"]),
        ("oz·in²", &["oz·in²", "oz-in²", "oz*in^2", "oz in2", "ozin²"]),
        ("W/(m·K)", &["W/(m·K)", "W/m/K", "W·m⁻¹·K⁻¹"]),
        ("A·h", &["A·h", "Ah"]),
        ("kW·h", &["kW·h", "kWh"]),
    ] {
        for spelling in spellings {
            assert_eq!(unit(spelling).symbol(), shown, "{spelling}");
            assert_eq!(unit(spelling), unit(shown), "{spelling}");
        }
    }
}

#[test]
fn units_measure_what_the_trade_means() {
    for (text, dimension) in [
        ("N·m", D::TORQUE),
        ("kgf·cm", D::TORQUE),
        ("lbf·ft", D::TORQUE),
        ("J/rad", D::TORQUE),
        ("J", D::ENERGY),
        ("W·h", D::ENERGY),
        ("N/mm", D::STIFFNESS),
        ("N·m/deg", D::TORSIONAL_STIFFNESS),
        ("N·m·s/rad", D::VISCOUS_FRICTION),
        ("mN·m/krpm", D::VISCOUS_FRICTION),
        ("mN·m/A", D::MACHINE_CONSTANT),
        ("V·s/rad", D::MACHINE_CONSTANT),
        ("V/krpm", D::MACHINE_CONSTANT),
        ("V/rpm", D::MACHINE_CONSTANT),
        ("rpm/V", D::SPEED_CONSTANT),
        ("rev/s", D::ANGULAR_SPEED),
        ("counts/rev", D::PER_ANGLE),
        ("1/rev", D::PER_ANGLE),
        ("edges/s", D::FREQUENCY),
        ("mm/rev", D::TRAVEL_PER_ANGLE),
        ("mm/s²", D::ACCELERATION),
        ("m/s³", D::JERK),
        ("mΩ/m", D::RESISTANCE_PER_LENGTH),
        ("pF/m", D::CAPACITANCE_PER_LENGTH),
        ("µH/m", D::INDUCTANCE_PER_LENGTH),
        ("Ω·mm²/m", D::RESISTIVITY),
        ("V/µs", D::SLEW_RATE),
        ("mV/A", D::RESISTANCE),
        ("V/V", D::NONE),
        ("ppm/K", D::PER_KELVIN),
        ("%/K", D::PER_KELVIN),
        ("K/W", D::THERMAL_RESISTANCE),
        ("°C/W", D::THERMAL_RESISTANCE),
        ("A²·s", D::MELTING_INTEGRAL),
        ("mA·h", D::CHARGE),
        ("°C", D::TEMPERATURE),
        ("K", D::TEMPERATURE_DIFFERENCE),
        ("kg·m²/rad²", D::INERTIA),
    ] {
        assert_eq!(unit(text).dimension(), dimension, "{text}");
    }
}

#[test]
fn the_trade_may_leave_the_angle_out_and_only_there() {
    for (text, wanted, si) in [
        ("g·cm²", D::INERTIA, 1e-7),
        ("oz·in", D::TORQUE, 7.061_551_814_226_044e-3),
        ("ozf·in", D::TORQUE, 7.061_551_814_226_044e-3),
        ("kg·cm", D::TORQUE, 0.098_066_5),
        ("kgf·cm·s²", D::INERTIA, 0.098_066_5),
        ("oz·in·s²", D::INERTIA, 7.061_551_814_226_044e-3),
        ("oz·in/A", D::MACHINE_CONSTANT, 7.061_551_814_226_044e-3),
        ("N·m·s", D::VISCOUS_FRICTION, 1.0),
        ("V·s", D::MACHINE_CONSTANT, 1.0),
        ("mm", D::TRAVEL_PER_ANGLE, 1e-3),
        ("°C", D::TEMPERATURE_DIFFERENCE, 1.0),
        ("°F", D::TEMPERATURE_DIFFERENCE, 5.0 / 9.0),
    ] {
        let read = unit(text).fit(wanted).unwrap_or_else(|| panic!("{text} for {wanted}"));
        assert_eq!((read.symbol(), read.dimension()), (text, wanted));
        assert!((read.to_si(1.0) / si - 1.0).abs() < 1e-12, "{text}: {}", read.to_si(1.0));
    }
    for (text, wanted) in [
        ("rpm", D::FREQUENCY),
        ("Hz", D::ANGULAR_SPEED),
        ("1/s", D::ANGULAR_SPEED),
        ("N·m", D::ENERGY),
        ("J", D::TORQUE),
        ("rad/s", D::FREQUENCY),
        ("m", D::ANGLE),
        ("kg", D::FORCE),
        ("K", D::TEMPERATURE),
        ("rpm/V", D::MACHINE_CONSTANT),
        ("counts", D::PER_ANGLE),
    ] {
        assert!(unit(text).fit(wanted).is_none(), "{text} must not pass for {wanted}");
    }
}

#[test]
fn faults_name_their_part() {
    for (text, part, says) in [
        ("mN·q", "q", "not a unit"),
        ("V/Kelvins", "Kelvins", "not a unit"),
        ("J/kg·K", "K", "above or below"),
        ("J/kg K", "K", "above or below"),
        ("m^x", "^x", "power"),
        ("m^12", "^12", "power"),
        ("m^", "^", "power"),
        ("m⁰", "⁰", "power"),
        ("m5", "5", "cannot stand"),
        ("W/(m·K", "(", "partner"),
        ("W)", ")", "partner"),
        ("((((m))))", "(", "partner"),
        ("(m/s)²", "(m/s)²", "power"),
        ("V·", "", "missing"),
        ("V/", "", "missing"),
        ("V,A", ",", "cannot stand"),
        ("20", "2", "cannot stand"),
        ("AWG", "AWG", "gauge"),
        ("V·A·s·m·K·rad·Hz·W·J", "J", "eight"),
        ("", "", "no unit"),
        ("m⁹·m⁹", "m", "power"),
        ("V⁹·H⁹·Ω⁹·W⁹", "V⁹·H⁹·Ω⁹·W⁹", "power"),
    ] {
        let error = Unit::parse(text).map(|unit| unit.to_string()).expect_err(text);
        assert_eq!(&text[error.range.clone()], part, "{text}: {error}");
        assert!(error.message.contains(says), "{text}: {error}");
    }
}

#[test]
fn coherent_units_of_any_dimension_can_be_printed() {
    assert_eq!(Unit::si(D::TORQUE).symbol(), "N·m");
    assert_eq!(Unit::si(D::NONE).symbol(), "");
    assert_eq!(Unit::si(D::TEMPERATURE).from_si(298.15), 25.0);
    let odd = D::VOLTAGE.times(D::VOLTAGE).and_then(|d| d.times(D::LENGTH)).expect("no level");
    assert_eq!(Unit::si(odd).symbol(), "m⁵·kg²·s⁻⁶·A⁻²");
    assert_eq!(unit(Unit::si(odd).symbol()).dimension(), odd);
}

#[test]
fn every_unit_prints_as_itself() {
    for word in words() {
        let read = unit(&word);
        assert_eq!(unit(read.symbol()), read, "{word}");
        for value in [1.0, 27.0, -0.62, 1e6] {
            let back = read.from_si(read.to_si(value));
            // A temperature scale's zero costs digits: those of 460 in a number of 0.62.
            assert!(
                (back - value).abs() <= 1e-12 * value.abs().max(460.0),
                "{word}: {value} came back as {back}"
            );
        }
    }
}

proptest! {
    /// Products print as what they are: read, printed and read again, dimension and worth stay.
    #[test]
    fn products_round_trip(
        picks in proptest::collection::vec((any::<prop::sample::Index>(), -3..=3_i8), 1..5),
        joiner in prop::sample::select(vec!["·", "*", " ", "."]),
    ) {
        let words = words();
        let text: Vec<String> = picks
            .iter()
            .filter(|(_, power)| *power != 0)
            .map(|(index, power)| {
                let word = index.get(&words);
                if *power == 1 { word.clone() } else { format!("{word}^{power}") }
            })
            .collect();
        prop_assume!(!text.is_empty());
        let first = unit(&text.join(joiner));
        let again = unit(first.symbol());
        prop_assert_eq!(again.symbol(), first.symbol());
        prop_assert_eq!(again.dimension(), first.dimension());
        prop_assert!((again.factor / first.factor - 1.0).abs() < 1e-12);
    }

    /// Whole quantities, through every unit of the table: printed, read, and the same in SI.
    #[test]
    fn quantities_round_trip(value in -1e6..1e6_f64, index in any::<prop::sample::Index>()) {
        let words = words();
        let word: &String = index.get(&words);
        let unit = unit(word);
        let text = format!("{value} {unit}");
        let read = crate::Quantity::parse_any(&text).map_err(|e| TestCaseError::fail(format!("{text}: {e}")))?;
        prop_assert_eq!(&read.unit, &unit);
        let si = unit.to_si(value);
        let got = read.nominal.unwrap_or(f64::NAN);
        prop_assert!((got - si).abs() <= 4.0 * f64::EPSILON * si.abs().max(300.0 * unit.factor()), "{}: {} {}", text, got, si);
    }
}

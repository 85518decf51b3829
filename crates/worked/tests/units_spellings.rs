//! Spellings that people use, each with its value in SI worked out by hand from exact definitions.

use worked::{Dimension as D, Quantity};

#[test]
fn spellings_of_practice_are_understood() {
    let pi = std::f64::consts::PI;
    let gravity = 9.806_65;
    for (text, wanted, si) in [
        ("12 V", D::VOLTAGE, 12.0),
        ("12V", D::VOLTAGE, 12.0),
        ("12 mV", D::VOLTAGE, 0.012),
        ("12_000 V", D::VOLTAGE, 12e3),
        ("0.5 mH", D::INDUCTANCE, 0.5e-3),
        ("500 \u{b5}H", D::INDUCTANCE, 500e-6),
        ("500 \u{3bc}H", D::INDUCTANCE, 500e-6),
        ("500 uH", D::INDUCTANCE, 500e-6),
        ("50 us", D::TIME, 50e-6),
        ("300 rpm", D::ANGULAR_SPEED, 10.0 * pi),
        ("300 r/min", D::ANGULAR_SPEED, 10.0 * pi),
        ("5 rad/s", D::ANGULAR_SPEED, 5.0),
        ("300 °/s", D::ANGULAR_SPEED, 300.0 * pi / 180.0),
        ("300 deg/s", D::ANGULAR_SPEED, 300.0 * pi / 180.0),
        ("5 rev/s", D::ANGULAR_SPEED, 10.0 * pi),
        ("1.2 \u{3a9}", D::RESISTANCE, 1.2),
        ("1.2 \u{2126}", D::RESISTANCE, 1.2),
        ("1.2 ohm", D::RESISTANCE, 1.2),
        ("20 kHz", D::FREQUENCY, 20e3),
        ("25 °C", D::TEMPERATURE, 298.15),
        ("25 degC", D::TEMPERATURE, 298.15),
        ("5 mN · m", D::TORQUE, 5e-3),
        ("5 mN·m", D::TORQUE, 5e-3),
        ("5 mN*m", D::TORQUE, 5e-3),
        ("5 mN.m", D::TORQUE, 5e-3),
        ("5 mN m", D::TORQUE, 5e-3),
        ("5 mNm", D::TORQUE, 5e-3),
        ("5 Ncm", D::TORQUE, 5e-2),
        ("70 ozf · in", D::TORQUE, 70.0 * 0.453_592_37 / 16.0 * gravity * 0.0254),
        ("70 oz·in", D::TORQUE, 70.0 * 0.453_592_37 / 16.0 * gravity * 0.0254),
        ("70 oz-in", D::TORQUE, 70.0 * 0.453_592_37 / 16.0 * gravity * 0.0254),
        ("3 kgf·cm", D::TORQUE, 0.03 * gravity),
        ("3 kg·cm", D::TORQUE, 0.03 * gravity),
        ("3 lbf·ft", D::TORQUE, 3.0 * 0.453_592_37 * gravity * 0.3048),
        ("3 kg · m²", D::INERTIA, 3.0),
        ("3 kg·m²", D::INERTIA, 3.0),
        ("3 kg*cm^2", D::INERTIA, 3e-4),
        ("3 kg·cm²", D::INERTIA, 3e-4),
        ("52 g·cm²", D::INERTIA, 52e-7),
        ("52 gcm2", D::INERTIA, 52e-7),
        ("2 oz·in²", D::INERTIA, 2.0 * 0.453_592_37 / 16.0 * 0.0254 * 0.0254),
        ("0.05 V·s", D::MACHINE_CONSTANT, 0.05),
        ("0.05 V·s/rad", D::MACHINE_CONSTANT, 0.05),
        ("0.05 Vs/rad", D::MACHINE_CONSTANT, 0.05),
        ("4.3 V/krpm", D::MACHINE_CONSTANT, 4.3 * 0.03 / pi),
        ("41 mN·m/A", D::MACHINE_CONSTANT, 0.041),
        ("41 mNm/A", D::MACHINE_CONSTANT, 0.041),
        ("100 rpm/V", D::SPEED_CONSTANT, 100.0 * pi / 30.0),
        ("12 K/W", D::THERMAL_RESISTANCE, 12.0),
        ("12 °C/W", D::THERMAL_RESISTANCE, 12.0),
        ("8 arcmin", D::ANGLE, 8.0 * pi / 10_800.0),
        ("1.5 deg", D::ANGLE, 1.5 * pi / 180.0),
        ("64 counts/rev", D::PER_ANGLE, 32.0 / pi),
        ("64 edges/rev", D::PER_ANGLE, 32.0 / pi),
        ("16 lines/rev", D::PER_ANGLE, 8.0 / pi),
        ("200 steps/rev", D::PER_ANGLE, 100.0 / pi),
        ("10 %", D::NONE, 0.1),
        ("50 ppm", D::NONE, 50e-6),
        ("12 bit", D::NONE, 12.0),
        ("21 teeth", D::NONE, 21.0),
        ("310 mV/A", D::VOLT_PER_AMPERE, 0.31),
        ("2 V/µs", D::SLEW_RATE, 2e6),
        ("25 mΩ/m", D::RESISTANCE_PER_LENGTH, 0.025),
        ("90 pF/m", D::CAPACITANCE_PER_LENGTH, 90e-12),
        ("0.7 µH/m", D::INDUCTANCE_PER_LENGTH, 0.7e-6),
        ("2.2 A·h", D::CHARGE, 7920.0),
        ("2200 mAh", D::CHARGE, 7920.0),
        ("0.9 m/s²", D::ACCELERATION, 0.9),
        ("900 mm/s^2", D::ACCELERATION, 0.9),
        ("5 m/s³", D::JERK, 5.0),
        ("4 mm/rev", D::TRAVEL_PER_ANGLE, 0.002 / pi),
        ("45 mm", D::TRAVEL_PER_ANGLE, 0.045),
        ("12 N/mm", D::STIFFNESS, 12e3),
        ("3 N·m/deg", D::TORSIONAL_STIFFNESS, 540.0 / pi),
        ("2 µN·m·s/rad", D::VISCOUS_FRICTION, 2e-6),
        ("2 µN·m·s", D::VISCOUS_FRICTION, 2e-6),
        ("0.393 %/K", D::PER_KELVIN, 0.00393),
        ("3930 ppm/K", D::PER_KELVIN, 0.00393),
    ] {
        let quantity = Quantity::parse(text, wanted).unwrap_or_else(|error| panic!("{text}: {error}"));
        let got = quantity.nominal.expect("a value");
        assert!((got / si - 1.0).abs() < 2e-15, "{text}: {got:e}, want {si:e}");
        assert_eq!(quantity.dimension(), wanted, "{text}");
    }
}

#[test]
fn tolerances_and_ranges_of_practice_are_understood() {
    for (text, wanted, low, high) in [
        ("24 V ± 5 %", D::VOLTAGE, 22.8, 25.2),
        ("24 V +/- 5 %", D::VOLTAGE, 22.8, 25.2),
        ("24V±5%", D::VOLTAGE, 22.8, 25.2),
        ("330 µF ± 20 %", D::CAPACITANCE, 264e-6, 396e-6),
        ("330 uF +/- 20%", D::CAPACITANCE, 264e-6, 396e-6),
        ("8 .. 28 V", D::VOLTAGE, 8.0, 28.0),
        ("8 V .. 28 V", D::VOLTAGE, 8.0, 28.0),
        ("8..28V", D::VOLTAGE, 8.0, 28.0),
        ("8 .. 35 °C", D::TEMPERATURE, 281.15, 308.15),
        ("-10 .. 40 °C", D::TEMPERATURE, 263.15, 313.15),
        ("−10 .. 40 degC", D::TEMPERATURE, 263.15, 313.15),
        ("1.6 A ± 12 %", D::CURRENT, 1.408, 1.792),
        ("0 .. 40 kHz", D::FREQUENCY, 0.0, 40e3),
        ("310 mV/A ± 3 %", D::VOLT_PER_AMPERE, 0.3007, 0.3193),
        ("1.65 V ± 20 mV", D::VOLTAGE, 1.63, 1.67),
        ("24 ± 1 V", D::VOLTAGE, 23.0, 25.0),
        ("100 µF +50 % -10 %", D::CAPACITANCE, 90e-6, 150e-6),
    ] {
        let quantity = Quantity::parse(text, wanted).unwrap_or_else(|error| panic!("{text}: {error}"));
        let (got_low, got_high) = (quantity.low.expect("a limit"), quantity.high.expect("a limit"));
        // Outward, and by no more than the last place.
        assert!(got_low <= low && low - got_low <= 3e-16 * low.abs(), "{text}: {got_low:e}, want {low:e}");
        assert!(
            got_high >= high && got_high - high <= 3e-16 * high.abs(),
            "{text}: {got_high:e}, want {high:e}"
        );
    }
}

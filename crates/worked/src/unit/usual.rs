//! The units in which each dimension is usually written: for help texts, and to choose one to print in.

use crate::Dimension as D;

/// How one dimension is written.
pub(crate) struct Usual {
    pub(crate) dimension: D,
    /// The coherent SI unit.
    pub(crate) si: &'static str,
    /// Families of units that a value moves within, smallest unit first, each with the least count that
    /// it is used for. The first family is taken where the user's own unit is not known.
    pub(crate) families: &'static [&'static [(&'static str, f64)]],
    /// More spellings to name where a unit is wanted.
    pub(crate) also: &'static [&'static str],
}

/// The row of a dimension, where the trade has units for it.
pub(crate) fn usual(dimension: D) -> Option<&'static Usual> {
    USUAL.iter().find(|row| row.dimension == dimension)
}

/// The units to name in a help text: `V, mV, kV`.
pub(crate) fn accepted(dimension: D) -> Vec<&'static str> {
    let Some(row) = usual(dimension) else { return Vec::new() };
    let mut names = vec![row.si];
    let in_families = row.families.iter().flat_map(|family| family.iter().map(|(symbol, _)| *symbol));
    for symbol in in_families.chain(row.also.iter().copied()) {
        if !names.contains(&symbol) {
            names.push(symbol);
        }
    }
    names.retain(|symbol| !symbol.is_empty());
    names
}

const fn row(
    dimension: D,
    si: &'static str,
    families: &'static [&'static [(&'static str, f64)]],
    also: &'static [&'static str],
) -> Usual {
    Usual { dimension, si, families, also }
}

pub(crate) const USUAL: &[Usual] = &[
    row(D::NONE, "", &[&[("", 0.0)], &[("%", 0.0)], &[("ppm", 0.0)]], &[]),
    row(
        D::LENGTH,
        "m",
        &[&[("µm", 0.0), ("mm", 1.0), ("m", 1.0), ("km", 1.0)], &[("in", 0.0)], &[("ft", 0.0)]],
        &["cm"],
    ),
    row(D::AREA, "m²", &[&[("mm²", 0.0), ("m²", 0.01)]], &["cm²", "AWG"]),
    row(D::MASS, "kg", &[&[("g", 0.0), ("kg", 1.0)], &[("oz", 0.0), ("lb", 1.0)]], &[]),
    row(
        D::TIME,
        "s",
        &[&[("ns", 0.0), ("µs", 1.0), ("ms", 1.0), ("s", 1.0), ("min", 10.0), ("h", 5.0)]],
        &[],
    ),
    row(D::FREQUENCY, "Hz", &[&[("Hz", 0.0), ("kHz", 1.0), ("MHz", 1.0)]], &["edges/s", "steps/s"]),
    row(D::CURRENT, "A", &[&[("µA", 0.0), ("mA", 1.0), ("A", 1.0)]], &[]),
    row(D::CURRENT_SLEW_RATE, "A/s", &[&[("A/s", 0.0), ("A/ms", 1.0), ("A/µs", 1.0)]], &[]),
    row(D::VOLTAGE, "V", &[&[("µV", 0.0), ("mV", 1.0), ("V", 1.0), ("kV", 1.0)]], &[]),
    row(D::SLEW_RATE, "V/s", &[&[("V/s", 0.0), ("V/ms", 1.0), ("V/µs", 1.0)]], &[]),
    row(
        D::RESISTANCE,
        "Ω",
        &[&[("µΩ", 0.0), ("mΩ", 1.0), ("Ω", 1.0), ("kΩ", 1.0), ("MΩ", 1.0)], &[("mV/A", 0.0), ("V/A", 1.0)]],
        &["ohm"],
    ),
    row(D::RESISTANCE_PER_LENGTH, "Ω/m", &[&[("mΩ/m", 0.0), ("Ω/m", 1.0)]], &["Ω/km"]),
    row(D::RESISTIVITY, "Ω·m", &[&[("Ω·mm²/m", 0.0), ("Ω·m", 1.0)]], &[]),
    row(D::INDUCTANCE, "H", &[&[("nH", 0.0), ("µH", 1.0), ("mH", 1.0), ("H", 1.0)]], &["uH"]),
    row(D::INDUCTANCE_PER_LENGTH, "H/m", &[&[("nH/m", 0.0), ("µH/m", 1.0), ("mH/m", 1.0)]], &[]),
    row(D::CAPACITANCE, "F", &[&[("pF", 0.0), ("nF", 1.0), ("µF", 1.0), ("mF", 10.0), ("F", 1.0)]], &["uF"]),
    row(D::CAPACITANCE_PER_LENGTH, "F/m", &[&[("pF/m", 0.0), ("nF/m", 1.0)]], &[]),
    row(
        D::CHARGE,
        "C",
        &[&[("nC", 0.0), ("µC", 1.0), ("mC", 1.0), ("C", 1.0)], &[("mA·h", 0.0), ("A·h", 1.0)]],
        &[],
    ),
    row(D::POWER, "W", &[&[("µW", 0.0), ("mW", 1.0), ("W", 1.0), ("kW", 1.0)]], &[]),
    row(
        D::ENERGY,
        "J",
        &[&[("µJ", 0.0), ("mJ", 1.0), ("J", 1.0), ("kJ", 1.0)], &[("mW·h", 0.0), ("W·h", 1.0)]],
        &[],
    ),
    row(
        D::FORCE,
        "N",
        &[
            &[("mN", 0.0), ("N", 1.0), ("kN", 1.0)],
            &[("gf", 0.0), ("kgf", 1.0)],
            &[("ozf", 0.0), ("lbf", 1.0)],
        ],
        &[],
    ),
    row(D::STIFFNESS, "N/m", &[&[("N/m", 0.0), ("N/mm", 1.0)]], &[]),
    row(D::LINEAR_DAMPING, "N·s/m", &[&[("N·s/m", 0.0)]], &[]),
    row(D::SPEED, "m/s", &[&[("µm/s", 0.0), ("mm/s", 1.0), ("m/s", 1.0)]], &[]),
    row(D::ACCELERATION, "m/s²", &[&[("mm/s²", 0.0), ("m/s²", 0.1)]], &[]),
    row(D::JERK, "m/s³", &[&[("mm/s³", 0.0), ("m/s³", 0.1)]], &[]),
    row(
        D::ANGLE,
        "rad",
        &[
            &[("arcsec", 0.0), ("arcmin", 1.0), ("°", 0.1)],
            &[("µrad", 0.0), ("mrad", 1.0), ("rad", 0.1)],
            &[("rev", 0.0)],
        ],
        &["deg"],
    ),
    row(
        D::PER_ANGLE,
        "1/rad",
        &[&[("1/rev", 0.0)], &[("1/rad", 0.0)]],
        &["counts/rev", "lines/rev", "edges/rev", "steps/rev"],
    ),
    row(
        D::ANGULAR_SPEED,
        "rad/s",
        &[&[("rad/s", 0.0)], &[("rpm", 0.0), ("krpm", 10.0)], &[("°/s", 0.0)], &[("rev/s", 0.0)]],
        &["deg/s"],
    ),
    row(
        D::ANGULAR_ACCELERATION,
        "rad/s²",
        &[&[("rad/s²", 0.0)], &[("rpm/s", 0.0)], &[("°/s²", 0.0)], &[("rev/s²", 0.0)]],
        &[],
    ),
    row(D::ANGULAR_JERK, "rad/s³", &[&[("rad/s³", 0.0)], &[("°/s³", 0.0)]], &[]),
    row(
        D::TORQUE,
        "N·m",
        &[
            &[("µN·m", 0.0), ("mN·m", 1.0), ("N·m", 1.0), ("kN·m", 1.0)],
            &[("gf·cm", 0.0), ("kgf·cm", 1.0)],
            &[("ozf·in", 0.0)],
            &[("lbf·in", 0.0)],
        ],
        &[],
    ),
    row(D::TORSIONAL_STIFFNESS, "N·m/rad", &[&[("mN·m/rad", 0.0), ("N·m/rad", 1.0)]], &["N·m/deg"]),
    row(D::INERTIA, "kg·m²", &[&[("g·cm²", 0.0), ("kg·cm²", 1.0), ("kg·m²", 0.1)]], &["oz·in²"]),
    row(D::VISCOUS_FRICTION, "N·m·s/rad", &[&[("µN·m·s/rad", 0.0), ("mN·m·s/rad", 1.0)]], &["mN·m/krpm"]),
    row(
        D::MACHINE_CONSTANT,
        "V·s/rad",
        &[&[("mN·m/A", 0.0), ("N·m/A", 1.0)], &[("mV·s/rad", 0.0), ("V·s/rad", 1.0)], &[("V/krpm", 0.0)]],
        &[],
    ),
    row(D::SPEED_CONSTANT, "rad/(s·V)", &[&[("rpm/V", 0.0)], &[("rad/(s·V)", 0.0)]], &[]),
    row(
        D::TRAVEL_PER_ANGLE,
        "m/rad",
        &[&[("mm/rad", 0.0), ("m/rad", 1.0)], &[("mm/rev", 0.0), ("m/rev", 1.0)], &[("mm", 0.0)]],
        &[],
    ),
    row(D::TEMPERATURE, "°C", &[&[("°C", 0.0)], &[("°F", 0.0)]], &["degC"]),
    row(D::TEMPERATURE_DIFFERENCE, "K", &[&[("mK", 0.0), ("K", 0.1)]], &["°C"]),
    row(D::PER_KELVIN, "1/K", &[&[("ppm/K", 0.0), ("%/K", 0.1)]], &[]),
    row(D::THERMAL_RESISTANCE, "K/W", &[&[("K/W", 0.0)]], &["°C/W"]),
    row(D::HEAT_CAPACITY, "J/K", &[&[("mJ/K", 0.0), ("J/K", 0.1)]], &[]),
    row(D::MELTING_INTEGRAL, "A²·s", &[&[("A²·s", 0.0)]], &[]),
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Unit;

    #[test]
    fn every_unit_measures_what_its_row_says_and_the_first_is_coherent() {
        for row in USUAL.iter().filter(|row| !row.dimension.is_none()) {
            for symbol in accepted(row.dimension).into_iter().filter(|symbol| *symbol != "AWG") {
                let unit = Unit::parse(symbol).unwrap_or_else(|e| panic!("{symbol}: {e}"));
                assert!(unit.fit(row.dimension).is_some(), "{symbol} for {}", row.dimension);
            }
            let si = Unit::si(row.dimension);
            assert_eq!((si.dimension(), si.factor), (row.dimension, 1.0), "{}", row.si);
        }
    }

    #[test]
    fn families_rise() {
        for family in USUAL.iter().flat_map(|row| row.families).filter(|family| family.len() > 1) {
            for pair in family.windows(2) {
                let [small, large] = [pair[0], pair[1]].map(|(symbol, least)| {
                    let unit = Unit::parse(symbol).expect("a unit");
                    (unit.factor, unit.factor * least)
                });
                assert!(small.0 < large.0 && small.1 < large.1, "{} {}", pair[0].0, pair[1].0);
            }
        }
    }

    #[test]
    fn every_named_dimension_has_its_units() {
        for dimension in D::named() {
            assert!(usual(dimension).is_some(), "{dimension}");
        }
    }
}

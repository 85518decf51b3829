//! Wire: gauge numbers, standard cross-sections, and the resistance of copper.

use std::f64::consts::PI;

/// Resistivity of annealed copper at 20 °C, Ω·m: 1/58 Ω·mm²/m.
///
/// Source: IEC 60028:1925, International Annealed Copper Standard.
pub const COPPER_RESISTIVITY: f64 = 1e-6 / 58.0;

/// Temperature coefficient of the resistance of copper at constant mass, referred to 20 °C, 1/K.
///
/// Source: IEC 60028:1925.
pub const COPPER_TEMPERATURE_COEFFICIENT: f64 = 0.003_93;

/// The temperature that the resistivity is stated for, K: 20 °C.
pub const REFERENCE_TEMPERATURE: f64 = 293.15;

/// The thickest gauge: 4/0, written as -3.
pub const THICKEST_GAUGE: i32 = -3;
/// The thinnest gauge of the standard.
pub const THINNEST_GAUGE: i32 = 56;

/// Diameter of a solid wire by gauge number, m; 1/0, 2/0, 3/0 and 4/0 are 0, -1, -2 and -3.
///
/// `d = 0.005 in · 92^((36 − n)/39)`: gauge 36 is 0.0050 in, 4/0 is 0.4600 in, and 39 equal ratios lie
/// between them. Source: ASTM B258.
pub fn awg_diameter(gauge: i32) -> f64 {
    0.127e-3 * libm::pow(92.0, f64::from(36 - gauge) / 39.0)
}

/// Cross-section of a solid wire by gauge number, m².
pub fn awg_area(gauge: i32) -> f64 {
    let diameter = awg_diameter(gauge);
    PI / 4.0 * diameter * diameter
}

/// Resistance of a copper conductor of `length` m and `area` m² at `temperature` K, in Ω.
///
/// `R = ρ·l/A · (1 + α·(T − 20 °C))`, the metal alone: strands, plating and crimps add some per cent.
pub fn copper_resistance(length: f64, area: f64, temperature: f64) -> f64 {
    COPPER_RESISTIVITY * length / area
        * (1.0 + COPPER_TEMPERATURE_COEFFICIENT * (temperature - REFERENCE_TEMPERATURE))
}

/// Build of a conductor.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Class {
    /// Solid or stranded, for fixed laying: classes 1 and 2.
    Fixed,
    /// Flexible: class 5.
    Flexible,
}

/// A standard cross-section with the highest resistance that it may have.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Size {
    /// Nominal cross-section, m².
    pub area: f64,
    /// Highest resistance of plain copper at 20 °C, Ω/m.
    pub resistance: f64,
}

/// Standard cross-sections of a class, thinnest first.
///
/// Source: IEC 60228, tables 1 to 3, plain copper. The flexible class and the fixed sizes up to 1 mm² are
/// from memory; the others were read in texts that quote the standard.
pub fn sizes(class: Class) -> &'static [Size] {
    match class {
        Class::Fixed => FIXED,
        Class::Flexible => FLEXIBLE,
    }
}

/// The thinnest standard cross-section of at least `area` m²; `None` beyond the table.
pub fn size_at_least(class: Class, area: f64) -> Option<Size> {
    sizes(class).iter().copied().find(|size| size.area >= area)
}

const fn size(area_mm2: f64, ohm_per_km: f64) -> Size {
    Size { area: area_mm2 / 1e6, resistance: ohm_per_km / 1e3 }
}

const FIXED: &[Size] = &[
    size(0.5, 36.0),
    size(0.75, 24.5),
    size(1.0, 18.1),
    size(1.5, 12.1),
    size(2.5, 7.41),
    size(4.0, 4.61),
    size(6.0, 3.08),
    size(10.0, 1.83),
    size(16.0, 1.15),
    size(25.0, 0.727),
];

const FLEXIBLE: &[Size] = &[
    size(0.5, 39.0),
    size(0.75, 26.0),
    size(1.0, 19.5),
    size(1.5, 13.3),
    size(2.5, 7.98),
    size(4.0, 4.95),
    size(6.0, 3.30),
    size(10.0, 1.91),
    size(16.0, 1.21),
];

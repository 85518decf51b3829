//! Units that the trade writes for a quantity although their dimension, taken strictly, is another.
//!
//! Plane angle is a base quantity here, but the trade leaves `rad` out of inertia, friction and a wheel's
//! radius; and it writes torque with units of mass, meaning their weight. Those readings are listed here one
//! by one and nothing else is accepted: rpm never passes for hertz, nor a torque for an energy.

use super::{G_N, Unit};
use crate::Dimension as D;
use crate::dimension::si;

impl Unit {
    /// This unit read as a unit of `wanted`, where it measures that or the trade writes it so.
    ///
    /// The symbol stays, so that what is printed is what was written: `mm` for a wheel's radius in m/rad.
    pub fn fit(&self, wanted: D) -> Option<Unit> {
        if self.dimension == wanted {
            return Some(self.clone());
        }
        if self.dimension.is_level() {
            let rise = wanted == D::TEMPERATURE_DIFFERENCE;
            let ten = (self.factor == 1.0).then_some(0);
            return rise.then(|| Unit { dimension: wanted, offset: 0.0, ten, ..self.clone() });
        }
        let (_, _, scale) =
            TRADE.iter().find(|(written, read, _)| *written == self.dimension && *read == wanted)?;
        let ten = if *scale == 1.0 { self.ten } else { None };
        Some(Unit { dimension: wanted, factor: self.factor * scale, ten, ..self.clone() })
    }
}

/// `(dimension as written, dimension that is meant, factor)`.
const TRADE: &[(D, D, f64)] = &[
    // kg·m² for kg·m²/rad²
    (si(2, 1, 0, 0, 0, 0), D::INERTIA, 1.0),
    // mm for mm/rad: the radius of a wheel or pulley
    (D::LENGTH, D::TRAVEL_PER_ANGLE, 1.0),
    // N·m·s for N·m·s/rad, N·m·s² for kg·m²/rad²
    (si(2, 1, -1, 0, 0, -1), D::VISCOUS_FRICTION, 1.0),
    (si(2, 1, 0, 0, 0, -1), D::INERTIA, 1.0),
    // V·s for V·s/rad
    (si(2, 1, -2, -1, 0, 0), D::MACHINE_CONSTANT, 1.0),
    // kg·cm and oz·in for torque, and what is built from them: mass stands for its weight
    (si(1, 1, 0, 0, 0, 0), D::TORQUE, G_N),
    (si(1, 1, 0, -1, 0, 0), D::MACHINE_CONSTANT, G_N),
    (si(1, 1, 0, 0, 0, -1), D::TORSIONAL_STIFFNESS, G_N),
    (si(1, 1, 1, 0, 0, -1), D::VISCOUS_FRICTION, G_N),
    (si(1, 1, 1, 0, 0, 0), D::VISCOUS_FRICTION, G_N),
    (si(1, 1, 2, 0, 0, 0), D::INERTIA, G_N),
];

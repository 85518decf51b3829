//! The parameters of an axis that records can tell of.

/// One figure of an axis. All count at the motor shaft.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Parameter {
    /// Resistance of the motor loop, Ω: winding, leads and switches, as seen from where the voltage is taken.
    Resistance,
    /// Inductance of the motor loop, H.
    Inductance,
    /// Drop of both brushes, V; with the duty as voltage also what dead time takes.
    BrushDrop,
    /// Torque constant, which is the back-EMF constant, V·s/rad.
    Constant,
    /// Moment of inertia of rotor and gear, kg·m².
    Inertia,
    /// Dry friction, N·m.
    CoulombFriction,
    /// Friction in proportion to speed, N·m·s/rad.
    ViscousFriction,
    /// What dry friction is more at rest (Stribeck), N·m.
    StaticExtra,
    /// Speed at which that has fallen to 1/e, rad/s.
    FrictionSpeed,
    /// Steady torque against forward motion that stays when it reverses, N·m.
    Imbalance,
    /// Inertia that coupled records have besides, kg·m².
    LoadInertia,
    /// Dry friction that coupled records have besides, N·m.
    LoadFriction,
    /// Resistance of supply and cable before the bridge, Ω; told where the voltage of the bus was not recorded.
    SupplyResistance,
    /// What the current sensor shows without current, A.
    CurrentOffset,
    /// What the voltage sensor shows without voltage, V.
    VoltageOffset,
}

impl Parameter {
    /// All of them.
    pub const ALL: [Self; 15] = [
        Self::Resistance,
        Self::Inductance,
        Self::BrushDrop,
        Self::Constant,
        Self::Inertia,
        Self::CoulombFriction,
        Self::ViscousFriction,
        Self::StaticExtra,
        Self::FrictionSpeed,
        Self::Imbalance,
        Self::LoadInertia,
        Self::LoadFriction,
        Self::SupplyResistance,
        Self::CurrentOffset,
        Self::VoltageOffset,
    ];

    /// Its name, as fields have it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Resistance => "resistance",
            Self::Inductance => "inductance",
            Self::BrushDrop => "brush_drop",
            Self::Constant => "torque_constant",
            Self::Inertia => "inertia",
            Self::CoulombFriction => "coulomb_friction",
            Self::ViscousFriction => "viscous_friction",
            Self::StaticExtra => "static_extra",
            Self::FrictionSpeed => "friction_speed",
            Self::Imbalance => "imbalance",
            Self::LoadInertia => "load_inertia",
            Self::LoadFriction => "load_friction",
            Self::SupplyResistance => "supply_resistance",
            Self::CurrentOffset => "current_offset",
            Self::VoltageOffset => "voltage_offset",
        }
    }

    /// Its symbol in equations.
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Resistance => "R",
            Self::Inductance => "L",
            Self::BrushDrop => "U_b",
            Self::Constant => "K",
            Self::Inertia => "J",
            Self::CoulombFriction => "M_c",
            Self::ViscousFriction => "b",
            Self::StaticExtra => "M_s",
            Self::FrictionSpeed => "ω_s",
            Self::Imbalance => "M_0",
            Self::LoadInertia => "J_L'",
            Self::LoadFriction => "M_L'",
            Self::SupplyResistance => "R_s",
            Self::CurrentOffset => "i_0",
            Self::VoltageOffset => "u_0",
        }
    }

    /// Its SI unit.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Resistance | Self::SupplyResistance => "Ω",
            Self::Inductance => "H",
            Self::BrushDrop | Self::VoltageOffset => "V",
            Self::Constant => "V·s/rad",
            Self::Inertia | Self::LoadInertia => "kg·m²",
            Self::CoulombFriction | Self::StaticExtra | Self::Imbalance | Self::LoadFriction => "N·m",
            Self::ViscousFriction => "N·m·s/rad",
            Self::FrictionSpeed => "rad/s",
            Self::CurrentOffset => "A",
        }
    }

    /// Whether it can be of either sign.
    pub fn is_signed(self) -> bool {
        matches!(self, Self::Imbalance | Self::CurrentOffset | Self::VoltageOffset)
    }

    /// Whether no axis is without it: it is above zero, not only not below.
    pub fn is_above_zero(self) -> bool {
        matches!(
            self,
            Self::Resistance | Self::Inductance | Self::Constant | Self::Inertia | Self::FrictionSpeed
        )
    }
}

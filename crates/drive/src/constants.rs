//! Constants that the equations bring along, each with its origin, and the few conversions between angle, turn
//! and pure number that a strict angle dimension asks for.

use worked::{Number, Origin};

/// Relative change of copper's resistance per kelvin, referred to 20 °C: 0.00393/K.
pub fn copper_coefficient<N: Number>() -> N {
    N::known(
        0.00393,
        "1/K",
        "α_Cu",
        "temperature coefficient of copper at 20 °C",
        Origin::standard("IEC 60028"),
    )
}

/// Conductivity of annealed copper at 20 °C: 58 m/(Ω·mm²).
pub fn copper_conductivity<N: Number>() -> N {
    N::known(58.0, "m/(Ω·mm²)", "κ_Cu", "conductivity of copper at 20 °C", Origin::standard("IEC 60028"))
}

/// Temperature to which the figures of copper hold: 20 °C.
pub fn copper_reference<N: Number>() -> N {
    N::known(20.0, "°C", "ϑ_20", "reference temperature of copper figures", Origin::standard("IEC 60028"))
}

/// Temperature at which copper's resistance would vanish on the straight line: −235 °C.
pub fn copper_zero<N: Number>() -> N {
    N::known(
        -235.0,
        "°C",
        "ϑ_z",
        "temperature at which the resistance line of copper meets zero",
        Origin::standard("IEC 60034-1, resistance method (clause from memory)"),
    )
}

/// Standard acceleration of free fall: 9.80665 m/s².
pub fn standard_gravity<N: Number>() -> N {
    N::known(9.806_65, "m/s²", "g", "standard gravity", Origin::standard("3rd CGPM, 1901"))
}

/// Heat that a closed box loses to still air per area and kelvin: about 5.5 W/(m²·K).
pub fn enclosure_transfer<N: Number>() -> N {
    N::known(
        5.5,
        "W/(m²·K)",
        "h",
        "heat transfer of a closed box in still air",
        Origin::common_practice("painted sheet, standing free"),
    )
}

/// Adiabatic constant of a PVC-insulated copper conductor, 115 A·√s/mm², squared.
pub fn copper_adiabatic<N: Number>() -> N {
    N::known(
        13_225.0,
        "A²·s/mm⁴",
        "k²",
        "square of the adiabatic constant of PVC-insulated copper",
        Origin::standard("IEC 60364-4-43 (value 115 from memory)"),
    )
}

/// π as a plain number, under its own name.
pub fn pi<N: Number>() -> N {
    N::known(
        std::f64::consts::PI,
        "",
        "π",
        "ratio of circumference and diameter",
        Origin::standard("definition"),
    )
}

/// One turn: 2π rad.
pub fn turn<N: Number>() -> N {
    N::known(1.0, "rev", "1 rev", "one turn", Origin::standard("definition"))
}

/// One radian.
pub fn radian<N: Number>() -> N {
    N::known(1.0, "rad", "1 rad", "one radian", Origin::standard("definition"))
}

/// Nothing, but with a dimension: for a figure that plays no part. A bare zero would not multiply to the right unit.
pub fn zero<N: Number>(unit: &str) -> N {
    N::known(0.0, unit, "0", "nothing", Origin::standard("definition"))
}

/// A plain number of marks, teeth or steps, as so many for one turn.
pub fn per_turn<N: Number>(count: N) -> N {
    count / turn::<N>()
}

/// An angular rate as a rate of decay or growth: rad/s to 1/s.
pub fn rate<N: Number>(angular: N) -> N {
    angular / radian::<N>()
}

/// A rate 1/s as an angular one: the root of k/J is one.
pub fn angular<N: Number>(rate: N) -> N {
    rate * radian::<N>()
}

/// An angular frequency as a cyclic one: rad/s to Hz.
pub fn cyclic<N: Number>(angular: N) -> N {
    angular / turn::<N>()
}

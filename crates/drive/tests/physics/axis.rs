//! The reference axis: an invented small gearmotor axis whose figures were worked out elsewhere.

use drive::bridge::{Bridge, OffState};
use drive::gear::{Gear, estimated_back_efficiency};
use drive::heat::Thermal;
use drive::load::{Load, Turning};
use drive::motor::{Armature, Motor};
use worked::{Number, Origin};

/// `"12 V"` as a number of any kind.
pub(crate) fn q<N: Number>(text: &str) -> N {
    let (value, unit) = text.split_once(' ').unwrap_or((text, ""));
    let value: f64 = value.parse().expect("a number before the unit");
    N::known(value, unit, text, text, Origin::assumed("test"))
}

pub(crate) fn motor<N: Number>() -> Motor<N> {
    Motor {
        resistance: q("2.6 Ω"),
        inductance: q("1.1 mH"),
        torque_constant: q("0.0265 V·s/rad"),
        brush_drop: q("0.25 V"),
        coulomb_friction: q("2.5 mN·m"),
        viscous_friction: q("1.5e-6 N·m·s/rad"),
        inertia: q("4.2e-6 kg·m²/rad²"),
        reference_temperature: q("20 °C"),
        resistance_coefficient: q("0.00393 1/K"),
        magnet_coefficient: q("-0.002 1/K"),
        thermal: Thermal {
            winding_to_case: q("3.2 K/W"),
            case_to_air: q("11 K/W"),
            winding_time: q("9 s"),
            case_time: q("480 s"),
            limit: q("100 °C"),
        },
    }
}

pub(crate) fn bridge<N: Number>(off_state: OffState) -> Bridge<N> {
    Bridge {
        off_state,
        on_resistance: q("0.16 Ω"),
        diode_drop: q("0.8 V"),
        dead_time: q("0.4 µs"),
        edge_times: q("0.1 µs"),
        frequency: q("18 kHz"),
        thermal_resistance: q("40 K/W"),
    }
}

pub(crate) fn gear<N: Number>() -> Gear<N> {
    Gear {
        ratio: q("27"),
        efficiency: q("0.78"),
        back_efficiency: estimated_back_efficiency(q("0.78")),
        drag: q("0 N·m"),
        inertia: q("0 kg·m²/rad²"),
    }
}

pub(crate) fn load<N: Number>() -> Load<N> {
    Load::Disc(Turning { friction_torque: q("0.05 N·m"), ..Turning::new(load_inertia()) })
}

pub(crate) fn load_inertia<N: Number>() -> N {
    q("1.9e-3 kg·m²/rad²")
}

/// Bridge and cable (2.5 m of 0.5 mm², 20 °C) in series with the winding, cold.
pub(crate) fn circuit<N: Number>() -> Armature<N> {
    motor::<N>().armature().behind(q("0.16 Ω")).behind(cable())
}

pub(crate) fn cable<N: Number>() -> N {
    drive::bus::cable_resistance(q("2.5 m"), q("0.5 mm²"), q("20 °C"))
}

/// Drag of the load at the motor shaft while driving.
pub(crate) fn drag<N: Number>() -> N {
    gear::<N>().input_torque(q("0.05 N·m"))
}

//! A motor as its sheet gives it, made complete.

use super::{ambient_limits, or_zero};
use crate::constants::zero;
use crate::heat::Thermal;
use crate::motor::{Motor, constant_from_speed_constant, friction_from_no_load};
use bench::file::Header;
use bench::part::{self, Magnet};
use worked::{Dimension, Input, Number, Origin, Worked};

/// Part of the winding's rise over the air that the magnets follow.
const MAGNETS_FOLLOW: f64 = 0.6;
/// Limit of a winding that its sheet does not state, K.
const USUAL_WINDING_LIMIT: f64 = 398.15;

/// The motor with what its sheet leaves out taken from what it gives.
pub(super) fn motor(part: &part::Motor) -> Motor<Worked> {
    let brush_drop = brush_drop(part);
    let resistance = resistance(part, &brush_drop);
    let torque_constant = constant(part, &brush_drop, &resistance);
    let viscous_friction = or_zero(part, "viscous_friction", "N·m·s/rad");
    Motor {
        coulomb_friction: coulomb_friction(part, &torque_constant, &viscous_friction),
        resistance,
        inductance: part.inductance(),
        torque_constant,
        brush_drop,
        viscous_friction,
        inertia: part.inertia(),
        reference_temperature: reference_temperature(part),
        resistance_coefficient: part.resistance_coefficient(),
        magnet_coefficient: magnet_coefficient(part),
        thermal: Thermal {
            winding_to_case: part.thermal_resistance_winding_case(),
            case_to_air: part.thermal_resistance_case_air(),
            winding_time: part.thermal_time_winding(),
            case_time: part.thermal_time_case(),
            limit: part.max_winding_temperature(),
        },
    }
}

/// Anything the winding can have in use, from the coldest air to its limit.
pub(super) fn winding_temperature(axis: &str, part: &part::Motor, header: &Header) -> Worked {
    let (low, high) = ambient_limits(header);
    let stated = part.max_winding_temperature();
    let limit = if stated.is_missing() { USUAL_WINDING_LIMIT } else { stated.value() };
    let origin = if stated.is_missing() {
        Origin::assumed("from the coldest air to 125 °C, as no limit is stated")
    } else {
        Origin::assumed("from the coldest air to the winding's limit")
    };
    Input::new(
        &format!("{axis}.winding_temperature"),
        "temperature of the winding in use",
        "ϑ_w",
        Dimension::TEMPERATURE,
    )
    .value(0.5 * (low + high))
    .limits(low, limit.max(high))
    .origin(origin)
    .worked()
}

/// The limit of the winding, or the usual one where none is stated.
pub(super) fn hottest_winding(axis: &str, part: &part::Motor) -> Worked {
    if part.has("max_winding_temperature") {
        return part.max_winding_temperature();
    }
    let path = format!("{axis}.motor.max_winding_temperature");
    Input::new(&path, "highest temperature of the winding", "ϑ_w_max", Dimension::TEMPERATURE)
        .value(USUAL_WINDING_LIMIT)
        .origin(Origin::assumed("125 °C, as no limit is stated"))
        .worked()
}

/// Part of the winding's rise that the magnets follow.
pub fn magnets_follow() -> Worked {
    Worked::known(
        MAGNETS_FOLLOW,
        "",
        "k_B",
        "part of the winding's rise that the magnets follow",
        Origin::common_practice("magnets are cooler than the winding"),
    )
}

/// Magnets get warm with the winding, part of the way.
pub(super) fn magnet_temperature(ambient: &Worked, winding: &Worked) -> Worked {
    crate::motor::magnet_temperature(ambient.clone(), winding.clone(), magnets_follow())
}

fn brush_drop(part: &part::Motor) -> Worked {
    if part.has("brush_drop") {
        return part.brush_drop();
    }
    Input::new(&part.path_of("brush_drop"), "voltage across both brushes", "U_b", Dimension::VOLTAGE)
        .value(0.0)
        .origin(Origin::assumed("none stated: the terminal resistance includes the brushes"))
        .worked()
}

fn resistance(part: &part::Motor, brush_drop: &Worked) -> Worked {
    let from_stall = !part.has("resistance") && part.has("stall_current") && part.has("nominal_voltage");
    if from_stall {
        ((part.nominal_voltage() - brush_drop) / part.stall_current())
            .called("resistance from the stall current", "R")
    } else {
        part.resistance()
    }
}

fn constant(part: &part::Motor, brush_drop: &Worked, resistance: &Worked) -> Worked {
    if part.has("back_emf_constant") {
        part.back_emf_constant()
    } else if part.has("torque_constant") {
        part.torque_constant()
    } else if part.has("speed_constant") {
        constant_from_speed_constant(part.speed_constant())
    } else if ["nominal_voltage", "no_load_speed", "no_load_current"].iter().all(|key| part.has(key)) {
        ((part.nominal_voltage() - brush_drop - resistance * part.no_load_current()) / part.no_load_speed())
            .called("constant from the no-load figures", "K")
    } else {
        part.torque_constant()
    }
}

fn coulomb_friction(part: &part::Motor, constant: &Worked, viscous: &Worked) -> Worked {
    if part.has("coulomb_friction") {
        part.coulomb_friction()
    } else if part.has("no_load_current") {
        let speed = if part.has("no_load_speed") { part.no_load_speed() } else { zero("rad/s") };
        friction_from_no_load(constant.clone(), part.no_load_current(), viscous.clone(), speed)
    } else {
        part.coulomb_friction()
    }
}

fn reference_temperature(part: &part::Motor) -> Worked {
    part.condition("resistance", "temperature").unwrap_or_else(crate::constants::copper_reference)
}

fn magnet_coefficient(part: &part::Motor) -> Worked {
    if part.has("magnet_coefficient") {
        return part.magnet_coefficient();
    }
    let input = Input::new(
        &part.path_of("magnet_coefficient"),
        "change of the constants with the temperature of the magnets",
        "α_B",
        Dimension::PER_KELVIN,
    )
    .band_assumed();
    match part.magnet().value {
        Some(Magnet::HardFerrite) => input
            .value(-0.002)
            .limits(-0.0022, -0.0018)
            .origin(Origin::standard("IEC 60404-8-1, hard ferrite, typical (from memory)")),
        Some(Magnet::RareEarth) => input
            .value(-0.0011)
            .limits(-0.0013, -0.0009)
            .origin(Origin::standard("IEC 60404-8-1, rare-earth iron, typical (from memory)")),
        None => input
            .value(-0.0015)
            .limits(-0.0022, -0.0009)
            .origin(Origin::assumed("material of the magnets not stated: hard ferrite or rare-earth iron")),
    }
    .worked()
}

//! Rules of the group `Group::Heat`, in the order of the trade's list.

mod case_temperature_asked;
mod part_too_cold;
mod part_too_warm;
mod shunt_power;
mod stall_survival;
mod thermal_runaway;
mod touch_temperature;
mod winding_rms_current;

use crate::rule::Rule;
use crate::ruling::Draft;
use crate::view::View;
use bench::Window;
use bench::model::Axis;
use drive::assembly::DcAxis;
use drive::assembly::surroundings::Kind;
use worked::{Claim, Outcome};

pub(super) const RULES: &[Rule] = &[
    winding_rms_current::RULE,
    stall_survival::RULE,
    thermal_runaway::RULE,
    shunt_power::RULE,
    touch_temperature::RULE,
    case_temperature_asked::RULE,
    part_too_warm::RULE,
    part_too_cold::RULE,
];

/// Whether the firmware of an axis watches the heat of its winding and says how fast it acts.
fn has_heat_monitor(axis: &Axis) -> bool {
    let firmware = axis.firmware();
    firmware.has("heat_trip_time") && firmware.heat_monitor() != Some("none")
}

/// The claim that a motor bears its cycle for ever, where it does not. A steady temperature beyond that is a figure of the
/// model and of no motor: its winding is gone before.
fn not_borne(dc: &DcAxis) -> Option<Claim> {
    let borne = dc.motor.heat().continuous_current(dc.ambient.clone());
    let claim = dc.heating_current()?.must_stay_below(borne);
    let fails = matches!(
        claim.judge().outcome,
        Outcome::NotEverywhere | Outcome::NotAsStated | Outcome::Never | Outcome::Unproven
    );
    fails.then_some(claim)
}

/// Says of a case whose temperature was asked for that there is none, and how soon the winding is at its limit.
fn without_steady_state<'r, 'a>(draft: Draft<'r, 'a>, name: &str, dc: &DcAxis) -> Draft<'r, 'a> {
    let draft = draft.says(format!(
        "axis `{name}`: nobody can say how warm the case of its motor gets: over its cycle it carries {{value}} and bears {{limit}} for ever, so that it has no steady state that it survives"
    ));
    let Some(current) = dc.heating_current() else { return draft };
    let time = dc.motor.heat().time_at_full_power(current, dc.ambient.clone());
    match time.worst_case() {
        Some((earliest, _)) if earliest.is_finite() && time.value().is_finite() => draft
            .because(format!(
                "were no heat to leave it, its winding would be at its limit {} after a cold start at the earliest",
                time.text_of(earliest)
            ))
            .with(time),
        _ => draft,
    }
}

/// A device that has a range of ambient temperatures to work in.
struct Device {
    name: String,
    path: String,
    kind: Kind,
    ambient: Window,
}

/// Electronics of the bench; motors are not among them, their windings have rules of their own.
fn devices(view: &View<'_>) -> Vec<Device> {
    let bench = view.bench;
    let mut devices = Vec::new();
    let mut add = |name: &str, path: &str, kind: Kind, ambient: Window| {
        devices.push(Device { name: name.to_owned(), path: path.to_owned(), kind, ambient });
    };
    if let Some(controller) = bench.controller() {
        add("controller", controller.entry.path(), Kind::Controller, controller.part.about().ambient());
    }
    for board in bench.boards() {
        add(&board.name, board.entry.path(), Kind::Driver, board.part.about().ambient());
    }
    for supply in bench.supplies() {
        add(&supply.name, supply.entry.path(), Kind::Supply, supply.part.about().ambient());
    }
    for servo in bench.servos() {
        add(&servo.name, servo.entry.path(), Kind::Other, servo.part.about().ambient());
    }
    devices
}

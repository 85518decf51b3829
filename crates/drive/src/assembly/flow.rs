//! The power along the way from supply to load at one moment: full acceleration at top speed, which asks for the
//! most. Servos move freely; boards, the controller and what it feeds draw what their sheets say.
//!
//! ```text
//! bridge  P = U·I     gear  P = (J_g·N·α + M_in)·ω     load  P = M_L·ω_L     supply  P = U_s·(ΣI_s + what boards draw)
//! ```

use super::DcAxis;
use super::budget::{drawn_by_controller, loads_moving_freely};
use super::power::feed_voltage;
use crate::constants::zero;
use bench::Bench;
use bench::model::{Axis, Feed};
use worked::{Number, Worked};

/// Words for the moment.
pub const MOMENT: &str = "while every axis accelerates at its top speed, servos moving freely";

/// Power at the elements of a bench by their paths: `supplies.drive`, `drivers.board.motor` (an input),
/// `drivers.board.A`, `cables.left`, `axes.left.motor`, `axes.left.gearbox`, `axes.left.load`, `servos.latch`,
/// `controller`. What the bench does not tell is not in it.
pub fn at_full_acceleration(bench: &Bench, axes: &[(&Axis, Option<DcAxis>)]) -> Vec<(String, Worked)> {
    let mut found: Vec<(String, Worked)> = Vec::new();
    for (axis, dc) in axes.iter().filter_map(|(axis, dc)| Some((*axis, dc.as_ref()?))) {
        found.extend(along(axis, dc).unwrap_or_default());
    }
    for feed in bench.feeds() {
        let moving = axes.iter().filter(|(axis, _)| axis.feed() == Some(&feed));
        let mut currents: Vec<Worked> =
            moving.filter_map(|(_, dc)| dc.as_ref()?.accelerating_supply_current()).collect();
        if currents.is_empty() && (!bench.axes_on(&feed).is_empty() || !matches!(feed, Feed::Supply(_))) {
            continue;
        }
        currents.extend(loads_moving_freely(bench, &feed).into_iter().map(|(_, current)| current));
        let Some(current) = currents.into_iter().reduce(|a, b| a + b) else { continue };
        let power = (current * feed_voltage(bench, &feed)).called("power out of the supply", "P_s");
        found.push((feed.to_string(), power));
        for board in bench.boards() {
            let inputs = board.inputs.iter().filter(|fed| fed.feed.as_ref() == Some(&feed));
            let own = |axis: &&Axis| axis.board().is_some_and(|own| own.name == board.name);
            for fed in inputs {
                let name = fed.input.name();
                let on_input = axes
                    .iter()
                    .filter(|(axis, _)| own(axis) && axis.input().is_some_and(|i| i.input.name() == name));
                let currents = on_input.filter_map(|(_, dc)| dc.as_ref()?.accelerating_supply_current());
                let Some(current) = currents.reduce(|a, b| a + b) else { continue };
                let own = fed.input.has("current").then(|| fed.input.current());
                let current = own.into_iter().fold(current, |sum, own| sum + own);
                let power = (current * feed_voltage(bench, &feed)).called("power into the board", "P_in");
                if let Some(run) = bench.cable_to_input(&board.name, name) {
                    found.push((format!("cables.{}", run.name), power.clone()));
                }
                found.push((format!("drivers.{}.{name}", board.name), power));
            }
        }
    }
    found.extend(small_consumers(bench));
    found
}

/// From the bridge of an axis to its load; `None` where load or motion is not described.
fn along(axis: &Axis, dc: &DcAxis) -> Option<Vec<(String, Worked)>> {
    let (current, speed) = (dc.accelerating_current()?, dc.planned_motor_speed()?);
    let loop_voltage = dc.armature().voltage(current.clone(), speed.clone());
    let motor = dc.motor.armature_at(dc.winding.clone(), dc.magnets.clone());
    let into_bridge = (loop_voltage * current.clone()).called("power into the bridge", "P_b");
    let into_motor =
        (motor.voltage(current.clone(), speed.clone()) * current).called("power into the motor", "P_el");
    // What turns the rotor itself does not reach the gear.
    let (torque, motion) = (dc.accelerating_load_torque()?, dc.motion.as_ref()?);
    let at_gear = dc.gear.motor_torque(zero("kg·m²/rad²"), torque.clone(), motion.acceleration.clone());
    let into_gear = (at_gear * speed).called("power into the gear", "P_g");
    let load = torque * motion.speed.clone();
    let mut found: Vec<(String, Worked)> = axis
        .channels
        .iter()
        .map(|used| (format!("drivers.{}.{}", used.board.name, used.channel.name()), into_bridge.clone()))
        .collect();
    found.extend(axis.motor_cable.as_ref().map(|run| (format!("cables.{}", run.name), into_bridge)));
    found.push((format!("{}.motor", axis.path()), into_motor));
    found.push((format!("{}.gearbox", axis.path()), into_gear));
    found.push((format!("{}.load", axis.path()), load.called("power at the load", "P_L")));
    Some(found)
}

/// Servos and the controller.
fn small_consumers(bench: &Bench) -> Vec<(String, Worked)> {
    let mut found: Vec<(String, Worked)> = Vec::new();
    for servo in bench.servos() {
        let Some(feed) = servo.feed.as_ref().filter(|_| servo.part.has("moving_current")) else { continue };
        let power =
            (servo.part.moving_current() * feed_voltage(bench, feed)).called("power of the servo", "P_sv");
        if let Some(run) = bench.cable_to_servo(&servo.name) {
            found.push((format!("cables.{}", run.name), power.clone()));
        }
        found.push((format!("servos.{}", servo.name), power));
    }
    if let Some(feed) = bench.controller().and_then(|controller| controller.feed.clone())
        && let Some(current) = drawn_by_controller(bench, &feed)
    {
        let power = (current * feed_voltage(bench, &feed)).called("power of the controller", "P_c");
        found.push(("controller".to_owned(), power));
    }
    found
}

//! Rules of the group `Group::Power`, in the order of the trade's list.

mod auto_retry;
mod bridge_continuous_current;
mod bridge_junction_temperature;
mod bridge_peak_current;
mod bus_ceiling;
mod bus_floor;
mod cable_drop;
mod capacitor_ripple_current;
mod capacitor_voltage;
mod chopper_below_trip;
mod clamp_above_supply;
mod clamp_behind_diode;
mod clamp_mean_power;
mod clamp_pulse_energy;
mod clamp_resistance;
mod clamp_switch_current;
mod common_fault_line;
mod connector_current;
mod controller_supply;
mod decay_against_control;
mod duty_stuck_at_full;
mod firmware_limit_fails;
mod full_duty;
mod fuse_at_source;
mod fuse_breaks_voltage;
mod fuse_carries_current;
mod fuse_described;
mod fuse_protects_cable;
mod hot_plug;
mod inrush_against_protector;
mod inrush_current;
mod limit_against_gear;
mod limit_against_magnets;
mod limit_high_enough;
mod minimum_pulse;
mod motor_voltage_against_bus;
mod power_leads_described;
mod pwm_above_hearing;
mod pwm_frequency_window;
mod returned_current_against_sink;
mod returned_voltage_against_shut_off;
mod returned_voltage_against_supply;
mod reversal_surge;
mod reverse_polarity;
mod ripple_current;
mod shared_supply_sum;
mod start_surge_against_timer;
mod supply_limit_above_trip;
mod suppression_capacitor_spike;
mod trip_does_not_guard_motor;
mod trips;

use crate::rule::Rule;
use worked::{Number, Origin, Worked};

pub(super) const RULES: &[Rule] = &[
    motor_voltage_against_bus::RULE,
    duty_stuck_at_full::RULE,
    bus_ceiling::RULE,
    bus_floor::RULE,
    controller_supply::RULE,
    reverse_polarity::RULE,
    bridge_peak_current::RULE,
    reversal_surge::RULE,
    bridge_junction_temperature::RULE,
    bridge_continuous_current::RULE,
    limit_high_enough::RULE,
    limit_against_gear::RULE,
    limit_against_magnets::RULE,
    firmware_limit_fails::RULE,
    chopper_below_trip::RULE,
    start_surge_against_timer::RULE,
    supply_limit_above_trip::RULE,
    trip_does_not_guard_motor::RULE,
    inrush_current::RULE,
    inrush_against_protector::RULE,
    shared_supply_sum::RULE,
    common_fault_line::RULE,
    auto_retry::RULE,
    returned_current_against_sink::RULE,
    returned_voltage_against_supply::RULE,
    returned_voltage_against_shut_off::RULE,
    clamp_behind_diode::RULE,
    clamp_above_supply::RULE,
    clamp_resistance::RULE,
    clamp_switch_current::RULE,
    clamp_pulse_energy::RULE,
    clamp_mean_power::RULE,
    capacitor_ripple_current::RULE,
    capacitor_voltage::RULE,
    hot_plug::RULE,
    cable_drop::RULE,
    power_leads_described::RULE,
    fuse_carries_current::RULE,
    fuse_protects_cable::RULE,
    fuse_breaks_voltage::RULE,
    fuse_at_source::RULE,
    fuse_described::RULE,
    connector_current::RULE,
    suppression_capacitor_spike::RULE,
    ripple_current::RULE,
    pwm_frequency_window::RULE,
    pwm_above_hearing::RULE,
    minimum_pulse::RULE,
    full_duty::RULE,
    decay_against_control::RULE,
];

/// A margin or part of a rating that the trade keeps, without a source.
fn customary(value: f64, unit: &str, symbol: &str, name: &str) -> Worked {
    Worked::known(value, unit, symbol, name, Origin::common_practice("margin of the trade"))
}

/// The highest value that a figure has over all tolerances, in words.
fn at_most(figure: &Worked) -> String {
    let highest = figure.clone().must_stay_below(0.0.into()).judge().value_there;
    figure.text_of(highest)
}

/// Names in backticks, joined by commas.
fn listed<'a>(names: impl IntoIterator<Item = &'a str>) -> String {
    names.into_iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ")
}

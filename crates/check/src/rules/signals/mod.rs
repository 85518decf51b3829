//! Rules of the group `Group::Signals`, in the order of the trade's list.

mod counter_filter_against_edge_gap;
mod counter_wrap_in_a_sample;
mod counter_wrap_over_the_travel;
mod current_sense_range;
mod current_sense_resolution;
mod edge_rate_against_counter;
mod encoder_apart_from_motor_leads;
mod encoder_cable_length;
mod encoder_lines_rise_in_time;
mod encoder_supply_at_its_end;
mod encoder_within_its_frequency;
mod filter_delay_against_loop;
mod homing_has_its_sensor;
mod position_axis_knows_its_place;
mod sampling_against_pwm;
mod sense_pin_against_its_limit;
mod sense_sees_motor_current;
mod source_resistance_against_sampling;
mod voltage_sense_range;

use crate::rule::Rule;
use drive::assembly::SenseLine;

pub(super) const RULES: &[Rule] = &[
    edge_rate_against_counter::RULE,
    encoder_within_its_frequency::RULE,
    counter_filter_against_edge_gap::RULE,
    encoder_lines_rise_in_time::RULE,
    encoder_supply_at_its_end::RULE,
    encoder_cable_length::RULE,
    encoder_apart_from_motor_leads::RULE,
    counter_wrap_in_a_sample::RULE,
    counter_wrap_over_the_travel::RULE,
    position_axis_knows_its_place::RULE,
    homing_has_its_sensor::RULE,
    current_sense_range::RULE,
    voltage_sense_range::RULE,
    sense_pin_against_its_limit::RULE,
    current_sense_resolution::RULE,
    sampling_against_pwm::RULE,
    source_resistance_against_sampling::RULE,
    filter_delay_against_loop::RULE,
    sense_sees_motor_current::RULE,
];

/// ` of axis …`, for a message about a sense line.
fn of_axis(line: &SenseLine) -> String {
    line.axis.as_ref().map(|axis| format!(" of axis `{axis}`")).unwrap_or_default()
}

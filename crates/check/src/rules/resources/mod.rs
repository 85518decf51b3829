//! Rules of the group `Group::Resources`, in the order of the trade's list.

mod adc_simultaneity;
mod boot_and_reserved_pins;
mod encoder_needs_counter;
mod plug_mating;
mod pwm_resolution;
mod pwm_timer_sharing;
mod software_decode_load;
mod spare_bus_pins;
mod voltage_domain;

use crate::rule::Rule;

pub(super) const RULES: &[Rule] = &[
    encoder_needs_counter::RULE,
    software_decode_load::RULE,
    pwm_timer_sharing::RULE,
    pwm_resolution::RULE,
    adc_simultaneity::RULE,
    boot_and_reserved_pins::RULE,
    voltage_domain::RULE,
    plug_mating::RULE,
    spare_bus_pins::RULE,
];

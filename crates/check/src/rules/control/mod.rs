//! Rules of the group `Group::Control`: whether a loop can do what is asked.

mod acceptance_step_stays_linear;
mod current_loop_is_fast_enough;
mod delay_leaves_phase;
mod encoder_fine_enough_for_bandwidth;
mod enough_edges_at_low_speed;
mod loop_gain_follows_the_bus;
mod loop_jitter_is_small;
mod standstill_does_not_hunt;
mod voltage_headroom_for_the_motion;

use crate::rule::Rule;

pub(super) const RULES: &[Rule] = &[
    current_loop_is_fast_enough::RULE,
    encoder_fine_enough_for_bandwidth::RULE,
    loop_jitter_is_small::RULE,
    delay_leaves_phase::RULE,
    enough_edges_at_low_speed::RULE,
    acceptance_step_stays_linear::RULE,
    standstill_does_not_hunt::RULE,
    voltage_headroom_for_the_motion::RULE,
    loop_gain_follows_the_bus::RULE,
];

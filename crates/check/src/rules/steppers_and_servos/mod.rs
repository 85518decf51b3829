//! Rules of the group `Group::SteppersAndServos`, in the order of the trade's list.

mod bridges_trip_together;
mod coil_current_at_standstill;
mod phase_current_as_set;
mod phase_currents_alike;
mod servo_pulse_in_range;
mod servo_pulse_step_against_dead_band;
mod servo_rail_at_sag;
mod servo_travel_short_of_its_ends;
mod stepper_off_resonance;
mod stepper_within_pull_out;

use crate::rule::Rule;

pub(super) const RULES: &[Rule] = &[
    phase_currents_alike::RULE,
    phase_current_as_set::RULE,
    bridges_trip_together::RULE,
    coil_current_at_standstill::RULE,
    stepper_within_pull_out::RULE,
    stepper_off_resonance::RULE,
    servo_rail_at_sag::RULE,
    servo_pulse_in_range::RULE,
    servo_pulse_step_against_dead_band::RULE,
    servo_travel_short_of_its_ends::RULE,
];

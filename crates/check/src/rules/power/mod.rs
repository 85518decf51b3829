//! Rules of the group `Group::Power`, in the order of the trade's list.

mod duty_stuck_at_full;
mod motor_voltage_against_bus;

use crate::rule::Rule;

pub(super) const RULES: &[Rule] = &[motor_voltage_against_bus::RULE, duty_stuck_at_full::RULE];

//! Rules of the group `Group::Safety`: what protects people. Most of it nobody can compute; it is declared.

mod encoder_loss_stops_the_drive;
mod gravity_load_is_held;
mod guarding_is_declared;
mod independent_stop;
mod lithium_pack_is_protected;
mod no_restart_by_itself;
mod stop_cuts_every_mover;
mod supply_is_extra_low_voltage;
mod watchdog_stops_the_drive;

use crate::rule::Rule;

pub(super) const RULES: &[Rule] = &[
    independent_stop::RULE,
    stop_cuts_every_mover::RULE,
    no_restart_by_itself::RULE,
    watchdog_stops_the_drive::RULE,
    encoder_loss_stops_the_drive::RULE,
    guarding_is_declared::RULE,
    supply_is_extra_low_voltage::RULE,
    lithium_pack_is_protected::RULE,
    gravity_load_is_held::RULE,
];

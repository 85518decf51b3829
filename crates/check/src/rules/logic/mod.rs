//! Rules of the group `Group::Logic`, in the order of the trade's list.

mod back_feed;
mod contention;
mod default_state;
mod defaults_relied_on;
mod direction_with_duty;
mod enable_polarity;
mod ground_into_adc;
mod high_level;
mod input_over_voltage;
mod logic_budget;
mod low_level;
mod open_drain_pull_up;
mod rail_order;
mod reset_window;
mod servo_on_logic_rail;
mod signal_return;

use crate::rule::Rule;
use crate::view::View;
use bench::model::Board;
use bench::part::{Level, Signal};
use drive::assembly::levels::Stage;
use worked::{Number, Origin, Worked};

pub(super) const RULES: &[Rule] = &[
    high_level::RULE,
    low_level::RULE,
    input_over_voltage::RULE,
    back_feed::RULE,
    default_state::RULE,
    defaults_relied_on::RULE,
    rail_order::RULE,
    direction_with_duty::RULE,
    reset_window::RULE,
    enable_polarity::RULE,
    open_drain_pull_up::RULE,
    contention::RULE,
    logic_budget::RULE,
    servo_on_logic_rail::RULE,
    signal_return::RULE,
    ground_into_adc::RULE,
];

/// Every output at every input, analogue ones too; where one output goes to several pins of equal levels, once.
fn stages<'v, 'b>(view: &'v View<'b>) -> Vec<Stage<'v, 'b>> {
    let mut found: Vec<Stage<'v, 'b>> = Vec::new();
    for hop in view.nets.iter().flat_map(|net| net.hops(view.bench)) {
        for stage in Stage::of(view.bench, hop) {
            let levels = |s: &Stage<'_, '_>| s.to.levels().map(|levels| levels.path().to_owned());
            let same = |s: &Stage<'_, '_>| {
                s.name == stage.name && s.from.path() == stage.from.path() && levels(s) == levels(&stage)
            };
            if !found.iter().any(same) {
                found.push(stage);
            }
        }
    }
    found
}

/// The stages that carry levels.
fn digital_stages<'v, 'b>(view: &'v View<'b>) -> impl Iterator<Item = Stage<'v, 'b>> {
    stages(view).into_iter().filter(|stage| !stage.carries_a_quantity())
}

/// Room that a level needs beside what the sheets promise.
fn room() -> Worked {
    Worked::known(
        0.2,
        "V",
        "ΔU_room",
        "room beside the thresholds",
        Origin::common_practice("noise on short lines"),
    )
}

/// Limit and setting that a level of a line selects.
fn setting_at(board: &Board, signal: &Signal, level: Level) -> Option<(String, String)> {
    let limit = board.limits.iter().find(|limit| limit.limit.selected_by() == Some(signal.name()))?;
    let mapped = limit.limit.selects().iter().find(|entry| *entry.key == *level.word());
    let setting = mapped.and_then(|entry| entry.text()).unwrap_or(level.word());
    Some((limit.limit.name().to_owned(), setting.to_owned()))
}

/// Level of a line that takes the lower setting of the limit it selects.
fn lower_setting(board: &Board, signal: &Signal) -> Option<Level> {
    let limit = board.limits.iter().find(|limit| limit.limit.selected_by() == Some(signal.name()))?;
    let current = |level: Level| {
        let (_, setting) = setting_at(board, signal, level)?;
        limit.settings.iter().find(|(name, _)| **name == *setting).map(|(_, current)| current.value())
    };
    let (low, high) = (current(Level::Low)?, current(Level::High)?);
    Some(if low <= high { Level::Low } else { Level::High })
}

/// A figure as the file has it, `2.8 .. 3.4 V`; its value where it is worked out.
fn written(figure: &Worked) -> String {
    let text = figure.as_input().map(|input| input.written.to_string()).filter(|text| !text.is_empty());
    text.unwrap_or_else(|| figure.text())
}

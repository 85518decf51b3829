//! The rule book: one file a rule, with its page beside it, in one folder a group.

mod control;
mod data;
mod heat;
mod logic;
mod mechanics;
mod power;
mod resources;
mod safety;
mod signals;
mod steppers_and_servos;

use crate::rule::Rule;

/// All rules, in the order of the book.
pub static RULES: &[Rule] = &JOINED;

/// Rows of the trade's list that have no rule of their own, each with the reason.
pub const NOT_RULES: &[(&str, &str)] = &[];

/// Why the highest voltage of a feed may hang on data of axes.
const LIFTED: &str = "motors hang on the same line, and what they return decides its highest voltage";

const GROUPS: [&[Rule]; 10] = [
    data::RULES,
    power::RULES,
    logic::RULES,
    mechanics::RULES,
    heat::RULES,
    signals::RULES,
    resources::RULES,
    safety::RULES,
    control::RULES,
    steppers_and_servos::RULES,
];

const COUNT: usize = {
    let (mut total, mut g) = (0, 0);
    while g < GROUPS.len() {
        total += GROUPS[g].len();
        g += 1;
    }
    total
};

static JOINED: [Rule; COUNT] = {
    let mut joined = [Rule { id: "", row: "", group: crate::Group::Power, page: "", look: |_, _| {} }; COUNT];
    let (mut at, mut g) = (0, 0);
    while g < GROUPS.len() {
        let mut k = 0;
        while k < GROUPS[g].len() {
            joined[at] = GROUPS[g][k];
            at += 1;
            k += 1;
        }
        g += 1;
    }
    joined
};

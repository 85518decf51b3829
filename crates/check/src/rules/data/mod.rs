//! Rules of the group `Group::Data`: whether what the files say agrees with itself.

mod datasheet_figures_agree;

use crate::rule::Rule;

pub(super) const RULES: &[Rule] = &[datasheet_figures_agree::RULE];

//! Rules of the group `Group::Signals`, in the order of the trade's list.

use crate::rule::Rule;

pub(super) const RULES: &[Rule] = &[];

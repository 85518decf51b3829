//! Rules of the group `Group::Resources`, in the order of the trade's list.

use crate::rule::Rule;

pub(super) const RULES: &[Rule] = &[];

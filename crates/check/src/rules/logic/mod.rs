//! Rules of the group `Group::Logic`, in the order of the trade's list.

use crate::rule::Rule;

pub(super) const RULES: &[Rule] = &[];

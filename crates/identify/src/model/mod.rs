//! A fast model of a drive: exact from row to row, with the slopes of everything to the parameters.

pub(crate) mod dual;
pub(crate) mod map;
pub(crate) mod pass;
pub(crate) mod plant;
pub(crate) mod tally;
pub(crate) mod walk;

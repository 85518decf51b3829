//! Units as engineers write them. (Skeleton: see the contract below.)

use crate::Dimension;
use std::sync::Arc;

/// A unit: what its symbol is worth in SI.
#[derive(Clone, PartialEq, Debug)]
pub struct Unit {
    symbol: Arc<str>,
    dimension: Dimension,
    factor: f64,
    offset: f64,
}

impl Unit {
    /// The symbol to print, such as `mN·m`.
    pub fn symbol(&self) -> &str {
        &self.symbol
    }
    /// What the unit measures.
    pub fn dimension(&self) -> Dimension {
        self.dimension
    }
    /// The SI value of `value` of these.
    pub fn to_si(&self, value: f64) -> f64 {
        (value + self.offset) * self.factor
    }
    /// How many of these make the SI value.
    pub fn from_si(&self, si: f64) -> f64 {
        si / self.factor - self.offset
    }
}

//! The two levels of a line.

use super::Level;

impl Level {
    /// The other one.
    pub fn other(self) -> Self {
        match self {
            Self::High => Self::Low,
            Self::Low => Self::High,
        }
    }
}

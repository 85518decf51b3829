//! Supplies, servos, cables and loads of the bench with their parts.

use crate::file::{CableEntry, Load, ServoEntry, SupplyEntry};
use crate::model::{Feed, Place};
use crate::part::{Cable, Servo, ServoOutput, Supply};
use std::sync::Arc;
use worked::Worked;

/// A supply of the bench.
#[derive(Clone, Debug)]
pub struct SupplyUnit {
    /// Its name in the bench.
    pub name: Arc<str>,
    /// What the bench file says.
    pub entry: SupplyEntry,
    /// The part.
    pub part: Supply,
}

/// A hobby servo of the bench.
#[derive(Clone, Debug)]
pub struct ServoUnit {
    /// Its name in the bench.
    pub name: Arc<str>,
    /// What the bench file says.
    pub entry: ServoEntry,
    /// The part.
    pub part: Servo,
    /// What feeds it.
    pub feed: Option<Feed>,
    /// The board's servo output that it is plugged into.
    pub output: Option<(Arc<str>, ServoOutput)>,
}

/// A cable that is laid on the bench.
#[derive(Clone, Debug)]
pub struct CableRun {
    /// Its name in the bench.
    pub name: Arc<str>,
    /// What the bench file says.
    pub entry: CableEntry,
    /// The part.
    pub part: Cable,
    /// One end.
    pub from: Place,
    /// The other end.
    pub to: Place,
}

/// The load of an axis.
#[derive(Clone, Debug)]
pub struct Carried {
    /// Its name in the bench.
    pub name: Arc<str>,
    /// The load.
    pub load: Load,
    /// How many axes carry it together, each an equal share.
    pub shared_by: usize,
}

impl SupplyUnit {
    /// Voltage at its terminals without load: as set where it can be set, else as the part says.
    pub fn voltage(&self) -> Worked {
        if self.entry.has("set_voltage") { self.entry.set_voltage() } else { self.part.voltage() }
    }

    /// Current at which it limits: as set, else as the part says.
    pub fn limit(&self) -> Worked {
        if self.entry.has("set_limit") { self.entry.set_limit() } else { self.part.limit() }
    }
}

impl ServoUnit {
    /// Period of its pulses: as the bench says, else as the part says.
    pub fn frame(&self) -> Worked {
        if self.entry.has("frame") { self.entry.frame() } else { self.part.frame() }
    }
}

impl CableRun {
    /// Whether it runs between these two, either way round.
    pub fn joins(&self, a: &Place, b: &Place) -> bool {
        (self.from == *a && self.to == *b) || (self.from == *b && self.to == *a)
    }

    /// Whether it ends here.
    pub fn ends_at(&self, place: &Place) -> bool {
        self.from == *place || self.to == *place
    }
}

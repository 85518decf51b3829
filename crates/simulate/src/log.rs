//! The log of a simulation: what its columns are, and rows on their way into it.

use crate::record::{Row, Sink};
use crate::set_up::SetUp;
use crate::simulation::Stage;
use finding::Watch;
use logs::{Column, Refused, TestPoint};

/// The columns of a row, in its order.
pub fn columns() -> [Column; 7] {
    let real = |name: &str, unit: &str, at, meaning: &str| Column::real(name, unit, at, meaning);
    [
        real("time", "s", None, "since the start"),
        real("duty", "", Some(TestPoint::Tp5), "as told to the bridge; 0 while all switches are open"),
        real("supply voltage", "V", Some(TestPoint::Tp2), "at the bridge, mean since the row before"),
        real("motor voltage", "V", Some(TestPoint::Tp6), "at the terminals, mean since the row before"),
        real("current", "A", Some(TestPoint::Tp6), "of the motor, at this instant"),
        real("speed", "rad/s", Some(TestPoint::Tp11), "of the motor shaft"),
        real("angle", "rad", Some(TestPoint::Tp11), "of the motor shaft"),
    ]
}

fn values(row: &Row) -> [f64; 7] {
    let Row { time, duty, supply_voltage, motor_voltage, current, speed, angle, .. } = *row;
    [time, duty, supply_voltage, motor_voltage, current, speed, angle]
}

/// Passes rows on, watched.
pub struct Rows<'w, S> {
    to: S,
    watch: Watch<'w>,
    /// Time of the whole, s.
    length: f64,
}

impl<'w, S: logs::Sink> Rows<'w, S> {
    /// To a log of these [`columns`].
    pub fn new(to: S, drive: &SetUp, stages: &[Stage], watch: Watch<'w>) -> Self {
        Self { to, watch, length: length(drive, stages) }
    }

    /// The log.
    pub fn into_log(self) -> S {
        self.to
    }
}

impl<S: logs::Sink> Sink for Rows<'_, S> {
    type Failure = Refused;

    fn take(&mut self, row: &Row) -> Result<(), Refused> {
        self.watch.go_on(row.time / self.length)?;
        self.to.take(&values(row))
    }
}

/// Time that the stages take, s.
pub(crate) fn length(drive: &SetUp, stages: &[Stage]) -> f64 {
    stages.iter().map(|stage| stage.periods as f64).sum::<f64>() / drive.frequency
}

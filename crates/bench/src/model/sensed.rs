//! Lines that tell a current or a voltage, whether a pin reads them or not.

use super::Bench;
use crate::file::Measures;
use crate::part::Role;
use worked::{Dimension, Worked};

/// A line of a board or of a sensor that tells a current or a voltage.
#[derive(Clone, Debug)]
pub struct Sensed {
    /// As the bench writes it: `board:A.current`.
    pub name: String,
    /// Dimension of what it tells.
    pub dimension: Dimension,
    /// Voltage at zero.
    pub zero: Worked,
    /// Sensitivity; below zero where the voltage falls.
    pub scale: Worked,
}

impl Bench {
    /// All lines that tell a current or a voltage.
    pub fn sensed(&self) -> Vec<Sensed> {
        let of_boards = self.boards.iter().flat_map(|board| {
            board.signals().into_iter().filter_map(|signal| {
                let dimension = match signal.role().value? {
                    Role::Current => Dimension::CURRENT,
                    Role::Voltage => Dimension::VOLTAGE,
                    _ => return None,
                };
                let name = format!("{}:{}", board.name, signal.name());
                Some(Sensed { name, dimension, zero: signal.zero(), scale: signal.scale() })
            })
        });
        let of_sensors = self.sensors().into_iter().filter_map(|(name, sensor)| {
            let dimension = match sensor.measures().value? {
                Measures::Current => Dimension::CURRENT,
                Measures::Voltage => Dimension::VOLTAGE,
                _ => return None,
            };
            let name = format!("{name}:signal");
            Some(Sensed { name, dimension, zero: sensor.zero(), scale: sensor.scale() })
        });
        of_boards.chain(of_sensors).collect()
    }
}

//! What is known of an axis before its records are judged.

use crate::pulse::Band;
use crate::record::{Sensors, Shaft};
use drive::bridge::OffState;

/// What sheets say. What is not there is not known, and no sign is held against it.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Known<'a> {
    /// Resistance of the motor loop, Ω.
    pub resistance: Option<Band>,
    /// Inductance of the motor loop, H.
    pub inductance: Option<Band>,
    /// Torque constant, which is the back-EMF constant, V·s/rad.
    pub constant: Option<Band>,
    /// Drop of both brushes, and what dead time takes where the voltage is the duty's, V.
    pub brush_drop: Option<Band>,
    /// Open voltage of the supply, V.
    pub supply: Option<Band>,
    /// Resistance of source, cable and protector, Ω.
    pub source_resistance: Option<Band>,
    /// Period of the PWM, s.
    pub pwm_period: Option<Band>,
    /// What the winding sees in the off-time of the PWM.
    pub off_state: Option<OffState>,
    /// Limits of current on the way.
    pub limits: &'a [Level],
    /// Voltage of the bus at which the board stops, V.
    pub lockout: Option<f64>,
    /// Counts in a turn of the motor shaft.
    pub counts_per_turn: Option<f64>,
    /// Turns of the motor for one of the gear's output.
    pub gear_ratio: Option<f64>,
    /// Time from row to row as it was meant, s.
    pub interval: Option<f64>,
    /// Heat that warms the winding by a kelvin, J/K.
    pub winding_heat: Option<Band>,
    /// Change of the resistance per kelvin, 1/K.
    pub resistance_per_kelvin: f64,
    /// What the sensors are good for.
    pub sensors: Sensors,
    /// What the shaft does in this record.
    pub shaft: Shaft,
}

/// A limit of current.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Level {
    /// Current that it acts at, A.
    pub current: Band,
    /// It sees the current out of the supply, and not that of the motor.
    pub of_supply: bool,
}

/// Part of the largest voltage that brushes and dead time take at most where nobody states them (common practice, no source).
pub(super) const UNSTATED_DROP: f64 = 0.05;

impl Known<'_> {
    /// Nothing but copper at 20 °C (0.00393/K, IEC 60028), and a free shaft.
    pub const NOTHING: Self = Known {
        resistance: None,
        inductance: None,
        constant: None,
        brush_drop: None,
        supply: None,
        source_resistance: None,
        pwm_period: None,
        off_state: None,
        limits: &[],
        lockout: None,
        counts_per_turn: None,
        gear_ratio: None,
        interval: None,
        winding_heat: None,
        resistance_per_kelvin: 0.00393,
        sensors: Sensors {
            current: crate::record::Sensor { gain: 0.0, offset: 0.0, noise: None },
            voltage: crate::record::Sensor { gain: 0.0, offset: 0.0, noise: None },
            extra_inertia: 0.0,
            temperature: 0.0,
        },
        shaft: Shaft::Free,
    };

    /// Back-EMF in a count per second, V·s, where constant and counts are known.
    pub(super) fn per_count(&self) -> Option<Band> {
        let counts = self.counts_per_turn.filter(|counts| *counts > 0.0 && counts.is_finite())?;
        let constant = usable(self.constant)?;
        Some(constant.times(std::f64::consts::TAU / counts))
    }
}

/// The band, where it is one of a figure above zero.
pub(super) fn usable(band: Option<Band>) -> Option<Band> {
    band.filter(|b| 0.0 < b.low && b.low <= b.high && b.high.is_finite())
}

impl Band {
    pub(super) fn middle(self) -> f64 {
        0.5 * (self.low + self.high)
    }

    pub(super) fn times(self, factor: f64) -> Self {
        Self { low: self.low * factor, high: self.high * factor }
    }
}

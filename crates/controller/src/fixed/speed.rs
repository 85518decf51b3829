//! The speed loop in whole numbers.

use super::arithmetic::Plain;
use super::encoder::Encoder;
use super::law::{self, Asked, SpeedConstants};
use crate::{Controller, Reading};

/// The speed loop. It starts with the target 0.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct FixedSpeedLoop {
    constants: SpeedConstants,
    encoder: Encoder,
    integrator: i64,
    target: i64,
    slew: i64,
    reference: i64,
}

impl FixedSpeedLoop {
    /// A loop at rest. The constants are as good as the proof that goes with them.
    pub fn new(constants: SpeedConstants) -> Self {
        Self {
            constants,
            encoder: Encoder::new(constants.counter_bits, constants.window),
            integrator: 0,
            target: 0,
            slew: 2 * constants.most_speed,
            reference: 0,
        }
    }

    /// Its constants.
    pub fn constants(&self) -> &SpeedConstants {
        &self.constants
    }

    /// Asks for a speed (2^−S counts a window), to be reached by so much a sample; twice the highest speed or more is a
    /// step. Both are held inside their ranges.
    pub fn ask(&mut self, speed: i64, slew: i64) {
        let most = self.constants.most_speed;
        self.target = speed.max(-most).min(most);
        self.slew = slew.max(1).min(2 * most);
    }

    /// The duty in counts of the timer, from the lowest 32 bits of the counter and the code of the bus; `None` opens all
    /// switches.
    pub fn duty(&mut self, count: u32, voltage_code: u32) -> Option<i64> {
        let (_, measured) = self.measure(count);
        let limits = (-self.slew, self.slew);
        let before = (self.target, self.reference);
        let (reference, step) = law::approach(&mut Plain, &self.constants, before, limits);
        self.reference = reference;
        // A step has no acceleration that could be fed forward.
        let acceleration = if self.slew < 2 * self.constants.most_speed { step } else { 0 };
        self.drive(Asked { reference, acceleration, measured }, voltage_code)
    }

    /// Counts since the first reading, and the measured speed: once a sample.
    pub(super) fn measure(&mut self, count: u32) -> (u64, i64) {
        let (total, in_window) = self.encoder.follow(count);
        (total, law::measured(&mut Plain, &self.constants, in_window))
    }

    pub(super) fn drive(&mut self, asked: Asked<i64>, voltage_code: u32) -> Option<i64> {
        let c = &self.constants;
        let terms = law::terms(&mut Plain, c, asked);
        let bus = law::bus(&mut Plain, c, i64::from(voltage_code));
        if bus < c.bus.lowest {
            self.integrator = law::take_over(&mut Plain, c, terms);
            return None;
        }
        let (duty, integrator) = law::drive(&mut Plain, c, asked, terms, (bus, self.integrator));
        self.integrator = integrator;
        Some(duty)
    }

    /// A duty as the part of its period that it is.
    pub(super) fn part(&self, duty: i64) -> f64 {
        duty as f64 / self.constants.duty_counts as f64
    }
}

impl Controller for FixedSpeedLoop {
    fn tick(&mut self, reading: &Reading) -> Option<f64> {
        let duty = self.duty(reading.count as u32, reading.voltage_code)?;
        Some(self.part(duty))
    }
}

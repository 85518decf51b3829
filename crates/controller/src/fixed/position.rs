//! The position loop in whole numbers: it makes moves, and holds the place where the last one ended.

use super::arithmetic::Plain;
use super::law::{self, Asked, Following, PositionConstants};
use super::profile::Travel;
use super::speed::FixedSpeedLoop;
use crate::{Controller, Reading};

/// Moves a shaft by counts. It begins where the first reading finds it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct FixedPositionLoop {
    speed_loop: FixedSpeedLoop,
    constants: PositionConstants,
    travel: Travel,
    /// Place at which the present move began, counts modulo 2^64.
    start: u64,
}

impl FixedPositionLoop {
    /// Around a speed loop, holding its place.
    pub fn new(speed_loop: FixedSpeedLoop, constants: PositionConstants) -> Self {
        Self { speed_loop, constants, travel: Travel::NONE, start: 0 }
    }

    /// Its constants.
    pub fn constants(&self) -> &PositionConstants {
        &self.constants
    }

    /// Begins a move by so many counts, at a top speed (2^−F counts a sample) and an acceleration (2^−F counts a sample,
    /// a sample). False, and nothing begins, while a move is on or where no move is like that.
    pub fn begin(&mut self, distance: i64, top_speed: i64, acceleration: i64) -> bool {
        if !self.is_at_rest() {
            return false;
        }
        match Travel::plan(&self.constants, distance, top_speed, acceleration) {
            Some(travel) => {
                self.travel = travel;
                true
            }
            None => false,
        }
    }

    /// No move is on.
    pub fn is_at_rest(&self) -> bool {
        self.travel.is_over()
    }

    /// The duty in counts of the timer, as of the speed loop.
    pub fn duty(&mut self, count: u32, voltage_code: u32) -> Option<i64> {
        let (total, measured) = self.speed_loop.measure(count);
        let bits = self.constants.place_bits;
        let place = self.travel.place();
        let whole = place >> bits;
        let wanted = self.start.wrapping_add(whole as u64);
        let now = Following {
            lag_counts: wanted.wrapping_sub(total) as i64,
            fraction: place - (whole << bits),
            speed: self.travel.speed(),
            acceleration: self.travel.acceleration(),
        };
        let (reference, acceleration) =
            law::follow(&mut Plain, (self.speed_loop.constants(), &self.constants), now);
        self.travel.go_on();
        if self.travel.is_over() {
            self.start = self.start.wrapping_add((self.travel.place() >> bits) as u64);
            self.travel = Travel::NONE;
        }
        self.speed_loop.drive(Asked { reference, acceleration, measured }, voltage_code)
    }
}

impl Controller for FixedPositionLoop {
    fn tick(&mut self, reading: &Reading) -> Option<f64> {
        let duty = self.duty(reading.count as u32, reading.voltage_code)?;
        Some(self.speed_loop.part(duty))
    }
}

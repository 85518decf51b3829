//! The position loop: proportional, with the speed of the course fed forward, around the speed loop.
//!
//! ```text
//! ω_r = ω_p + K_φ·(φ_p − φ)  held to ±ω_max        φ = counts/c        φ_p, ω_p, α_p from the course
//! ```

use crate::profile::{Course, Profile};
use crate::speed::SpeedLoop;
use crate::{Controller, Reading, Unusable, above_zero};

/// Holds a shaft to a course. The place of the first reading is the place zero.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct PositionLoop<C = Profile> {
    speed_loop: SpeedLoop,
    course: C,
    gain: f64,
    top_speed: f64,
}

impl<C: Course> PositionLoop<C> {
    /// Around a speed loop, with a gain (1/s) and a speed that is never asked for more (rad/s).
    ///
    /// # Errors
    /// Where one of them is no use.
    pub fn new(speed_loop: SpeedLoop, course: C, gain: f64, top_speed: f64) -> Result<Self, Unusable> {
        above_zero(&[("gain of the position loop", gain), ("top speed", top_speed)])?;
        Ok(Self { speed_loop, course, gain, top_speed })
    }
}

impl<C: Course> Controller for PositionLoop<C> {
    fn tick(&mut self, reading: &Reading) -> Option<f64> {
        let (total, measured) = self.speed_loop.measure(reading);
        let figures = self.speed_loop.figures();
        let place = self.course.at(reading.sample as f64 * figures.sample_time);
        let error = place.position - total as f64 / figures.counts;
        let asked = (place.speed + self.gain * error).clamp(-self.top_speed, self.top_speed);
        self.speed_loop.drive(asked, place.acceleration, measured, reading.voltage_code)
    }
}

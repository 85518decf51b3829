//! A move at a steady acceleration: trapezoid of the speed, a triangle where it is too short for the top speed.
//!
//! ```text
//! v_p = min(v, √(a·d))        t_a = v_p/a        t_end = d/v_p + v_p/a
//! ```
//!
//! The same course as `drive::motion` has with equal ramps, here without an operating system; a test compares them.

use crate::{Unusable, above_zero};

/// What a position loop follows: where it is to be at any time.
pub trait Course {
    /// Where it is at a time since its start, s; at rest before it.
    fn at(&self, time: f64) -> Place;
}

/// A move from rest to rest.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Profile {
    distance: f64,
    acceleration: f64,
    peak_speed: f64,
    ramp_time: f64,
    end: f64,
}

/// Where a move is.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Place {
    /// rad.
    pub position: f64,
    /// rad/s.
    pub speed: f64,
    /// rad/s².
    pub acceleration: f64,
}

impl Profile {
    /// A distance (rad, its sign being the sense) at a top speed (rad/s) and an acceleration (rad/s²).
    ///
    /// # Errors
    /// Where one of them is no use.
    pub fn new(distance: f64, top_speed: f64, acceleration: f64) -> Result<Self, Unusable> {
        above_zero(&[("top speed", top_speed), ("acceleration", acceleration)])?;
        if !distance.is_finite() {
            return Err(Unusable { what: "distance", value: distance, must: "a number" });
        }
        let way = distance.abs();
        let peak_speed = top_speed.min(libm::sqrt(acceleration * way));
        let ramp_time = peak_speed / acceleration;
        let end = if peak_speed > 0.0 { way / peak_speed + ramp_time } else { 0.0 };
        Ok(Self { distance, acceleration, peak_speed, ramp_time, end })
    }

    /// When it is over, s.
    pub fn end(&self) -> f64 {
        self.end
    }

    /// Highest speed that it reaches, rad/s, without sign.
    pub fn peak_speed(&self) -> f64 {
        self.peak_speed
    }

    /// Where it is at a time since its start: at rest before, and at its distance, to the last bit, after its end.
    pub fn at(&self, time: f64) -> Place {
        let sense = if self.distance < 0.0 { -1.0 } else { 1.0 };
        let (a, v, left) = (self.acceleration, self.peak_speed, self.end - time);
        if time <= 0.0 {
            Place::default()
        } else if left <= 0.0 {
            Place { position: self.distance, ..Place::default() }
        } else if time < self.ramp_time {
            Place {
                position: sense * 0.5 * a * time * time,
                speed: sense * a * time,
                acceleration: sense * a,
            }
        } else if left < self.ramp_time {
            Place {
                position: self.distance - sense * 0.5 * a * left * left,
                speed: sense * a * left,
                acceleration: -sense * a,
            }
        } else {
            Place { position: sense * v * (time - 0.5 * self.ramp_time), speed: sense * v, acceleration: 0.0 }
        }
    }
}

impl Course for Profile {
    fn at(&self, time: f64) -> Place {
        Self::at(self, time)
    }
}

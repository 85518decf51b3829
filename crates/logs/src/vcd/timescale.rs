//! What a dump counts time in.

use crate::Refused;
use std::fmt;

/// A step of time: a power of ten of a second, from 1 fs to 1 ns.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Timescale {
    /// Steps in a second: 10 to this power.
    power: u8,
}

/// Steps that the shortest time of interest has at least: its ends are then placed to a hundredth of it.
const STEPS: f64 = 50.0;
/// Highest count of steps: beyond it not every one is a number of ours.
const MOST: f64 = 9_007_199_254_740_992.0;

impl Timescale {
    /// 1 ns.
    pub const NANOSECOND: Self = Self { power: 9 };

    /// The coarsest scale, 1 ns at most, in which a time of this length, s, has 50 steps: give it the shortest pulse
    /// that has to be seen. 1 fs where nothing is fine enough.
    pub fn for_pulses_of(shortest: f64) -> Self {
        let fits = |power: &u8| shortest * steps_in_a_second(*power) >= STEPS;
        let power = if shortest > 0.0 { (9..=15).find(fits).unwrap_or(15) } else { 9 };
        Self { power }
    }

    /// Length of a step, s.
    pub fn seconds(self) -> f64 {
        1.0 / steps_in_a_second(self.power)
    }

    /// A time in steps, the nearest.
    pub(super) fn steps(self, time: f64) -> Result<u64, Refused> {
        let steps = libm::round(time * steps_in_a_second(self.power));
        if (0.0..=MOST).contains(&steps) {
            Ok(steps as u64)
        } else {
            Err(Refused::Time { time, step: self.to_string() })
        }
    }
}

fn steps_in_a_second(power: u8) -> f64 {
    // All of these are whole numbers that a float holds exactly.
    (0..power).fold(1.0, |product, _| product * 10.0)
}

/// `1 ns`, `100 ps`
impl fmt::Display for Timescale {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (unit, below) = match self.power {
            ..=9 => ("ns", 9),
            10..=12 => ("ps", 12),
            _ => ("fs", 15),
        };
        let number = (self.power..below).fold(1, |number, _| number * 10);
        write!(f, "{number} {unit}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_scale_follows_the_shortest_pulse() {
        for (shortest, want) in [
            (50e-6, "1 ns"),
            // 50 steps of 1 ns are 50 ns; of 100 ps, 5 ns.
            (51e-9, "1 ns"),
            (49e-9, "100 ps"),
            (5.1e-9, "100 ps"),
            (4.9e-9, "10 ps"),
            (60e-12, "1 ps"),
            (10e-12, "100 fs"),
            (1e-18, "1 fs"),
            (0.0, "1 ns"),
            (f64::NAN, "1 ns"),
        ] {
            assert_eq!(Timescale::for_pulses_of(shortest).to_string(), want, "{shortest}");
        }
    }

    #[test]
    fn times_are_rounded_to_the_nearest_step() {
        let ns = Timescale::NANOSECOND;
        assert_eq!(ns.steps(12.5e-6).unwrap(), 12_500);
        assert_eq!(ns.steps(1.6e-9).unwrap(), 2);
        assert_eq!(ns.seconds(), 1e-9);
        for time in [-1e-6, f64::NAN, f64::INFINITY, 1e8] {
            assert!(matches!(ns.steps(time), Err(Refused::Time { .. })), "{time}");
        }
    }
}

//! Two lines of an encoder, a quarter apart: from the angle of a shaft to their edges, and from the edges back to counts,
//! speeds with their bounds, and the errors of the marks.
//!
//! Angles are in lines: 1 is one line of the encoder, four edges. A leads B where the angle rises.

mod count;
mod counter;
mod edges;
mod flaws;
mod passing;
mod speed;

pub use count::{Decoder, Decoding};
pub use counter::{NoCount, Unwrap, Unwrapped, unwrapped};
pub use edges::{Edge, Line, Sample};
pub use flaws::{Estimate, Flaws, Gauge};
pub use passing::{Pass, Passing, Tracker};
pub use speed::{Gate, Pace, Speed, Timed, by_counts};

/// The marks of an encoder, with the errors that they have.
///
/// Within each line A is high from 0 to ½ + `duty_error`, B from ¼ + `phase_error` to ¾ + `phase_error`.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Marks {
    /// Where A rises, B rises, A falls, B falls.
    at: [f64; 4],
}

/// Marks so wrong that the edges of a line would change their order.
#[derive(Clone, Copy, PartialEq, Debug, thiserror::Error)]
#[error(
    "with a phase error of {phase_error} and a duty error of {duty_error} of a line, A and B would not change in turn: \
     give less than a quarter of a line for each, and for their difference"
)]
pub struct OutOfOrder {
    /// Of B, in lines.
    pub phase_error: f64,
    /// Of A, in lines.
    pub duty_error: f64,
}

/// The levels of both lines.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Levels {
    /// Whether A is high.
    pub a: bool,
    /// Whether B is high.
    pub b: bool,
}

impl Marks {
    /// Marks without error.
    pub const TRUE: Self = Self { at: [0.0, 0.25, 0.5, 0.75] };

    /// Marks whose B comes late by `phase_error`, and whose A is high for `duty_error` more than half; both in lines.
    ///
    /// # Errors
    /// Where the edges would not come in their order.
    pub fn new(phase_error: f64, duty_error: f64) -> Result<Self, OutOfOrder> {
        let at = [0.0, 0.25 + phase_error, 0.5 + duty_error, 0.75 + phase_error];
        if at.windows(2).all(|pair| pair[0] < pair[1]) && at[3] < 1.0 {
            Ok(Self { at })
        } else {
            Err(OutOfOrder { phase_error, duty_error })
        }
    }

    /// How many edges lie between angle 0 and an angle, that at 0 not counted: what a counter of all edges shows that
    /// was zero just above angle 0.
    ///
    /// Holds for angles below 10¹² lines by amount, where a float still tells a thousandth of a line.
    pub fn count(&self, angle: f64) -> i64 {
        let line = libm::floor(angle);
        let passed = self.at.iter().filter(|mark| line + **mark <= angle).count();
        4 * (line as i64) + passed as i64 - 1
    }

    /// The levels at an angle.
    pub fn levels(&self, angle: f64) -> Levels {
        levels_at(self.count(angle))
    }

    /// The angle of the edge between a count and the one below it.
    fn edge(&self, count: i64) -> f64 {
        count.div_euclid(4) as f64 + self.at[count.rem_euclid(4) as usize]
    }
}

/// The levels while a counter of all edges shows a count.
fn levels_at(count: i64) -> Levels {
    match count.rem_euclid(4) {
        0 => Levels { a: true, b: false },
        1 => Levels { a: true, b: true },
        2 => Levels { a: false, b: true },
        _ => Levels { a: false, b: false },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_leads_b_where_the_angle_rises() {
        let levels: Vec<(bool, bool)> = [0.0, 0.2, 0.3, 0.6, 0.8, 1.1, -0.1, -0.3]
            .iter()
            .map(|angle| Marks::TRUE.levels(*angle))
            .map(|levels| (levels.a, levels.b))
            .collect();
        let (high, low) = (true, false);
        assert_eq!(
            levels,
            [
                (high, low),
                (high, low),
                (high, high),
                (low, high),
                (low, low),
                (high, low),
                (low, low),
                (low, high)
            ]
        );
        assert_eq!([-0.9, -0.1, 0.0, 0.26, 2.5].map(|angle| Marks::TRUE.count(angle)), [-4, -1, 0, 1, 10]);
    }

    #[test]
    fn errors_move_the_marks() {
        let marks = Marks::new(0.1, -0.05).unwrap();
        // By hand: B rises at 0.35, A falls at 0.45, B falls at 0.85.
        assert_eq!([0.34, 0.36, 0.46, 0.84, 0.86].map(|angle| marks.count(angle)), [0, 1, 2, 2, 3]);
        for (phase_error, duty_error) in [(0.25, 0.0), (-0.25, 0.0), (0.0, 0.3), (0.2, -0.1), (f64::NAN, 0.0)]
        {
            assert!(Marks::new(phase_error, duty_error).is_err(), "{phase_error} {duty_error}");
        }
    }
}

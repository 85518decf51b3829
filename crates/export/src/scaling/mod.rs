//! Figures of the loops to whole constants: the finest scaling of which no intermediate value can leave its type.
//!
//! For every S (bits of a speed) and V (bits of a voltage) the largest N (bits of a voltage while terms are added up) is
//! sought with which the interval of every intermediate value fits its type; of all these, that which tells the coarsest of
//! its constants best. Where even that is too coarse, or nothing fits, the figures are refused.

mod interval;
mod position;
mod proof;
mod speed;

pub use interval::{Interval, Intervals};
pub use proof::Row;

use controller::fixed::{PositionConstants, SpeedConstants};
use controller::{SpeedFigures, SpeedLoop, Unusable};

/// Bits with which the coarsest constant has to be told: its rounding is then at most 2^−9 of it, 0.2 % (a choice, small
/// against the tolerance of any motor).
pub const FEWEST_BITS: i32 = 9;

/// What goes into the loops at most, and in what they tell a duty.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Ranges {
    /// Speed of the motor at which reference and measured speed are held, rad/s.
    pub top_speed: f64,
    /// Highest code of the converter on the bus; 0 where the bus is not measured.
    pub highest_code: u32,
    /// Counts of the PWM timer at a duty of 1.
    pub duty_counts: u32,
}

/// What the position loop needs beside the speed loop.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct PositionFigures {
    /// Gain, 1/s.
    pub gain: f64,
    /// Speed of the motor that is never asked for more, rad/s.
    pub top_speed: f64,
    /// Longest move, counts.
    pub longest_move: i64,
}

/// Whole constants of which a proof says that they never overflow.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Scaling {
    /// Of the speed loop.
    pub speed: SpeedConstants,
    /// Of the position loop, where there is one.
    pub position: Option<PositionConstants>,
}

/// Why figures have no scaling.
#[derive(Clone, PartialEq, Debug, thiserror::Error)]
#[non_exhaustive]
pub enum NoScaling {
    /// They are none of a loop.
    #[error(transparent)]
    Figure(#[from] Unusable),
    /// A range is out of what whole numbers of this form hold.
    #[error("{what} is {value}, and has to be {must}")]
    Range {
        /// Which.
        what: &'static str,
        /// What it was.
        value: f64,
        /// What it has to be.
        must: &'static str,
    },
    /// Between two samples the counter may move by half its range or more, so that its sense is lost.
    #[error(
        "at the highest speed the encoder moves {counts:.0} counts in a sample, and a counter of {bits} bits tells only \
         less than {most:.0}; take a shorter sample time, or a wider counter"
    )]
    Counter {
        /// Counts in a sample.
        counts: f64,
        /// Width of the counter.
        bits: u32,
        /// Half of its range.
        most: f64,
    },
    /// Whatever fits tells something too coarsely.
    #[error(
        "the finest scaling that cannot overflow tells the {what} with {bits} bits, and less than {FEWEST_BITS} are too \
         coarse; take the code in floating point, or change the figures"
    )]
    Coarse {
        /// The coarsest constant.
        what: &'static str,
        /// Its bits.
        bits: i32,
    },
    /// No scaling keeps every intermediate value in its type.
    #[error(
        "no scaling keeps every value in its type; take the code in floating point, or change the figures"
    )]
    Overflows,
}

/// The finest scaling of figures that has a proof.
///
/// # Errors
/// Where there is none, and why.
pub fn scale(
    figures: &SpeedFigures,
    position: Option<&PositionFigures>,
    ranges: &Ranges,
) -> Result<Scaling, NoScaling> {
    // Refuses what no loop can have.
    SpeedLoop::new(*figures)?;
    let speed = speed::choose(figures, ranges)?;
    let position = position.map(|p| position::choose(figures, p, &speed)).transpose()?;
    match proof::misfit(&speed, position.as_ref()) {
        Some(_) => Err(NoScaling::Overflows),
        None => Ok(Scaling { speed, position }),
    }
}

impl Scaling {
    /// Every intermediate value with its interval.
    pub fn proof(&self) -> Vec<Row> {
        proof::rows(self)
    }
}

/// The nearest whole number, where it is one of 32 bits with its sign.
fn factor(exact: f64) -> Option<i64> {
    let rounded = libm::round(exact);
    (rounded.abs() <= f64::from(i32::MAX)).then_some(rounded as i64)
}

/// Bits of a number above zero: 1 has one.
fn bits(value: i64) -> i32 {
    64 - value.leading_zeros() as i32
}

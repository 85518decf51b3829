//! The code that runs in the controller of an axis: count to speed, speed to voltage, place to speed.
//!
//! A [`Controller`] is called once a sample, at the time `k·T_s`, with the [`Reading`] of that instant. What it
//! returns takes effect at `(k + 1)·T_s` and is held for a sample: a sample for the computation, half of one for
//! the hold, which is the `1.5·T_s` in [`gains`]. The delay itself is not here; who calls applies it.
//!
//! | module | holds |
//! |---|---|
//! | [`count`] | the counter of an encoder with its wrap undone, and the speed from it |
//! | [`pi`] | the PI law with its anti-windup |
//! | [`speed`] | the speed loop in voltage mode: feed-forward, PI, clamp of the current |
//! | [`position`] | the position loop around it |
//! | [`profile`] | the move that it follows |
//! | [`gains`] | a working set of figures for both, from the figures of the motor |
//! | [`fixed`] | both loops and the move in whole numbers, for a controller without a floating-point unit |
//!
//! All angles and speeds are those of the motor shaft, in rad and rad/s. The crate needs no operating system and
//! no heap, and reads no clock. Model, sources and limits: `docs/models/control.md`.
#![no_std]

pub mod count;
pub mod fixed;
pub mod gains;
pub mod pi;
pub mod position;
pub mod profile;
pub mod speed;

pub use count::{Counter, Speed};
pub use gains::{Drive, Encoder, speed_loop};
pub use pi::{Pi, PiFigures};
pub use position::PositionLoop;
pub use profile::{Course, Place, Profile};
pub use speed::{Bus, FeedForward, SpeedFigures, SpeedLoop};

/// What the controller sees of the axis, all of it taken at the same instant, the beginning of the sample.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Reading {
    /// Number of the sample, from 0: its time is this times the sample time.
    pub sample: u64,
    /// The counter of the encoder as it stands; bits above its width do not count.
    pub count: i64,
    /// Code of the current converter; 0 where there is none.
    pub current_code: u32,
    /// Code of the converter on the voltage of the bus; 0 where there is none.
    pub voltage_code: u32,
}

/// A loop as its caller sees it.
pub trait Controller {
    /// Takes the reading of a sample and gives the duty for the next, from −1 to 1, its sign being the sense; `None`
    /// opens all switches. Of a locked anti-phase bridge the duty is the mean voltage over that of the bus.
    fn tick(&mut self, reading: &Reading) -> Option<f64>;
}

/// A figure that no loop can have.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Unusable {
    /// Which.
    pub what: &'static str,
    /// What it was.
    pub value: f64,
    /// What it has to be.
    pub must: &'static str,
}

impl core::fmt::Display for Unusable {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{} is {}, and has to be {}", self.what, self.value, self.must)
    }
}

impl core::error::Error for Unusable {}

/// Refuses what is not above zero and finite.
fn above_zero(figures: &[(&'static str, f64)]) -> Result<(), Unusable> {
    match figures.iter().find(|(_, value)| !(*value > 0.0 && value.is_finite())) {
        Some(&(what, value)) => Err(Unusable { what, value, must: "above zero" }),
        None => Ok(()),
    }
}

/// Refuses what is below zero or not finite.
fn zero_or_more(figures: &[(&'static str, f64)]) -> Result<(), Unusable> {
    match figures.iter().find(|(_, value)| !(*value >= 0.0 && value.is_finite())) {
        Some(&(what, value)) => Err(Unusable { what, value, must: "zero or more" }),
        None => Ok(()),
    }
}

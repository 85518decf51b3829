//! What a person could give up to get out of a conflict.

use crate::choice::Bar;

/// One thing that takes part in a conflict, and that a person could change.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Reason {
    /// A line has to have a pin.
    Connected(usize),
    /// A choice is not open.
    Barred(Bar),
    /// A timer runs at one frequency, a counter serves one encoder.
    OneJob(usize),
    /// A timer has only so many pulse outputs.
    Outputs(usize),
    /// An encoder keeps to one counter.
    OneCounter(usize),
    /// Analogue lines of a group are read by one converter.
    OneConverter(usize),
    /// Counting by program takes only so much of the processor's time.
    Interrupts,
}

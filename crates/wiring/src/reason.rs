//! What a person could give up to get out of a conflict.

use crate::choice::Bar;
use crate::problem::Way;

/// One thing that takes part in a conflict, and that a person could change.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Reason {
    /// A line has to have a pin.
    Connected(usize),
    /// A choice is not open.
    Barred(Bar),
    /// A port takes one plug.
    OnePlug(usize),
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

impl Reason {
    /// What it costs to give it up, as a rank: a setting, work with the hands, a part to buy, a function lost.
    pub fn price(self) -> u32 {
        match self {
            Self::Barred(Bar::Kept(_)) => 1,
            Self::OneConverter(_) => 2,
            Self::Barred(Bar::Taken(_)) => 3,
            Self::OnePlug(_) => 4,
            Self::Barred(Bar::Reserved(_)) => 5,
            Self::Barred(Bar::Way(_, Way::Counter)) => 6,
            Self::Barred(Bar::Way(_, Way::Stamp)) => 7,
            Self::Barred(Bar::Way(_, Way::Program)) => 8,
            Self::Barred(Bar::Seated(_)) => 10,
            Self::Barred(Bar::Unfit(_)) => 11,
            Self::OneJob(_) => 15,
            Self::OneCounter(_) => 18,
            Self::Outputs(_) | Self::Interrupts => 25,
            Self::Connected(_) => 50,
        }
    }
}

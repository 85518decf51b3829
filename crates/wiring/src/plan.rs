//! What the solver answers: which line goes to which pin, and how far that is proven.

use crate::aim::Aim;
use crate::problem::{Ability, Way};
use crate::reason::Reason;

/// Lines on pins.
#[derive(Clone, PartialEq, Debug)]
pub struct Plan {
    /// Where each line goes; `None` where it is left without a pin.
    pub lines: Vec<Option<Seated>>,
    /// Port that each plug sits on.
    pub ports: Vec<usize>,
}

/// Where a line goes.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Seated {
    /// The pin.
    pub pin: usize,
    /// What the pin does for it.
    pub ability: Ability,
    /// How its encoder is then counted.
    pub way: Option<Way>,
    /// First and second channel of its encoder change places.
    pub swapped: bool,
}

/// A plan with what is known of it.
#[derive(Clone, PartialEq, Debug)]
pub struct Solved {
    /// The plan.
    pub plan: Plan,
    /// For each aim the least that any plan can do that is as good in all weightier aims. Aims that the time did not
    /// reach are not in it; of the last one in it the number may be too low where `proven` is false.
    pub least: Vec<(Aim, usize)>,
    /// No plan is better.
    pub proven: bool,
    /// Among plans as good this one comes first by the order of the files.
    pub settled: bool,
    /// For each line, whether another pin would have been as good, as far as that came out: all of them where ties are
    /// settled.
    pub free: Vec<bool>,
}

/// What a search came to.
#[derive(Clone, PartialEq, Debug)]
pub enum Outcome {
    /// A plan: the best, or the best that was found in time.
    Plan(Box<Solved>),
    /// There is no plan: these reasons together leave none, and without any one of them they would.
    Conflict(Conflict),
    /// Neither was found in time.
    OutOfTime,
}

/// Why there is no plan.
#[derive(Clone, PartialEq, Debug)]
pub struct Conflict {
    /// Reasons that together leave no plan.
    pub reasons: Vec<Reason>,
    /// Whether it was proven that none of them can be left out.
    pub minimal: bool,
    /// Ways out, the cheapest first: reasons that it is enough to give up together, and of which none can be spared.
    /// Each begins with one of the conflict's reasons.
    pub ways_out: Vec<Vec<Reason>>,
}

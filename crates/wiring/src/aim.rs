//! What a plan keeps few, in the order of weight.

/// What a plan keeps few. A little less of an earlier one is worth any amount of all later ones.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Aim {
    /// Lines that, until the firmware runs, are held on the side where something could move.
    Safety,
    /// Lines left without a pin, of those that the bench works without.
    Served,
    /// Encoders that no counter counts.
    Counters,
    /// Encoders of which each edge interrupts a program.
    Programs,
    /// Single wires, where the plug would have done.
    Wires,
    /// Encoders whose channels change places, so that the firmware has to turn the sign.
    Signs,
    /// Pairs of lines that do not lie side by side.
    Pairs,
    /// Pins of serial buses taken by other lines.
    Buses,
    /// Analogue lines beside a pin that pulses.
    Quiet,
    /// Lines that lie elsewhere than in the last plan.
    Changes,
}

impl Aim {
    /// All of them, the weightiest first.
    pub const ALL: [Self; 10] = [
        Self::Safety,
        Self::Served,
        Self::Counters,
        Self::Programs,
        Self::Wires,
        Self::Signs,
        Self::Pairs,
        Self::Buses,
        Self::Quiet,
        Self::Changes,
    ];

    /// What is counted, in words: `single wires`.
    pub fn counts(self) -> &'static str {
        match self {
            Self::Safety => "lines held on the moving side until the firmware runs",
            Self::Served => "optional lines left without a pin",
            Self::Counters => "encoders without a counter",
            Self::Programs => "encoders that a program counts",
            Self::Wires => "single wires where a plug would have done",
            Self::Signs => "encoders whose A and B change places",
            Self::Pairs => "pairs of lines not side by side",
            Self::Buses => "pins of serial buses taken",
            Self::Quiet => "analogue lines beside a pulsing pin",
            Self::Changes => "lines that lie elsewhere than in the last plan",
        }
    }
}

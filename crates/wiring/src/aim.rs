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

    /// What is counted, in words: `single wires where a plug would have done`.
    pub fn counts(self) -> &'static str {
        self.words(2)
    }

    /// The same after a number: `1 single wire …`, `2 single wires …`.
    pub fn words(self, count: usize) -> &'static str {
        let (one, many) = match self {
            Self::Safety => (
                "line held on the moving side until the firmware runs",
                "lines held on the moving side until the firmware runs",
            ),
            Self::Served => ("optional line left without a pin", "optional lines left without a pin"),
            Self::Counters => ("encoder without a counter", "encoders without a counter"),
            Self::Programs => ("encoder that a program counts", "encoders that a program counts"),
            Self::Wires => {
                ("single wire where a plug would have done", "single wires where a plug would have done")
            }
            Self::Signs => ("encoder whose A and B change places", "encoders whose A and B change places"),
            Self::Pairs => ("pair of lines not side by side", "pairs of lines not side by side"),
            Self::Buses => ("pin of a serial bus taken", "pins of serial buses taken"),
            Self::Quiet => ("analogue line beside a pulsing pin", "analogue lines beside a pulsing pin"),
            Self::Changes => (
                "line elsewhere than the wires of the bench file lead it",
                "lines elsewhere than the wires of the bench file lead them",
            ),
        };
        if count == 1 { one } else { many }
    }
}

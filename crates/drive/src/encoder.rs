//! Incremental encoders: counts, edges, and what they cost a speed loop.
//!
//! ```text
//! counts at the output c = 4·z·N [1/rad]     edge rate = c·ω      edge gap = (1 − ε/90°)/(c·ω)
//! count difference over T_w: Δω = 1/(c·T_w)  period by a clock: Δω/ω = c·ω·t_clk
//! ```
//!
//! Marks are in 1/rad ([`crate::constants::per_turn`]), so no 2π is lost. ε is the phase error in electrical
//! degrees, 90° the perfect distance of two edges. Left out: duty error of a channel, eccentric discs.
//! Source: definition of quadrature; `docs/models/encoder.md`.

use std::f64::consts::FRAC_PI_2;
use worked::{Number, Origin};

/// Counts for an angle from lines for an angle, all edges of both channels counted.
pub fn counts<N: Number>(lines: N) -> N {
    (N::pure(4.0) * lines).called("counts", "c")
}

/// Counts for an angle of the output, the encoder sitting on the input of a gear.
pub fn counts_at_output<N: Number>(counts: N, ratio: N) -> N {
    (counts * ratio).called("counts at the output", "c_L")
}

/// Angle of one count.
pub fn angle_per_count<N: Number>(counts: N) -> N {
    (N::pure(1.0) / counts).called("angle of one count", "δφ")
}

/// Way of one count.
pub fn way_per_count<N: Number>(counts: N, travel: N) -> N {
    (travel / counts).called("way of one count", "δx")
}

/// Counts that an angle makes, such as a tolerance or a backlash.
pub fn counts_in<N: Number>(counts: N, angle: N) -> N {
    (counts * angle).called("counts in it", "n")
}

/// Edges in a second at a speed.
pub fn edge_rate<N: Number>(counts: N, speed: N) -> N {
    (counts * speed).called("edges in a second", "f_e")
}

/// Time between two edges at a speed, perfect phase.
pub fn edge_gap<N: Number>(counts: N, speed: N) -> N {
    (N::pure(1.0) / (counts * speed)).called("time between two edges", "t_e")
}

/// Shortest time between two edges with a phase error (electrical angle).
pub fn shortest_gap<N: Number>(counts: N, speed: N, phase_error: N) -> N {
    let quarter = N::known(
        FRAC_PI_2,
        "rad",
        "90°",
        "distance of two edges, electrical",
        Origin::standard("definition"),
    );
    (edge_gap(counts, speed) * (N::pure(1.0) - phase_error / quarter))
        .called("shortest time between two edges", "t_e,min")
}

/// Time in which a pull-up brings a line with its cable from 10 % to 90 %: `2.2·R·C` (ln 9).
pub fn rise_time<N: Number>(pull_up: N, capacitance: N) -> N {
    (pull_up * capacitance * libm::log(9.0)).called("rise time of the line", "t_r")
}

/// Capacitance of a length of cable.
pub fn cable_capacitance<N: Number>(length: N, capacitance_per_length: N) -> N {
    (length * capacitance_per_length).called("capacitance of the cable", "C_w")
}

/// Speed that one count stands for in a window of time.
pub fn speed_step<N: Number>(counts: N, window: N) -> N {
    (N::pure(1.0) / (counts * window)).called("speed of one count", "Δω")
}

/// Relative step of a speed that is taken from the time between two edges: `c·ω·t_clk`.
pub fn period_step<N: Number>(counts: N, speed: N, clock: N) -> N {
    (counts * speed / clock).called("relative step of the speed", "Δω/ω")
}

/// Speed at which counting in a window and timing of edges resolve alike: `√(f_clk/T)/c`.
pub fn crossing_speed<N: Number>(counts: N, window: N, clock: N) -> N {
    ((clock / window).sqrt() / counts).called("speed at which counting and timing are alike", "ω*")
}

/// Speed that cannot be exceeded when no edge came for a time.
pub fn speed_bound<N: Number>(counts: N, silence: N) -> N {
    (N::pure(1.0) / (counts * silence)).called("highest speed without an edge", "ω_max")
}

/// Counts in one sample of a loop.
pub fn counts_per_sample<N: Number>(counts: N, speed: N, sample_time: N) -> N {
    (counts * speed * sample_time).called("counts in one sample", "n_s")
}

/// Half of the range of a counter of so many bits, `2ⁿ/2`: as far as a signed difference of counts can tell which way
/// it went.
pub fn half_range<N: Number>(bits: N) -> N {
    (((bits - N::pure(1.0)) * std::f64::consts::LN_2).exp())
        .called("half of the range of the counter", "2ⁿ/2")
}

/// Frequency of one channel at a rate of edges of both.
pub fn channel_frequency<N: Number>(edge_rate: N) -> N {
    (edge_rate / 4.0).called("frequency of one channel", "f_ch")
}

/// Rate of edges that software can follow where each costs a time.
pub fn interrupt_rate<N: Number>(interrupt_time: N) -> N {
    (N::pure(1.0) / interrupt_time).called("rate at which interrupts can follow one another", "f_isr")
}

/// Part of a processor that counting edges by interrupt takes.
pub fn interrupt_load<N: Number>(edge_rate: N, interrupt_time: N) -> N {
    (edge_rate * interrupt_time).called("part of the processor", "u_cpu")
}

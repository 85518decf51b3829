//! A working set of figures for both loops, from the figures of the motor at nominal values.
//!
//! ```text
//! τ_m = R·J/(K² + R·b)        θ = 1.5·T_s + T_w/2 + L/R        ω_c = 1/(λ + θ),  λ = θ where nothing asks for more
//! K_p = R·J·ω_c/K   (= τ_m·K·ω_c without b)        T_i = min(τ_m, 4·(λ + θ))        T_t = √(T_i·T_s)
//! β = 1 − (K + R·b/K)/K_p        K_φ = ω_c/4
//! ω_c ≤ √(2·ρ·α·c·φ),  α = K·I/J        ω_c ≤ ρ·α·c·T_w
//! ```
//!
//! The rule is that of internal models for a first-order plant with a dead time (Skogestad 2003, from memory). The
//! electrical time constant counts as a dead time, which is cautious. λ = θ is the usual choice of that rule. The
//! window T_w is the shortest with which one count makes no more than a part ρ of the rated current; both ceilings are
//! derived in `docs/models/control.md`. The feed-forward acts on the reference by K already, so the set-point weight is
//! smaller by that: with T_i = τ_m the speed then follows a step like a first-order lag of 1/ω_c.
//!
//! Left out: margins over the tolerances, compliance and backlash. This is a loop to begin with.

use crate::count::LONGEST_WINDOW;
use crate::pi::PiFigures;
use crate::speed::{Bus, FeedForward, SpeedFigures};
use crate::{Unusable, above_zero, zero_or_more};

/// Part ρ of the rated current that one count may make (a choice).
pub const CURRENT_OF_A_COUNT: f64 = 0.15;
/// Phase φ that the window of the speed may cost, rad (a choice).
pub const PHASE_OF_THE_WINDOW: f64 = 0.35;
/// Part of dry friction that is fed forward: with more of it a motor that has less would creep. Common practice, no
/// source: 0.7 to 0.9.
pub const FRICTION_FED_FORWARD: f64 = 0.8;
/// Crossover of the speed loop over that of the position loop. Common practice, no source: four or more.
pub const SPEED_OVER_POSITION: f64 = 4.0;

/// The motor with what it turns and what feeds it; everything at the motor shaft.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Drive {
    /// Resistance of winding, switches and leads, Ω.
    pub resistance: f64,
    /// Inductance of the winding, H.
    pub inductance: f64,
    /// Motor constant K, V·s/rad.
    pub constant: f64,
    /// Drop of both brushes, V.
    pub brush_drop: f64,
    /// All inertia, kg·m².
    pub inertia: f64,
    /// Dry friction, N·m.
    pub friction: f64,
    /// Friction in proportion to the speed, N·m·s/rad.
    pub viscous_friction: f64,
    /// Current of which one count may make a part, A: the rated one.
    pub rated_current: f64,
    /// Current that the clamp keeps, A.
    pub current_limit: f64,
    /// Largest duty, above 0 and up to 1.
    pub highest_duty: f64,
    /// Voltage of the bus.
    pub bus: Bus,
}

/// The encoder as the loop sees it.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Encoder {
    /// Counts for an angle of the motor shaft, all edges of both channels counted, 1/rad.
    pub counts: f64,
    /// Width of the counter, bits.
    pub bits: u32,
    /// Samples in the window of the speed where that is settled; else the shortest that is quiet enough.
    pub window: Option<usize>,
}

/// Figures of a speed loop for a drive, at a sample time (s): the window and the crossover that go together.
///
/// # Errors
/// Where a figure is none that a drive can have.
pub fn speed_loop(drive: &Drive, encoder: &Encoder, sample_time: f64) -> Result<SpeedFigures, Unusable> {
    usable(drive, encoder, sample_time)?;
    let (window, crossover) = crossover(drive, encoder, sample_time);
    speed_loop_at(drive, encoder, sample_time, (window, crossover))
}

/// The same by a window (samples) and a crossover (rad/s) of the caller's.
///
/// # Errors
/// Where a figure is none that a drive can have, or there is no such window.
pub fn speed_loop_at(
    drive: &Drive,
    encoder: &Encoder,
    sample_time: f64,
    (window, crossover): (usize, f64),
) -> Result<SpeedFigures, Unusable> {
    usable(drive, encoder, sample_time)?;
    above_zero(&[("crossover", crossover)])?;
    if !(1..=LONGEST_WINDOW).contains(&window) {
        let must = "from 1 to 64 samples";
        return Err(Unusable { what: "window of the speed", value: window as f64, must });
    }
    let (r, k, j, b) = (drive.resistance, drive.constant, drive.inertia, drive.viscous_friction);
    let mechanical_time = r * j / (k * k + r * b);
    let gain = r * j / k * crossover;
    let integral_time = mechanical_time.min(4.0 / crossover);
    let for_speed = k + r * b / k;
    Ok(SpeedFigures {
        sample_time,
        counts: encoder.counts,
        counter_bits: encoder.bits,
        window,
        pi: PiFigures {
            gain,
            integral_time,
            weight: (1.0 - for_speed / gain).max(0.0),
            tracking_time: libm::sqrt(integral_time * sample_time).max(sample_time),
        },
        feed_forward: FeedForward {
            speed: for_speed,
            acceleration: r * j / k,
            friction: drive.brush_drop + FRICTION_FED_FORWARD * r * drive.friction / k,
            // Below one count in a window no speed is told from rest.
            full_friction_speed: 1.0 / (encoder.counts * window as f64 * sample_time),
        },
        constant: k,
        voltage_from_back_emf: r * drive.current_limit + drive.brush_drop,
        highest_duty: drive.highest_duty,
        bus: drive.bus,
    })
}

impl SpeedFigures {
    /// Makes the integral time so many times longer; the tracking time goes with it.
    pub fn stretch(&mut self, times: f64) {
        self.integrate_over(times * self.pi.integral_time);
    }

    /// Gives it an integral time, s, and the tracking time that goes with that.
    pub fn integrate_over(&mut self, integral_time: f64) {
        self.pi.integral_time = integral_time;
        self.pi.tracking_time = libm::sqrt(integral_time * self.sample_time).max(self.sample_time);
    }
}

/// Gain of a position loop (1/s) around a speed loop of these figures.
pub fn position_gain(figures: &SpeedFigures) -> f64 {
    let crossover = figures.pi.gain / figures.feed_forward.acceleration;
    crossover / SPEED_OVER_POSITION
}

fn usable(drive: &Drive, encoder: &Encoder, sample_time: f64) -> Result<(), Unusable> {
    above_zero(&[
        ("resistance", drive.resistance),
        ("motor constant", drive.constant),
        ("inertia", drive.inertia),
        ("rated current", drive.rated_current),
        ("current limit", drive.current_limit),
        ("counts for an angle", encoder.counts),
        ("sample time", sample_time),
    ])?;
    zero_or_more(&[
        ("inductance", drive.inductance),
        ("brush drop", drive.brush_drop),
        ("dry friction", drive.friction),
        ("viscous friction", drive.viscous_friction),
    ])
}

/// Samples of the window with which one count makes no more than its part of the rated current at a crossover (rad/s).
pub fn quiet_window(drive: &Drive, encoder: &Encoder, sample_time: f64, crossover: f64) -> usize {
    let samples = crossover / (count_rate(drive, encoder) * sample_time);
    (libm::ceil(samples * (1.0 - 1e-12)) as usize).max(1)
}

/// Crossover (rad/s) for a second of the window: `ρ·α·c`.
fn count_rate(drive: &Drive, encoder: &Encoder) -> f64 {
    let acceleration = drive.constant * drive.rated_current / drive.inertia;
    CURRENT_OF_A_COUNT * acceleration * encoder.counts
}

/// Crossover that the encoder allows, rad/s.
pub fn encoder_ceiling(drive: &Drive, encoder: &Encoder) -> f64 {
    libm::sqrt(2.0 * count_rate(drive, encoder) * PHASE_OF_THE_WINDOW)
}

/// Samples of the window and the crossover (rad/s) that go together.
fn crossover(drive: &Drive, encoder: &Encoder, sample_time: f64) -> (usize, f64) {
    let (of_a_count, ceiling) = (count_rate(drive, encoder), encoder_ceiling(drive, encoder));
    let by_delay = |window: usize| {
        let window_time = window as f64 * sample_time;
        let delay = 1.5 * sample_time + window_time / 2.0 + drive.inductance / drive.resistance;
        (1.0 / (2.0 * delay)).min(ceiling)
    };
    let quiet = |window: usize| of_a_count * window as f64 * sample_time;
    if let Some(window) = encoder.window {
        return (window, by_delay(window).min(quiet(window)));
    }
    match (1..=LONGEST_WINDOW).find(|&window| by_delay(window) <= quiet(window)) {
        Some(window) => (window, by_delay(window)),
        None => (LONGEST_WINDOW, by_delay(LONGEST_WINDOW).min(quiet(LONGEST_WINDOW))),
    }
}

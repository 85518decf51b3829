//! What is known of the trial that a log is a record of.

use crate::record::Shaft;
use bench::Bench;
use bench::file::{Ending, InputKind, ShaftState, TrialInput};

/// What is known of a trial.
#[derive(Clone, PartialEq, Debug)]
pub struct Conditions {
    /// Name of the trial; empty where nobody says.
    pub trial: String,
    /// What the shaft does.
    pub shaft: Shaft,
    /// Inertia of a disc at the shaft that drives the load, kg·m².
    pub disc: f64,
    /// Temperature of the winding at the start, K.
    pub winding: Option<f64>,
    /// The shaft that drives the load is held, and the motor winds up what is before it.
    pub winds_up: bool,
    /// All switches open at its end.
    pub ends_open: bool,
    /// Frequencies that it holds, where it is meant for a frequency response.
    pub shakes: Option<Shakes>,
}

/// Frequencies of a chirp or a random sequence, Hz.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Shakes {
    /// The lowest.
    pub lowest: f64,
    /// The highest.
    pub highest: f64,
}

impl Conditions {
    /// Of a trial of which nobody says anything: the shaft coupled.
    pub const UNKNOWN: Self = Self {
        trial: String::new(),
        shaft: Shaft::Coupled,
        disc: 0.0,
        winding: None,
        winds_up: false,
        ends_open: false,
        shakes: None,
    };

    /// Of a trial of the bench file.
    pub fn of_trial(bench: &Bench, name: &str) -> Option<Self> {
        let trial = bench.trial(name)?;
        let state = trial.shaft().or(ShaftState::Coupled);
        let (shaft, disc) = match state {
            ShaftState::Free => (Shaft::Free, 0.0),
            // But for twist and play it cannot turn.
            ShaftState::Locked | ShaftState::OutputHeld => (Shaft::Locked, 0.0),
            ShaftState::Coupled => (Shaft::Coupled, 0.0),
            ShaftState::KnownDisc => (Shaft::Free, trial.added_inertia().value()),
        };
        Some(Self {
            trial: name.to_owned(),
            shaft,
            disc: if disc.is_finite() { disc } else { 0.0 },
            winding: trial.has("temperature").then(|| trial.temperature().value()),
            winds_up: state == ShaftState::OutputHeld,
            ends_open: trial.input().ends().is(Ending::Open),
            shakes: Shakes::of(&trial.input()),
        })
    }
}

impl Shakes {
    /// What a trial shakes with. A random sequence holds each bit for a time: half of its power lies below 0.44 of one over
    /// that time, and there is none at it.
    fn of(input: &TrialInput) -> Option<Self> {
        let (lowest, highest) = match input.kind().value? {
            InputKind::Chirp => (input.frequency_from().value(), input.frequency_to().value()),
            InputKind::Random => (0.0, 0.7 / input.hold().value()),
            _ => return None,
        };
        (lowest >= 0.0 && highest > lowest && highest.is_finite()).then_some(Self { lowest, highest })
    }
}

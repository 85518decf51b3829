//! Faults that somebody puts into a trial: read from what is asked, fitted to what moves, played at their time, told.
//!
//! Reading and words are here. What they do to a drive with a DC motor: `drive.rs`; to a stepper or a servo: beside their
//! plans. How a trial carries them and what is told of it: `put.rs`. Which limits of the board can trip, and whom they stop:
//! `stops.rs`.

mod drive;
mod put;
mod stops;

pub(crate) use drive::OnDrive;
pub use put::Faulted;
pub(crate) use put::{Ends, Faults, Fitted, points_table};
pub(crate) use stops::{Acting, Stops};

use crate::contents::listed;
use crate::trial::CannotPlan;
use thiserror::Error;
use worked::{Dimension, Quantity, format};

/// What may be put in, by name.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum FaultKind {
    /// The shaft of the motor is held.
    Stall,
    /// The open voltage of the supply changes.
    SupplyVoltage,
    /// A channel of the encoder does not change any more.
    ChannelLost,
    /// Channels A and B of the encoder are swapped.
    ChannelsSwapped,
    /// The leads of the motor are swapped.
    LeadsSwapped,
    /// The zero of the current line moves.
    CurrentOffset,
    /// Something rubs on the load.
    Rubs,
    /// The board opens all switches.
    Tripped,
    /// The coupling slips.
    CouplingSlips,
    /// The winding is warm.
    Warm,
    /// A lead of the motor is open.
    LeadOpen,
    /// The pulses of a servo stop.
    SignalLost,
}

/// What a fault is asked with besides its time.
#[derive(Clone, PartialEq, Debug)]
pub enum FaultValue {
    /// Nothing.
    None,
    /// A channel of the encoder, or a phase of a stepper: A, or else B.
    Channel {
        /// It is A.
        is_a: bool,
    },
    /// A limit of the board, by its name.
    Limit(String),
    /// A quantity.
    Quantity(Quantity),
}

/// A fault as it is asked for.
#[derive(Clone, PartialEq, Debug)]
pub struct AskedFault {
    /// Which.
    pub kind: FaultKind,
    /// With what.
    pub value: FaultValue,
    /// When, s since the start of the trial.
    pub time: f64,
    written: String,
}

/// Why a fault cannot be put in.
#[derive(Clone, PartialEq, Debug, Error)]
#[error("fault `{written}`: {why}")]
pub struct NoFault {
    /// As it was asked for.
    pub written: String,
    /// Why not.
    pub why: String,
}

impl FaultKind {
    /// All of them.
    pub const ALL: [Self; 12] = [
        Self::Stall,
        Self::SupplyVoltage,
        Self::ChannelLost,
        Self::ChannelsSwapped,
        Self::LeadsSwapped,
        Self::CurrentOffset,
        Self::Rubs,
        Self::Tripped,
        Self::CouplingSlips,
        Self::Warm,
        Self::LeadOpen,
        Self::SignalLost,
    ];

    /// Its name, as somebody asks for it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Stall => "stall",
            Self::SupplyVoltage => "supply-voltage",
            Self::ChannelLost => "channel-lost",
            Self::ChannelsSwapped => "channels-swapped",
            Self::LeadsSwapped => "leads-swapped",
            Self::CurrentOffset => "current-offset",
            Self::Rubs => "rubs",
            Self::Tripped => "tripped",
            Self::CouplingSlips => "coupling-slips",
            Self::Warm => "warm",
            Self::LeadOpen => "lead-open",
            Self::SignalLost => "signal-lost",
        }
    }

    /// How it is written: name and value.
    pub fn form(self) -> &'static str {
        match self {
            Self::SupplyVoltage => "supply-voltage=VOLTAGE",
            Self::ChannelLost => "channel-lost=A or B",
            Self::LeadsSwapped => "leads-swapped[=A or B]",
            Self::CurrentOffset => "current-offset=VOLTAGE",
            Self::Rubs => "rubs=TORQUE",
            Self::Tripped => "tripped[=LIMIT]",
            Self::CouplingSlips => "coupling-slips[=TORQUE]",
            Self::Warm => "warm=TEMPERATURE",
            Self::LeadOpen => "lead-open[=A or B]",
            other => other.name(),
        }
    }

    /// Of what its value is, with the least and the most that is taken, SI.
    fn takes(self) -> Option<(Dimension, f64, f64)> {
        match self {
            // As a bench file takes them.
            Self::SupplyVoltage => Some((Dimension::VOLTAGE, 1e-3, 400.0)),
            Self::CurrentOffset => Some((Dimension::VOLTAGE, -400.0, 400.0)),
            Self::Rubs | Self::CouplingSlips => Some((Dimension::TORQUE, 0.0, 1e5)),
            Self::Warm => Some((Dimension::TEMPERATURE, 223.15, 473.15)),
            _ => None,
        }
    }

    /// Whether A or B may be said, the channel of an encoder or the phase of a stepper.
    fn takes_channel(self) -> bool {
        matches!(self, Self::ChannelLost | Self::LeadsSwapped | Self::LeadOpen)
    }
}

impl AskedFault {
    /// Reads `NAME@TIME` or `NAME=VALUE@TIME`: `supply-voltage=18 V@0.2 s`.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn read(written: &str) -> Result<Self, NoFault> {
        let fault = |why: String| NoFault { written: written.to_owned(), why };
        let (what, time) = written
            .rsplit_once('@')
            .ok_or_else(|| fault("say when it comes, after an @: `stall@300 ms`".to_owned()))?;
        let (name, value) = match what.split_once('=') {
            Some((name, value)) => (name.trim(), Some(value.trim())),
            None => (what.trim(), None),
        };
        let kind = FaultKind::ALL.into_iter().find(|kind| kind.name() == name).ok_or_else(|| {
            let near = bench::nearest(name, FaultKind::ALL.iter().map(|kind| kind.name()));
            let near = near.map_or_else(String::new, |near| format!("; did you mean `{near}`?"));
            let forms: Vec<&str> = FaultKind::ALL.iter().map(|kind| kind.form()).collect();
            fault(format!("there is no fault `{name}`{near} Faults: {}", forms.join(", ")))
        })?;
        let quantity = |text: &str, dimension| {
            let read = Quantity::parse(text, dimension).map_err(|error| fault(error.message.to_string()))?;
            match read.nominal {
                Some(si) if si.is_finite() && read.low.is_none() => Ok((si, read)),
                _ => Err(fault(format!("`{text}` is not one value; give it without a tolerance"))),
            }
        };
        let (time, _) = quantity(time, Dimension::TIME)?;
        let form = kind.form();
        let value = match (kind, kind.takes(), value) {
            (kind, _, Some(channel @ ("A" | "B"))) if kind.takes_channel() => {
                FaultValue::Channel { is_a: channel == "A" }
            }
            (FaultKind::ChannelLost, ..) => {
                return Err(fault("say which channel: channel-lost=A or channel-lost=B".to_owned()));
            }
            (FaultKind::Tripped, _, Some(limit)) if !limit.is_empty() => FaultValue::Limit(limit.to_owned()),
            (_, Some((dimension, least, most)), Some(text)) => {
                let (si, read) = quantity(text, dimension)?;
                if !(least..=most).contains(&si) {
                    let range = format::range(least, most, &read.unit);
                    return Err(fault(format!("`{text}` is outside of what is taken: {range}")));
                }
                FaultValue::Quantity(read)
            }
            (FaultKind::CouplingSlips, Some(_), None) | (_, None, None) => FaultValue::None,
            (_, Some(_), None) => return Err(fault(format!("it takes a value: {form}"))),
            (_, None, Some(_)) => return Err(fault(format!("it takes no value: {form}"))),
        };
        Ok(Self { kind, value, time, written: written.to_owned() })
    }

    /// Those of a trial of the bench file.
    ///
    /// # Errors
    /// What is wrong with the first that is none.
    pub(crate) fn of_file(name: &str, trial: &bench::file::Trial) -> Result<Vec<Self>, CannotPlan> {
        trial.faults().into_iter().map(Self::read).collect::<Result<_, _>>().map_err(|no| no.in_file(name))
    }

    /// The value of a quantity, SI.
    pub(crate) fn si(&self) -> Option<f64> {
        match &self.value {
            FaultValue::Quantity(quantity) => quantity.nominal,
            _ => None,
        }
    }

    /// What it is, in words.
    fn what(&self) -> String {
        let value = match &self.value {
            FaultValue::Quantity(quantity) => format::plain(self.si().unwrap_or(f64::NAN), &quantity.unit),
            FaultValue::Channel { is_a } => if *is_a { "A" } else { "B" }.to_owned(),
            FaultValue::Limit(name) => format!("`{name}`"),
            FaultValue::None => String::new(),
        };
        let of_phase = value.to_lowercase();
        match self.kind {
            FaultKind::Stall => "the shaft of the motor is held".to_owned(),
            FaultKind::SupplyVoltage => format!("the open voltage of the supply becomes {value}"),
            FaultKind::ChannelLost => format!("channel {value} of the encoder does not change any more"),
            FaultKind::ChannelsSwapped => "channels A and B of the encoder are swapped".to_owned(),
            FaultKind::LeadsSwapped if value.is_empty() => "the leads of the motor are swapped".to_owned(),
            FaultKind::LeadsSwapped => format!("the leads of phase {of_phase} are swapped"),
            FaultKind::CurrentOffset => format!("the zero of the current line moves by {value}"),
            FaultKind::Rubs => format!("something rubs on the load with {value}"),
            FaultKind::Tripped if value.is_empty() => "the board opens all switches".to_owned(),
            FaultKind::Tripped => format!("limit {value} of the board acts"),
            FaultKind::CouplingSlips if value.is_empty() => "the coupling slips without any drag".to_owned(),
            FaultKind::CouplingSlips => format!("the coupling slips and drags with {value}"),
            FaultKind::Warm => format!("the winding is at {value}"),
            FaultKind::LeadOpen if value.is_empty() => "a lead of the motor opens".to_owned(),
            FaultKind::LeadOpen => format!("a lead of phase {of_phase} opens"),
            FaultKind::SignalLost => "the pulses stop".to_owned(),
        }
    }
}

impl NoFault {
    /// The same, of a trial of the bench file.
    pub(crate) fn in_file(self, trial: &str) -> CannotPlan {
        CannotPlan::Input { trial: trial.to_owned(), why: self.to_string() }
    }
}

/// That something that moves cannot have a fault, with those that it can have.
pub(crate) fn not_of(mover: &str, known: &[FaultKind]) -> String {
    let forms: Vec<&str> = known.iter().map(|kind| kind.form()).collect();
    format!("{mover} cannot have it; it can have {}", listed(&forms))
}

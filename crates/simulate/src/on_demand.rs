//! Faults that somebody puts into a trial: read from what is asked, fitted to its drive, played at their time.

use crate::course::joined;
use crate::fault::Fault;
use crate::prepared::MOST_STEPS;
use crate::record::{Kept, Part, Row, Sink, Watched};
use crate::run::Run;
use crate::simulation::{Ended, Stage};
use crate::trial::{Shaft, Trial};
use finding::{Stopped, Watch};
use logs::Column;
use std::convert::Infallible;
use thiserror::Error;
use worked::{Dimension, Input, Origin, Quantity, format};

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
}

/// What a fault is asked with besides its time.
#[derive(Clone, PartialEq, Debug)]
pub enum FaultValue {
    /// Nothing.
    None,
    /// A channel of the encoder: A, or else B.
    Channel {
        /// It is A.
        is_a: bool,
    },
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

/// A fault in a trial.
#[derive(Clone, PartialEq, Debug)]
pub(crate) struct Put {
    pub(crate) asked: AskedFault,
    /// PWM periods until it comes.
    pub(crate) period: u64,
    pub(crate) fault: Fault,
}

/// What came of a trial with its faults.
#[derive(Clone, PartialEq, Debug)]
pub struct Faulted {
    /// What is kept of each leg.
    pub(crate) stages: Vec<Kept>,
    /// Test points just before the first fault and at the end, and at the end without it.
    pub(crate) shown: Vec<(Column, [f64; 3])>,
}

impl FaultKind {
    /// All of them.
    pub const ALL: [Self; 11] = [
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
        }
    }

    /// How it is written: name and value.
    pub fn form(self) -> &'static str {
        match self {
            Self::SupplyVoltage => "supply-voltage=VOLTAGE",
            Self::ChannelLost => "channel-lost=A or B",
            Self::CurrentOffset => "current-offset=VOLTAGE",
            Self::Rubs => "rubs=TORQUE",
            Self::CouplingSlips => "coupling-slips[=TORQUE]",
            Self::Warm => "warm=TEMPERATURE",
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

    /// Whether it lies on the way from the encoder to the controller.
    fn is_of_encoder(self) -> bool {
        matches!(self, Self::ChannelLost | Self::ChannelsSwapped)
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
            (FaultKind::ChannelLost, _, Some(channel @ ("A" | "B"))) => {
                FaultValue::Channel { is_a: channel == "A" }
            }
            (FaultKind::ChannelLost, ..) => {
                return Err(fault("say which channel: channel-lost=A or channel-lost=B".to_owned()));
            }
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

    /// The value of a quantity, SI.
    fn si(&self) -> Option<f64> {
        match &self.value {
            FaultValue::Quantity(quantity) => quantity.nominal,
            _ => None,
        }
    }

    /// What it is and when it comes, in words.
    pub(crate) fn words(&self) -> String {
        let value = match &self.value {
            FaultValue::Quantity(quantity) => format::plain(self.si().unwrap_or(f64::NAN), &quantity.unit),
            FaultValue::Channel { is_a } => if *is_a { "A" } else { "B" }.to_owned(),
            FaultValue::None => String::new(),
        };
        let what = match self.kind {
            FaultKind::Stall => "the shaft of the motor is held".to_owned(),
            FaultKind::SupplyVoltage => format!("the open voltage of the supply becomes {value}"),
            FaultKind::ChannelLost => format!("channel {value} of the encoder does not change any more"),
            FaultKind::ChannelsSwapped => "channels A and B of the encoder are swapped".to_owned(),
            FaultKind::LeadsSwapped => "the leads of the motor are swapped".to_owned(),
            FaultKind::CurrentOffset => format!("the zero of the current line moves by {value}"),
            FaultKind::Rubs => format!("something rubs on the load with {value}"),
            FaultKind::Tripped => "the board opens all switches".to_owned(),
            FaultKind::CouplingSlips if value.is_empty() => "the coupling slips without any drag".to_owned(),
            FaultKind::CouplingSlips => format!("the coupling slips and drags with {value}"),
            FaultKind::Warm => format!("the winding is at {value}"),
            FaultKind::LeadOpen => "a lead of the motor opens".to_owned(),
        };
        let unit = format::choose_unit(self.time, Dimension::TIME, None);
        format!("{what} after {}", format::plain(self.time, &unit))
    }
}

impl Trial {
    /// The trial with faults: they show in its log and in [`Trial::faulted`]. Verdict, key figures and builds stay those
    /// without them.
    ///
    /// # Errors
    /// The first that its drive cannot have, or that comes after its end.
    pub fn with_faults(mut self, asked: &[AskedFault]) -> Result<Self, NoFault> {
        for asked in asked {
            let no = |why: String| NoFault { written: asked.written.clone(), why };
            let frequency = self.set_up.frequency;
            let all = self.periods();
            let end = all as f64 / frequency;
            if !(asked.time >= 0.0 && asked.time < end) {
                let unit = format::choose_unit(end, Dimension::TIME, None);
                let end = format::plain(end, &unit);
                return Err(no(format!("it must come before the trial ends, from 0 s up to {end}")));
            }
            let period = ((asked.time * frequency).round() as u64).min(all - 1);
            let fault = self.fitted(asked).map_err(no)?;
            self.faults.push(Put { asked: asked.clone(), period, fault });
        }
        self.faults.sort_by_key(|put| put.period);
        if let (Some(put), Some(_)) = (self.faults.first(), &self.means) {
            if self.steps() > MOST_STEPS {
                let written = put.asked.written.clone();
                let why =
                    "no mean follows a fault, and switched the trial would take too long; make it shorter";
                return Err(NoFault { written, why: why.to_owned() });
            }
            self.means = None;
        }
        Ok(self)
    }

    /// Its faults, in the order in which they come.
    pub fn faults(&self) -> impl Iterator<Item = &AskedFault> {
        self.faults.iter().map(|put| &put.asked)
    }

    /// What they do to the drive, with their times, s.
    pub fn drive_faults(&self) -> Vec<(f64, Fault)> {
        let time = |put: &Put| put.period as f64 / self.set_up.frequency;
        self.faults.iter().map(|put| (time(put), put.fault)).collect()
    }

    /// A fault in the figures of the drive.
    fn fitted(&self, asked: &AskedFault) -> Result<Fault, String> {
        let (sensing, held) = (&self.sensing, matches!(self.shaft, Shaft::Held));
        let si = asked.si().unwrap_or(0.0);
        let held_anyway = || Err("the shaft of the motor is held in this trial from the start".to_owned());
        Ok(match asked.kind {
            FaultKind::Stall | FaultKind::Rubs if held => return held_anyway(),
            FaultKind::Stall => Fault::Stall,
            FaultKind::SupplyVoltage => Fault::SupplyVoltage(si - self.figures.dc.power.series_drop.value()),
            kind if kind.is_of_encoder() && sensing.encoder.is_none() => {
                return Err(format!("no encoder of axis {} leads to its controller", self.axis));
            }
            FaultKind::ChannelLost => {
                Fault::ChannelLost { is_a: asked.value == FaultValue::Channel { is_a: true } }
            }
            FaultKind::ChannelsSwapped => Fault::ChannelsSwapped,
            FaultKind::LeadsSwapped => Fault::LeadsSwapped,
            FaultKind::CurrentOffset if sensing.current.is_none() => {
                return Err(format!("no line tells the controller the current of axis {}", self.axis));
            }
            FaultKind::CurrentOffset => Fault::CurrentOffset(si),
            FaultKind::Rubs => Fault::Rubs(si),
            FaultKind::Tripped => Fault::Tripped,
            FaultKind::CouplingSlips if !matches!(self.shaft, Shaft::Coupled | Shaft::Disc(_)) => {
                return Err("no load is coupled in this trial".to_owned());
            }
            FaultKind::CouplingSlips => Fault::CouplingSlips(si),
            FaultKind::Warm => self.warm(si)?,
            FaultKind::LeadOpen => Fault::LeadOpen,
        })
    }

    /// The winding at a temperature, the magnets as warm as they follow it.
    fn warm(&self, temperature: f64) -> Result<Fault, String> {
        let mut dc = self.figures.dc.clone();
        dc.winding = Input::new("fault.warm", "temperature of the winding", "ϑ_w", Dimension::TEMPERATURE)
            .value(temperature)
            .origin(Origin::assumed("as asked"))
            .worked();
        let resistance = dc.motor.resistance_at(dc.winding.clone()).value() / self.set_up.winding_resistance;
        let constant = dc.armature().constant.value() / self.set_up.constant;
        match resistance > 0.0 && constant > 0.0 {
            true => Ok(Fault::Warm { resistance, constant }),
            false => {
                Err("the motor has no constant left at that temperature, or its data are missing".to_owned())
            }
        }
    }

    /// What comes of it with its faults; `None` where it has none.
    ///
    /// # Errors
    /// Where the set-up proves to be unusable, or the work was stopped.
    pub fn faulted(&self, watch: Watch<'_>) -> Result<Option<Faulted>, Ended<Stopped>> {
        let Some(first) = self.faults.first() else { return Ok(None) };
        let time = first.period as f64 / self.set_up.frequency;
        let mut with = Ends::new(time);
        let part = |from: f64| Part { watch, from, share: 0.5 };
        let stages = self.play(self.every(), &mut Watched::new(&mut with, part(0.0), self.length()))?;
        let mut without = Ends::new(time);
        self.play_with(&[], self.every(), &mut Watched::new(&mut without, part(0.5), self.length()))?;
        let faulty = self.points(&self.drive_faults());
        let (before, last) = (faulty.shown(&with.before), faulty.shown(&with.last));
        let without = self.points(&[]).shown(&without.last);
        let shown = before.into_iter().zip(last).zip(without);
        let shown =
            shown.map(|(((column, before), (_, last)), (_, without))| (column, [before, last, without]));
        let shown = shown.collect();
        Ok(Some(Faulted { stages, shown }))
    }
}

/// Plays a stage that begins at a PWM period, with the faults that come in it: those of a switched course.
pub(crate) fn play_through<S: Sink>(
    run: &mut Run,
    faults: &[Put],
    (stage, start): (&Stage, u64),
    every: u64,
    sink: &mut S,
) -> Result<Option<Kept>, Ended<S::Failure>> {
    let end = start + stage.periods;
    let (mut whole, mut at): (Option<Kept>, u64) = (None, start);
    while at < end {
        for put in faults.iter().filter(|put| put.period == at) {
            if let Run::Switched(simulation) = run {
                simulation.suffer(put.fault).map_err(Ended::Unusable)?;
            }
        }
        let next = faults.iter().map(|put| put.period).find(|period| *period > at);
        let until = next.map_or(end, |next| next.min(end));
        let kept = run.play(&Stage { periods: until - at, ..*stage }, every, sink)?;
        whole = Some(whole.map_or(kept, |before| joined(&before, &kept)));
        at = until;
    }
    Ok(whole)
}

/// Keeps the last row up to a time, and the last of all.
struct Ends {
    time: f64,
    before: Row,
    last: Row,
}

impl Ends {
    fn new(time: f64) -> Self {
        Self { time: time * (1.0 + 1e-12), before: Row::default(), last: Row::default() }
    }
}

impl Sink for Ends {
    type Failure = Infallible;

    fn take(&mut self, row: &Row) -> Result<(), Infallible> {
        if row.time <= self.time {
            self.before = *row;
        }
        self.last = *row;
        Ok(())
    }
}

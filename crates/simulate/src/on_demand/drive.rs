//! What a fault does to an axis with a DC motor, in a trial by duties or under a loop.

use super::put::{Faults, Fitted};
use super::{Acting, AskedFault, FaultKind, FaultValue, NoFault, Stops, not_of};
use crate::axis::Figures;
use crate::fault::Fault;
use crate::sensing::Sensing;
use crate::set_up::SetUp;
use crate::trial::Shaft;
use worked::{Dimension, Input, Origin};

/// An axis with a DC motor as a trial has it.
pub(crate) struct OnDrive<'a> {
    /// Its name.
    pub(crate) axis: &'a str,
    pub(crate) set_up: &'a SetUp,
    pub(crate) figures: &'a Figures,
    pub(crate) sensing: &'a Sensing,
    pub(crate) shaft: &'a Shaft,
    pub(crate) stops: &'a Stops,
}

impl OnDrive<'_> {
    /// Adds what is asked for to the faults of a trial that takes so long, s: each comes with the PWM period that begins
    /// nearest to its time.
    ///
    /// # Errors
    /// The first that the axis cannot have in this trial, or that comes after its end.
    pub(crate) fn add(
        &self,
        asked: &[AskedFault],
        length: f64,
        faults: &Faults<Fault>,
    ) -> Result<Faults<Fault>, NoFault> {
        let frequency = self.set_up.frequency;
        let last = (length * frequency).round() - 1.0;
        let nearest = |time: f64| (time * frequency).round().min(last) / frequency;
        let mut all = faults.clone();
        all.add(asked, length, nearest, |asked| self.fitted(asked))?;
        Ok(all)
    }

    /// A fault in the figures of the drive.
    fn fitted(&self, asked: &AskedFault) -> Result<Fitted<Fault>, String> {
        let Self { sensing, figures, axis, .. } = *self;
        let held = matches!(self.shaft, Shaft::Held);
        let si = asked.si().unwrap_or(0.0);
        let fault = match (asked.kind, &asked.value) {
            (FaultKind::Stall | FaultKind::Rubs, _) if held => {
                return Err("the shaft of the motor is held in this trial from the start".to_owned());
            }
            (FaultKind::Stall, _) => Fault::Stall,
            (FaultKind::SupplyVoltage, _) => Fault::SupplyVoltage(si - figures.dc.power.series_drop.value()),
            (FaultKind::ChannelLost | FaultKind::ChannelsSwapped, _) if sensing.encoder.is_none() => {
                return Err(format!("no encoder of axis {axis} leads to its controller"));
            }
            (FaultKind::ChannelLost, FaultValue::Channel { is_a }) => Fault::ChannelLost { is_a: *is_a },
            (FaultKind::ChannelLost, _) => Fault::ChannelLost { is_a: false },
            (FaultKind::ChannelsSwapped, _) => Fault::ChannelsSwapped,
            (FaultKind::LeadsSwapped | FaultKind::LeadOpen, FaultValue::Channel { .. }) => {
                return Err(format!("a DC motor has two leads and no phases; write `{}`", asked.kind.name()));
            }
            (FaultKind::LeadsSwapped, _) => Fault::LeadsSwapped,
            (FaultKind::CurrentOffset, _) if sensing.current.is_none() => {
                return Err(format!("no line tells the controller the current of axis {axis}"));
            }
            (FaultKind::CurrentOffset, _) => Fault::CurrentOffset(si),
            (FaultKind::Rubs, _) => Fault::Rubs(si),
            (FaultKind::Tripped, FaultValue::Limit(limit)) => {
                let Acting { acts, words, .. } = self.stops.acting(limit)?;
                return Ok(Fitted { more: format!(" ({words})"), ..Fault::Limit(acts).into() });
            }
            (FaultKind::Tripped, _) => Fault::Tripped,
            (FaultKind::CouplingSlips, _) if !matches!(self.shaft, Shaft::Coupled | Shaft::Disc(_)) => {
                return Err("no load is coupled in this trial".to_owned());
            }
            (FaultKind::CouplingSlips, _) => Fault::CouplingSlips(si),
            (FaultKind::Warm, _) => self.warm(si)?,
            (FaultKind::LeadOpen, _) => Fault::LeadOpen,
            (FaultKind::SignalLost, _) => return Err(not_of("an axis with a DC motor", &KNOWN)),
        };
        Ok(fault.into())
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
}

/// What an axis with a DC motor can have.
const KNOWN: [FaultKind; 11] = [
    FaultKind::Stall,
    FaultKind::SupplyVoltage,
    FaultKind::ChannelLost,
    FaultKind::ChannelsSwapped,
    FaultKind::LeadsSwapped,
    FaultKind::CurrentOffset,
    FaultKind::Rubs,
    FaultKind::Tripped,
    FaultKind::CouplingSlips,
    FaultKind::Warm,
    FaultKind::LeadOpen,
];

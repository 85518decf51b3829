//! What a fault does to a servo.

use super::course::{At, Done, Row, run_closely};
use super::plan::Sweep;
use crate::on_demand::{AskedFault, Ends, FaultKind, Faulted, Fitted, NoFault, not_of};
use crate::simulation::Ended;
use bench::part::PulsesLost;
use finding::{Stopped, Watch};

/// What goes wrong at an instant, and stays so.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) enum Fault {
    /// The horn is held.
    Stall,
    /// Voltage of the rail without load, V.
    SupplyVoltage(f64),
    /// No more pulses: it keeps its last target, or lets go.
    SignalLost {
        /// It lets go.
        limp: bool,
    },
    /// Dry friction at the horn that comes on top, N·m.
    Rubs(f64),
}

/// What is wrong with a servo.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Wrong {
    pub(super) held: bool,
    /// Voltage of the rail without load, V.
    pub(super) open_voltage: f64,
    /// Dry friction on top of its own, N·m.
    pub(super) rubs: f64,
    pub(super) pulses: Pulses,
}

/// What its pulses say.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) enum Pulses {
    /// What they are to say.
    Come,
    /// Nothing: it keeps this target, rad.
    Held(f64),
    /// Nothing: it lets go.
    Limp,
}

impl Wrong {
    /// Nothing, on a rail of a voltage without load, V.
    pub(super) fn nothing(open_voltage: f64) -> Self {
        Self { held: false, open_voltage, rubs: 0.0, pulses: Pulses::Come }
    }

    /// One thing more; the servo goes by a target, rad, until then.
    pub(super) fn suffer(&mut self, fault: Fault, target: f64) {
        match fault {
            Fault::Stall => self.held = true,
            Fault::SupplyVoltage(voltage) => self.open_voltage = voltage,
            Fault::SignalLost { limp: true } => self.pulses = Pulses::Limp,
            Fault::SignalLost { limp: false } => self.pulses = Pulses::Held(target),
            Fault::Rubs(torque) => self.rubs += torque,
        }
    }
}

/// What a servo can have.
const KNOWN: [FaultKind; 4] =
    [FaultKind::Stall, FaultKind::SupplyVoltage, FaultKind::SignalLost, FaultKind::Rubs];

impl Sweep {
    /// The trial with faults: they show in its log and in [`Sweep::faulted`]. Verdict and key figures stay those without
    /// them.
    ///
    /// # Errors
    /// The first that a servo cannot have, or that comes after its end.
    pub fn with_faults(mut self, asked: &[AskedFault]) -> Result<Self, NoFault> {
        let mut faults = self.faults.clone();
        faults.add(asked, self.length(), |time| time, |asked| self.fitted(asked))?;
        self.faults = faults;
        Ok(self)
    }

    /// Its faults, in the order in which they come.
    pub fn faults(&self) -> impl Iterator<Item = &AskedFault> {
        self.faults.asked()
    }

    /// What comes of it with its faults, leg by leg; `None` where it has none.
    ///
    /// # Errors
    /// Where the set-up proves to be unusable, or the work was stopped.
    pub fn faulted(&self, watch: Watch<'_>) -> Result<Option<Faulted<Vec<Done>>>, Ended<Stopped>> {
        let Some(time) = self.faults.first() else { return Ok(None) };
        let play = |faults: &[(f64, Fault)], from: f64| {
            let mut ends = Ends::new(time);
            let done = run_closely((&self.set_up, faults), 0.0, &self.legs, &mut |_, row| {
                ends.see(row.time, row);
                watch.go_on(from + 0.5 * row.time / self.length())
            })?;
            Ok((done, ends))
        };
        let faults = self.faults.timed();
        let ((kept, with), (_, without)) = (play(&faults, 0.0)?, play(&[], 0.5)?);
        let points = self.points();
        let shown = with.shown(&points, (&without, &points));
        Ok(Some(Faulted { kept, shown }))
    }

    /// Plays it with its faults; `row` sees the state at every pulse and at the end, and may end the run.
    ///
    /// # Errors
    /// Where the set-up is no use, or `row` ends it.
    pub fn play<E>(&self, row: &mut impl FnMut(&Row) -> Result<(), E>) -> Result<Vec<Done>, Ended<E>> {
        let faults = self.faults.timed();
        let mut frames = |at, now: &Row| if at == At::Frame { row(now) } else { Ok(()) };
        run_closely((&self.set_up, &faults), 0.0, &self.legs, &mut frames)
    }

    fn fitted(&self, asked: &AskedFault) -> Result<Fitted<Fault>, String> {
        let si = asked.si().unwrap_or(0.0);
        Ok(match asked.kind {
            FaultKind::Stall => Fitted { what: Some("the horn is held"), ..Fault::Stall.into() },
            FaultKind::SupplyVoltage => Fault::SupplyVoltage(si).into(),
            FaultKind::Rubs => Fault::Rubs(si).into(),
            FaultKind::SignalLost => {
                let (limp, how) = match self.unit.part.pulses_lost().value {
                    Some(PulsesLost::Holds) => (false, "it keeps where they sent it last"),
                    Some(PulsesLost::Limp) => (true, "it lets go"),
                    Some(PulsesLost::Moves) => {
                        return Err("it goes to a preset place then, and no sheet says which".to_owned());
                    }
                    Some(PulsesLost::Unknown) | None => {
                        let path = self.unit.part.path_of("pulses_lost");
                        return Err(format!("`{path}` does not say what it does then"));
                    }
                };
                Fitted { more: format!(" ({how})"), ..Fault::SignalLost { limp }.into() }
            }
            FaultKind::ChannelLost
            | FaultKind::ChannelsSwapped
            | FaultKind::LeadsSwapped
            | FaultKind::CurrentOffset
            | FaultKind::Tripped
            | FaultKind::CouplingSlips
            | FaultKind::Warm
            | FaultKind::LeadOpen => return Err(not_of("a servo", &KNOWN)),
        })
    }
}

//! Signs and scale factors by the first moments of a log, before anything is estimated from it.

use super::said::{Said, band};
use super::taken::Taken;
use crate::parameter::Parameter;
use crate::pulse::{Band, Factors, Judgement, Pulse, Sheets, Voltage, judge};
use crate::record::{Sensors, Shaft, Time};
use std::f64::consts::TAU;

/// What the first moments of one log say of all signs and scale factors.
pub struct Signs {
    /// Name of the log.
    pub log: String,
    /// How long it was looked at, s.
    pub time: f64,
    /// What it says.
    pub judgement: Judgement,
}

impl Signs {
    /// Whether everything may be as the bench says.
    pub fn may_be_right(&self) -> bool {
        let leading = self.judgement.classes.first();
        leading.is_none_or(|class| class.hypotheses.iter().any(|judged| judged.hypothesis.faults() == 0))
    }
}

/// Time from the first duty on that is looked at, s.
const LOOKED_AT: f64 = 0.2;
/// The longest that it is looked at where the shaft does not turn at once, s.
const LONGEST: f64 = 2.0;

/// Judges the first log of a free shaft that begins at rest and tells its duty.
pub(super) fn signs(logs: &[Taken], said: &Said, sensors: &Sensors) -> Option<Signs> {
    let log = logs.iter().find(|log| {
        log.conditions.shaft == Shaft::Free
            && log.conditions.disc == 0.0
            && log.duty.is_some()
            && log.rests_first()
    })?;
    let duty = log.duty.as_ref()?;
    // A prediction tells the duty up to a row, and the pulse takes it from there on.
    let ahead = usize::from(log.means);
    let first = duty.iter().position(|duty| *duty != 0.0)?;
    // A first level that does not turn the shaft tells little: the look goes on until it turns.
    let until = log.time[first] + LOOKED_AT;
    let until = log
        .first_motion(first)
        .map_or(until, |turns| until.max(turns + LOOKED_AT))
        .min(log.time[first] + LONGEST);
    let end = log.time.iter().position(|time| *time > until).unwrap_or(log.time.len());
    let rows = end.saturating_sub(ahead);
    let duty = &duty[ahead..ahead + rows];
    let voltage = match (&log.motor_voltage, &log.bus) {
        (Some(motor), _) => Voltage::Motor(&motor[..rows]),
        (None, Some(bus)) => Voltage::Bus(&bus[..rows]),
        (None, None) => Voltage::Unknown,
    };
    let pulse = Pulse {
        time: log.step.map_or(Time::Stamps(&log.time[..rows]), Time::Even),
        duty,
        voltage,
        current: log.current.as_ref().map(|current| &current[..rows]),
        count: log.counts.as_ref().map(|counts| &counts[..rows]),
    };
    let judgement = judge(&pulse, &sheets(said, sensors)?).ok()?;
    Some(Signs { log: log.name.clone(), time: until - log.time[first], judgement })
}

/// What the bench says, as the judgement takes it; none where a figure is missing.
fn sheets(said: &Said, sensors: &Sensors) -> Option<Sheets> {
    use Parameter as P;
    let of = |p: P| {
        let (low, high) = band(&said.figure(p, true, false)?)?;
        Some(Band { low: low.max(0.0), high })
    };
    let drop = of(P::BrushDrop).unwrap_or(Band { low: 0.0, high: 0.0 });
    let supply = band(&said.dc.power.open_voltage)
        .map_or(Band::around(said.open_voltage, 0.01), |(low, high)| Band { low, high });
    Some(Sheets {
        resistance: of(P::Resistance)?,
        inductance: of(P::Inductance)?,
        constant: of(P::Constant)?,
        inertia: of(P::Inertia)?,
        coulomb: of(P::CoulombFriction)?,
        viscous: Band { low: 0.0, high: of(P::ViscousFriction).map_or(0.0, |band| band.high) },
        drop: Band { low: drop.low, high: drop.high + said.dead_drop() },
        supply,
        counts: said.counts.map(|(per_radian, _)| per_radian * TAU)?,
        current: sensors.current,
        voltage: sensors.voltage,
        factors: Factors::usual((said.ratio > 1.0).then_some(said.ratio)),
    })
}

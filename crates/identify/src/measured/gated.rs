//! The gate for the logs of a bench: what the bench says of axis and board, beside the columns that were read.

use super::said::{Said, band};
use super::taken::Taken;
use crate::gate::{Codes, Known, Level, Observed, Remark, Sign, judge, usable_rows};
use crate::parameter::Parameter;
use crate::pulse::Band;
use crate::record::{Acts, Sensors, Time};
use bench::model::Axis;
use drive::sense::SensePoint;
use std::f64::consts::TAU;
use worked::Worked;

/// Uncertainty of the PWM frequency, as a part of it: that of the clock of a controller (common practice, no source: a
/// quartz is a hundred times better, an RC oscillator ten times worse).
const CLOCK: f64 = 1e-3;
const SAME_CLOCK: f64 = 1e-9;

/// Judges each log, and takes out of its rows what the signs say. A log that cannot be judged shows no sign.
pub(super) fn gate(
    logs: &mut [Taken],
    said: &Said,
    axis: &Axis,
    sensors: Sensors,
    by_duty: bool,
) -> Vec<Vec<Remark>> {
    let levels = levels(said);
    let lockout = axis.input().map(|fed| fed.input.lockout()).filter(|lockout| lockout.has("off"));
    let lockout = lockout.map(|lockout| lockout.off().value()).filter(|volts| volts.is_finite());
    logs.iter_mut()
        .map(|log| {
            let known = known(said, sensors, by_duty, log, &levels, lockout);
            let observed = observed(log);
            let mut remarks = judge(&observed, &known).unwrap_or_default();
            // The current of a prediction has no noise, and repeats where it is steady; its rows are where it says.
            remarks.retain(|remark| match remark.sign {
                Sign::Clipping => !log.predicted || log.codes.is_some(),
                Sign::TimeJitter => !log.means,
                _ => true,
            });
            remarks.extend(log.remarks.iter().cloned());
            let usable = usable_rows(&observed, &remarks);
            log.usable.iter_mut().zip(usable).for_each(|(own, usable)| *own &= usable);
            remarks
        })
        .collect()
}

fn observed(log: &Taken) -> Observed<'_> {
    Observed {
        acts: if log.means { Acts::SinceLast } else { Acts::UntilNext },
        duty: log.duty.as_deref(),
        bus: log.bus.as_deref(),
        motor_voltage: log.motor_voltage.as_deref(),
        current: log.current.as_deref(),
        codes: log.codes.as_ref().map(|(values, lowest, highest)| Codes {
            values,
            lowest: *lowest,
            highest: *highest,
        }),
        counts: log.counts.as_deref(),
        tripped: log.tripped.as_deref(),
        chopping: log.chopping.as_deref(),
        locked_out: log.locked_out.as_deref(),
        open: log.open.as_deref(),
        ..Observed::at(log.step.map_or(Time::Stamps(&log.time), Time::Even))
    }
}

fn known<'a>(
    said: &Said,
    sensors: Sensors,
    by_duty: bool,
    log: &Taken,
    limits: &'a [Level],
    lockout: Option<f64>,
) -> Known<'a> {
    let of = |parameter: Parameter| limited(&said.figure(parameter, by_duty, false)?);
    let bridge = said.dc.bridge.as_ref();
    let frequency =
        bridge.map(|bridge| bridge.frequency.value()).filter(|hertz| *hertz > 0.0 && hertz.is_finite());
    let drop = of(Parameter::BrushDrop).map(|drop| Band { high: drop.high + said.dead_drop(), ..drop });
    let heat = said.dc.motor.heat();
    // The controller that makes the PWM samples by the same clock.
    let clock = if log.means || log.reads_the_line() { SAME_CLOCK } else { CLOCK };
    Known {
        resistance: of(Parameter::Resistance),
        inductance: of(Parameter::Inductance),
        constant: of(Parameter::Constant),
        brush_drop: drop.filter(|drop| drop.high > 0.0),
        supply: limited(&said.dc.power.open_voltage),
        source_resistance: of(Parameter::SupplyResistance),
        pwm_period: frequency.map(|hertz| Band::around(1.0 / hertz, clock)),
        off_state: bridge.map(|bridge| bridge.off_state),
        limits,
        lockout,
        counts_per_turn: said.counts.map(|(per_radian, _)| per_radian * TAU),
        gear_ratio: Some(said.ratio).filter(|ratio| *ratio != 1.0),
        interval: None,
        winding_heat: limited(&heat.thermal.winding_capacity()),
        resistance_per_kelvin: said.warmth.resistance,
        sensors,
        shaft: log.conditions.shaft,
    }
}

/// Limits of current that the bench states.
fn levels(said: &Said) -> Vec<Level> {
    let level = |limit: &bench::model::LimitInForce| {
        let of_supply = limit.limit.senses().is(SensePoint::SupplyInput);
        Some(Level { current: limited(&limit.threshold)?, of_supply })
    };
    said.dc.limits.iter().filter_map(level).collect()
}

/// Between which values a figure lies; as it is where no tolerance is stated.
fn limited(figure: &Worked) -> Option<Band> {
    let value = figure.value();
    let (low, high) = band(figure).unwrap_or((value, value));
    (low.is_finite() && high.is_finite() && low >= 0.0).then_some(Band { low, high })
}

//! The bus of several axes in time, at nominal values: what their motions draw and bring back, added moment by moment.
//!
//! All motions begin together and repeat, each in its own time. Above its open voltage the supply gives nothing and takes
//! nothing back; a clamp is on from its threshold to its release.

use crate::axis::Course;
use crate::demand::Demand;
use drive::assembly::{Bus, DcAxis};
use worked::Worked;

/// A bus over the longest of the cycles that it feeds.
#[derive(Clone, PartialEq, Debug)]
pub struct BusCourse {
    /// Moments, s, and the voltage there, V.
    pub voltage: Vec<[f64; 2]>,
    /// Current that the supply gives there, A.
    pub current: Vec<[f64; 2]>,
    /// Highest voltage, V.
    pub highest: f64,
    /// Lowest voltage, V.
    pub lowest: f64,
    /// Largest current of the supply, A.
    pub peak_current: f64,
    /// Effective current of the supply, A.
    pub rms_current: f64,
    /// Energy that the clamps turn into heat in that time, J.
    pub clamped: f64,
    /// The time, s.
    pub time: f64,
}

/// Steps of the integration.
const STEPS: usize = 6000;
/// Of so many steps one point is kept for the picture.
const KEPT: usize = 10;

/// One axis on the bus.
pub(crate) struct OnBus<'a> {
    pub(crate) course: &'a Course,
    pub(crate) dc: &'a DcAxis,
}

struct Clamp {
    on_at: f64,
    off_at: f64,
    resistance: f64,
    on: bool,
}

impl BusCourse {
    /// `None` where nothing moves or a datum is missing.
    pub(crate) fn of(bus: &Bus, axes: &[OnBus<'_>]) -> Option<Self> {
        let time = axes.iter().map(|axis| axis.course.cycle.time).reduce(f64::max)?;
        let power = &axes.first()?.dc.power;
        let open = (bus.open_voltage.clone() - power.series_drop.clone()).value();
        let source = (power.source_resistance.clone() + power.line_resistance.clone()).value();
        let capacitance = bus.capacitance.value();
        let quiescent: f64 =
            bus.inputs.iter().filter(|input| input.has("current")).map(|input| input.current().value()).sum();
        let sink = if bus.takes_back() { bus.sink_current().value() } else { 0.0 };
        let mut clamps: Vec<Clamp> = bus
            .clamps
            .iter()
            .map(|(_, clamp)| Clamp {
                on_at: clamp.threshold().value(),
                off_at: if clamp.has("release") {
                    clamp.release().value()
                } else {
                    clamp.threshold().value()
                },
                resistance: clamp.resistance().value(),
                on: false,
            })
            .collect();
        let known = [open, source, capacitance, quiescent, sink].iter().all(|value| value.is_finite());
        let clamped = |clamp: &Clamp| clamp.on_at.is_finite() && clamp.resistance > 0.0;
        if !(known && capacitance > 0.0 && open > 0.0 && clamps.iter().all(clamped)) {
            return None;
        }
        let step = time / STEPS as f64;
        let mut course = Self {
            voltage: Vec::new(),
            current: Vec::new(),
            highest: open,
            lowest: open,
            peak_current: 0.0,
            rms_current: 0.0,
            clamped: 0.0,
            time,
        };
        let (mut energy, mut squares) = (0.5 * capacitance * open * open, 0.0);
        // The first round only leaves the bus as the next one finds it.
        for round in 0..2 {
            for k in 0..STEPS {
                let at = step * (k as f64 + 0.5);
                let taken: f64 = axes.iter().map(|axis| power_at(axis.course, at)).sum();
                let voltage = (2.0 * energy / capacitance).sqrt();
                for clamp in &mut clamps {
                    clamp.on = voltage >= clamp.on_at || (clamp.on && voltage > clamp.off_at);
                }
                let heat: f64 =
                    clamps.iter().filter(|c| c.on).map(|c| voltage * voltage / c.resistance).sum();
                let above = voltage > open;
                let back = if above { sink * voltage } else { 0.0 };
                let drawn = taken + quiescent * voltage + heat + back;
                let given = if energy - drawn * step >= 0.5 * capacitance * open * open {
                    0.0
                } else {
                    under_load(open, source, drawn.max(0.0))
                };
                let supply = if given > 0.0 {
                    let now = open - source * given;
                    energy = 0.5 * capacitance * now * now;
                    given
                } else {
                    energy = (energy - drawn * step).max(0.5 * capacitance * open * open);
                    0.0
                };
                if round == 0 {
                    continue;
                }
                let voltage = (2.0 * energy / capacitance).sqrt();
                course.highest = course.highest.max(voltage);
                course.lowest = course.lowest.min(voltage);
                course.peak_current = course.peak_current.max(supply);
                course.clamped += heat * step;
                squares += supply * supply;
                if k % KEPT == 0 {
                    course.voltage.push([at, voltage]);
                    course.current.push([at, supply]);
                }
            }
        }
        course.rms_current = (squares / STEPS as f64).sqrt();
        Some(course)
    }
}

/// Current of a source with a resistance that gives a power: the smaller root of `P = (U − R·I)·I`; the most that it can
/// give where there is none.
fn under_load(open: f64, source: f64, power: f64) -> f64 {
    if source <= 0.0 {
        return power / open;
    }
    let root = (open * open - 4.0 * source * power).max(0.0).sqrt();
    (open - root) / (2.0 * source)
}

/// Power that an axis takes at a time, its cycle repeated: straight between its moments.
fn power_at(course: &Course, time: f64) -> f64 {
    let demands = &course.demands;
    let at = time % course.cycle.time;
    let after = demands.partition_point(|d| d.moment.at <= at);
    let of = |index: usize| demands.get(index);
    match (after.checked_sub(1).and_then(of), of(after)) {
        (Some(a), Some(b)) => between(a, b, at),
        (Some(one), None) | (None, Some(one)) => one.power(),
        (None, None) => 0.0,
    }
}

fn between(a: &Demand, b: &Demand, at: f64) -> f64 {
    let rests = |d: &Demand| d.speed == 0.0 && d.moment.lasts > 0.0;
    match (rests(a), rests(b)) {
        // A rest is one moment in its middle and fills all of its time.
        (true, _) => a.power(),
        (_, true) => {
            if at >= b.moment.at - 0.5 * b.moment.lasts {
                b.power()
            } else {
                a.power()
            }
        }
        _ => {
            let part = (at - a.moment.at) / (b.moment.at - a.moment.at).max(f64::MIN_POSITIVE);
            a.power() + part * (b.power() - a.power())
        }
    }
}

/// A figure of the bus that the pages show beside it.
pub(crate) fn figures(bus: &Bus) -> Vec<Worked> {
    let mut figures = vec![bus.energy(), bus.power(), bus.voltage_without_clamp()];
    let ceilings = bus.inputs.iter().map(|input| input.survives()).filter(|survives| !survives.is_missing());
    if let Some(ceiling) = ceilings.reduce(worked::Number::at_most) {
        figures.push(bus.capacitance_needed(ceiling.clone()));
        figures.push(drive::bus::largest_clamp_resistance(ceiling, bus.power()));
    }
    figures
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_source_gives_the_power_that_it_can() {
        // 24 V behind 0.5 Ω: 20 A·(24 V − 10 V) = 280 W; its most is 24²/(4·0.5) = 288 W at 24 A. By hand.
        assert!((under_load(24.0, 0.5, 280.0) - 20.0).abs() < 1e-12);
        assert!((under_load(24.0, 0.5, 400.0) - 24.0).abs() < 1e-12);
        assert!((under_load(24.0, 0.0, 48.0) - 2.0).abs() < 1e-12);
    }
}

//! Which trial to make next: every trial that the axis has is rehearsed in the simulation, and asked what its record would
//! leave of the uncertainties that are too large.
//!
//! One whose own verdict refuses it is never offered. Travel, speed, currents, heat and the bus are in that verdict.

use super::Measured;
use super::said::Said;
use crate::outlook::outlook;
use crate::parameter::Parameter;
use crate::record::{Acts, Angle, Axis, Drive, Record, Shaft, Time, Trial};
use bench::Bench;
use bench::file::ShaftState;
use finding::{Stopped, Watch};
use simulate::{Ended, Plan, Planned, Row, Sink, Wish};
use std::collections::BTreeMap;

/// What trials would tell of an axis.
#[derive(Clone, Debug, Default)]
pub struct Next {
    /// Parameters that are not known closely enough, with the trial that makes each surest.
    pub wanted: Vec<Wanted>,
    /// Trials whose verdict refuses them.
    pub refused: Vec<String>,
}

/// A parameter that is not known closely enough.
#[derive(Clone, Debug)]
pub struct Wanted {
    /// Which.
    pub parameter: Parameter,
    /// Half of its 95 % interval as a part of its value, as it is; infinite where nothing tells it.
    pub now: f64,
    /// What is asked of it.
    pub asked: f64,
    /// The trial that leaves least; none where no trial makes it less by a tenth.
    pub best: Option<Best>,
    /// What sensors leave of it in the best of all trials; infinite where none tells it.
    pub systematic: f64,
}

/// What a trial would leave of an uncertainty; parts of the value, as half of a 95 % interval.
#[derive(Clone, PartialEq, Debug)]
pub struct Best {
    /// The trial, as `predict` takes it.
    pub trial: String,
    /// What it leaves.
    pub then: f64,
    /// The part of that which sensors leave.
    pub systematic: f64,
}

/// What uses ask of a parameter, as half of the 95 % interval in parts of the value (common practice, no source).
const ASKED: [(Parameter, f64); 6] = [
    (Parameter::Resistance, 0.03),
    (Parameter::Inductance, 0.10),
    (Parameter::Constant, 0.03),
    (Parameter::Inertia, 0.10),
    (Parameter::CoulombFriction, 0.20),
    (Parameter::ViscousFriction, 0.20),
];
/// A trial is worth making where it leaves less than this part of the uncertainty.
const WORTH: f64 = 0.9;
/// Half of a 95 % interval in standard uncertainties.
const COVERAGE: f64 = 1.96;
/// Most rows of a rehearsal; longer trials are recorded more coarsely.
const MOST_ROWS: usize = 20_000;

impl Measured {
    /// Rehearses the trials of the axis. Nothing is asked where the logs are spoiled: what is wrong has to be put right first, and
    /// the same trial made again.
    ///
    /// # Errors
    /// Where it was stopped.
    pub fn next(&self, bench: &Bench, axis: &bench::model::Axis, watch: &Watch<'_>) -> Result<Next, Stopped> {
        let mut next = Next::default();
        let short = self.short();
        if short.is_empty() || self.is_spoiled() || self.winds_up_only() {
            return Ok(next);
        }
        let expected = |p: Parameter| {
            let figure = self.said.figure(p, self.by_duty, self.coupled)?.value();
            (figure > 0.0).then_some((p, figure))
        };
        let wanted: Vec<(Parameter, f64)> = ASKED.iter().filter_map(|(p, _)| expected(*p)).collect();
        // With the load coupled nobody knows yet what of inertia and friction is the load's.
        let mut with_load = wanted.clone();
        if !self.coupled {
            let of = |p: Parameter| wanted.iter().find(|(known, _)| *known == p).map(|(_, value)| *value);
            with_load.extend(of(Parameter::Inertia).map(|value| (Parameter::LoadInertia, value)));
            with_load.extend(of(Parameter::CoulombFriction).map(|value| (Parameter::LoadFriction, value)));
        }
        let mut best: BTreeMap<Parameter, Best> = BTreeMap::new();
        let trials = trials(bench, axis);
        let all = trials.len();
        for (k, (name, planned)) in trials.into_iter().enumerate() {
            watch.go_on(k as f64 / all as f64)?;
            if !planned.is_offered() {
                next.refused.push(name);
                continue;
            }
            let Some(rehearsed) = Rehearsed::of(&planned, &self.said, watch)? else { continue };
            let records = [rehearsed.record(self.by_duty)];
            let model = Axis { records: &records, sensors: self.sensors, warmth: self.said.warmth };
            let wanted = if rehearsed.shaft == Shaft::Coupled { &with_load } else { &wanted };
            let Ok(told) = outlook(self.identified(), wanted, &model) else { continue };
            for told in told {
                let part = |u: f64| COVERAGE * u / self.size(told.parameter, told.value);
                let (then, systematic) = (part(told.then), part(told.systematic));
                let is_less = best.get(&told.parameter).is_none_or(|best| then < best.then);
                if then.is_finite() && is_less {
                    best.insert(told.parameter, Best { trial: name.clone(), then, systematic });
                }
            }
        }
        next.wanted = short
            .into_iter()
            .map(|(parameter, asked)| {
                let now = self.part(parameter).unwrap_or(f64::INFINITY);
                let best = best.remove(&parameter);
                let systematic = best.as_ref().map_or(f64::INFINITY, |best| best.systematic);
                Wanted {
                    parameter,
                    now,
                    asked,
                    best: best.filter(|best| best.then < WORTH * now),
                    systematic,
                }
            })
            .collect();
        Ok(next)
    }

    /// Parameters that are not known as closely as they are used, with what is asked of each.
    fn short(&self) -> Vec<(Parameter, f64)> {
        let is_short = |&(parameter, asked): &(Parameter, f64)| {
            let known = self.identified().get(parameter).filter(|e| e.refused.is_none());
            known.and_then(|_| self.part(parameter)).is_none_or(|part| part > asked)
        };
        ASKED.iter().copied().filter(is_short).collect()
    }

    /// Half of the 95 % interval of what was found, as a part of it.
    fn part(&self, parameter: Parameter) -> Option<f64> {
        let estimate = self.identified().get(parameter)?;
        let size = self.size(parameter, estimate.value);
        Some(estimate.half_width(0.95) / size).filter(|part| part.is_finite())
    }

    /// What parts of a parameter are counted from: its value, or what the bench says where that came out as nothing.
    fn size(&self, parameter: Parameter, value: f64) -> f64 {
        let said = || self.said.figure(parameter, self.by_duty, self.coupled).map(|figure| figure.value());
        if value == 0.0 { said().unwrap_or(0.0) } else { value.abs() }
    }
}

/// Trials of the bench file on this axis, and those that any bench has, with the load and without.
fn trials(bench: &Bench, axis: &bench::model::Axis) -> Vec<(String, Planned)> {
    let mut all = Vec::new();
    for (name, trial) in bench.trials() {
        if trial.axis() == Some(&axis.name)
            && let Ok(planned) = Planned::of_file(bench, axis, &name, &trial, Wish::default(), None)
        {
            all.push((name.to_string(), planned));
        }
    }
    for plan in Plan::ALL {
        for free in [true, false] {
            let wish = Wish { free, duty: None };
            let Ok(planned) = simulate::Trial::plan(bench, axis, plan, wish) else { continue };
            let planned = Planned::Turns(Box::new(planned));
            // A shaft that is held is held with any load behind it.
            if free && planned.shaft() != Some(ShaftState::Free) {
                continue;
            }
            let name = if free { format!("{} --free", plan.name()) } else { plan.name().to_owned() };
            all.push((name, planned));
        }
    }
    all
}

/// A trial as its record would be.
struct Rehearsed {
    step: f64,
    duty: Vec<f64>,
    bus: Vec<f64>,
    motor_voltage: Vec<f64>,
    current: Vec<f64>,
    angle: Vec<f64>,
    resolution: f64,
    shaft: Shaft,
}

impl Sink for Rehearsed {
    type Failure = Stopped;

    fn take(&mut self, row: &Row) -> Result<(), Stopped> {
        self.duty.push(row.duty);
        self.bus.push(row.supply_voltage);
        self.motor_voltage.push(row.motor_voltage);
        self.current.push(row.current);
        self.angle.push(row.angle);
        Ok(())
    }
}

impl Rehearsed {
    /// Plays a trial; none where it cannot be played, or moves no DC motor.
    fn of(planned: &Planned, said: &Said, watch: &Watch<'_>) -> Result<Option<Self>, Stopped> {
        let shaft = match planned.shaft() {
            Some(ShaftState::Locked) => Shaft::Locked,
            Some(ShaftState::Free) => Shaft::Free,
            Some(ShaftState::Coupled) => Shaft::Coupled,
            Some(ShaftState::KnownDisc | ShaftState::OutputHeld) | None => return Ok(None),
        };
        let (length, frequency, every) = match planned {
            Planned::Turns(trial) => (trial.length(), trial.set_up.frequency, trial.every()),
            Planned::Moves(trial) => (trial.length(), trial.set_up.frequency, trial.every()),
            Planned::Steps(_) | Planned::Sweep(_) => return Ok(None),
        };
        let rows = length * frequency / every as f64;
        let every = every * ((rows / MOST_ROWS as f64) as u64 + 1);
        let mut rehearsed = Self {
            step: every as f64 / frequency,
            duty: Vec::new(),
            bus: Vec::new(),
            motor_voltage: Vec::new(),
            current: Vec::new(),
            angle: Vec::new(),
            resolution: said.counts.map_or(0.0, |(per_radian, _)| 1.0 / per_radian),
            shaft,
        };
        watch.go_on(0.0)?;
        let played = match planned {
            Planned::Turns(trial) => trial.play(every, &mut rehearsed),
            Planned::Moves(trial) => trial.play(every, &mut rehearsed),
            Planned::Steps(_) | Planned::Sweep(_) => return Ok(None),
        };
        match played {
            Ok(_) => Ok(Some(rehearsed)),
            Err(Ended::Sink(stopped)) => Err(stopped),
            Err(Ended::Unusable(_)) => Ok(None),
        }
    }

    fn record(&self, by_duty: bool) -> Record<'_> {
        Record {
            time: Time::Even(self.step),
            drive: if by_duty {
                Drive::Duty(&self.duty, &self.bus)
            } else {
                Drive::Voltage(&self.motor_voltage)
            },
            acts: Acts::SinceLast,
            current: Some(&self.current),
            angle: (self.resolution > 0.0)
                .then_some(Angle { values: &self.angle, resolution: self.resolution }),
            usable: None,
            trial: Trial { shaft: self.shaft, ..Trial::FREE },
        }
    }
}

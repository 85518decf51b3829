//! What single logs tell by ways of their own, beside the model of all of them: friction by running out, the source by the
//! sag of its bus, the shaft by its frequency response, heat by the resistance of the winding.

use super::conditions::Shakes;
use super::said::{Said, band};
use super::taken::Taken;
use crate::coast::{CoastDown, coast_down};
use crate::estimate::Identified;
use crate::parameter::Parameter;
use crate::record::{Acts, Record, Sensors, Shaft};
use crate::supply::{Sag, sag};
use crate::thermal::{HeatRun, heat_run, windows};
use crate::told::Told;
use crate::two_mass::{Shaken, two_mass};
use finding::Chart;
use finding::chart::{Axis, AxisScale, Lines, Plot, Point, Purpose, Series};
use worked::{Dimension, Worked};

/// What one log tells by one way.
#[derive(Clone, Debug)]
pub struct Beside {
    /// Name of the log.
    pub log: String,
    /// The way, in words.
    pub way: &'static str,
    /// What it tells.
    pub figures: Vec<Figure>,
    /// What stands beside it.
    pub remark: Option<String>,
    /// Its pictures.
    pub pictures: Vec<Chart>,
}

/// A figure that it tells.
#[derive(Clone, Debug)]
pub struct Figure {
    /// In words.
    pub name: &'static str,
    /// What it measures.
    pub dimension: Dimension,
    /// The figure.
    pub told: Told,
    /// Between which values the bench says that it lies.
    pub said: Option<(f64, f64)>,
}

/// Rows of a stretch that runs out below which nothing is told.
const LEAST_ROWS: usize = 50;
/// Windows of a sag.
const WINDOWS: usize = 200;
/// Time constants of source and capacitors in a window of a sag.
const SETTLED: f64 = 5.0;
/// Length of a log from which on its winding may tell of heat, s, and windows of it.
const LONG: f64 = 60.0;
const HEAT_WINDOWS: f64 = 120.0;
/// Uncertainty of the temperature of the air, K, and of the temperature coefficient of copper as a part of it (common practice,
/// no source).
const AIR: f64 = 3.0;
const COEFFICIENT: f64 = 0.01;
/// Segments that a response is averaged over at least.
const SEGMENTS: usize = 8;

/// What the logs tell besides.
pub(super) fn beside(
    logs: &[Taken],
    said: &Said,
    found: &Identified,
    sensors: Sensors,
    by_duty: bool,
) -> Vec<Beside> {
    let context = Context { said, found, sensors, by_duty };
    logs.iter()
        .flat_map(|log| {
            let ways =
                [Context::runs_out, Context::sags, Context::responds, Context::winds_up, Context::warms];
            ways.map(|way| way(&context, log))
        })
        .flatten()
        .collect()
}

pub(super) struct Context<'a> {
    pub(super) said: &'a Said,
    found: &'a Identified,
    pub(super) sensors: Sensors,
    pub(super) by_duty: bool,
}

impl Context<'_> {
    fn said(&self, figure: Option<Worked>) -> Option<(f64, f64)> {
        band(&figure?)
    }

    /// A parameter that was found and is carried, with its standard uncertainty.
    pub(super) fn known(&self, parameter: Parameter) -> Option<(f64, f64)> {
        let estimate = self.found.get(parameter).filter(|estimate| estimate.refused.is_none())?;
        Some((estimate.value, estimate.uncertainty()))
    }

    fn runs_out(&self, log: &Taken) -> Option<Beside> {
        let angle = log.angle.as_deref().filter(|_| log.conditions.ends_open)?;
        let last = log.duty.as_ref()?.iter().rposition(|duty| *duty != 0.0)?;
        // A row or two after the switches opened the current has gone.
        let from = (last + 3).min(angle.len());
        if angle.len() - from < LEAST_ROWS {
            return None;
        }
        let (mut inertia, mut inertia_uncertainty) = self.known(Parameter::Inertia)?;
        if log.conditions.shaft == Shaft::Coupled
            && let Some((load, u)) = self.known(Parameter::LoadInertia)
        {
            (inertia, inertia_uncertainty) = (inertia + load, libm::hypot(inertia_uncertainty, u));
        }
        let (times, angles) = (&log.time[from..], &angle[from..]);
        let friction = coast_down(&CoastDown { times, angles, inertia, inertia_uncertainty }).ok()?;
        let figure = |name, dimension, told, parameter| Figure {
            name,
            dimension,
            told,
            said: self.said(self.said.figure(
                parameter,
                self.by_duty,
                log.conditions.shaft == Shaft::Coupled,
            )),
        };
        Some(Beside {
            log: log.name.clone(),
            way: "running out",
            figures: vec![
                figure("dry friction", Dimension::TORQUE, friction.coulomb, Parameter::CoulombFriction),
                figure(
                    "viscous friction",
                    Dimension::VISCOUS_FRICTION,
                    friction.viscous,
                    Parameter::ViscousFriction,
                ),
            ],
            remark: None,
            pictures: Vec::new(),
        })
    }

    fn sags(&self, log: &Taken) -> Option<Beside> {
        let bus = log.bus.as_deref()?;
        let (current, duty) = match (&log.supply_current, &log.current, &log.duty) {
            (Some(supply), ..) => (supply.as_slice(), None),
            (None, Some(current), Some(duty)) => (current.as_slice(), Some(duty.as_slice())),
            _ => return None,
        };
        let power = &self.said.dc.power;
        let time =
            power.capacitance.value() * (power.source_resistance.value() + power.line_resistance.value());
        let step = log.step.unwrap_or((log.time.last()? - log.time.first()?) / log.time.len() as f64);
        let settled = if time.is_finite() { (SETTLED * time / step) as usize } else { 0 };
        let window = settled.max(bus.len() / WINDOWS).max(2);
        let source = sag(&Sag { bus, current, duty, window, sensors: self.sensors }).ok()?;
        if !source.carried {
            return None;
        }
        let resistance = self.said.figure(Parameter::SupplyResistance, self.by_duty, false);
        let of = |name, dimension, told, said| Figure { name, dimension, told, said };
        Some(Beside {
            log: log.name.clone(),
            way: "sag of the bus",
            figures: vec![
                of(
                    "resistance before the bridge",
                    Dimension::RESISTANCE,
                    source.resistance,
                    self.said(resistance),
                ),
                of("open voltage", Dimension::VOLTAGE, source.open_voltage, band(&power.open_voltage)),
            ],
            remark: None,
            pictures: Vec::new(),
        })
    }

    fn responds(&self, log: &Taken) -> Option<Beside> {
        let Shakes { lowest, highest } = log.conditions.shakes?;
        let (current, angle) = (log.current.as_deref()?, log.angle.as_deref()?);
        let step = log.step?;
        let (constant, u) = self.known(Parameter::Constant)?;
        let segment = 1usize << (current.len() / SEGMENTS).checked_ilog2()?;
        // Two bins of a segment at least, and not so high that rows are too few for it.
        let band = (lowest.max(2.0 / (segment as f64 * step)), highest.min(0.3 / step));
        let torque_gain = libm::hypot(u / constant, self.sensors.current.gain);
        let shaken = Shaken { current, angle, step, constant, torque_gain, segment, band };
        let twisted = two_mass(&shaken).ok()?;
        let coupled = log.conditions.shaft == Shaft::Coupled;
        let inertia = self.said(self.said.figure(Parameter::Inertia, self.by_duty, coupled));
        let of = |name, dimension, told, said| Figure { name, dimension, told, said };
        let mut figures =
            vec![of("inertia at the motor shaft", Dimension::INERTIA, twisted.inertia, inertia)];
        if let Some(masses) = twisted.masses {
            figures.extend([
                of("inertia of the motor", Dimension::INERTIA, masses.motor, None),
                of("inertia of the load at the motor shaft", Dimension::INERTIA, masses.load, None),
                of("stiffness at the motor shaft", Dimension::TORSIONAL_STIFFNESS, masses.stiffness, None),
                of("anti-resonance", Dimension::FREQUENCY, masses.anti_resonance, None),
                of("resonance", Dimension::FREQUENCY, masses.resonance, None),
            ]);
        }
        let [rigid, two] = twisted.criteria;
        let remark = format!(
            "{} segments, mean coherence {:.2}; the Bayes criterion of two masses is {:.0} {} that of one rigid shaft{}",
            twisted.segments,
            twisted.coherence,
            (rigid.bayes - two.bayes).abs(),
            if two.bayes < rigid.bayes { "below" } else { "above" },
            if twisted.blurred {
                "; segments are too short for the sharpest peak: record longer"
            } else {
                ""
            }
        );
        let points = |of: &dyn Fn(&numeric::spectrum::Bin) -> f64| -> Vec<Point> {
            let every = (twisted.response.len() / 500).max(1);
            twisted.response.iter().step_by(every).map(|bin| [bin.frequency, of(bin)]).collect()
        };
        let series = |name: &str, purpose, points| Series { name: name.to_owned(), purpose, points };
        let axis = |label: &str, unit: &str, scale| Axis {
            label: label.to_owned(),
            unit: unit.to_owned(),
            scale,
            range: None,
        };
        let response = Lines {
            x: axis("frequency", "Hz", AxisScale::Log),
            y: axis("speed for a torque", "rad/s/(N·m)", AxisScale::Log),
            series: vec![
                series("measured", Purpose::Measured, points(&|bin| bin.response.squared().sqrt())),
                series(
                    "what noise lets it be",
                    Purpose::Bound,
                    points(&|bin| bin.response.squared().sqrt() + 2.0 * bin.deviation),
                ),
            ],
            ..Lines::default()
        };
        let coherence = Lines {
            x: axis("frequency", "Hz", AxisScale::Log),
            y: Axis { range: Some([0.0, 1.0]), ..axis("coherence", "", AxisScale::Linear) },
            series: vec![series("coherence", Purpose::Measured, points(&|bin| bin.coherence))],
            ..Lines::default()
        };
        let chart = |title: &str, caption: String, plot| Chart {
            id: String::new(),
            title: format!("{}: {title}", log.name),
            alt: remark.clone(),
            caption,
            plot: Plot::Lines(plot),
        };
        let pictures = vec![
            chart(
                "frequency response from torque to speed",
                format!(
                    "A rigid shaft falls evenly with the frequency. A dip is where the load swings against the motor, a peak where \
                     both do: {remark}."
                ),
                response,
            ),
            chart(
                "coherence of the response",
                "1 where the speed is what the torque made it, 0 where it is noise, counts of the encoder, or dry friction."
                    .to_owned(),
                coherence,
            ),
        ];
        Some(Beside {
            log: log.name.clone(),
            way: "frequency response",
            figures,
            pictures,
            remark: Some(remark),
        })
    }

    fn warms(&self, log: &Taken) -> Option<Beside> {
        let span = log.time.last()? - log.time.first()?;
        if span < LONG {
            return None;
        }
        let record: Record<'_> = log.record(self.by_duty, Acts::UntilNext, self.said)?;
        let nominal = |p: Parameter| self.said.figure(p, self.by_duty, false).map(|figure| figure.value());
        let constant = self.known(Parameter::Constant).map(|(k, _)| k).or(nominal(Parameter::Constant))?;
        let brush_drop = self.known(Parameter::BrushDrop).map_or(0.0, |(drop, _)| drop);
        let largest = log.current.as_ref()?.iter().fold(0.0_f64, |most, i| most.max(i.abs()));
        let windows = windows(&record, span / HEAT_WINDOWS, constant, brush_drop, 0.2 * largest).ok()?;
        let heated = heat_run(&HeatRun {
            windows: &windows,
            ambient: record.trial.winding.unwrap_or(self.said.ambient),
            ambient_uncertainty: AIR,
            warmth: self.said.warmth,
            coefficient_uncertainty: COEFFICIENT,
            brush_drop,
            series_resistance: if self.by_duty { self.said.dc.loop_resistance.value().max(0.0) } else { 0.0 },
            sensors: self.sensors,
        })
        .ok()?;
        let thermal = &self.said.dc.motor.thermal;
        let figure =
            |name, dimension, told, figure: &Worked| Figure { name, dimension, told, said: band(figure) };
        let (resistance, time) = (Dimension::THERMAL_RESISTANCE, Dimension::TIME);
        let mut figures = match heated.two_bodies {
            true => vec![
                figure(
                    "thermal resistance, winding to case",
                    resistance,
                    heated.winding_to_case,
                    &thermal.winding_to_case,
                ),
                figure(
                    "thermal time constant of the winding",
                    time,
                    heated.winding_time,
                    &thermal.winding_time,
                ),
            ],
            false => vec![
                Figure {
                    name: "thermal resistance, winding to air",
                    dimension: resistance,
                    told: heated.winding_to_case,
                    said: band(&(&thermal.winding_to_case + &thermal.case_to_air)),
                },
                figure("thermal time constant", time, heated.winding_time, &thermal.winding_time),
            ],
        };
        figures.extend(
            heated.case_to_air.map(|told| {
                figure("thermal resistance, case to air", resistance, told, &thermal.case_to_air)
            }),
        );
        figures.extend(
            heated
                .case_time
                .map(|told| figure("thermal time constant of the case", time, told, &thermal.case_time)),
        );
        figures.retain(|figure| figure.told.is_carried());
        (!figures.is_empty()).then(|| Beside {
            log: log.name.clone(),
            way: "winding as it warms",
            figures,
            remark: None,
            pictures: Vec::new(),
        })
    }
}

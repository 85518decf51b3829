//! An axis of the bench as its loops see it: nominal figures, their ranges, encoder, bus and clock.

use crate::enclosed::{NAMES, Ranges, Span};
use crate::plant::Figures;
use bench::Bench;
use bench::file::{Controls, Sampling};
use bench::model::{Axis, Drive};
use drive::assembly::{DcAxis, play, stiffness};
use drive::load::Load;
use simulate::moves;
use thiserror::Error;
use worked::{Number, Worked};

/// Why an axis cannot be tuned.
#[derive(Clone, PartialEq, Debug, Error)]
pub enum CannotTune {
    /// Nothing of it is controlled, or not by a voltage.
    #[error("axis `{axis}` {why}")]
    NotThisAxis {
        /// Its name.
        axis: String,
        /// Why not, to be read after the name.
        why: String,
    },
    /// A datum is missing.
    #[error("axis `{axis}` cannot be tuned without {what}")]
    Missing {
        /// Its name.
        axis: String,
        /// Paths of what is missing, with what it is.
        what: String,
    },
    /// A figure is none that a loop can have.
    #[error("axis `{axis}`: {why}")]
    Unusable {
        /// Its name.
        axis: String,
        /// Which and why.
        why: String,
    },
}

/// An axis with what its loops need to know.
pub struct Seen {
    /// Name of the axis.
    pub name: String,
    /// The figures of the drive as worked numbers, in the order of [`NAMES`].
    pub worked: [Worked; 6],
    /// The same at nominal values.
    pub figures: Figures,
    /// Their ranges over all tolerances, temperatures and voltages.
    pub ranges: Ranges,
    /// The drive as the code of the controller takes it.
    pub drive: controller::Drive,
    /// The encoder as it takes it; the window only where the bench settles it.
    pub encoder: controller::Encoder,
    /// Sample time, s.
    pub sample_time: f64,
    /// Samples come in step with the pulses of the bridge.
    pub in_step: bool,
    /// A line tells the current of the motor.
    pub senses_current: bool,
    /// A position is controlled; else a speed.
    pub controls_position: bool,
    /// Turns of the motor for one of the shaft that drives the load.
    pub ratio: f64,
    /// Inertia of rotor and gear, kg·m²; the rest of the nominal one turns with the square of the ratio.
    pub rotor_inertia: f64,
    /// The axis with its tolerances.
    pub dc: DcAxis,
}

impl Seen {
    /// Gathers an axis.
    ///
    /// # Errors
    /// Where it has no motor, encoder or controller of this kind, or a datum is missing.
    pub fn of(bench: &Bench, axis: &Axis) -> Result<Self, CannotTune> {
        let name = axis.name.to_string();
        let cannot = |why: &str| CannotTune::NotThisAxis { axis: name.clone(), why: why.to_owned() };
        match &axis.drive {
            Drive::Dc(_) => {}
            Drive::Stepper(_) => {
                return Err(cannot("is driven by a stepper, which holds its place without a loop"));
            }
            Drive::Nothing => return Err(cannot("has no motor")),
        }
        let controls = axis.entry.controls().value;
        match controls {
            Some(Controls::Nothing) => return Err(cannot("is driven open loop: it `controls` nothing")),
            Some(Controls::Torque) => {
                return Err(cannot("holds a torque, and only loops of speed and position are designed"));
            }
            _ => {}
        }
        let dc = DcAxis::of(bench, axis).ok_or_else(|| cannot("has no motor"))?;
        if dc.bridge.is_none() {
            return Err(cannot("is driven by no channel of a board"));
        }
        if axis.encoder.is_none() {
            return Err(cannot("has no encoder, and its loops count edges: give it `encoder`"));
        }
        let mut gather = Gather { axis: &name, missing: Vec::new() };
        let clock = bench.controller().map(|controller| controller.entry.r#loop());
        let sample_time = match clock.as_ref().filter(|clock| clock.has("sample_time")) {
            Some(clock) => clock.sample_time().value(),
            None => gather.lacks("controller.loop.sample_time (time from one pass of the loop to the next)"),
        };
        if controls.is_none() {
            gather
                .lacks(&format!("{} (what it controls: speed or position)", axis.entry.path_of("controls")));
        }
        let armature = dc.armature();
        let viscous = at_motor(&dc, |load| load.viscous_friction(), "N·m·s/rad");
        let friction = at_motor(&dc, |load| load.friction_torque(), "N·m");
        let sensing = simulate::sensing(bench, axis, &dc);
        let bus = moves::bus(axis, &dc, &sensing);
        let factor = moves::voltage_factor(bench, axis, &dc, &bus);
        let viscous = armature.viscous_friction.clone() + viscous;
        let inertia = dc.accelerating_inertia();
        let worked = [
            armature.resistance.clone(),
            armature.inductance.clone(),
            armature.constant.clone(),
            inertia,
            viscous.called("viscous friction at the motor", "b"),
            factor,
        ];
        let values: Vec<f64> = worked.iter().map(|figure| gather.value(figure)).collect();
        let &[resistance, inductance, constant, inertia, viscous_friction, voltage_factor] = &values[..]
        else {
            return Err(cannot("has no figures"));
        };
        let figures = Figures { resistance, inductance, constant, inertia, viscous_friction, voltage_factor };
        let drive = controller::Drive {
            resistance,
            inductance,
            constant,
            brush_drop: gather.value(&armature.brush_drop),
            inertia,
            friction: gather.value(&(armature.coulomb_friction.clone() + dc.gear.drag.clone() + friction)),
            viscous_friction,
            rated_current: gather.positive(
                moves::rated_current(axis, &dc),
                &format!("{}.motor.rated_current (current that it may carry for long)", axis.path()),
            ),
            current_limit: match current_limit(bench, axis) {
                Some(limit) => limit,
                // Without a sample time no motion can be planned, and that is what has to be given first.
                None if sample_time.is_nan() => f64::NAN,
                None => gather.lacks(&format!(
                    "{} (a current that the loop keeps to; a motion that can be planned, in `moves`, would settle it too)",
                    axis.entry.path_of("firmware.current_limit")
                )),
            },
            highest_duty: gather.value(&dc.duty_limit),
            bus,
        };
        let rotor_inertia = gather.value(&(dc.rotor_inertia() + dc.gear.inertia.clone()));
        let ratio = gather.value(&dc.gear.ratio);
        let Some(encoder) = moves::encoder(bench, &sensing, sample_time) else {
            gather.lacks(&format!("{}.encoder.lines (lines of a turn)", axis.path()));
            return Err(gather.lacking());
        };
        gather.complete()?;
        let ranges = ranges(&name, &worked, dc.braking_inertia())?;
        let in_step = clock.is_some_and(|clock| {
            matches!(clock.adc().value, Some(Sampling::CentreOfOnTime | Sampling::Synchronous))
        });
        Ok(Self {
            worked,
            figures,
            ranges,
            drive,
            encoder,
            sample_time,
            in_step,
            senses_current: sensing.current.is_some(),
            controls_position: controls == Some(Controls::Position),
            ratio,
            rotor_inertia,
            dc,
            name,
        })
    }

    /// Backlash at the motor shaft, rad; `None` where the bench does not state any.
    pub fn backlash(&self, axis: &Axis) -> Option<f64> {
        let gap = play(axis, &self.dc.mechanism) * self.dc.gear.ratio.clone();
        Some(gap.value()).filter(|gap| gap.is_finite() && *gap > 0.0)
    }

    /// Stiffness between motor and load, N·m/rad at the shaft that drives the load.
    pub fn stiffness(&self, axis: &Axis) -> Option<f64> {
        stiffness(axis, &self.dc.mechanism).map(|figure| figure.value()).filter(|value| value.is_finite())
    }

    /// Electrical time constant, s.
    pub fn electrical_time(&self) -> f64 {
        self.figures.inductance / self.figures.resistance
    }
}

/// A figure of the load as the motor has it while it drives the load.
fn at_motor(dc: &DcAxis, figure: impl Fn(&Load<Worked>) -> Worked, unit: &str) -> Worked {
    match &dc.load {
        Some(load) if unit == "N·m" => figure(load) / (dc.gear.ratio.clone() * dc.gear.efficiency.clone()),
        Some(load) => {
            figure(load) / (dc.gear.ratio.clone() * dc.gear.ratio.clone() * dc.gear.efficiency.clone())
        }
        None => drive::constants::zero(unit),
    }
}

/// That which the firmware keeps, else that which a planned motion leaves room for.
fn current_limit(bench: &Bench, axis: &Axis) -> Option<f64> {
    let firmware = axis.firmware();
    if firmware.has("current_limit") {
        return Some(firmware.current_limit().value());
    }
    axis.motion.as_ref()?;
    moves::trial(bench, axis, false).ok().map(|planned| planned.loops.current_limit)
}

/// What every figure can be. The inertia is that of accelerating or of braking, whichever is farther.
fn ranges(axis: &str, worked: &[Worked; 6], braking: Worked) -> Result<Ranges, CannotTune> {
    let mut spans = [Span::point(0.0); 6];
    for ((span, figure), name) in spans.iter_mut().zip(worked).zip(NAMES) {
        let Some((low, high)) = figure.worst_case() else {
            let why = format!("the range of its {name} cannot be told");
            return Err(CannotTune::Unusable { axis: axis.to_owned(), why });
        };
        *span = Span::new(low, high);
    }
    if let Some((low, high)) = braking.worst_case() {
        spans[3] = Span { low: spans[3].low.min(low), high: spans[3].high.max(high) };
    }
    let ranges = Ranges(spans);
    if ranges.are_sound() {
        return Ok(ranges);
    }
    let at = (0..6).find(|k| spans[*k].low <= 0.0 || !spans[*k].high.is_finite()).unwrap_or(0);
    let why = format!(
        "its {} may be {} to {} SI by what the bench states, and no loop can be judged over that; state it closer",
        NAMES[at], spans[at].low, spans[at].high
    );
    Err(CannotTune::Unusable { axis: axis.to_owned(), why })
}

/// Takes nominal values and keeps what is missing.
struct Gather<'a> {
    axis: &'a str,
    missing: Vec<String>,
}

impl Gather<'_> {
    fn value(&mut self, figure: &Worked) -> f64 {
        let value = figure.value();
        if value.is_nan() {
            let missing = figure.lacking().into_iter();
            self.missing.extend(missing.map(|source| format!("{} ({})", source.path, source.name)));
        }
        value
    }

    fn positive(&mut self, value: f64, what: &str) -> f64 {
        if value > 0.0 && value.is_finite() { value } else { self.lacks(what) }
    }

    fn lacks(&mut self, what: &str) -> f64 {
        self.missing.push(what.to_owned());
        f64::NAN
    }

    fn complete(self) -> Result<(), CannotTune> {
        if self.missing.is_empty() { Ok(()) } else { Err(self.lacking()) }
    }

    fn lacking(mut self) -> CannotTune {
        self.missing.sort();
        self.missing.dedup();
        CannotTune::Missing { axis: self.axis.to_owned(), what: self.missing.join(", ") }
    }
}

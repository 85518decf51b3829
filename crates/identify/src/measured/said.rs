//! What the bench says of an axis before anything is measured: starting values, bands, sensors, temperatures.

use crate::parameter::Parameter;
use crate::record::{Sensor, Warmth};
use bench::Bench;
use bench::model::Axis;
use drive::assembly::encoder::counts_at_motor;
use drive::assembly::sense::{SenseLine, Tells};
use drive::assembly::{self, DcAxis, EncoderPath};
use drive::sense::SensePoint;
use worked::{Effort, How, Number, Origin, Unit, Worked};

/// What the bench says.
pub(super) struct Said {
    /// Name of the axis.
    pub(super) axis: String,
    /// The figures behind it.
    pub(super) dc: DcAxis,
    /// Lines of all axes that a pin reads.
    pub(super) lines: Vec<SenseLine>,
    /// Counts in a radian of the motor shaft, and the width of the counter.
    pub(super) counts: Option<(f64, Option<u32>)>,
    pub(super) warmth: Warmth,
    /// Temperature of the air, K.
    pub(super) ambient: f64,
    /// Open voltage of the supply, V.
    pub(super) open_voltage: f64,
    /// Overall gear ratio.
    pub(super) ratio: f64,
    /// Stiffness and play at the shaft that drives the load.
    pub(super) stiffness: Option<Worked>,
    pub(super) play: Worked,
}

/// Standard uncertainty of a sensor of which nothing is known: of its gain, and of its zero in parts of the largest
/// reading (common practice, no source: a meter or probe of the middle class).
const GAIN: f64 = 0.02;
const ZERO: f64 = 0.005;

impl Said {
    /// What the bench says of an axis; `None` where it has no DC motor.
    pub(super) fn of(bench: &Bench, axis: &Axis) -> Option<Self> {
        let dc = DcAxis::of(bench, axis)?;
        let own = [(axis, Some(dc.clone()))];
        let lines = SenseLine::all(bench, &own, &[]);
        let counts = axis.encoder.as_ref().and_then(|part| {
            let per_radian = counts_at_motor(axis, part).value();
            let bits = EncoderPath::of(bench, axis, Some(&dc)).and_then(|path| path.counter_bits());
            (per_radian > 0.0 && per_radian.is_finite()).then_some((per_radian, bits))
        });
        let number = |figure: &Worked, otherwise: f64| {
            let value = figure.value();
            if value.is_finite() { value } else { otherwise }
        };
        let usual = Warmth::COPPER_AND_FERRITE;
        let warmth = Warmth {
            reference: number(&dc.motor.reference_temperature, usual.reference),
            resistance: number(&dc.motor.resistance_coefficient, usual.resistance),
            constant: number(&dc.motor.magnet_coefficient, usual.constant),
        };
        Some(Self {
            axis: axis.name.to_string(),
            lines,
            counts,
            warmth,
            ambient: number(&dc.ambient, usual.reference),
            open_voltage: assembly::power::open_voltage(bench, axis).value(),
            ratio: number(&dc.gear.ratio, 1.0),
            stiffness: assembly::stiffness(axis, &dc.mechanism),
            play: assembly::play(axis, &dc.mechanism),
            dc,
        })
    }

    /// Temperature of the magnets with the winding at this one, K.
    pub(super) fn magnets(&self, winding: f64) -> f64 {
        let follow = self.dc.constant_coefficient().value() / self.dc.motor.magnet_coefficient.value();
        let follow = if follow.is_finite() { follow } else { 0.0 };
        self.ambient + follow * (winding - self.ambient)
    }

    /// What dead time takes of the voltage, at both edges of a PWM period, V.
    pub(super) fn dead_drop(&self) -> f64 {
        let Some(bridge) = &self.dc.bridge else { return 0.0 };
        let drop = 2.0 * bridge.dead_time.value() * bridge.frequency.value() * self.open_voltage;
        if drop.is_finite() { drop.max(0.0) } else { 0.0 }
    }

    /// The line that tells the current of the motor, or the voltage of the bus.
    pub(super) fn line(&self, tells: Tells) -> Option<&SenseLine> {
        let sees = |line: &&SenseLine| match tells {
            Tells::Current => line.point.is_none_or(|point| point == SensePoint::MotorLead),
            Tells::Voltage => true,
        };
        let own = |line: &&SenseLine| line.tells == tells && line.axis.as_deref() == Some(&self.axis);
        self.lines.iter().filter(own).find(sees)
    }

    /// What is known of a sensor: by the line that it is, else as of a usual one, with its largest reading.
    pub(super) fn sensor(line: Option<&SenseLine>, largest: f64) -> Sensor {
        let Some(line) = line else { return Sensor { gain: GAIN, offset: ZERO * largest, noise: None } };
        let scale = line.sensor.scale.value();
        let deviation = |figure: &Worked| figure.uncertainty().map_or(0.0, |uncertainty| uncertainty.u);
        let noise = if line.adc.has("noise") { line.adc.noise().value() / scale } else { 0.0 };
        let step = line.converter.reference.value() / line.converter.codes.value() / scale;
        let noise = (noise * noise + step * step / 12.0).sqrt();
        Sensor {
            gain: deviation(&line.sensor.scale) / scale,
            offset: deviation(&line.sensor.zero) / scale,
            noise: Some(noise).filter(|noise| *noise > 0.0 && noise.is_finite()),
        }
    }

    /// What the bench says of a parameter of the motor with its gear, the load taken off; nothing where it is silent.
    /// `looped`: the voltage was taken before switches and leads.
    pub(super) fn figure(&self, parameter: Parameter, looped: bool, coupled: bool) -> Option<Worked> {
        use Parameter as P;
        let motor = &self.dc.motor;
        let figure = match parameter {
            P::Resistance if looped => {
                (&motor.resistance + &self.dc.loop_resistance).called("resistance of the motor loop", "R")
            }
            P::Resistance => motor.resistance.clone(),
            P::Inductance => motor.inductance.clone(),
            P::BrushDrop => motor.brush_drop.clone(),
            P::Constant => motor.torque_constant.clone(),
            P::Inertia if coupled => {
                self.dc.gear.stored_inertia(self.dc.rotor_inertia(), self.dc.load_inertia())
            }
            P::Inertia => (&motor.inertia + &self.dc.gear.inertia).called("inertia of rotor and gear", "J"),
            P::CoulombFriction if !coupled => {
                (&motor.coulomb_friction + &self.dc.gear.drag).called("dry friction of motor and gear", "M_c")
            }
            P::ViscousFriction => motor.viscous_friction.clone(),
            P::SupplyResistance => &self.dc.power.source_resistance + &self.dc.power.line_resistance,
            _ => return None,
        };
        figure.value().is_finite().then_some(figure)
    }
}

/// Where zero and scale of a line were measured, in words; nothing where they are those of its part.
pub(super) fn measured(line: &SenseLine) -> Option<String> {
    let of = |figure: &Worked| match &figure.as_input()?.origin {
        Origin::File { how: How::Measured, from, file, .. } => {
            Some(from.as_deref().unwrap_or(file).to_owned())
        }
        _ => None,
    };
    let (zero, scale) = (of(&line.sensor.zero), of(&line.sensor.scale));
    scale.or(zero)
}

/// Between which values a figure lies, SI.
pub(super) fn band(figure: &Worked) -> Option<(f64, f64)> {
    let frozen = figure.figure(Effort::FirstOrder);
    let unit = Unit::parse(&frozen.unit).ok().and_then(|unit| unit.fit(figure.dimension()))?;
    let (low, high) = (unit.to_si(frozen.low?), unit.to_si(frozen.high?));
    // Of a figure that nobody gives there may be what is left over of zero.
    (low < high && high > f64::MIN_POSITIVE).then_some((low, high))
}

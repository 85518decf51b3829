//! The figures of one record's drive, and how they answer to the parameters of the axis.

use crate::parameter::Parameter;
use crate::prepared::Prepared;
use crate::record::Shaft;

/// One value for each parameter, SI.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Values([f64; Parameter::ALL.len()]);

impl Values {
    /// All zero, but what divides.
    pub(crate) fn none() -> Self {
        let mut values = Self([0.0; Parameter::ALL.len()]);
        values.set(Parameter::FrictionSpeed, 1.0);
        values
    }

    pub(crate) fn get(&self, parameter: Parameter) -> f64 {
        self.0[parameter as usize]
    }

    pub(crate) fn set(&mut self, parameter: Parameter, value: f64) {
        self.0[parameter as usize] = value;
    }
}

/// What a lane of slopes is taken to: a parameter, or a sensor that may be off.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) enum Lane {
    /// A parameter of the axis.
    Of(Parameter),
    /// Gain of the current sensor, as a part of it.
    CurrentGain,
    /// Gain of the voltage sensor, as a part of it.
    VoltageGain,
    /// Extra inertia, as a part of it.
    ExtraInertia,
}

/// The drive of one record at one set of values.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Plant {
    /// R, L, K, J and b.
    pub(crate) quantities: [f64; 5],
    pub(crate) brush_drop: f64,
    pub(crate) voltage_offset: f64,
    pub(crate) coulomb: f64,
    pub(crate) bias: f64,
    pub(crate) extra: f64,
    pub(crate) friction_speed: f64,
    pub(crate) source: f64,
    pub(crate) current_offset: f64,
    pub(crate) locked: bool,
}

/// Slopes of a plant's figures to one lane.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub(crate) struct Slopes {
    pub(crate) quantities: [f64; 5],
    pub(crate) brush_drop: f64,
    pub(crate) voltage_offset: f64,
    /// Part of the voltage of each interval.
    pub(crate) voltage: f64,
    pub(crate) coulomb: f64,
    pub(crate) bias: f64,
    pub(crate) extra: f64,
    pub(crate) friction_speed: f64,
    pub(crate) source: f64,
    /// What the reading of the current changes by, and by which part of the current.
    pub(crate) reading: f64,
    pub(crate) reading_gain: f64,
}

pub(crate) const R: usize = 0;
pub(crate) const L: usize = 1;
pub(crate) const K: usize = 2;
pub(crate) const J: usize = 3;
pub(crate) const B: usize = 4;

impl Plant {
    pub(crate) fn of(prepared: &Prepared<'_>, values: &Values) -> Self {
        use Parameter as P;
        let trial = prepared.record.trial;
        let coupled = f64::from(trial.shaft == Shaft::Coupled);
        Self {
            quantities: [
                values.get(P::Resistance) * prepared.resistance_factor,
                values.get(P::Inductance),
                values.get(P::Constant) * prepared.constant_factor,
                values.get(P::Inertia) + trial.extra_inertia + coupled * values.get(P::LoadInertia),
                values.get(P::ViscousFriction),
            ],
            brush_drop: values.get(P::BrushDrop),
            voltage_offset: values.get(P::VoltageOffset),
            coulomb: values.get(P::CoulombFriction) + coupled * values.get(P::LoadFriction),
            bias: values.get(P::Imbalance),
            extra: values.get(P::StaticExtra),
            friction_speed: values.get(P::FrictionSpeed),
            source: values.get(P::SupplyResistance),
            current_offset: values.get(P::CurrentOffset),
            locked: trial.shaft == Shaft::Locked,
        }
    }

    /// Whether the model can take it.
    pub(crate) fn is_possible(&self) -> bool {
        let [r, l, k, j, b] = self.quantities;
        let above_zero = [r, l, k, j, self.friction_speed];
        let zero_or_more = [b, self.brush_drop, self.coulomb, self.extra, self.source];
        above_zero.iter().all(|v| *v > 0.0 && v.is_finite())
            && zero_or_more.iter().all(|v| *v >= 0.0 && v.is_finite())
            && [self.voltage_offset, self.bias, self.current_offset].iter().all(|v| v.is_finite())
    }

    /// The slower of its two time constants, s; that of the current where the shaft is held.
    pub(crate) fn slow_time(&self) -> f64 {
        let [r, l, k, j, b] = self.quantities;
        if self.locked {
            return l / r;
        }
        let (sum, product) = (r / l + b / j, (r * b + k * k) / (l * j));
        let root = (0.25 * sum * sum - product).max(0.0).sqrt();
        (0.5 * sum + root) / product
    }

    pub(crate) fn slopes(prepared: &Prepared<'_>, lane: Lane) -> Slopes {
        use Parameter as P;
        let mut slopes = Slopes::default();
        let trial = prepared.record.trial;
        let coupled = f64::from(trial.shaft == Shaft::Coupled);
        match lane {
            Lane::Of(P::Resistance) => slopes.quantities[R] = prepared.resistance_factor,
            Lane::Of(P::Inductance) => slopes.quantities[L] = 1.0,
            Lane::Of(P::Constant) => slopes.quantities[K] = prepared.constant_factor,
            Lane::Of(P::Inertia) => slopes.quantities[J] = 1.0,
            Lane::Of(P::ViscousFriction) => slopes.quantities[B] = 1.0,
            Lane::Of(P::LoadInertia) => slopes.quantities[J] = coupled,
            Lane::Of(P::BrushDrop) => slopes.brush_drop = 1.0,
            Lane::Of(P::CoulombFriction) => slopes.coulomb = 1.0,
            Lane::Of(P::LoadFriction) => slopes.coulomb = coupled,
            Lane::Of(P::Imbalance) => slopes.bias = 1.0,
            Lane::Of(P::StaticExtra) => slopes.extra = 1.0,
            Lane::Of(P::FrictionSpeed) => slopes.friction_speed = 1.0,
            Lane::Of(P::SupplyResistance) => slopes.source = 1.0,
            Lane::Of(P::CurrentOffset) => slopes.reading = 1.0,
            Lane::Of(P::VoltageOffset) => slopes.voltage_offset = 1.0,
            Lane::CurrentGain => slopes.reading_gain = 1.0,
            Lane::VoltageGain => slopes.voltage = -1.0,
            Lane::ExtraInertia => slopes.quantities[J] = trial.extra_inertia,
        }
        slopes
    }
}

//! The figures of an axis in the numbers of the hot loop: nominal, or at any other point of the tolerances.

use bench::file::Motion;
use drive::assembly::{DcAxis, course, magnets_follow};
use drive::bridge::Bridge;
use drive::gear::Gear;
use drive::heat::Heat;
use drive::load::{At, Load};
use drive::motion::course::Course;
use drive::motor::{Armature, Motor, magnet_temperature};
use worked::{Dimension, Worked};

/// An axis with a DC motor.
#[derive(Clone, Debug)]
pub(crate) struct Plant {
    pub(crate) motor: Motor<f64>,
    pub(crate) gear: Gear<f64>,
    pub(crate) bridge: Option<Bridge<f64>>,
    /// The load as it moves forward, and as it moves back.
    pub(crate) loads: Option<[Load<f64>; 2]>,
    pub(crate) place: At<f64>,
    /// Resistance of switches, leads and shunt.
    pub(crate) loop_resistance: f64,
    /// Voltage of the source without load, series diode taken off.
    pub(crate) open_voltage: f64,
    /// Resistance of source and supply line.
    pub(crate) source_resistance: f64,
    pub(crate) ambient: f64,
    /// Part of the winding's rise that the magnets follow.
    pub(crate) follow: f64,
}

impl Plant {
    /// By the values that its figures are given, always in the same order.
    pub(crate) fn by(dc: &DcAxis, value: &mut impl FnMut(&Worked) -> f64) -> Self {
        let load = dc.load.as_ref().map(|load| load.map(value));
        let power = &dc.power;
        let source = power.source_resistance.clone() + power.line_resistance.clone();
        Self {
            motor: dc.motor.map(value),
            gear: dc.cold_gear().map(value),
            bridge: dc.bridge.as_ref().map(|bridge| bridge.map(value)),
            loads: load.map(|load| [load, load.reversed()]),
            place: match &dc.place {
                At::Worst => At::Worst,
                At::Angle(angle) => At::Angle(value(angle)),
            },
            loop_resistance: value(&dc.loop_resistance),
            open_voltage: value(&(power.open_voltage.clone() - power.series_drop.clone())),
            source_resistance: value(&source),
            ambient: value(&dc.ambient),
            follow: value(&magnets_follow()),
        }
    }

    /// The motor with its loop at a temperature of its winding, the magnets following.
    pub(crate) fn armature(&self, winding: f64) -> Armature<f64> {
        let magnets = magnet_temperature(self.ambient, winding, self.follow);
        self.motor.armature_at(winding, magnets).behind(self.loop_resistance)
    }

    pub(crate) fn heat(&self) -> Heat<f64> {
        self.motor.heat()
    }
}

/// One move of a motion in the same numbers, and how far the shaft that drives the load turns for a unit of it.
#[derive(Clone, Debug)]
pub(crate) struct Move {
    pub(crate) course: Course,
    pub(crate) scale: f64,
    pub(crate) dwell: f64,
}

impl Move {
    pub(crate) fn by(
        motion: &Motion,
        dc: &DcAxis,
        value: &mut impl FnMut(&Worked) -> f64,
    ) -> Result<Self, course::NoCourse> {
        let course = course::course(motion, &mut *value)?;
        let travel = dc.load.as_ref().and_then(Load::travel);
        let scale = match (course::measures(motion), travel) {
            (Dimension::ANGLE, _) | (_, None) => 1.0,
            (_, Some(travel)) => 1.0 / value(&travel),
        };
        let dwell = if motion.has("dwell") { value(&motion.dwell()) } else { 0.0 };
        Ok(Self { course, scale, dwell })
    }
}

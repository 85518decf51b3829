//! Seeded builds of a set-up whose figures have tolerances in proportion.

use crate::set_up::{SetUp, Unusable};
use rayon::prelude::*;
use std::ops::Range;
use worked::Stream;

/// Tolerances of the figures of a set-up, as parts of them: 0.1 is ±10 %. Every value inside is as likely as any other,
/// each figure by itself.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Tolerances {
    /// Of the supply.
    pub supply_voltage: f64,
    /// Of the motor loop; the winding goes with it.
    pub resistance: f64,
    /// Of the motor loop.
    pub inductance: f64,
    /// Of torque and back-EMF, which are one.
    pub constant: f64,
    /// Of the brushes.
    pub brush_drop: f64,
    /// Of rotor and gear.
    pub inertia: f64,
    /// Of rotor and gear.
    pub friction: f64,
    /// At the motor shaft.
    pub viscous_friction: f64,
    /// Of the load.
    pub load_inertia: f64,
    /// Of the load.
    pub load_friction: f64,
}

impl Tolerances {
    /// Every build is the nominal one.
    pub const NONE: Self = Self {
        supply_voltage: 0.0,
        resistance: 0.0,
        inductance: 0.0,
        constant: 0.0,
        brush_drop: 0.0,
        inertia: 0.0,
        friction: 0.0,
        viscous_friction: 0.0,
        load_inertia: 0.0,
        load_friction: 0.0,
    };

    /// Builds by their numbers. Each depends on the seed and its number alone.
    ///
    /// # Errors
    /// The first build that no drive can be.
    pub fn draw(&self, nominal: &SetUp, seed: u64, runs: Range<u64>) -> Result<Vec<SetUp>, Unusable> {
        let named = [
            ("supply_voltage", self.supply_voltage),
            ("resistance", self.resistance),
            ("inductance", self.inductance),
            ("constant", self.constant),
            ("brush_drop", self.brush_drop),
            ("inertia", self.inertia),
            ("friction", self.friction),
            ("viscous_friction", self.viscous_friction),
            ("load_inertia", self.load_inertia),
            ("load_friction", self.load_friction),
        ];
        let streams = named.map(|(name, tolerance)| (Stream::new(seed, name), tolerance));
        let build = |run: u64| {
            let [voltage, resistance, inductance, constant, brush, inertia, friction, viscous, load, drag] =
                streams.map(|(stream, tolerance)| match tolerance {
                    0.0 => 1.0,
                    _ => 1.0 + tolerance * (2.0 * stream.uniform(run) - 1.0),
                });
            SetUp {
                supply_voltage: voltage * nominal.supply_voltage,
                resistance: resistance * nominal.resistance,
                winding_resistance: resistance * nominal.winding_resistance,
                inductance: inductance * nominal.inductance,
                constant: constant * nominal.constant,
                brush_drop: brush * nominal.brush_drop,
                inertia: inertia * nominal.inertia,
                friction: friction * nominal.friction,
                viscous_friction: viscous * nominal.viscous_friction,
                load_inertia: load * nominal.load_inertia,
                load_friction: drag * nominal.load_friction,
                ..*nominal
            }
        };
        let builds: Vec<SetUp> = runs.into_par_iter().map(build).collect();
        for build in &builds {
            build.check()?;
        }
        Ok(builds)
    }
}

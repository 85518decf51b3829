//! What play between motor and load lets the motor do by itself.
//!
//! ```text
//! v² = 2·φ·(a/(1 − e²) + a_L)        a = (K·I + M_c)/J_m        a_L = N·M_L/J_L        e = exp(−π·ζ/√(1 − ζ²))
//! v ≤ a·t_age  where ω_c·J/J_m·t_age ≤ 1
//! Δω_bl = r·v        Δω_w = r·min(v, φ/T_w)        r = J_L'/(J_m + J_L')        J_L' = J_L/(N²·η)        φ = N·play
//! ```
//!
//! v is by how much the motor may be faster than its load, both at the motor shaft, and r its part of that against the speed
//! that both have together by their momentum, which no flank changes. Derived in `docs/models/control.md`.

use super::looped::Loop;
use crate::lash::{Lash, rebound};
use crate::prepared::Prepared;
use crate::trial::Shaft;
use bench::model::Axis;
use drive::constants::zero;
use drive::load::{At, Load};
use worked::{Number, Origin, Worked};

/// Phase that the age of the measured speed may cost a loop that the motor alone is in, rad. With more it may swing between
/// the flanks (common practice, no source: it leaves about 30° of margin).
const PHASE_ALONE: f64 = 1.0;

/// An axis whose motor crosses its play.
pub(super) struct Crossing {
    /// The play as an angle of the shaft that drives the load.
    pub(super) play: Worked,
    /// By how much the motor may be faster or slower than both together.
    pub(super) apart: Worked,
    /// How much of that the mean over the window of the measured speed may hold.
    pub(super) counted: Worked,
    /// Energy that the motor and its load have against one another.
    pub(super) energy: Worked,
}

/// What drives the motor across its play, and how late its loop knows.
pub(super) struct Driven<'a> {
    pub(super) loops: &'a Loop,
    /// Largest current, as both turn together.
    pub(super) current: Worked,
    /// Age of the measured speed when it acts.
    pub(super) age: Worked,
}

impl Crossing {
    /// `None` where nothing is behind the gear, or no play is stated.
    pub(super) fn of(axis: &Axis, prepared: &Prepared, shaft: &Shaft, driven: Driven<'_>) -> Option<Self> {
        let figures = &prepared.figures;
        let load = figures.load.as_ref()?;
        let Lash { play, way, own, reflected, share, .. } = Lash::of(axis, figures, shaft)?;
        let (gear, motor) = (&figures.gear, figures.dc.armature());
        let torque = motor.constant * driven.current + motor.coulomb_friction + gear.drag.clone();
        let alone =
            (torque.clone() / own.clone()).called("acceleration of the motor without its load", "α_m");
        let lost = Worked::pure(1.0) - rebound().squared();
        let across = (way.clone() * (alone.clone() / lost + slowed(load, &gear.ratio)) * 2.0).sqrt();
        let steady = steady_alone(driven.loops, &driven.age, own.value(), reflected.value());
        let speed = match steady {
            true => across.clone().at_most(alone * driven.age.clone()),
            false => across.clone(),
        }
        .called("speed of the motor over that of its load, across the play", "v_bl");
        let window = Worked::known(
            driven.loops.speed.window as f64 * driven.loops.speed.sample_time,
            "s",
            "T_w",
            "window of the measured speed",
            Origin::computed("as the loop is planned"),
        );
        let counted = share.clone() * speed.clone().at_most(way / window);
        // Each figure stands in it as seldom as can be, or its bound is none.
        let across = own.clone() * across.squared() / 2.0;
        let energy = match steady {
            true => across.at_most((torque * driven.age).squared() / own / 2.0),
            false => across,
        };
        let energy = share.clone() * energy;
        Some(Self {
            play,
            apart: (share * speed).called("speed that the motor has by itself, across the play", "Δω_bl"),
            counted: counted.called("part of it in the window of the measured speed", "Δω_w"),
            energy: energy.called("energy of motor and load against one another", "W_bl"),
        })
    }
}

/// Whether the loop holds the motor alone: it does not swing between the flanks.
fn steady_alone(loops: &Loop, age: &Worked, own: f64, reflected: f64) -> bool {
    loops.crossover() * (1.0 + reflected / own) * age.value() <= PHASE_ALONE
}

/// Acceleration that what stands against a load gives it, at the motor.
fn slowed(load: &Load<Worked>, ratio: &Worked) -> Worked {
    let torque = load.friction_torque() + load.standing_torque(At::Worst).abs();
    (ratio.clone() * torque.at_least(zero("N·m")) / load.inertia())
        .called("acceleration of the load by itself, at the motor", "α_L'")
}

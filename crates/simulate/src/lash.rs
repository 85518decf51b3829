//! Play between motor and load, as the motor has it: how far it turns by itself, and which part of all inertia it leaves behind.
//! What comes of it for the bounds of a trial is derived in `docs/models/control.md`.

use crate::axis::Figures;
use crate::surroundings::DAMPING_RATIO;
use crate::trial::Shaft;
use bench::model::Axis;
use drive::assembly;

use drive::control::stiffness_at_motor;
use drive::load::Load;
use drive::motor::Armature;
use std::f64::consts::PI;
use worked::{Number, Origin, Worked};

/// Play of an axis whose load is coupled. Inertias are those at the motor shaft.
pub(crate) struct Lash {
    /// As an angle of the shaft that drives the load.
    pub(crate) play: Worked,
    /// As an angle of the motor.
    pub(crate) way: Worked,
    /// Inertia of the motor without its load.
    pub(crate) own: Worked,
    /// Inertia of the load.
    pub(crate) reflected: Worked,
    /// Part of both inertias that is behind the play.
    pub(crate) share: Worked,
    /// Stiffness of the shaft at the motor, where it is known.
    stiffness: Option<Worked>,
}

impl Lash {
    /// `None` where nothing is behind the gear, or no play is stated.
    pub(crate) fn of(axis: &Axis, figures: &Figures, shaft: &Shaft) -> Option<Self> {
        let behind = match shaft {
            Shaft::Coupled => figures.load.as_ref().map(Load::inertia).filter(|load| load.value() > 0.0)?,
            Shaft::OutputHeld => held(),
            Shaft::Held | Shaft::Free | Shaft::Disc(_) => return None,
        };
        let play = assembly::play(axis, &figures.dc.mechanism);
        let play = Some(play).filter(|play| play.value() > 0.0)?;
        let gear = &figures.gear;
        let way = (play.clone() * gear.ratio.clone()).called("play, at the motor", "φ_bl'");
        let own = (figures.dc.rotor_inertia() + gear.inertia.clone())
            .called("inertia of the motor without its load", "J_m'");
        let reflected = behind / (gear.ratio.clone().squared() * gear.efficiency.clone());
        // As one over one, so that each inertia stands in it once.
        let share = (Worked::pure(1.0) / (own.clone() / reflected.clone() + Worked::pure(1.0)))
            .called("part of both inertias that is behind the play", "r_L");
        let at_motor = |stiffness| stiffness_at_motor(stiffness, gear.ratio.clone());
        let stiffness = assembly::stiffness(axis, &figures.dc.mechanism).map(at_motor);
        Some(Self { play, way, own, reflected, share, stiffness })
    }

    /// Speed against its drive of a motor that stays at its voltage and meets its flank, above that of the load: it crossed the
    /// play by a current at most, braked by its back-EMF, `v² + v·φ/τ = 2·φ·a` with `a = K·I/J_m` and `τ = R·J_m/K²`, and
    /// `r·(1 + e) − 1` of that comes back. While the shaft gives way, for `t = π·√(r·J_m/k)`, the back-EMF brakes it too, by
    /// `exp(−r·t/(2·τ))`.
    pub(crate) fn thrown_back(&self, motor: &Armature<Worked>, current: Worked) -> Worked {
        let rate = motor.constant.clone().squared() / motor.resistance.clone() / self.own.clone();
        let braked = self.way.clone() * rate.clone() / 2.0;
        let driven = self.way.clone() * motor.constant.clone() * current / self.own.clone() * 2.0;
        let speed = ((braked.clone().squared() + driven).sqrt() - braked)
            .called("speed of the motor as it meets its flank", "v_bl");
        let kept = match &self.stiffness {
            None => rebound(),
            Some(stiffness) => {
                let of_both = self.share.clone() * self.own.clone();
                let time = ((of_both / stiffness.clone()).sqrt() * PI)
                    .called("time of a flank that gives way and comes back", "t_bl");
                rebound() * (-(self.share.clone() * time * rate / 2.0)).exp()
            }
        };
        let part = (self.share.clone() * (kept + Worked::pure(1.0)) - Worked::pure(1.0)).or_zero();
        (part * speed).called("speed with which the motor is thrown back", "ω_bl")
    }
}

/// Inertia of an output that is held: more than any drive moves.
fn held() -> Worked {
    Worked::known(
        1e9,
        "kg·m²/rad²",
        "J_held",
        "inertia of a held output",
        Origin::computed("beyond any that moves"),
    )
}

/// Part of its speed that comes back from a flank: half a swing of motor and load against one another.
pub(crate) fn rebound() -> Worked {
    let root = (1.0 - DAMPING_RATIO * DAMPING_RATIO).sqrt();
    Worked::known(
        libm::exp(-PI * DAMPING_RATIO / root),
        "",
        "e_bl",
        "part of the speed that comes back from a flank",
        Origin::common_practice("half a swing at a damping ratio of 0.05"),
    )
}

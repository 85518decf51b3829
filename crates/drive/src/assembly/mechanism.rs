//! What lies between the motor and the load, for an axis with any motor.

use super::cycle::{Sense, Stretch, cycle};
use super::load::{MotionAtShaft, load, motion_at_shaft};
use super::{gear, gearbox, stage};
use crate::constants::zero;
use crate::control::{in_series, stiffness_at_shaft};
use crate::gear::Gear;
use crate::load::{At, Load, shaft_angle};
use crate::motion::rms;
use bench::file::{DriveSide, LoadKind, Motion, MotionKind};
use bench::model::{Axis, Carried};
use bench::part::EncoderShaft;
use worked::{Dimension, Input, Number, Worked};

/// Gear, load and motion of an axis.
#[derive(Clone, Debug)]
pub struct Mechanism {
    /// Gearbox and further stage in one; a direct drive where there is none.
    pub gear: Gear<Worked>,
    /// The gearbox alone.
    pub gearbox: Gear<Worked>,
    /// The stage between gearbox and load.
    pub stage: Option<Gear<Worked>>,
    /// Its share of the load.
    pub load: Option<Load<Worked>>,
    /// Where gravity is taken: at its worst, or over the angles of an arm that never comes to the level.
    pub place: At<Worked>,
    /// Its motion, at the shaft that drives the load.
    pub motion: Option<MotionAtShaft>,
    /// The cycle that it repeats.
    pub cycle: Vec<Stretch>,
}

impl Mechanism {
    /// Gathers the figures of an axis.
    pub fn of(axis: &Axis) -> Self {
        let load = axis.load.as_ref().map(load);
        let motion = motion_at_shaft(axis);
        Self {
            gear: gear(axis),
            gearbox: gearbox(axis),
            stage: stage(axis),
            place: axis.load.as_ref().map_or(At::Worst, place),
            cycle: cycle(axis, load.as_ref(), motion.as_ref()),
            load,
            motion,
        }
    }

    /// Whether its cycle runs in a sense.
    pub fn runs(&self, sense: Sense) -> bool {
        self.cycle.iter().any(|stretch| stretch.sense == sense)
    }

    /// Torque that stands at the load's shaft without motion, at its worst, whichever way it acts.
    pub fn standing_torque(&self) -> Worked {
        self.load.as_ref().map_or_else(|| zero("N·m"), |load| load.standing_torque(self.place.clone()).abs())
    }

    /// Torque of the load at its shaft in a sense; at rest what gravity asks for, whichever way.
    pub fn load_torque(&self, sense: Sense, speed: &Worked, acceleration: &Worked) -> Worked {
        let Some(load) = &self.load else { return crate::constants::zero("N·m") };
        match sense {
            Sense::Forward => load.torque(self.place.clone(), speed.clone(), acceleration.clone()),
            Sense::Back => load.reversed().torque(self.place.clone(), speed.clone(), acceleration.clone()),
            Sense::Rest => self.standing_torque(),
        }
    }

    /// Effective torque at the output of the gearbox over the cycle.
    pub fn rms_gearbox_torque(&self) -> Option<Worked> {
        let torque = rms(self.cycle.iter().map(|stretch| {
            let load =
                self.load_torque(stretch.sense, &stretch.phase.mean_speed(), &stretch.phase.acceleration);
            (self.gearbox_torque(load), stretch.phase.time.clone())
        }))?;
        Some(torque.called("effective torque at the output of the gearbox", "M_rms"))
    }

    /// Torque with which the load falls, at one side of the gear.
    pub fn falling_torque(&self, side: DriveSide) -> Worked {
        let falling = match &self.load {
            Some(load) => load.falling_torque(self.place.clone()),
            None => zero("N·m"),
        };
        match (side, &self.stage) {
            (DriveSide::Motor, _) => self.gear.driving_back(falling),
            (DriveSide::Output, Some(stage)) => stage.driving_back(falling),
            (DriveSide::Output, None) | (DriveSide::Load, _) => falling,
        }
    }

    /// Torque at the output of the gearbox for one at the shaft that drives the load.
    pub fn gearbox_torque(&self, load_torque: Worked) -> Worked {
        match &self.stage {
            Some(stage) => {
                stage.input_torque(load_torque).called("torque at the output of the gearbox", "M_g")
            }
            None => load_torque,
        }
    }

    /// Torque at the output of the gearbox that a torque of the motor makes if nothing is lost on the way.
    pub fn lossless_gearbox_torque(&self, motor_torque: Worked) -> Worked {
        (motor_torque * self.gearbox.ratio.clone()).called("torque at the output without any loss", "M_out")
    }
}

/// Friction that holds the unpowered rotor: dry friction of a DC motor; detent torque and friction of a stepper.
/// `None` where nothing drives the axis.
pub fn standing_friction(axis: &Axis) -> Option<Worked> {
    match (axis.motor(), axis.stepper()) {
        (Some(motor), _) => Some(super::motor::motor(motor).coulomb_friction),
        (None, Some(stepper)) => {
            Some(stepper.detent_torque() + super::or_zero(stepper, "coulomb_friction", "N·m"))
        }
        (None, None) => None,
    }
}

/// Angle by which a motion turns the shaft that drives the load. `None` where it is a way and nothing says by
/// which mechanism.
pub fn motion_angle(motion: &Motion, mechanism: &Mechanism) -> Option<Worked> {
    let swings = motion.kind().is(MotionKind::Sine);
    let way = if swings { motion.amplitude() * 2.0 } else { motion.distance() };
    match (way.dimension(), mechanism.load.as_ref().and_then(Load::travel)) {
        (Dimension::ANGLE, _) => Some(way),
        (_, travel) => Some(shaft_angle(way, travel?)),
    }
}

/// Play between the encoder, or the motor where there is none, and the load, as a way or an angle of the load.
pub fn backlash(axis: &Axis, mechanism: &Mechanism) -> Worked {
    let sits = axis.encoder.as_ref().map_or(EncoderShaft::Motor, |e| e.shaft().or(EncoderShaft::Motor));
    play_behind(axis, mechanism, sits)
}

/// Play between motor and load, as an angle of the shaft that drives the load.
pub fn play(axis: &Axis, mechanism: &Mechanism) -> Worked {
    let play = play_behind(axis, mechanism, EncoderShaft::Motor);
    match mechanism.load.as_ref().and_then(Load::travel) {
        Some(travel) => (play / travel).called("play at the load", "φ_bl"),
        None => play,
    }
}

fn play_behind(axis: &Axis, mechanism: &Mechanism, sits: EncoderShaft) -> Worked {
    let ratio = mechanism.stage.as_ref().map_or_else(|| 1.0.into(), |stage| stage.ratio.clone());
    let mut play: Vec<Worked> = Vec::new();
    if let (EncoderShaft::Motor, Some(gearbox)) = (sits, &axis.gearbox) {
        play.push(gearbox.backlash() / ratio.clone());
    }
    if let (EncoderShaft::Motor | EncoderShaft::Output, Some(coupling)) = (sits, axis.coupling())
        && coupling.has("backlash")
    {
        play.push(coupling.backlash() / ratio);
    }
    if let (EncoderShaft::Motor | EncoderShaft::Output, Some(stage)) = (sits, axis.stage()) {
        play.push(stage.backlash());
    }
    let travel = mechanism.load.as_ref().and_then(Load::travel);
    let along = |angle: Worked| match &travel {
        Some(travel) => angle * travel.clone(),
        None => angle,
    };
    let mut way: Vec<Worked> = play.into_iter().map(along).collect();
    if let Some(carried) = axis.load.as_ref().filter(|c| sits != EncoderShaft::Load && c.load.has("backlash"))
    {
        let own = carried.load.backlash();
        way.push(if own.dimension() == Dimension::ANGLE { along(own) } else { own });
    }
    if way.is_empty() {
        return zero(if travel.is_some() { "m" } else { "rad" });
    }
    way.into_iter().sum::<Worked>().called("play at the load", "s_bl")
}

/// Stiffness between the motor and its load, at the shaft that drives the load, of the parts for which one is
/// given. `None` where none is.
pub fn stiffness(axis: &Axis, mechanism: &Mechanism) -> Option<Worked> {
    let ratio = mechanism.stage.as_ref().map_or_else(|| 1.0.into(), |stage| stage.ratio.clone());
    let at_load = |stiffness: Worked| stiffness * ratio.clone().squared();
    let gearbox = axis.gearbox.as_ref().filter(|g| g.has("stiffness")).map(|g| at_load(g.stiffness()));
    let coupling = axis.coupling().filter(|c| c.has("stiffness")).map(|c| at_load(c.stiffness()));
    let stage = axis.stage().filter(|s| s.has("stiffness")).map(|s| s.stiffness());
    let travel = mechanism.load.as_ref().and_then(Load::travel);
    let way = axis.load.as_ref().filter(|c| c.load.has("axial_stiffness")).map(|c| c.load.axial_stiffness());
    let way = way.zip(travel).map(|(stiffness, travel)| stiffness_at_shaft(stiffness, travel));
    [gearbox, coupling, stage, way].into_iter().flatten().reduce(in_series)
}

/// Force across the output shaft of the gearbox, or of the motor where there is none: as stated; else both runs
/// of a belt, the pull of a rope, or what the stage presses with.
pub fn radial_force(axis: &Axis, mechanism: &Mechanism) -> Option<Worked> {
    if let Some(stage) = axis.stage() {
        return Some(stage.radial_force());
    }
    let load = &axis.load.as_ref()?.load;
    let (tension, travel) = (load.has("belt_tension"), mechanism.load.as_ref().and_then(Load::travel));
    Some(match load.kind().value {
        _ if load.has("radial_force") => load.radial_force(),
        Some(LoadKind::Belt) if tension => crate::load::belt_radial_force(load.belt_tension()),
        Some(LoadKind::Drum) => {
            let motion = mechanism.motion.as_ref();
            let (speed, acceleration) = match motion {
                Some(motion) => (motion.speed.clone(), motion.acceleration.clone()),
                None => (zero("rad/s"), zero("rad/s²")),
            };
            let torque = mechanism.load_torque(Sense::Forward, &speed, &acceleration);
            crate::load::radial_force(torque, travel.unwrap_or_else(|| load.drum_radius()))
        }
        _ => load.radial_force(),
    })
}

/// An arm that never comes to the level in its angles in use is never under its full gravity torque.
fn place(carried: &Carried) -> At<Worked> {
    let load = &carried.load;
    let angles = load.angles();
    let over_the_level = |input: &Input| {
        let (low, high) = input.bounds();
        let half = std::f64::consts::PI;
        // The level comes again each half turn.
        (low / half).ceil() <= (high / half).floor()
    };
    match angles.as_input() {
        Some(input) if load.kind().is(LoadKind::Arm) && load.has("angles") && !over_the_level(input) => {
            At::Angle(angles)
        }
        _ => At::Worst,
    }
}

//! What happens when an axis runs into the hard end of its travel.

use super::DcAxis;
use super::mechanism::{Mechanism, stiffness};
use crate::control::{in_series, stiffness_at_shaft};
use crate::gear::{stopping_energy, stopping_way};
use crate::load::{Load, shaft_angle};
use bench::file::EndStop;
use bench::model::Axis;
use worked::{Dimension, Number, Worked};

/// An axis that runs into an end stop as fast as a position loop that runs away can drive it.
pub struct HardStop {
    /// Torque at the shaft that drives the load with which motor and load go on pushing.
    pub push: Worked,
    /// Stiffness of the stop at that shaft, where it is given for that kind of travel.
    pub stiffness: Option<Worked>,
    /// Energy that moves.
    pub moving: Worked,
}

impl DcAxis {
    /// The axis running into one of its end stops: the free speed at the highest voltage, or what the motor can
    /// bring it to over the whole travel, where both ends are known.
    pub fn hard_stop(&self, axis: &Axis, stop: &EndStop) -> HardStop {
        let travel = self.load.as_ref().and_then(Load::travel);
        let speed = self.gear.output_speed(self.top_speed());
        let behind = self.gear.inertia_behind_output(self.rotor_inertia());
        let inertia = match &self.load {
            Some(load) => load.inertia_at_obstacle(behind),
            None => behind,
        };
        let through = self.load.as_ref().map_or_else(|| 1.0.into(), Load::efficiency);
        let motor = self.rotor().constant * self.lasting_current();
        let driven = motor * self.gear.ratio.clone() * self.gear.efficiency.clone() * through;
        let push = (driven + self.standing_torque()).called("torque that goes on pushing", "M_push");
        let free = (inertia * speed.squared() / 2.0).called("energy at the free speed", "W_0");
        let moving = match self.way_between_stops(axis, travel.as_ref()) {
            Some(way) => {
                let pushed = push.clone() * way;
                free.at_most(pushed.called("energy of the push over the whole travel", "W_way"))
            }
            None => free,
        };
        HardStop {
            push,
            stiffness: stop_stiffness(stop, travel.as_ref()),
            moving: moving.called("energy that runs into the stop", "W_k"),
        }
    }

    fn way_between_stops(&self, axis: &Axis, travel: Option<&Worked>) -> Option<Worked> {
        let [(_, one), (_, other)] = axis.end_stops.as_slice() else { return None };
        let way = (one.at() - other.at()).abs();
        let known = one.has("at") && other.has("at") && one.at().dimension() == other.at().dimension();
        match (known, way.dimension(), travel) {
            (true, Dimension::LENGTH, Some(travel)) => Some(shaft_angle(way, travel.clone())),
            (true, Dimension::ANGLE, _) => Some(way.called("angle between the stops", "φ_stop")),
            _ => None,
        }
    }

    /// Highest torque at the output of the gearbox when the load is stopped and the motor side runs on into the
    /// springs in between. `None` where no stiffness is given: a rigid stop has no highest torque.
    pub fn gear_torque_at_stop(&self, axis: &Axis, stop: &EndStop) -> Option<Worked> {
        let travel = self.load.as_ref().and_then(Load::travel);
        let springs = [stiffness(axis, &self.mechanism), stop_stiffness(stop, travel.as_ref())];
        let springs = springs.into_iter().flatten().reduce(in_series)?;
        let at_output = match &self.stage {
            Some(stage) => springs / stage.ratio.clone().squared(),
            None => springs,
        };
        let torque = self.peak_torque();
        let speed = self.gearbox.output_speed(self.top_speed());
        Some(self.gearbox.hard_stop_torque(torque, self.rotor_inertia(), speed, at_output))
    }
}

impl HardStop {
    /// Energy that the stop takes: what moves, and what is pushed in while it gives way.
    pub fn energy(&self) -> Worked {
        match &self.stiffness {
            Some(stiffness) => stopping_energy(self.moving.clone(), self.push.clone(), stiffness.clone()),
            None => self.moving.clone(),
        }
    }

    /// Torque that the stop takes, at the shaft that drives the load; a rigid stop has no highest one.
    pub fn torque(&self) -> Option<Worked> {
        let stiffness = self.stiffness.clone()?;
        let way = stopping_way(self.moving.clone(), self.push.clone(), stiffness.clone());
        Some((stiffness * way).called("torque on the stop", "M_stop"))
    }
}

fn stop_stiffness(stop: &EndStop, travel: Option<&Worked>) -> Option<Worked> {
    let stiffness = stop.stiffness();
    match (stop.has("stiffness"), stiffness.dimension(), travel) {
        (true, Dimension::TORSIONAL_STIFFNESS, _) => Some(stiffness),
        (true, _, Some(travel)) => Some(stiffness_at_shaft(stiffness, travel.clone())),
        _ => None,
    }
}

/// Force that a stop takes without damage, as a torque at the shaft that drives the load. `None` where it is given
/// for another kind of travel.
pub fn stop_strength(mechanism: &Mechanism, stop: &EndStop) -> Option<Worked> {
    let force = stop.force();
    match (force.dimension(), mechanism.load.as_ref().and_then(Load::travel)) {
        (Dimension::TORQUE, _) => Some(force),
        (_, Some(travel)) => Some(force * travel),
        _ => None,
    }
}

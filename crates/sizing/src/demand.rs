//! What a cycle takes of motor, bridge and supply at each of its moments.

use crate::cycle::{Cycle, Moment};
use crate::plant::Plant;
use drive::assembly::Sense;
use drive::bridge::with_ripple;
use drive::load::At;

/// Rounds in which bus voltage and supply current settle.
const SAGS: usize = 4;

/// What one moment takes. Torques, currents and powers count in the sense of the motion: negative ones brake.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Demand {
    /// The moment.
    pub moment: Moment,
    /// Speed of the motor, rad/s.
    pub speed: f64,
    /// Torque at the shaft that drives the load, N·m.
    pub load_torque: f64,
    /// Torque at the shaft of the motor, its own friction not counted, N·m.
    pub torque: f64,
    /// Current of the motor, ripple left out, A.
    pub current: f64,
    /// The same with the ripple, rms, A.
    pub heating_current: f64,
    /// Mean voltage that the motor takes, V.
    pub voltage: f64,
    /// Duty that gives it.
    pub duty: f64,
    /// Voltage of the bus, V.
    pub bus: f64,
    /// Current taken from the bus; negative where it comes back, A.
    pub supply_current: f64,
    /// Heat in winding, switches and leads, W.
    pub copper: f64,
    /// Heat of friction: in motor, gear and load, W.
    pub friction: f64,
}

impl Demand {
    /// Power taken from the bus; negative where it comes back, W.
    pub fn power(&self) -> f64 {
        self.bus * self.supply_current
    }

    /// The same demand without any motion or current.
    fn still(moment: Moment, bus: f64) -> Self {
        Self {
            moment,
            speed: 0.0,
            load_torque: 0.0,
            torque: 0.0,
            current: 0.0,
            heating_current: 0.0,
            voltage: 0.0,
            duty: 0.0,
            bus,
            supply_current: 0.0,
            copper: 0.0,
            friction: 0.0,
        }
    }
}

/// What each moment of a cycle takes while the winding has a temperature.
pub(crate) fn demands(plant: &Plant, cycle: &Cycle, winding: f64) -> Vec<Demand> {
    let armature = plant.armature(winding);
    cycle.moments.iter().map(|moment| demand(plant, &armature, *moment)).collect()
}

fn demand(plant: &Plant, armature: &drive::motor::Armature<f64>, moment: Moment) -> Demand {
    let mut taken = Demand::still(moment, plant.open_voltage);
    let gear = &plant.gear;
    let speed = gear.input_speed(moment.speed);
    let load = plant.loads.as_ref().map(|loads| &loads[usize::from(moment.sense == Sense::Back)]);
    let (load_torque, torque, current, friction) = if moment.sense == Sense::Rest {
        // Nothing is taken off for friction: whether it helps depends on how the place was reached.
        let standing = load.map_or(0.0, |load| load.standing_torque(plant.place).abs());
        let torque = standing / gear.ratio;
        (standing, torque, torque / armature.constant, 0.0)
    } else {
        let asked = load.map_or(0.0, |load| load.torque(plant.place, moment.speed, moment.acceleration));
        let torque = gear.motor_torque(plant.motor.inertia, asked, moment.acceleration);
        let own = (armature.coulomb_friction + armature.viscous_friction * speed) * speed;
        // What comes into the gear and does not turn its input faster, less what goes out of it.
        let in_gear = gear.input_torque(asked) * speed - asked * moment.speed;
        let in_load = load.map_or(0.0, |load| asked * moment.speed - useful(load, plant.place, &moment));
        (asked, torque, armature.current(torque, speed), own + in_gear + in_load)
    };
    taken.speed = speed;
    taken.load_torque = load_torque;
    taken.torque = torque;
    taken.current = current;
    taken.friction = friction;
    taken.copper = armature.loss(current);
    taken.voltage = armature.voltage(current, speed);
    taken.heating_current = current.abs();
    let Some(bridge) = &plant.bridge else { return taken };
    // The bus sags under the current that it gives; a few rounds settle both. The last word has the duty, so that the bus
    // gives exactly what the motor takes.
    for _ in 0..SAGS {
        taken.bus = plant.open_voltage - plant.source_resistance * taken.supply_current.max(0.0);
        taken.duty = bridge.duty_for(taken.voltage, taken.bus);
        taken.supply_current = bridge.supply_current(taken.duty, current);
    }
    let duty = taken.duty.clamp(0.0, 1.0);
    taken.heating_current = with_ripple(current.abs(), bridge.ripple(duty, taken.bus, armature.inductance));
    taken
}

/// Power that a load keeps: what lifts it and makes it faster.
fn useful(load: &drive::load::Load<f64>, place: At<f64>, moment: &Moment) -> f64 {
    (load.inertia() * moment.acceleration + load.standing_torque(place)) * moment.speed
}

//! What braking gives back to a bus: all axes of one supply line stop at the same time, which is the worst.
//!
//! | course | taken |
//! |---|---|
//! | a motion with ramps | the planned deceleration, way down included where gravity drives |
//! | a motion without ramps | all of the kinetic energy, at the largest power that the motor can return |
//! | a stepper | all of the kinetic energy |

use super::{DcAxis, MotionAtShaft, gear, load, motion_at_shaft, or_zero};
use crate::bus::{
    clamped_voltage, energy_of_braking_torque, peak_returned_energy, peak_returned_power,
    power_of_braking_torque, quiescent_energy, voltage_after_stop,
};
use crate::constants::zero;
use crate::load::{At, Load};
use crate::motor::Armature;
use bench::Bench;
use bench::file::{Clamp, MotionKind, Then};
use bench::model::{Axis, Feed, SupplyUnit};
use bench::part::SupplyInput;
use std::sync::Arc;
use worked::{Number, Worked};

/// One bus: what hangs on the same capacitors.
///
/// All board inputs on one supply line, but for an input that lets no current back, which is a bus by itself.
#[derive(Clone, Debug)]
pub struct Bus {
    /// Path of the supply or rail; of the input, where it is a bus by itself.
    pub path: String,
    /// What feeds it.
    pub feed: Feed,
    /// The supply, where one feeds it directly.
    pub supply: Option<Arc<SupplyUnit>>,
    /// No current gets back into the supply.
    pub blocked: bool,
    /// Board inputs that see its voltage.
    pub inputs: Vec<SupplyInput>,
    /// Clamps that hold it.
    pub clamps: Vec<(Arc<str>, Clamp)>,
    /// Axes that it feeds.
    pub axes: Vec<Arc<str>>,
    /// Voltage without load, before anything comes back.
    pub open_voltage: Worked,
    /// All capacitors that share it.
    pub capacitance: Worked,
    /// What its axes return, each with what it returns; nothing of an axis whose motion is not described.
    pub returned: Vec<(Arc<str>, Returned)>,
    /// Data without which nobody knows what an axis returns.
    pub lacking: Vec<String>,
}

/// What one axis returns in one stop.
#[derive(Clone, Debug)]
pub struct Returned {
    /// Energy of the stop, J.
    pub energy: Worked,
    /// Largest power, W.
    pub power: Worked,
    /// Time of the stop, s.
    pub time: Worked,
    /// The way on which gravity drives, where it does.
    pub way_down: Option<WayDown>,
}

/// What comes back while gravity drives a load at its steady speed.
#[derive(Clone, Debug)]
pub struct WayDown {
    /// Energy of the whole way, J.
    pub energy: Worked,
    /// Time of the way, s.
    pub time: Worked,
}

impl Returned {
    /// Energy of the stop and of the way down before it.
    pub fn whole(&self) -> Worked {
        match &self.way_down {
            Some(down) => (&self.energy + &down.energy).called("energy returned by way down and stop", "W_r"),
            None => self.energy.clone(),
        }
    }
}

impl Bus {
    /// All buses of a bench that feed axes, in the order of its axes.
    pub fn all<'b>(bench: &'b Bench, axes: &[(&'b Axis, Option<DcAxis>)]) -> Vec<Self> {
        let mut buses: Vec<Self> = Vec::new();
        for (axis, dc) in axes {
            let (Some(feed), Some(input)) = (axis.feed(), axis.input()) else { continue };
            let blocked = input.input.blocks_return().is(true);
            let path = if blocked { input.input.path().to_owned() } else { feed.to_string() };
            let place = match buses.iter().position(|bus| bus.path == path) {
                Some(place) => place,
                None => {
                    buses.push(Self::new(bench, axis, feed, path, blocked));
                    buses.len() - 1
                }
            };
            let Some(bus) = buses.get_mut(place) else { continue };
            bus.axes.push(axis.name.clone());
            match returned(axis, dc.as_ref()) {
                Some(returned) => bus.returned.push((axis.name.clone(), returned)),
                None => {
                    let lacking = if axis.motion.is_none() { "moves" } else { "load" };
                    bus.lacking.push(axis.entry.path_of(lacking));
                }
            }
        }
        buses
    }

    fn new(bench: &Bench, axis: &Axis, feed: &Feed, path: String, blocked: bool) -> Self {
        let all = bench.boards().iter().flat_map(|board| &board.inputs);
        let own = axis.input().map(|fed| fed.input.path().to_owned());
        let shares = |input: &SupplyInput| match blocked {
            true => Some(input.path()) == own.as_deref(),
            false => !input.blocks_return().is(true),
        };
        let inputs = all.filter(|fed| fed.feed.as_ref() == Some(feed) && shares(&fed.input));
        Self {
            path,
            supply: axis.supply().cloned(),
            blocked,
            inputs: inputs.map(|fed| fed.input.clone()).collect(),
            clamps: if blocked { Vec::new() } else { bench.clamps_on(feed) },
            axes: Vec::new(),
            open_voltage: super::power::feed_voltage(bench, feed),
            capacitance: super::power::capacitance(bench, axis),
            returned: Vec::new(),
            lacking: Vec::new(),
            feed: feed.clone(),
        }
    }

    /// The bus of motors that a feed is as well; an input that lets no current back keeps its rise to itself.
    pub fn on<'a>(feed: &Feed, buses: &'a [Self]) -> Option<&'a Self> {
        buses.iter().find(|bus| bus.feed == *feed && !bus.blocked)
    }

    /// Highest voltage of a feed: what braking lifts it to where motors hang on it as well. `Err` names the data that
    /// this takes and that are missing.
    pub fn highest_on(bench: &Bench, feed: &Feed, buses: &[Self]) -> Result<Worked, Vec<String>> {
        match Self::on(feed, buses) {
            None => Ok(super::power::feed_voltage(bench, feed)),
            Some(bus) if bus.lacking.is_empty() => Ok(bus.highest_voltage()),
            Some(bus) => Err(bus.lacking.clone()),
        }
    }

    /// Energy that all axes return when they stop together, the way down before it included.
    pub fn energy(&self) -> Worked {
        let parts = self.returned.iter().map(|(_, r)| r.whole());
        summed(parts.collect(), "J", "energy returned by all axes that stop together", "W_Σ")
    }

    /// Largest power that all axes return together.
    pub fn power(&self) -> Worked {
        let parts = self.returned.iter().map(|(_, r)| r.power.clone());
        summed(parts.collect(), "W", "largest power returned by all axes together", "P_Σ")
    }

    /// Energy that stays on the capacitors: what ways down and stops return, less what goes elsewhere meanwhile.
    /// What a way down leaves unused is no room for the stop after it.
    fn left(&self) -> Worked {
        let stops = self.returned.iter().map(|(_, r)| (r.energy.clone(), r.time.clone())).collect();
        let downs = self.returned.iter().filter_map(|(_, r)| r.way_down.clone()).map(|d| (d.energy, d.time));
        let downs: Vec<(Worked, Worked)> = downs.collect();
        let stops = self.net(stops);
        if downs.is_empty() {
            return stops;
        }
        (stops + self.net(downs)).called("energy that stays on the capacitors", "W_left")
    }

    /// Energies that come within times, less what the boards, and a supply that takes it, use in the shortest of them.
    fn net(&self, parts: Vec<(Worked, Worked)>) -> Worked {
        let (energies, times): (Vec<Worked>, Vec<Worked>) = parts.into_iter().unzip();
        let Some(time) = times.into_iter().reduce(Number::at_most) else { return zero("J") };
        let drawn: Worked = self.inputs.iter().map(|input| or_zero(input, "current", "A")).sum();
        let drawn = if self.takes_back() { drawn + self.sink_current() } else { drawn };
        let used = quiescent_energy(self.open_voltage.clone(), drawn, time);
        (energies.into_iter().sum::<Worked>() - used).or_zero()
    }

    /// Whether something is declared that takes returned current into the supply.
    pub fn takes_back(&self) -> bool {
        !self.blocked && self.sink_current().value() > 0.0
    }

    /// Current that the supply takes back; nothing where its sheet does not say so.
    pub fn sink_current(&self) -> Worked {
        let Some(supply) = &self.supply else { return zero("A") };
        let pack = supply.part.pack();
        if pack.has("charge_current") {
            pack.charge_current()
        } else {
            or_zero(&supply.part, "sink_current", "A")
        }
    }

    /// Voltage to which the stop of all axes lifts the capacitors alone.
    pub fn voltage_without_clamp(&self) -> Worked {
        if self.returned.is_empty() {
            return self.open_voltage.clone();
        }
        voltage_after_stop(self.open_voltage.clone(), self.left(), zero("J"), self.capacitance.clone())
    }

    /// Highest voltage of the bus: that of the supply, or what a stop of all axes lifts it to, held by a clamp.
    pub fn highest_voltage(&self) -> Worked {
        let risen = self.voltage_without_clamp();
        if self.clamps.is_empty() || self.returned.is_empty() {
            return risen;
        }
        let held = self.clamps.iter().fold(risen, |voltage, (_, c)| {
            voltage.at_most(clamped_voltage(c.threshold(), self.power(), c.resistance()))
        });
        held.at_least(self.open_voltage.clone()).called("highest voltage of the bus", "U_1")
    }

    /// Capacitance with which a stop of all axes stays within a voltage, without any clamp.
    pub fn capacitance_needed(&self, highest: Worked) -> Worked {
        crate::bus::needed_capacitance(self.open_voltage.clone(), highest, self.left())
    }
}

fn summed(parts: Vec<Worked>, unit: &str, name: &str, symbol: &str) -> Worked {
    if parts.is_empty() { zero(unit) } else { parts.into_iter().sum::<Worked>().called(name, symbol) }
}

/// What an axis returns in one stop; `None` where its load or motion is not described.
pub fn returned(axis: &Axis, dc: Option<&DcAxis>) -> Option<Returned> {
    let (_, motion) = axis.motion.as_ref()?;
    if motion.kind().is(MotionKind::Hold) {
        return Some(Returned { energy: zero("J"), power: zero("W"), time: zero("s"), way_down: None });
    }
    let Some(dc) = dc else { return stepper(axis) };
    let (shaft, load) = (dc.motion.as_ref()?, dc.load.as_ref()?);
    let speed = dc.gear.input_speed(shaft.speed.clone());
    if motion.kind().is(MotionKind::Constant) {
        let energy = dc.gear.kinetic_energy(dc.rotor_inertia(), dc.load_inertia(), shaft.speed.clone());
        let power = peak_returned_power(&dc.armature(), speed);
        return Some(Returned { energy, power, time: zero("s"), way_down: None });
    }
    let driven = driven_by_gravity(load, motion.then().is(Then::Again));
    // Viscous friction falls with the speed; that at half speed is the mean, and too little at the start: the safe side.
    let torque = braking_torque(dc, &driven, shaft.speed.clone() / 2.0, -shaft.deceleration.clone());
    let motor = dc.armature();
    let stop = bounded_energy(&motor, speed.clone(), stop_time(motion, shaft), torque.clone());
    let power =
        bounded_power(&motor, speed.clone(), torque).called("power returned at the start of the stop", "P_r");
    let gravity = driven.standing_torque(At::Worst).value() < 0.0;
    let way_down = (gravity && motion.has("distance") && motion.has("top_speed")).then(|| {
        let steady = braking_torque(dc, &driven, shaft.speed.clone(), zero("rad/s²"));
        let time = (motion.distance() / motion.top_speed()).called("time of the way down", "t_down");
        let energy = bounded_power(&motor, speed, steady) * time.clone();
        WayDown { energy: energy.called("energy returned on the way down", "W_down"), time }
    });
    Some(Returned { energy: stop, power, time: stop_time(motion, shaft), way_down })
}

/// The load moving the way in which gravity drives it, where the motion goes both ways.
fn driven_by_gravity(load: &Load<Worked>, one_way: bool) -> Load<Worked> {
    let opposes = load.standing_torque(At::Worst).value() > 0.0;
    if opposes && !one_way { load.reversed() } else { load.clone() }
}

/// Part of the torque at which braking returns nothing any more, `K·(E − U_b)/R`, that a torque is.
fn part_of_plugging(motor: &Armature<Worked>, speed: &Worked, torque: &Worked) -> f64 {
    let plugging = motor.constant.value()
        * (motor.constant.value() * speed.value() - motor.brush_drop.value())
        / motor.resistance.value();
    torque.value() / plugging
}

/// Energy that a stop returns. Near the torque at which it is largest, that largest energy stands for it: an upper
/// bound, close there, and one whose worst case is a corner.
fn bounded_energy(motor: &Armature<Worked>, speed: Worked, time: Worked, torque: Worked) -> Worked {
    match part_of_plugging(motor, &speed, &torque) {
        0.2..0.55 => peak_returned_energy(motor, speed, time),
        _ => energy_of_braking_torque(motor, speed, time, torque),
    }
}

/// Power that a braking torque returns, bounded in the same way.
fn bounded_power(motor: &Armature<Worked>, speed: Worked, torque: Worked) -> Worked {
    match part_of_plugging(motor, &speed, &torque) {
        0.3..0.75 => peak_returned_power(motor, speed),
        _ => power_of_braking_torque(motor, speed, torque).or_zero(),
    }
}

/// Time of the stop, from the motion as it is planned along the way: the travel cancels.
fn stop_time(motion: &bench::file::Motion, shaft: &MotionAtShaft) -> Worked {
    let rate = if motion.has("deceleration") { "deceleration" } else { "acceleration" };
    match (motion.figure("top_speed"), motion.figure(rate)) {
        (Some(speed), Some(rate)) if motion.has("top_speed") => {
            (speed / rate).called("time of the stop", "t_stop")
        }
        _ => shaft.stop_time.clone(),
    }
}

/// Torque between magnets and winding that brakes at a speed and acceleration of the load's shaft, forward motion;
/// none where the motor drives.
fn braking_torque(dc: &DcAxis, load: &Load<Worked>, speed: Worked, acceleration: Worked) -> Worked {
    let torque = load.torque(At::Worst, speed.clone(), acceleration.clone());
    let at_motor = dc.gear.motor_torque(dc.rotor_inertia(), torque, acceleration);
    let motor = dc.armature();
    let drag = motor.coulomb_friction + motor.viscous_friction * dc.gear.input_speed(speed);
    (-(at_motor + drag)).or_zero().called("braking torque of the motor", "M_brk")
}

fn stepper(axis: &Axis) -> Option<Returned> {
    let part = axis.stepper()?;
    let shaft = motion_at_shaft(axis)?;
    let inertia = load(axis.load.as_ref()?).inertia();
    let energy = gear(axis).kinetic_energy(part.inertia(), inertia, shaft.speed.clone());
    let power = (&energy / &shaft.stop_time).called("mean power of the stop", "P_r");
    Some(Returned { energy, power, time: shaft.stop_time, way_down: None })
}

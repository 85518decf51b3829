//! From a bench to the physics: the figures of one axis, gathered and joined, as worked numbers.
//!
//! The one place of this crate that reads a bench. What a bench leaves out is taken as this page says, and
//! shows as assumed in every working; what must not be guessed stays a missing input, so that a claim names it.
//!
//! | left out | taken |
//! |---|---|
//! | brush drop | none beside the terminal resistance, which includes the brushes |
//! | one of the two constants | the other: they are equal in SI |
//! | resistance | from the stall current at the nominal voltage |
//! | dry friction | from the no-load current |
//! | efficiency, load driving | `2 − 1/η`; 0 where the gear is declared self-locking |
//! | magnet coefficient | by the material of the magnets; any of the usual ones where that is not known |
//! | temperature of the winding | anything between the coldest ambient and the winding's limit |
//! | temperature of a cable's copper | anything between the coldest ambient and the limit of its insulation |
//! | diode drop | 0.8 V ± 0.2 V |
//! | growth of the gear's drag in the cold | twice at 0 °C, at least 1.5 times, at most three times |

pub mod budget;
pub mod controller;
pub mod coordination;
pub mod copper;
pub mod course;
pub mod current;
mod cycle;
pub mod datasheet;
mod demand;
pub mod drawn;
pub mod encoder;
pub mod flow;
pub mod levels;
pub mod limits;
mod load;
mod mechanism;
mod motor;
pub mod nets;
pub mod power;
pub mod returned;
pub mod returns;
pub mod sense;
pub mod servo;
pub mod stepper;
mod stop;
pub mod surroundings;
pub mod timers;
mod torque_speed;
pub mod wanted;
mod warmth;

pub use cycle::{Sense, Stretch, acts_one_way, cycle_time, goes_back};
pub use encoder::EncoderPath;
pub use load::{MotionAtShaft, largest_inertia_ratio, load, motion_at_shaft};
pub use mechanism::{Mechanism, backlash, motion_angle, play, radial_force, standing_friction, stiffness};
pub use motor::magnets_follow;
pub use power::PowerPath;
pub use returned::{Bus, Returned, WayDown};
pub use sense::SenseLine;
pub use stepper::{StepperAxis, stepper_torque};
pub use stop::{HardStop, stop_strength};
pub use warmth::share_in_use;

use crate::bridge::{Bridge, OffState};
use crate::gear::{Gear, estimated_back_efficiency};
use crate::load::Load;
use crate::motor::{Armature, Motor};
use bench::file::Header;
use bench::model::{Axis, LimitInForce};
use bench::part::{self, Channel, Gearbox};
use bench::record::Record;
use worked::{Dimension, Input, Number, Origin, Worked};

/// The figures of one axis with a DC motor.
#[derive(Clone, Debug)]
pub struct DcAxis {
    /// Path of the axis in the bench.
    pub path: String,
    /// The motor at its reference temperature.
    pub motor: Motor<Worked>,
    /// Gear, load and motion; their fields are those of the axis too.
    pub mechanism: Mechanism,
    /// How many times the drag of the gear grows at 0 °C.
    pub cold_drag_factor: Worked,
    /// The bridge that drives it.
    pub bridge: Option<Bridge<Worked>>,
    /// From the supply to the bridge.
    pub power: PowerPath,
    /// Resistance of switches, motor leads and shunt in the loop of the motor current.
    pub loop_resistance: Worked,
    /// Temperature of the air.
    pub ambient: Worked,
    /// Temperature of the winding: anything it can have in use.
    pub winding: Worked,
    /// Highest temperature of the winding.
    pub hottest_winding: Worked,
    /// Temperature of the magnets, which follow the winding part of the way.
    pub magnets: Worked,
    /// Largest duty that the firmware gives; 1 where the bench declares none.
    pub duty_limit: Worked,
    /// Limits of the board that see its motor current and stop its channel.
    pub limits: Vec<LimitInForce>,
    /// Current that the firmware does not exceed, where the bench declares one.
    pub firmware_limit: Option<Worked>,
}

impl std::ops::Deref for DcAxis {
    type Target = Mechanism;
    fn deref(&self) -> &Mechanism {
        &self.mechanism
    }
}

impl DcAxis {
    /// Gathers the figures of an axis; `None` where it has no DC motor.
    pub fn of(bench: &bench::Bench, axis: &Axis) -> Option<Self> {
        let part = axis.motor()?;
        let ambient = bench.header().ambient();
        let motor = motor::motor(part);
        let winding = motor::winding_temperature(axis.path(), part, &bench.header());
        let magnets = motor::magnet_temperature(&ambient, &winding);
        Some(Self {
            path: axis.path().to_owned(),
            mechanism: Mechanism::of(axis),
            cold_drag_factor: cold_drag_factor(axis),
            bridge: axis.channel().map(|channel| bridge(axis, channel)),
            power: PowerPath::of(bench, axis),
            loop_resistance: power::loop_resistance(bench, axis),
            ambient,
            winding,
            hottest_winding: motor::hottest_winding(axis.path(), part),
            magnets,
            duty_limit: axis.duty_limit().unwrap_or_else(|| full_duty(axis)),
            limits: limits::winding_limits(axis),
            firmware_limit: axis.firmware().has("current_limit").then(|| axis.firmware().current_limit()),
            motor,
        })
    }

    /// The motor with its loop, at any temperature it can have in use. The drag of the gear is not in it: the
    /// functions of [`Gear`] count it.
    pub fn armature(&self) -> Armature<Worked> {
        self.motor
            .armature_at(self.winding.clone(), self.magnets.clone())
            .behind(self.loop_resistance.clone())
    }

    /// The same at the reference temperature, which is the strongest it will be when just switched on.
    pub fn cold_armature(&self) -> Armature<Worked> {
        self.motor.armature().behind(self.loop_resistance.clone())
    }

    /// The motor with its loop and the drag of its gear, and nothing else on the shaft: how it runs free.
    pub fn free_armature(&self) -> Armature<Worked> {
        self.armature().dragged(self.gear.drag.clone())
    }

    /// Inertia at the motor shaft while it accelerates its load: rotor, gear and reflected load.
    pub fn accelerating_inertia(&self) -> Worked {
        self.gear.accelerating_inertia(self.rotor_inertia(), self.load_inertia())
    }

    /// Inertia at the motor shaft while it brakes its load.
    pub fn braking_inertia(&self) -> Worked {
        self.gear.braking_inertia(self.rotor_inertia(), self.load_inertia())
    }

    /// Inertia of the load over that of rotor and gear, both at the motor shaft.
    pub fn inertia_ratio(&self) -> Worked {
        self.gear.inertia_ratio(self.rotor_inertia(), self.load_inertia())
    }

    /// Change of the motor constant for a kelvin of the winding: that of the magnets, by the part that they follow.
    pub fn constant_coefficient(&self) -> Worked {
        self.motor.magnet_coefficient.clone() * motor::magnets_follow()
    }

    /// Inertia of the rotor with what sits on its shaft, the gear not counted.
    pub fn rotor_inertia(&self) -> Worked {
        self.motor.inertia.clone()
    }

    /// Inertia of its share of the load at the shaft that drives it.
    pub fn load_inertia(&self) -> Worked {
        self.load.as_ref().map_or_else(|| crate::constants::zero("kg·m²/rad²"), Load::inertia)
    }

    /// Torque that the load takes at its shaft in the planned motion, while it accelerates forward.
    /// `None` where load or motion is not described.
    pub fn accelerating_load_torque(&self) -> Option<Worked> {
        let (load, motion) = (self.load.as_ref()?, self.motion.as_ref()?);
        Some(load.torque(crate::load::At::Worst, motion.speed.clone(), motion.acceleration.clone()))
    }

    /// Motor current at the hardest moment of the planned motion: full acceleration at top speed, the grease as cold as it gets.
    pub fn accelerating_current(&self) -> Option<Worked> {
        let motion = self.motion.as_ref()?;
        let torque = self.cold_gear().motor_torque(
            self.rotor_inertia(),
            self.accelerating_load_torque()?,
            motion.acceleration.clone(),
        );
        let speed = self.gear.input_speed(motion.speed.clone());
        // The torque asked of the motor counts the drag of the gear already.
        Some(self.rotor().current(torque, speed).called("current while accelerating", "I_acc"))
    }

    /// Highest speed of the motor: that of the planned motion.
    pub fn planned_motor_speed(&self) -> Option<Worked> {
        self.motion.as_ref().map(|m| self.gear.input_speed(m.speed.clone()))
    }

    /// Highest speed that the bus can drive the free motor to.
    pub fn top_speed(&self) -> Worked {
        self.free_armature().no_load_speed(self.motor_voltage_at_most())
    }

    /// Highest mean voltage that can stand at the motor: bus at its highest, duty at its limit.
    pub fn motor_voltage_at_most(&self) -> Worked {
        crate::bridge::highest_voltage(self.duty_limit.clone(), self.power.open_voltage.clone())
    }
}

/// Torque at the shaft that drives the load while the output of the gearbox carries a torque.
pub fn torque_behind_stage(axis: &Axis, gearbox_torque: Worked) -> Worked {
    match stage(axis) {
        Some(stage) => stage.output_torque(gearbox_torque),
        None => gearbox_torque,
    }
}

/// Gearbox and further stage of an axis.
pub fn gear(axis: &Axis) -> Gear<Worked> {
    match stage(axis) {
        Some(stage) => gearbox(axis).then(stage),
        None => gearbox(axis),
    }
}

/// Gearbox of an axis; a direct drive where there is none.
fn gearbox(axis: &Axis) -> Gear<Worked> {
    axis.gearbox.as_ref().map_or_else(Gear::direct, gear_of)
}

/// Stage between gearbox and load. Its inertia is given at the load and counts at its input here.
fn stage(axis: &Axis) -> Option<Gear<Worked>> {
    let stage = axis.stage()?;
    let (ratio, efficiency) = (stage.ratio(), stage.efficiency());
    Some(Gear {
        back_efficiency: estimated_back_efficiency(efficiency.clone()),
        efficiency,
        drag: crate::constants::zero("N·m"),
        inertia: or_zero(&stage, "inertia", "kg·m²/rad²") / ratio.clone().squared(),
        ratio,
    })
}

fn gear_of(part: &Gearbox) -> Gear<Worked> {
    let efficiency = part.efficiency();
    let back_efficiency = if part.has("back_efficiency") {
        part.back_efficiency()
    } else if part.self_locking().is(true) {
        0.0.into()
    } else {
        estimated_back_efficiency(efficiency.clone())
    };
    Gear {
        ratio: part.ratio(),
        efficiency,
        back_efficiency,
        drag: or_zero(part, "drag", "N·m"),
        inertia: or_zero(part, "inertia", "kg·m²/rad²"),
    }
}

/// How much the drag of the gear grows at 0 °C.
fn cold_drag_factor(axis: &Axis) -> Worked {
    match axis.gearbox.as_ref() {
        Some(gearbox) if gearbox.has("cold_drag_factor") => gearbox.cold_drag_factor(),
        Some(gearbox) => Input::new(
            &gearbox.path_of("cold_drag_factor"),
            "how many times the drag grows near 0 °C",
            "k_cold",
            Dimension::NONE,
        )
        .value(2.0)
        .limits(1.5, 3.0)
        .origin(Origin::common_practice("grease of small gearboxes"))
        .band_assumed()
        .worked(),
        None => 1.0.into(),
    }
}

/// The bridge of a channel as the bench runs it.
pub fn bridge(axis: &Axis, channel: &Channel) -> Bridge<Worked> {
    let rise = or_zero(channel, "output_rise_time", "s");
    Bridge {
        off_state: off_state(channel),
        on_resistance: channel.on_resistance(),
        diode_drop: diode_drop(channel),
        dead_time: or_zero(channel, "dead_time", "s"),
        edge_times: 2.0 * rise,
        frequency: axis.pwm_frequency().unwrap_or_else(|| channel.pwm_frequency().high),
        thermal_resistance: channel.thermal_resistance(),
    }
}

/// What the winding sees in the off-time; brake where the channel does not say and is not locked anti-phase.
pub fn off_state(channel: &Channel) -> OffState {
    if channel.takes().is(part::Takes::LockedAntiPhase) {
        return OffState::Reverse;
    }
    channel.off_state().or(OffState::Brake)
}

fn diode_drop(channel: &Channel) -> Worked {
    if channel.has("diode_drop") {
        return channel.diode_drop();
    }
    Input::new(
        &channel.path_of("diode_drop"),
        "forward voltage of one freewheeling diode",
        "U_f",
        Dimension::VOLTAGE,
    )
    .value(0.8)
    .limits(0.6, 1.0)
    .origin(Origin::common_practice("silicon diode of a small bridge"))
    .band_assumed()
    .worked()
}

fn full_duty(axis: &Axis) -> Worked {
    Input::new(
        &axis.entry.path_of("duty_limit"),
        "largest duty, as no limit is declared",
        "D_max",
        Dimension::NONE,
    )
    .value(1.0)
    .setting(0.05, 1.0, false)
    .origin(Origin::assumed("no duty limit is declared"))
    .worked()
}

/// A figure that counts as zero where the bench does not give it.
pub fn or_zero(record: &Record, key: &str, unit: &str) -> Worked {
    match record.figure(key) {
        Some(figure) if record.has(key) => figure,
        _ => crate::constants::zero(unit),
    }
}

/// A temperature of the bench header that brackets what parts see.
pub(crate) fn ambient_limits(header: &Header) -> (f64, f64) {
    let ambient = header.ambient();
    ambient.as_input().map_or((253.15, 313.15), Input::bounds)
}

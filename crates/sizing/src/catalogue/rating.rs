//! How well parts carry a cycle together: the least that is left of any limit, and the steady temperature of the winding.

use super::place::Place;
use super::side::{BoardSide, GearSide, MotorSide, SupplySide};
use drive::assembly::Sense;
use drive::bridge::with_ripple;
use drive::heat::Heat;

/// A motor with a gearbox in the cycle, whatever drives them.
pub(super) struct Pair {
    /// Least that is left of any limit of theirs, as a part of it.
    pub(super) margin: f64,
    /// Speed, largest amount of the current and voltage at the terminals of the motor at each moment.
    moments: Vec<(f64, f64, f64)>,
    peak: f64,
    rms: f64,
    inductance: f64,
    continuous: f64,
    heat: Heat<f64>,
    warmest: f64,
}

/// Parts together.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Rating {
    /// Least that is left of any limit, as a part of it.
    pub(super) margin: f64,
    /// Steady temperature of the winding, K.
    pub(super) winding: f64,
}

/// What is left of a limit as a part of it; one that is not stated leaves everything.
fn left(value: f64, limit: f64) -> f64 {
    if limit == f64::INFINITY { 1.0 } else { (limit - value) / limit }
}

impl Pair {
    pub(super) fn of(place: &Place, motor: &MotorSide, gear: &GearSide) -> Self {
        let heat = motor.motor.heat();
        let hot = motor.motor.thermal.limit;
        let winding = if hot.is_finite() { hot } else { place.warmest };
        let mut plant = place.plant.clone();
        plant.motor = motor.motor;
        plant.gear = gear.gear;
        plant.loop_resistance = 0.0;
        let armature = plant.armature(winding);
        let mut moments = Vec::with_capacity(place.cycle.moments.len());
        let (mut peak, mut squares, mut fastest) = (0.0_f64, 0.0, 0.0_f64);
        let (mut gear_peak, mut gear_squares) = (0.0_f64, 0.0);
        for moment in &place.cycle.moments {
            let load = plant.loads.as_ref().map(|loads| &loads[usize::from(moment.sense == Sense::Back)]);
            let speed = plant.gear.input_speed(moment.speed);
            let (at_load, current) = match load {
                _ if moment.sense == Sense::Rest => {
                    let held = load.map_or(0.0, |load| load.standing_torque(plant.place).abs());
                    (held, held / plant.gear.ratio / armature.constant)
                }
                None => (0.0, 0.0),
                Some(load) => {
                    let torque = load.torque(plant.place, moment.speed, moment.acceleration);
                    let with = |back_efficiency: f64| {
                        let mut gear = plant.gear;
                        gear.back_efficiency = back_efficiency;
                        let asked = gear.motor_torque(plant.motor.inertia, torque, moment.acceleration);
                        armature.current(asked, speed)
                    };
                    let (a, b) = (with(plant.gear.back_efficiency), with(gear.highest_back_efficiency));
                    (torque, if a.abs() >= b.abs() { a } else { b })
                }
            };
            let at_gearbox = at_load.abs() / gear.stage;
            gear_peak = gear_peak.max(at_gearbox);
            gear_squares += at_gearbox * at_gearbox * moment.lasts;
            peak = peak.max(current.abs());
            squares += current * current * moment.lasts;
            fastest = fastest.max(speed);
            // The constant at its highest takes most voltage; the current is that at its lowest.
            let voltage = armature.resistance * current.max(0.0)
                + motor.highest_constant * speed
                + armature.brush_drop * f64::from(u8::from(current > 0.0));
            moments.push((speed, current.abs(), voltage));
        }
        let time = place.cycle.time;
        let rms = (squares / time).sqrt();
        let margins = [
            left(peak, motor.peak),
            left(fastest, motor.max_speed),
            left(fastest, gear.max_speed),
            left(gear_peak, gear.peak),
            left((gear_squares / time).sqrt(), gear.continuous),
            left(rms, motor.continuous),
        ];
        Self {
            margin: least(&margins),
            moments,
            peak,
            rms,
            inductance: motor.motor.inductance,
            continuous: motor.continuous,
            heat,
            warmest: place.warmest,
        }
    }
}

/// The least of several; not a number where one is not.
fn least(margins: &[f64]) -> f64 {
    margins.iter().fold(1.0, |least, margin| if margin.is_nan() || *margin < least { *margin } else { least })
}

impl Rating {
    pub(super) fn of(pair: &Pair, board: &BoardSide, supply: &SupplySide) -> Self {
        let ripple = supply.highest / (4.0 * board.frequency * pair.inductance);
        let current = with_ripple(pair.rms, ripple);
        let (mut voltage, mut drawn) = (1.0_f64, 0.0_f64);
        for (_, motor_current, motor_voltage) in &pair.moments {
            let needed = motor_voltage + board.resistance * motor_current;
            // At the least voltage the duty is highest, and with it the current of the supply.
            let taken = (needed / supply.lowest).min(1.0) * motor_current;
            let bus = board.duty * (supply.lowest - supply.resistance * taken);
            voltage = voltage.min((bus - needed) / bus);
            drawn = drawn.max(taken);
        }
        let margins = [
            pair.margin,
            left(current, pair.continuous),
            left(current, board.continuous),
            left(pair.peak, board.peak),
            left(pair.peak, board.usable),
            voltage,
            left(drawn, supply.peak),
            left(drawn.min(current), supply.continuous),
        ];
        let winding = if current < pair.heat.runaway_current() {
            pair.heat.steady_temperature(current, pair.warmest)
        } else {
            f64::INFINITY
        };
        Self { margin: least(&margins), winding }
    }
}

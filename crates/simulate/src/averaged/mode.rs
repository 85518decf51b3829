//! One mode of the averaged drive: between two events everything is linear.

use super::flow::{Flow, Integrals, State};
use super::mean::Mean;
use crate::linear::Field;
use crate::mode::TOLERANCE;
use crate::record::Energy;
use crate::set_up::SetUp;
use crate::shaft::{Plane, Turning, holding_band, turning};

/// Steps to a zero: halving alone comes to the last bit in fewer.
const MOST_STEPS: u32 = 100;

/// Which way current and shaft go.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Way {
    /// Sign of the current where its ripple does not reach zero; else 0.
    pub(super) current: i8,
    /// Sense of the shaft; 0 while it rests.
    pub(super) shaft: i8,
    /// The load drives the motor.
    pub(super) load_drives: bool,
    /// Band of speed of a friction that falls with it; 0 while the shaft rests.
    pub(super) band: u8,
}

/// What ends a mode.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Event {
    /// The ripple comes to reach zero, or a current without ripple ends.
    ReachesZero,
    /// The current flows with this sign alone.
    Conducts(i8),
    /// The mean passes zero.
    Passes,
    /// The shaft comes to rest.
    SpeedZero,
    /// It breaks away in this sense.
    BreaksAway(i8),
    /// The torque at the output of the gear changes its sign.
    GearTurns,
    /// The speed comes into this band.
    Band(u8),
    /// The bridge gives more into the bus than is drawn from it, and the supply takes nothing back.
    Blocks,
}

/// A form that stays above zero while the mode lasts.
#[derive(Clone, Copy, PartialEq, Debug)]
struct Watch {
    form: Plane,
    tolerance: f64,
    event: Event,
}

#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) struct Mode {
    pub(super) flow: Flow,
    way: Way,
    turning: Option<Turning>,
    /// Magnetic torques between which the shaft rests.
    pub(super) holding: (f64, f64),
    /// Dry and viscous friction at the motor shaft, those of the band.
    friction: (f64, f64),
}

impl Mode {
    pub(super) fn new(drive: &SetUp, mean: &Mean, way: Way) -> Self {
        let banded;
        let drive = match drive.curved.stribeck {
            Some(_) => {
                banded = drive.in_band(way.band);
                &banded
            }
            None => drive,
        };
        let turning = (way.shaft != 0).then(|| turning(drive, way.shaft, way.load_drives));
        let electrical = mean.current_slope(drive, way.current);
        let mechanical = turning.map_or([0.0; 3], |turning| turning.acceleration);
        let a = [[electrical[0], electrical[1]], [mechanical[0], mechanical[1]]];
        let weights = [drive.inductance.sqrt(), drive.inertia.sqrt()];
        let flow = Flow::new(Field::new(a, [electrical[2], mechanical[2]], &weights));
        let friction = (drive.friction, drive.viscous_friction);
        Self { flow, way, turning, holding: holding_band(drive), friction }
    }

    /// The first event on the way from a state to another one, over a time in which no form has more than one extremum.
    pub(super) fn event(
        &self,
        drive: &SetUp,
        mean: &Mean,
        (from, to): (State, State),
        time: f64,
    ) -> Option<(f64, Event)> {
        let mut first: Option<(f64, Event)> = None;
        for watch in self.watches(drive, mean, from).iter().flatten() {
            if let Some(at) = self.crossed(watch, from, to, time)
                && first.is_none_or(|(earliest, _)| at < earliest)
            {
                first = Some((at, watch.event));
            }
        }
        first
    }

    /// When a form of the state has its extremum on the way, where it has one.
    pub(super) fn extremum(&self, form: &Plane, from: State, to: State, time: f64) -> Option<f64> {
        let field = &self.flow.field;
        let (leaves, comes) = (rate(form, field.slope(&from)), rate(form, field.slope(&to)));
        if leaves * comes >= 0.0 {
            return None;
        }
        let sign = leaves.signum();
        let slope = |at: f64| {
            let slope = field.slope(&self.flow.after(from, at));
            let [a, b] = field.a;
            let bend = [a[0] * slope[0] + a[1] * slope[1], b[0] * slope[0] + b[1] * slope[1]];
            (sign * rate(form, slope), sign * rate(form, bend))
        };
        // What is read there changes with the square of what is left.
        Some(falls_to_zero(slope, 0.0, time, 1e-10 * time))
    }

    fn watches(&self, drive: &SetUp, mean: &Mean, from: State) -> [Option<Watch>; 8] {
        let k = drive.constant;
        let full_current = drive.supply_voltage / drive.resistance;
        let full_speed = drive.supply_voltage / k;
        let watch = |form, scale: f64, event| Some(Watch { form, tolerance: TOLERANCE * scale, event });
        let (sign, sense) = (f64::from(self.way.current), f64::from(self.way.shaft));
        let half = mean.half_ripple;
        let electrical = match (self.way.current, half > 0.0) {
            (0, true) => {
                let slope = self.flow.field.slope(&from)[0];
                let side = if from[0] < 0.0 || (from[0] == 0.0 && slope < 0.0) { -1.0 } else { 1.0 };
                [
                    watch([-1.0, 0.0, half], full_current, Event::Conducts(1)),
                    watch([1.0, 0.0, half], full_current, Event::Conducts(-1)),
                    watch([side, 0.0, 0.0], full_current, Event::Passes),
                ]
            }
            (0, false) => [
                watch([0.0, k, -mean.forward], drive.supply_voltage, Event::Conducts(1)),
                watch([0.0, -k, mean.back], drive.supply_voltage, Event::Conducts(-1)),
                None,
            ],
            _ => [watch([sign, 0.0, -half], full_current, Event::ReachesZero), None, None],
        };
        let mechanical = match &self.turning {
            Some(turning) => {
                let s = if self.way.load_drives { -1.0 } else { 1.0 };
                let form = turning.motor_drives.map(|part| s * part);
                let scale = form[0].abs() * full_current + form[1].abs() * full_speed + form[2].abs();
                let lossy = drive.back_efficiency * drive.efficiency != 1.0;
                [
                    watch([0.0, sense, 0.0], full_speed, Event::SpeedZero),
                    watch(form, scale, Event::GearTurns).filter(|_| lossy),
                ]
            }
            None if !drive.locked => [
                watch([-k, 0.0, self.holding.1], k * full_current, Event::BreaksAway(1)),
                watch([k, 0.0, -self.holding.0], k * full_current, Event::BreaksAway(-1)),
            ],
            None => [None; 2],
        };
        let bands = match drive.curved.stribeck.filter(|_| self.turning.is_some()) {
            Some(stribeck) => {
                let (low, high) = stribeck.band(self.way.band);
                let (down, up) = (self.way.band.wrapping_sub(1), self.way.band + 1);
                [
                    watch([0.0, sense, -low], full_speed, Event::Band(down)).filter(|_| self.way.band > 0),
                    watch([0.0, -sense, high], full_speed, Event::Band(up)).filter(|_| high.is_finite()),
                ]
            }
            None => [None; 2],
        };
        let [a, b, c] = electrical;
        let [d, e] = mechanical;
        let [f, g] = bands;
        let blocks = drive
            .bus
            .filter(|bus| !bus.sinks)
            .and_then(|_| watch(mean.drawn(drive, self.way.current), full_current, Event::Blocks));
        [a, b, c, d, e, f, g, blocks]
    }

    /// When a watched form falls below zero, if it does by more than its tolerance.
    fn crossed(&self, watch: &Watch, from: State, to: State, time: f64) -> Option<f64> {
        let form = |z: State| value(&watch.form, z);
        let at = |time: f64| form(self.flow.after(from, time));
        let starts = form(from);
        if starts < -watch.tolerance {
            return Some(0.0);
        }
        let ends = form(to);
        let falls = rate(&watch.form, self.flow.field.slope(&from)) < 0.0;
        let below = |above: f64, below: f64| {
            let fall = |at: f64| {
                let z = self.flow.after(from, at);
                (form(z), rate(&watch.form, self.flow.field.slope(&z)))
            };
            falls_to_zero(fall, above, below, 0.0)
        };
        if ends >= -watch.tolerance {
            if !falls {
                return None;
            }
            let turn = self.extremum(&watch.form, from, to, time)?;
            return (at(turn) < -watch.tolerance).then(|| if starts <= 0.0 { 0.0 } else { below(0.0, turn) });
        }
        let turn = if falls { None } else { self.extremum(&watch.form, from, to, time) };
        match turn.filter(|turn| at(*turn) > 0.0) {
            Some(highest) => Some(below(highest, time)),
            None if starts <= 0.0 => Some(0.0),
            None => Some(below(0.0, time)),
        }
    }

    /// Adds what flows where over a time, the ripple counted; gives ∫ of the voltage of the motor but for that of its
    /// inductance, and the charge out of the bus.
    pub(super) fn account(
        &self,
        drive: &SetUp,
        mean: &Mean,
        over: &Integrals,
        time: f64,
        energy: &mut Energy,
    ) -> (f64, f64) {
        let sense = f64::from(self.way.shaft);
        let n = drive.ratio;
        let speed = sense * over.speed;
        let (voltage, charge) = mean.account(drive, self.way.current, over, time, energy);
        let (dry, viscous) = self.friction;
        energy.friction += dry * speed + viscous * over.speed_squared;
        energy.load_friction +=
            drive.load_friction * speed / n + drive.load_viscous * over.speed_squared / (n * n);
        energy.lifted += drive.load_torque * over.speed / n;
        energy.angle += over.speed;
        if let Some(turning) = &self.turning {
            let [a, b, c] = turning.output_torque;
            let passed = sense * (a * over.current_speed + b * over.speed_squared + c * over.speed);
            energy.gear += (turning.factor - 1.0) * passed / n;
        }
        (voltage + drive.constant * over.speed, charge)
    }
}

/// Where a function with its slope falls through zero, between a place above and one below: Newton's steps, halving
/// where they lead out. Up to a distance, or to the last bits.
fn falls_to_zero(f: impl Fn(f64) -> (f64, f64), above: f64, below: f64, near: f64) -> f64 {
    let (mut above, mut below) = (above, below);
    let near = near.max(2.0 * f64::EPSILON * above.abs().max(below.abs()));
    let mut at = above;
    for _ in 0..MOST_STEPS {
        let (value, slope) = f(at);
        if value > 0.0 {
            above = at;
        } else if value < 0.0 {
            below = at;
        } else {
            return at;
        }
        let next = at - value / slope;
        let (low, high) = (above.min(below), above.max(below));
        let next = if next > low && next < high { next } else { 0.5 * (low + high) };
        if (next - at).abs() <= near || high - low <= near {
            return next;
        }
        at = next;
    }
    at
}

fn value(form: &Plane, z: State) -> f64 {
    form[0] * z[0] + form[1] * z[1] + form[2]
}

fn rate(form: &Plane, slope: State) -> f64 {
    form[0] * slope[0] + form[1] * slope[1]
}

//! One mode of the drive: between two events everything is linear.

use crate::circuit::{Branch, Gate, branch};
use crate::linear::{Field, Integrals, State, Step};
use crate::record::Energy;
use crate::set_up::SetUp;
use crate::shaft::{Form, Turning, holding_band, turning};

/// Part of full scale by which a watched form may fall below zero before that counts as an event.
pub(crate) const TOLERANCE: f64 = 1e-12;
/// Trials that place an event; about eight are needed.
const MOST_TRIALS: u32 = 100;

/// Which way current and shaft go.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Way {
    /// Sign of the current; 0 while none flows.
    pub(crate) current: i8,
    /// Sense of the shaft; 0 while it rests.
    pub(crate) shaft: i8,
    /// The load drives the motor.
    pub(crate) load_drives: bool,
}

/// What ends a mode.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Event {
    /// The current comes to zero.
    CurrentZero,
    /// It begins to flow with this sign.
    Conducts(i8),
    /// The shaft comes to rest.
    SpeedZero,
    /// It breaks away in this sense.
    BreaksAway(i8),
    /// The torque at the output of the gear changes its sign.
    GearTurns,
}

/// A form that stays above zero while the mode lasts.
#[derive(Clone, Copy, PartialEq, Debug)]
struct Watch {
    form: Form,
    slope: Form,
    tolerance: f64,
    event: Event,
}

/// A mode with everything that follows from it.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Mode {
    pub(crate) way: Way,
    pub(crate) field: Field,
    branch: Branch,
    turning: Option<Turning>,
    watches: [Option<Watch>; 4],
    /// Voltages that drive a current forward and back.
    pub(crate) driving: (f64, f64),
    /// Magnetic torques between which the shaft rests.
    pub(crate) holding: (f64, f64),
}

impl Mode {
    pub(crate) fn new(drive: &SetUp, gate: Gate, way: Way) -> Self {
        let (forward, back) = (branch(drive, gate, 1), branch(drive, gate, -1));
        let branch = if way.current < 0 { back } else { forward };
        let turning = (way.shaft != 0).then(|| turning(drive, way.shaft, way.load_drives));
        let electrical = match way.current {
            0 => [0.0; 3],
            _ => [
                -branch.resistance / drive.inductance,
                -drive.constant / drive.inductance,
                branch.voltage / drive.inductance,
            ],
        };
        let mechanical = turning.map_or([0.0; 3], |turning| turning.acceleration);
        let field = Field {
            a: [[electrical[0], electrical[1]], [mechanical[0], mechanical[1]]],
            c: [electrical[2], mechanical[2]],
        };
        let mut mode = Self {
            way,
            field,
            branch,
            turning,
            watches: [None; 4],
            driving: (forward.voltage, back.voltage),
            holding: holding_band(drive),
        };
        mode.watch(drive);
        mode
    }

    fn watch(&mut self, drive: &SetUp) {
        let k = drive.constant;
        let full_current = drive.supply_voltage / drive.resistance;
        let full_speed = drive.supply_voltage / k;
        let (sign, sense) = (f64::from(self.way.current), f64::from(self.way.shaft));
        let electrical = match self.way.current {
            0 => [
                Some(([0.0, k, -self.driving.0], drive.supply_voltage, Event::Conducts(1))),
                Some(([0.0, -k, self.driving.1], drive.supply_voltage, Event::Conducts(-1))),
            ],
            _ => [Some(([sign, 0.0, 0.0], full_current, Event::CurrentZero)), None],
        };
        let mechanical = match &self.turning {
            Some(turning) => {
                let s = if self.way.load_drives { -1.0 } else { 1.0 };
                let form = turning.motor_drives.map(|part| s * part);
                let scale = form[0].abs() * full_current + form[1].abs() * full_speed + form[2].abs();
                // Where both factors are one, nothing turns.
                let lossy = drive.back_efficiency * drive.efficiency != 1.0;
                [
                    Some(([0.0, sense, 0.0], full_speed, Event::SpeedZero)),
                    lossy.then_some((form, scale, Event::GearTurns)),
                ]
            }
            None if !drive.locked => [
                Some(([-k, 0.0, self.holding.1], k * full_current, Event::BreaksAway(1))),
                Some(([k, 0.0, -self.holding.0], k * full_current, Event::BreaksAway(-1))),
            ],
            None => [None; 2],
        };
        let field = self.field;
        let [first, second] = electrical;
        let [third, fourth] = mechanical;
        self.watches = [first, second, third, fourth].map(|watch| {
            let (form, scale, event) = watch?;
            let [p, q, _] = form;
            let [[a, b], [c, d]] = field.a;
            let slope = [p * a + q * c, p * b + q * d, p * field.c[0] + q * field.c[1]];
            Some(Watch { form, slope, tolerance: TOLERANCE * scale, event })
        });
    }

    /// The first event on the way from a state over a time, with when it comes.
    pub(crate) fn event(&self, from: State, to: State, time: f64) -> Option<(f64, Event)> {
        let mut first: Option<(f64, Event)> = None;
        for watch in self.watches.iter().flatten() {
            if let Some(at) = watch.crossed(&self.field, from, to, time)
                && first.is_none_or(|(earliest, _)| at < earliest)
            {
                first = Some((at, watch.event));
            }
        }
        first
    }

    /// Adds what flows where over a step.
    pub(crate) fn account(&self, drive: &SetUp, over: &Integrals, time: f64, energy: &mut Energy) {
        let (sign, sense) = (f64::from(self.way.current), f64::from(self.way.shaft));
        let n = drive.ratio;
        let (current, speed) = (sign * over.current, sense * over.speed);
        let supplied = self.branch.supply * over.current;
        energy.supply += drive.supply_voltage * supplied;
        energy.supply_charge += supplied;
        energy.source += (self.branch.resistance - drive.resistance) * over.current_squared;
        energy.winding += drive.winding_resistance * over.current_squared;
        energy.bridge += (drive.resistance - drive.winding_resistance) * over.current_squared
            + self.branch.diodes * current;
        energy.brushes += drive.brush_drop * current;
        energy.charge += current;
        energy.current_squared += over.current_squared;
        energy.motor_voltage += drive.winding_resistance * over.current
            + drive.constant * over.speed
            + drive.brush_drop * sign * time;
        energy.friction += drive.friction * speed + drive.viscous_friction * over.speed_squared;
        energy.load_friction +=
            drive.load_friction * speed / n + drive.load_viscous * over.speed_squared / (n * n);
        energy.lifted += drive.load_torque * over.speed / n;
        energy.angle += over.speed;
        if let Some(turning) = &self.turning {
            let [a, b, c] = turning.output_torque;
            let passed = sense * (a * over.current_speed + b * over.speed_squared + c * over.speed);
            energy.gear += (turning.factor - 1.0) * passed / n;
        }
    }
}

impl Watch {
    /// When the form falls below zero, if it does by more than its tolerance. Within a step it has one extremum at
    /// most.
    fn crossed(&self, field: &Field, from: State, to: State, time: f64) -> Option<f64> {
        let (starts, ends) = (value(&self.form, from), value(&self.form, to));
        if starts < -self.tolerance {
            return Some(0.0);
        }
        let (falls, rises) = (value(&self.slope, from) < 0.0, value(&self.slope, to) > 0.0);
        let course = Course { field, from };
        let below = |until: f64| match starts <= 0.0 {
            true => 0.0,
            false => course.change(&self.form, (0.0, until), self.tolerance),
        };
        if ends >= -self.tolerance {
            if !(falls && rises) {
                return None;
            }
            let rising = self.slope.map(|part| -part);
            let lowest = course.change(&rising, (0.0, time), 0.0);
            return (course.value(&self.form, lowest) < -self.tolerance).then(|| below(lowest));
        }
        if starts <= 0.0 && !falls {
            let highest = course.change(&self.slope, (0.0, time), 0.0);
            let above = course.value(&self.form, highest) > 0.0;
            return Some(if above {
                course.change(&self.form, (highest, time), self.tolerance)
            } else {
                0.0
            });
        }
        Some(below(time))
    }
}

/// The way from a state under a field.
struct Course<'a> {
    field: &'a Field,
    from: State,
}

impl Course<'_> {
    fn value(&self, form: &Form, time: f64) -> f64 {
        value(form, self.field.after(self.from, time))
    }

    /// When a form that begins above zero comes below: false position, the value of an end that stays being halved (the
    /// Illinois rule). It ends at neighbouring numbers, or where the form is zero to a thousandth of a tolerance.
    fn change(&self, form: &Form, between: (f64, f64), tolerance: f64) -> f64 {
        let (mut low, mut high) = between;
        let (mut above, mut below) = (self.value(form, low), self.value(form, high));
        let mut last = 0;
        for _ in 0..MOST_TRIALS {
            let aimed = low + (high - low) * (above / (above - below));
            let at = if aimed > low && aimed < high { aimed } else { 0.5 * (low + high) };
            if at <= low || at >= high {
                break;
            }
            let there = self.value(form, at);
            if there.abs() <= 1e-3 * tolerance {
                return at;
            }
            let side = if there > 0.0 { 1 } else { -1 };
            if there > 0.0 {
                (low, above) = (at, there);
                below *= if last == side { 0.5 } else { 1.0 };
            } else {
                (high, below) = (at, there);
                above *= if last == side { 0.5 } else { 1.0 };
            }
            last = side;
        }
        high
    }
}

fn value(form: &Form, z: State) -> f64 {
    form[0] * z[0] + form[1] * z[1] + form[2]
}

/// A mode with the equal steps that its time falls into.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Paced {
    pub(crate) mode: Mode,
    /// Time of one step.
    pub(crate) time: f64,
    pub(crate) pieces: u32,
    /// The step worked out once, where it comes again in every PWM period.
    pub(crate) step: Option<Step>,
}

impl Paced {
    /// State after one step.
    pub(crate) fn end(&self, z: State) -> State {
        match &self.step {
            Some(step) => step.end(z),
            None => self.mode.field.after(z, self.time),
        }
    }

    /// Integrals over a whole step, or over a part of one.
    pub(crate) fn integrals(&self, z: State, time: f64) -> Integrals {
        match &self.step {
            Some(step) if time == self.time => step.integrals(z),
            _ => self.mode.field.integrals(z, time),
        }
    }
}

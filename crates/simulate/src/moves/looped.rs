//! The loops of an axis: their figures from the bench, and what they may be wrong by.

use super::path::{Path, Peaks};
use super::plan::Gains;
use crate::controlled::{Clock, Delay};
use crate::lines;
use crate::prepared::Prepared;
use crate::sensing::{Sensed, Sensing};
use crate::set_up::Unusable;
use crate::trial::CannotPlan;
use bench::Bench;
use bench::model::Axis;
use controller::count::LONGEST_WINDOW;
use controller::gains::position_gain;
use controller::{Bus, Drive, Encoder, PositionLoop, SpeedFigures, SpeedLoop, speed_loop};
use drive::assembly::DcAxis;
use drive::assembly::nets::{Member, Net};
use drive::assembly::timers::{duty_counts, pulses};
use std::f64::consts::TAU;
use worked::{Number, Worked};

/// Both loops of an axis.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Loop {
    /// The speed loop inside.
    pub speed: SpeedFigures,
    /// Gain of the position loop, 1/s.
    pub gain: f64,
    /// Speed of the motor that is never asked for more, rad/s.
    pub top_speed: f64,
    /// Current that the clamp keeps, A.
    pub current_limit: f64,
    /// When it runs.
    pub clock: Clock,
}

/// Speed that the position loop may ask for, over the highest of the path: what lies between catches up an error.
const SPEED_LEFT: f64 = 1.2;

impl Loop {
    /// Gains from the nominal figures of the axis, where none are given.
    pub(super) fn of(
        bench: &Bench,
        axis: &Axis,
        prepared: &Prepared,
        sensing: &Sensing,
        peaks: &Peaks,
        current_limit: f64,
        gains: Option<&Gains>,
    ) -> Result<Self, CannotPlan> {
        let set_up = &prepared.set_up;
        let controller = bench.controller();
        let entry = controller.map(|controller| controller.entry.r#loop());
        let Some(entry) = entry.filter(|entry| entry.has("sample_time")) else {
            let what = "controller.loop.sample_time (time from one pass of the loop to the next)".to_owned();
            return Err(CannotPlan::Missing { what });
        };
        let sample_time = entry.sample_time().value();
        let Some(encoder) = encoder(bench, sensing, sample_time) else {
            let why = "has no encoder, and a position loop counts its edges".to_owned();
            return Err(CannotPlan::NotThisAxis { axis: axis.name.to_string(), why });
        };
        let (ratio, efficiency) = (set_up.ratio, set_up.efficiency);
        let drive = Drive {
            resistance: set_up.resistance,
            inductance: set_up.inductance,
            constant: set_up.constant,
            brush_drop: set_up.brush_drop,
            inertia: set_up.inertia + set_up.load_inertia / (ratio * ratio * efficiency),
            friction: set_up.friction + set_up.load_friction / (ratio * efficiency),
            viscous_friction: set_up.viscous_friction + set_up.load_viscous / (ratio * ratio * efficiency),
            rated_current: rated_current(axis, &prepared.figures.dc),
            current_limit,
            highest_duty: prepared.figures.dc.duty_limit.value(),
            bus: bus(axis, &prepared.figures.dc, sensing),
        };
        let mut speed = speed_loop(&drive, &encoder, sample_time).map_err(told)?;
        if let Some(gains) = gains {
            (speed.pi, speed.window) = (gains.pi, gains.window);
            speed.feed_forward.full_friction_speed = gains.full_friction_speed;
        }
        let clock = Clock {
            rate: 1.0 / sample_time,
            delay: Delay::OneSample,
            duty_counts: timer_counts(bench, axis, prepared),
        };
        if clock.rate > set_up.frequency {
            let must = "no more than the PWM frequency";
            return Err(Unusable::Figure { what: "rate of the loop", value: clock.rate, must }.into());
        }
        let gain = gains.and_then(|gains| gains.position).unwrap_or_else(|| position_gain(&speed));
        Ok(Self { speed, gain, top_speed: SPEED_LEFT * peaks.speed, current_limit, clock })
    }

    /// As code that follows a path.
    pub(super) fn following<'p>(&self, path: &'p Path) -> Result<PositionLoop<&'p Path>, Unusable> {
        let inside = SpeedLoop::new(self.speed).map_err(told)?;
        PositionLoop::new(inside, path, self.gain, self.top_speed).map_err(told)
    }

    /// Crossover of the speed loop, rad/s.
    pub fn crossover(&self) -> f64 {
        self.speed.pi.gain / self.speed.feed_forward.acceleration
    }

    /// Samples in a time, one at least.
    pub(super) fn samples(&self, time: f64) -> u64 {
        (time * self.clock.rate).round().max(1.0) as u64
    }
}

/// The encoder as loops take it, with the samples in the window of its speed where the bench settles them; none where nothing
/// leads to the controller.
pub fn encoder(bench: &Bench, sensing: &Sensing, sample_time: f64) -> Option<Encoder> {
    let line = sensing.encoder?;
    let clock = bench.controller().map(|controller| controller.entry.r#loop());
    let window = clock.filter(|clock| clock.has("speed_window")).map(|clock| {
        let samples = (clock.speed_window().value() / sample_time).round();
        (samples as usize).clamp(1, LONGEST_WINDOW)
    });
    Some(Encoder { counts: 4.0 * line.lines / TAU, bits: line.bits, window })
}

fn told(why: controller::Unusable) -> Unusable {
    Unusable::Figure { what: why.what, value: why.value, must: why.must }
}

/// The current that the motor may carry for long, A.
pub fn rated_current(axis: &Axis, dc: &DcAxis) -> f64 {
    match axis.motor().filter(|motor| motor.has("rated_current")) {
        Some(motor) => motor.rated_current().value(),
        None => dc.continuous_current(axis).value(),
    }
}

/// The bus as a loop knows it: measured where a line tells its voltage, else taken as it is without load.
pub fn bus(axis: &Axis, dc: &DcAxis, sensing: &Sensing) -> Bus {
    let open = dc.power.open_voltage.value();
    let line = sensing.voltage.filter(|line| line.sees == Sensed::BusVoltage);
    let Some(line) = line else { return Bus::Taken(open) };
    let per_volt = line.converter.codes / line.converter.reference;
    let lockout = axis.input().map(|fed| fed.input.lockout()).filter(|lockout| lockout.has("off"));
    Bus::Measured {
        per_code: 1.0 / (per_volt * line.sensor.scale),
        // A code is the lower edge of its step; its middle is half a code above.
        zero: (line.sensor.zero - line.converter.lowest) * per_volt - 0.5,
        lowest: lockout.map_or(0.5 * open, |lockout| lockout.off().value()),
    }
}

/// Counts of the timer that makes the pulses of the axis; none where the bench does not say which that is.
fn timer_counts(bench: &Bench, axis: &Axis, prepared: &Prepared) -> Option<f64> {
    let channel = axis.channels.first()?;
    let nets = Net::all(bench);
    let of_axis = |net: &&Net<'_>| {
        net.members.iter().any(|member| match member {
            Member::Signal(board, signal) => {
                board.name == channel.board.name
                    && board.channel_of(signal).is_some_and(|name| *name == *channel.channel.name())
            }
            _ => false,
        })
    };
    let own: Vec<String> =
        nets.iter().filter(of_axis).flat_map(|net| net.members.iter().map(Member::name)).collect();
    let lines = pulses(bench, &nets);
    let (_, timer) =
        lines.iter().filter(|line| own.contains(&line.name)).find_map(|line| line.timer.as_ref())?;
    let counts = duty_counts(bench, timer, prepared.figures.bridge.frequency.clone()).value();
    (counts >= 1.0).then_some(counts)
}

/// What the controller takes the voltage of the bus for, over what it is: a number with tolerance.
pub fn voltage_factor(bench: &Bench, axis: &Axis, dc: &DcAxis, bus: &Bus) -> Worked {
    let nominal = |figure: &Worked, key: &str, name: &str, symbol: &str| {
        let path = format!("{}.loop.{key}", axis.path());
        drive::assembly::wanted::nominal_of(figure, &path, name, symbol)
    };
    match bus {
        Bus::Taken(_) => {
            let bus = dc.power.open_voltage.clone();
            let taken = nominal(&bus, "bus_voltage", "voltage that the loop takes the bus to have", "U_tak");
            bus / taken
        }
        Bus::Measured { .. } => match lines::bus_line(bench, axis, dc) {
            Some(line) => {
                let (scale, reference) = (line.sensor.scale, line.converter.reference);
                let taken_scale = nominal(&scale, "bus_scale", "scale of the bus line as taken", "S_tak");
                let taken_reference =
                    nominal(&reference, "reference", "reference of the converter as taken", "U_tak");
                (taken_scale / scale) * (reference / taken_reference)
            }
            None => 1.0.into(),
        },
    }
    .called("voltage of the motor over what the loop means", "k_U")
}

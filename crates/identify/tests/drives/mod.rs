//! Drives whose figures are known, read by sensors with noise and counts. Two ways to play them share no code with the
//! estimators: the averaged simulation, exact between its events, and plain small steps for what that does not take.

// Each test binary uses some of it.
#![allow(dead_code)]

use identify::{Acts, Angle, Axis, Drive, Record, Sensor, Sensors, Shaft, Time, Trial, Warmth};
use simulate::{Averaged, Board, Command, Curved, Row, SetUp, Sink, Stage};
use std::convert::Infallible;
use worked::Stream;

/// What is put in.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Truth {
    pub(crate) resistance: f64,
    pub(crate) inductance: f64,
    pub(crate) constant: f64,
    pub(crate) inertia: f64,
    pub(crate) coulomb: f64,
    pub(crate) viscous: f64,
    /// Voltage of the supply, V.
    pub(crate) supply: f64,
    /// What only small steps take: brush drop, static extra and its speed, imbalance, resistance of the supply.
    pub(crate) brush_drop: f64,
    pub(crate) extra: f64,
    pub(crate) friction_speed: f64,
    pub(crate) imbalance: f64,
    pub(crate) source: f64,
}

/// An invented motor of 24 V.
pub(crate) const MIDDLING: Truth = Truth {
    resistance: 3.4,
    inductance: 1.15e-3,
    constant: 0.0382,
    inertia: 6.1e-6,
    coulomb: 7.5e-3,
    viscous: 3.4e-6,
    supply: 24.0,
    brush_drop: 0.0,
    extra: 0.0,
    friction_speed: 1.0,
    imbalance: 0.0,
    source: 0.0,
};

/// How it is read.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Reading {
    /// Rows in a second.
    pub(crate) rate: f64,
    /// Deviation of the noise of the current, A.
    pub(crate) noise: f64,
    /// Counts in a turn.
    pub(crate) counts: f64,
    pub(crate) seed: u64,
}

/// Columns of a record.
#[derive(Clone, Debug, Default)]
pub(crate) struct Columns {
    pub(crate) step: f64,
    pub(crate) duty: Vec<f64>,
    pub(crate) voltage: Vec<f64>,
    pub(crate) current: Vec<f64>,
    pub(crate) angle: Vec<f64>,
    pub(crate) resolution: f64,
    pub(crate) locked: bool,
}

/// Keeps all rows of a run.
pub(crate) struct Rows(pub(crate) Vec<Row>);

impl Sink for Rows {
    type Failure = Infallible;

    fn take(&mut self, row: &Row) -> Result<(), Infallible> {
        self.0.push(*row);
        Ok(())
    }
}

impl Truth {
    pub(crate) fn set_up(&self, rate: f64, locked: bool) -> SetUp {
        SetUp {
            supply_voltage: self.supply,
            supply_resistance: 0.0,
            frequency: rate,
            off_state: drive::bridge::OffState::Brake,
            diode_drop: 0.7,
            resistance: self.resistance,
            winding_resistance: self.resistance,
            inductance: self.inductance,
            constant: self.constant,
            brush_drop: 0.0,
            inertia: self.inertia,
            friction: self.coulomb,
            viscous_friction: self.viscous,
            ratio: 1.0,
            efficiency: 1.0,
            back_efficiency: 1.0,
            load_inertia: 0.0,
            load_friction: 0.0,
            load_viscous: 0.0,
            load_torque: 0.0,
            locked,
            bus: None,
            board: Board::NONE,
            twist: None,
            curved: Curved::NONE,
        }
    }

    /// Plays duties, one a row, by the averaged simulation.
    pub(crate) fn play(&self, duties: &[f64], locked: bool, reading: &Reading) -> Columns {
        let mut simulation = Averaged::new(self.set_up(reading.rate, locked)).expect("an averaged drive");
        let mut rows = Rows(Vec::with_capacity(duties.len() + 1));
        for run in duties.chunk_by(|a, b| a == b) {
            let stage = Stage { command: Command::Duty(run[0]), periods: run.len() as u64 };
            simulation.play(&stage, 1, &mut rows).expect("a duty");
        }
        // Row k + 1 is the state after the interval of duty k.
        rows.0.truncate(duties.len());
        let course = rows.0.iter().map(|row| (row.current, row.angle)).collect();
        self.read(duties, course, locked, reading)
    }

    /// Plays duties, one a row, in steps of a fiftieth of a row: force balances, friction that holds at rest.
    pub(crate) fn step_through(&self, duties: &[f64], locked: bool, reading: &Reading) -> Columns {
        const PARTS: usize = 50;
        let h = 1.0 / reading.rate / PARTS as f64;
        let (mut i, mut w, mut angle) = (0.0_f64, 0.0_f64, 0.0_f64);
        let mut course = Vec::with_capacity(duties.len());
        for &duty in duties {
            course.push((i, angle));
            for _ in 0..PARTS {
                let u = duty * (self.supply - self.source * duty * i);
                let over = u - self.constant * w;
                let drop = if i != 0.0 {
                    self.brush_drop * i.signum()
                } else {
                    over.clamp(-self.brush_drop, self.brush_drop)
                };
                // The middle of the step by half an Euler step, then the whole.
                let rate_i =
                    |i: f64, w: f64| (u - drop - self.resistance * i - self.constant * w) / self.inductance;
                let friction = |w: f64, torque: f64| {
                    let most = self.coulomb + self.extra * libm::exp(-w.abs() / self.friction_speed);
                    if w != 0.0 { most * w.signum() } else { torque.clamp(-most, most) }
                };
                let rate_w = |i: f64, w: f64| {
                    let torque = self.constant * i - self.imbalance - self.viscous * w;
                    (torque - friction(w, torque)) / self.inertia
                };
                let held = |rate: f64| if locked { 0.0 } else { rate };
                let (mid_i, mid_w) = (i + 0.5 * h * rate_i(i, w), w + 0.5 * h * held(rate_w(i, w)));
                let mid_w = if w * mid_w < 0.0 { 0.0 } else { mid_w };
                let (next_i, next_w) = (i + h * rate_i(mid_i, mid_w), w + h * held(rate_w(mid_i, mid_w)));
                angle += h * mid_w;
                // What passes zero stops there: from rest it goes on by what drives it.
                i = if self.brush_drop > 0.0 && i * next_i < 0.0 { 0.0 } else { next_i };
                w = if w * next_w < 0.0 { 0.0 } else { next_w };
            }
        }
        self.read(duties, course, locked, reading)
    }

    fn read(&self, duties: &[f64], course: Vec<(f64, f64)>, locked: bool, reading: &Reading) -> Columns {
        let noise = Stream::new(reading.seed, "current");
        let count = std::f64::consts::TAU / reading.counts;
        Columns {
            step: 1.0 / reading.rate,
            duty: duties.to_vec(),
            voltage: duties.iter().map(|duty| duty * self.supply).collect(),
            current: (0u64..).zip(&course).map(|(k, row)| row.0 + reading.noise * noise.normal(k)).collect(),
            angle: course.iter().map(|row| (row.1 / count).floor() * count).collect(),
            resolution: count,
            locked,
        }
    }
}

impl Columns {
    pub(crate) fn record(&self) -> Record<'_> {
        Record {
            time: Time::Even(self.step),
            drive: Drive::Voltage(&self.voltage),
            acts: Acts::UntilNext,
            current: Some(&self.current),
            angle: Some(Angle { values: &self.angle, resolution: self.resolution }),
            usable: None,
            trial: Trial { shaft: if self.locked { Shaft::Locked } else { Shaft::Free }, ..Trial::FREE },
        }
    }
}

pub(crate) fn axis<'a>(records: &'a [Record<'a>], noise: f64) -> Axis<'a> {
    let sensors =
        Sensors { current: Sensor { noise: Some(noise), ..Sensor::default() }, ..Sensors::default() };
    Axis { records, sensors, warmth: Warmth::COPPER_AND_FERRITE }
}

/// Levels held for so many rows each, drawn between −most and most, with smaller ones of a fifth of the length on top.
pub(crate) fn drawn_levels(seed: u64, rows: usize, hold: usize, most: f64) -> Vec<f64> {
    let (coarse, fine) = (Stream::new(seed, "coarse"), Stream::new(seed, "fine"));
    (0..rows)
        .map(|row| {
            let level = |stream: &Stream, hold: usize, most: f64| {
                most * (2.0 * stream.uniform((row / hold) as u64) - 1.0)
            };
            level(&coarse, hold, 0.9 * most) + level(&fine, hold.div_ceil(5), 0.1 * most)
        })
        .collect()
}

/// A motor between a toy's and one of some hundred watts, with its own supply.
pub(crate) fn drawn(run: u64) -> Truth {
    let draw = Stream::new(run, "drive");
    let between = |k: u64, low: f64, high: f64| low * libm::pow(high / low, draw.uniform(k));
    let supply = between(0, 6.0, 48.0);
    let resistance = between(1, 0.4, 20.0);
    // Speed without load from 150 to 900 rad/s; time constants of 0.1 to 2 ms and 5 to 60 ms.
    let constant = supply / between(2, 150.0, 900.0);
    let inductance = resistance * between(3, 1e-4, 2e-3);
    let inertia = between(4, 5e-3, 6e-2) * constant * constant / resistance;
    let stall = constant * supply / resistance;
    Truth {
        resistance,
        inductance,
        constant,
        inertia,
        coulomb: between(5, 0.01, 0.06) * stall,
        viscous: between(6, 0.005, 0.03) * stall * constant / supply,
        supply,
        ..MIDDLING
    }
}

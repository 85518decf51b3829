//! Logs of drives whose figures are known: played by the simulation, read by sensors with noise, codes, counts, stamps.

use crate::drives::{Rows, Truth, drawn};
use drive::bridge::OffState;
use identify::gate::{Codes, Known, Level, Observed, Remark, Sign, judge};
use identify::pulse::Band;
use identify::{Acts, Sensor, Sensors, Shaft, Time};
use simulate::{Averaged, Bus, Command, Row, SetUp, Stage};
use worked::Stream;

/// Columns of a log.
#[derive(Clone, Debug)]
pub(crate) struct Log {
    pub(crate) acts: Acts,
    pub(crate) times: Vec<f64>,
    pub(crate) duty: Vec<f64>,
    pub(crate) bus: Vec<f64>,
    pub(crate) motor_voltage: Option<Vec<f64>>,
    pub(crate) current: Vec<f64>,
    pub(crate) codes: Vec<f64>,
    pub(crate) highest: f64,
    /// Whether the log has the current, and its codes.
    pub(crate) has_current: bool,
    pub(crate) has_codes: bool,
    pub(crate) counts: Vec<f64>,
    pub(crate) open: Vec<bool>,
    pub(crate) tripped: Vec<bool>,
    pub(crate) chopping: Vec<bool>,
    pub(crate) locked_out: Vec<bool>,
}

/// How a log is read.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Reading {
    /// Time from row to row, s.
    pub(crate) step: f64,
    /// Deviation of the noise of the current, and what its zero is off, A.
    pub(crate) noise: f64,
    pub(crate) offset: f64,
    /// Range of the converter either way, A, and its codes.
    pub(crate) range: f64,
    pub(crate) codes: f64,
    /// Counts in a turn.
    pub(crate) counts: f64,
    /// Deviation of the noise of the bus, V.
    pub(crate) bus_noise: f64,
    /// Deviation of a stamp, as a part of a step.
    pub(crate) jitter: f64,
    /// The voltage at the motor is recorded, as its mean since the row before.
    pub(crate) motor_voltage: bool,
    pub(crate) seed: u64,
}

impl Log {
    /// Reads rows of a simulation; row k is at the end of the interval that command k − 1 was given for.
    pub(crate) fn read(rows: &[Row], commands: &[Command], reading: &Reading) -> Self {
        let noise = Stream::new(reading.seed, "noise");
        let stamps = Stream::new(reading.seed, "stamps");
        let half = (0.5 * reading.codes).floor();
        let code =
            |current: f64| (half + (half * current / reading.range).floor()).clamp(0.0, reading.codes - 1.0);
        let read =
            |k: usize, row: &Row| row.current + reading.offset + reading.noise * noise.normal(2 * k as u64);
        let codes: Vec<f64> = rows.iter().enumerate().map(|(k, row)| code(read(k, row))).collect();
        let before = |k: usize| k.checked_sub(1).and_then(|k| commands.get(k));
        let duty = |k: usize| match before(k) {
            Some(Command::Duty(duty)) => *duty,
            _ => 0.0,
        };
        let per_turn = reading.counts / std::f64::consts::TAU;
        let flags = |of: &dyn Fn(&Row) -> bool| rows.iter().map(of).collect();
        Self {
            acts: Acts::SinceLast,
            times: (0..rows.len())
                .map(|k| reading.step * (k as f64 + reading.jitter * stamps.normal(k as u64)))
                .collect(),
            duty: (0..rows.len()).map(duty).collect(),
            bus: rows
                .iter()
                .enumerate()
                .map(|(k, row)| row.supply_voltage + reading.bus_noise * noise.normal(2 * k as u64 + 1))
                .collect(),
            motor_voltage: reading.motor_voltage.then(|| rows.iter().map(|row| row.motor_voltage).collect()),
            current: codes.iter().map(|code| (code + 0.5 - half) * reading.range / half).collect(),
            codes,
            highest: reading.codes - 1.0,
            has_current: true,
            has_codes: true,
            counts: rows.iter().map(|row| (row.angle * per_turn).floor()).collect(),
            open: (0..rows.len()).map(|k| matches!(before(k), Some(Command::Open))).collect(),
            tripped: flags(&|row| row.flags.tripped),
            chopping: flags(&|row| row.flags.chopping),
            locked_out: flags(&|row| row.flags.locked_out),
        }
    }

    pub(crate) fn observed(&self) -> Observed<'_> {
        Observed {
            acts: self.acts,
            duty: Some(&self.duty),
            bus: Some(&self.bus),
            motor_voltage: self.motor_voltage.as_deref(),
            current: self.has_current.then_some(&self.current),
            codes: self.has_codes.then_some(Codes {
                values: &self.codes,
                lowest: 0.0,
                highest: self.highest,
            }),
            counts: Some(&self.counts),
            open: Some(&self.open),
            tripped: Some(&self.tripped),
            chopping: Some(&self.chopping),
            locked_out: Some(&self.locked_out),
            ..Observed::at(Time::Stamps(&self.times))
        }
    }

    pub(crate) fn judged(&self, known: &Known<'_>) -> Vec<Remark> {
        judge(&self.observed(), known).unwrap()
    }

    pub(crate) fn signs(&self, known: &Known<'_>) -> Vec<Sign> {
        self.judged(known).into_iter().map(|remark| remark.sign).collect()
    }
}

/// Mechanical time constant, s.
pub(crate) fn time_constant(truth: &Truth) -> f64 {
    truth.inertia * truth.resistance / (truth.constant * truth.constant)
}

pub(crate) const BOUNDS: f64 = 0.1;

/// A sheet that holds the truth within its bands, and is off it by chance.
pub(crate) fn sheet<'a>(truth: &Truth, reading: &Reading, locked: bool) -> Known<'a> {
    let draw = Stream::new(reading.seed, "sheet");
    let band = |k: u64, value: f64, part: f64| {
        Band::around(value / (1.0 + 0.99 * part * (2.0 * draw.uniform(k) - 1.0)), part)
    };
    let sensor = Sensor { gain: 0.01, offset: reading.offset.abs().max(1e-4), noise: Some(reading.noise) };
    Known {
        resistance: Some(band(0, truth.resistance, BOUNDS)),
        inductance: Some(band(1, truth.inductance, 2.0 * BOUNDS)),
        constant: Some(band(2, truth.constant, BOUNDS)),
        supply: Some(band(3, truth.supply, 0.05)),
        source_resistance: (truth.source > 0.0).then(|| band(4, truth.source, BOUNDS)),
        pwm_period: Some(Band::around(PERIOD, 1e-4)),
        off_state: Some(OffState::Brake),
        counts_per_turn: Some(reading.counts),
        gear_ratio: Some(27.0),
        interval: Some(reading.step),
        lockout: Some(0.5 * truth.supply),
        sensors: Sensors {
            current: sensor,
            voltage: Sensor { gain: 0.005, offset: 1e-3 * truth.supply, noise: Some(reading.bus_noise) },
            ..Sensors::default()
        },
        shaft: if locked { Shaft::Locked } else { Shaft::Free },
        ..Known::NOTHING
    }
}

/// The set-up of a drive with the capacitors of a board at its bridge, where its source has any resistance.
pub(crate) fn set_up(truth: &Truth, rate: f64, locked: bool) -> SetUp {
    let capacitors = |capacitance| Bus {
        capacitance,
        bleed: 0.0,
        quiescent: 0.0,
        sinks: true,
        limit: None,
        clamps: [None; simulate::MOST_CLAMPS],
    };
    // They follow within a row, so that their own charge is in no mean.
    let capacitance = 0.2 / (rate * truth.source);
    SetUp {
        supply_resistance: truth.source,
        bus: (truth.source > 0.0).then(|| capacitors(capacitance)),
        brush_drop: truth.brush_drop,
        load_torque: truth.imbalance,
        ..truth.set_up(rate, locked)
    }
}

/// Period of the PWM, or nearly that: rows lie a whole number of periods apart, s.
pub(crate) const PERIOD: f64 = 50e-6;

/// Plays commands, one a row, by the means over the PWM period.
pub(crate) fn play(truth: &Truth, commands: &[Command], locked: bool, reading: &Reading) -> Log {
    let every = (reading.step / PERIOD).round().max(1.0);
    let mut simulation = Averaged::new(set_up(truth, every / reading.step, locked)).unwrap();
    let mut rows = Rows(Vec::with_capacity(commands.len() + 1));
    for run in commands.chunk_by(|a, b| a == b) {
        let stage = Stage { command: run[0], periods: every as u64 * run.len() as u64 };
        simulation.play(&stage, every as u64, &mut rows).unwrap();
    }
    Log::read(&rows.0, commands, reading)
}

/// The kinds of trials, so many rows in the mechanical time constant.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Kind {
    /// From rest to one duty, held.
    Start,
    /// Levels of both senses, each held.
    Staircase,
    /// A sine that gets faster, about a speed.
    Chirp,
    /// Short pulses of both signs, the shaft held.
    LockedPulses,
    /// Levels, with open switches in between.
    CoastDown,
    /// Levels drawn by chance.
    Levels,
    /// A slow triangle through rest.
    Triangle,
}

impl Kind {
    pub(crate) const ALL: [Self; 7] = [
        Self::Start,
        Self::Staircase,
        Self::Chirp,
        Self::LockedPulses,
        Self::CoastDown,
        Self::Levels,
        Self::Triangle,
    ];

    pub(crate) fn is_locked(self) -> bool {
        self == Self::LockedPulses
    }

    pub(crate) fn commands(self, rows: usize, seed: u64) -> Vec<Command> {
        let draw = Stream::new(seed, "commands");
        let top = 0.3 + 0.65 * draw.uniform(0);
        let part = |row: usize, parts: usize| row * parts / rows;
        (0..rows)
            .map(|row| {
                let share = row as f64 / rows as f64;
                match self {
                    Self::Start => Command::Duty(if row < rows / 20 { 0.0 } else { top }),
                    Self::Staircase => {
                        const LEVELS: [f64; 10] = [0.0, 0.25, 0.5, 0.75, 1.0, 0.0, -0.25, -0.5, -0.75, -1.0];
                        Command::Duty(top * LEVELS[part(row, 10)])
                    }
                    Self::Chirp => {
                        let turns = 3.0 * share + 40.0 * share * share;
                        Command::Duty(0.5 * top * (1.0 + libm::sin(std::f64::consts::TAU * turns)))
                    }
                    Self::LockedPulses => {
                        const LEVELS: [f64; 4] = [0.0, 0.4, 0.0, -0.4];
                        Command::Duty(top * LEVELS[part(row, 16) % 4])
                    }
                    Self::CoastDown => match part(row, 6) % 2 {
                        0 => {
                            Command::Duty(top * (1.0 - 2.0 * draw.uniform(1 + part(row, 6) as u64)).signum())
                        }
                        _ => Command::Open,
                    },
                    Self::Levels => Command::Duty(top * (2.0 * draw.uniform(9 + part(row, 40) as u64) - 1.0)),
                    Self::Triangle => {
                        let phase = (4.0 * share).fract();
                        Command::Duty(top * if phase < 0.5 { 4.0 * phase - 1.0 } else { 3.0 - 4.0 * phase })
                    }
                }
            })
            .collect()
    }
}

/// A clean log of a run, with what its sheet says; half of them as a bench has it that records little and states little.
pub(crate) fn clean(run: u64) -> (Kind, Log, Known<'static>) {
    let kind = Kind::ALL[(run % Kind::ALL.len() as u64) as usize];
    let mut truth = drawn(run);
    let draw = Stream::new(run, "reading");
    let between = |k: u64, low: f64, high: f64| low * libm::pow(high / low, draw.uniform(k));
    let chance = |k: u64, share: f64| draw.uniform(k) < share;
    let stall = truth.supply / truth.resistance;
    if chance(11, 0.4) {
        truth.source = truth.resistance * between(12, 0.01, 0.1);
    }
    if chance(13, 0.3) {
        truth.brush_drop = truth.supply * between(14, 0.003, 0.03);
    }
    if chance(15, 0.3) {
        // A weight, or a friction that is not the same both ways.
        truth.imbalance = truth.coulomb * draw.uniform(16);
    }
    let reading = Reading {
        step: time_constant(&truth) / between(0, 20.0, 400.0),
        noise: stall * between(1, 1e-3, 1e-2),
        offset: stall * 2e-3 * (2.0 * draw.uniform(2) - 1.0),
        range: 2.2 * stall,
        codes: 4096.0,
        counts: [48.0, 400.0, 2000.0, 8192.0][(4.0 * draw.uniform(3)) as usize],
        bus_noise: truth.supply * between(4, 1e-4, 3e-3),
        jitter: 1e-3 * draw.uniform(5),
        motor_voltage: chance(10, 0.4),
        seed: run,
    };
    let rows = between(6, 800.0, 4000.0) as usize;
    let mut log = play(&truth, &kind.commands(rows, run), kind.is_locked(), &reading);
    // Gains within what the sheet of the sensors says.
    let (of_current, of_voltage) = (1.0 + 0.01 * draw.normal(20), 1.0 + 0.005 * draw.normal(21));
    log.current.iter_mut().for_each(|i| *i *= of_current);
    log.bus.iter_mut().chain(log.motor_voltage.iter_mut().flatten()).for_each(|u| *u *= of_voltage);
    if chance(22, 0.3) {
        // Marks of the encoder that wander over a turn.
        let per_turn = std::f64::consts::TAU / reading.counts;
        log.counts.iter_mut().for_each(|c| *c = (*c + 0.5 + 0.4 * libm::sin(per_turn * *c)).floor());
    }
    let mut known = sheet(&truth, &reading, kind.is_locked());
    if truth.brush_drop > 0.0 && chance(17, 0.5) {
        known.brush_drop = Some(Band::around(truth.brush_drop, 0.5));
    }
    if chance(18, 0.2) {
        known.sensors.current.noise = None;
    }
    if chance(19, 0.2) {
        known.resistance = None;
    }
    if chance(23, 0.5) {
        // A limit that nothing reaches; it stays for as long as the tests run.
        let most = log.current.iter().map(|i| i.abs()).fold(0.0, f64::max);
        let level = Level { current: Band::around(1.15 * most, 0.05), of_supply: false };
        known.limits = Box::leak(Box::new([level]));
    }
    if log.motor_voltage.is_none() && chance(24, 0.3) {
        // The duty as a command, which acts from its row on.
        log.acts = Acts::UntilNext;
        log.duty.rotate_left(1);
        log.open.rotate_left(1);
    }
    log.has_codes = chance(25, 0.7);
    if chance(26, 0.1) {
        (log.has_current, log.has_codes) = (false, false);
    }
    (kind, log, known)
}
